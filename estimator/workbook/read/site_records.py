"""The site records of a workbook, read and checked; an estimate needs none of them."""

from collections import defaultdict
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import field
from types import MappingProxyType

from estimator.data_class import dataclass
from estimator.errors import InputError, Problem
from estimator.input_errors.site_records import JobFacts, broken_records
from estimator.inputs.column import Column
from estimator.inputs.dictionary import site_tables
from estimator.models import site_records
from estimator.models.base import Model
from estimator.models.changes import Change, ClaimTerms
from estimator.models.job import Job
from estimator.models.past_jobs import PastJob
from estimator.models.places import Places
from estimator.models.quotes import Quote, RequestTerms
from estimator.models.rental_kinds import rental_items
from estimator.models.site_records import SiteRecords
from estimator.standards.pipe_names import as_called_now
from estimator.workbook.read.columns import NAME_PIPE
from estimator.workbook.read.findings import Finding, Findings
from estimator.workbook.read.parse import places_of
from estimator.workbook.read.parse_rows import Inputs, Settings, TableData, TableReader
from estimator.workbook.sheet.source import InputSource, column_letters

MODELS: Mapping[str, type[Model]] = MappingProxyType(
    {
        model.TABLE: model
        for model in (
            site_records.LoggedJoint,
            site_records.Coupon,
            site_records.Operator,
            site_records.PassedTest,
            site_records.DailyRow,
            site_records.LostTime,
            site_records.ActualCost,
            site_records.OnRent,
            site_records.PlannedRun,
            site_records.CoolingByAir,
            site_records.LoggerColumn,
            Quote,
            RequestTerms,
            PastJob,
            Change,
            ClaimTerms,
        )
    }
)
"""Model of a row by its table."""


ALIKE: Sequence[tuple[str, Sequence[tuple[str, str]]]] = (
    ("", (("joint_log", "base_gauge_mpa"), ("joint_log", "drag_mpa"),
          ("joint_log", "gauge_set_mpa"))),
    ("", (("joint_log", "bead_min_mm"), ("joint_log", "bead_1_mm"), ("joint_log", "bead_2_mm"))),
    ("", (("joint_log", "misalignment_max_mm"), ("joint_log", "misalignment_mm"))),
    ("", (("cooling_by_air", "from_c"), ("cooling_by_air", "to_c"), ("joint_log", "ambient_c"))),
    ("min", (("lost_time", "minutes"),)),
    ("h", (("daily_record", "paid_hours"),)),
)  # fmt: skip
"""Columns that a formula adds or compares, so that they have one unit: that named, else the first
one's."""


@dataclass(frozen=True)
class ParsedRecords:
    """The site records, where each of them stands, what is doubtful, and which tables are kept.

    ``columns`` are the columns of each table as they stand in this workbook, with their units;
    ``last_rows`` the row of the sheet that the last filled row of each table is in. ``renamed``
    holds by sheet and address the names of pipe that are written as in earlier workbooks, as they
    were read.
    """

    records: SiteRecords
    places: Places
    warnings: tuple[Problem, ...]
    kept: frozenset[str]
    columns: Mapping[str, Mapping[str, Column]] = field(default_factory=dict)
    last_rows: Mapping[str, int] = field(default_factory=dict)
    renamed: Mapping[str, Mapping[str, str]] = field(default_factory=dict)


def parse_site_records(source: InputSource, job: Job) -> ParsedRecords:
    """Read and check every table of the site records that the workbook has.

    Parameters
    ----------
    source : InputSource
        The workbook.
    job : Job
        The job that was read from it.

    Raises
    ------
    InputError
        With every problem found, table by table, each with its cell.
    """
    findings = Findings()
    settings = Settings(job.cover.unit_system, source.dates_1904)
    tables: dict[str, TableData] = {}
    for table in site_tables():
        raw = source.table(table.excel_name)
        if raw is not None:
            findings.announce(raw.sheet)
            tables[table.table] = TableReader(table, settings, findings).body(raw)
    inputs = Inputs(tables)
    facts = JobFacts(
        runs=frozenset(run.run_id for run in job.runs),
        crews=job.resources.crews,
        classes=frozenset(class_id.casefold() for _, class_id in rental_items(job)),
        sections=frozenset(run.test_section.casefold() for run in job.runs if run.test_section),
        earliest=min(job.cover.estimate_date, job.dates.start),
    )
    findings.add(map(inputs.finding, broken_records(inputs, facts)))
    findings.add(_unlike_units(tables))
    if findings.errors:
        raise InputError(findings.errors)
    rows = {
        name: tuple(MODELS[name](**row.values) for row in data.rows)
        for name, data in tables.items()
    }
    records = SiteRecords.model_validate(rows)
    places = places_of(inputs)
    shown = {name: _columns_of(data) for name, data in tables.items()}
    last = {name: data.rows[-1].cells[0].row for name, data in tables.items() if data.rows}
    kept = frozenset(tables)
    return ParsedRecords(records, places, findings.warnings, kept, shown, last, _renamed(tables))


def _renamed(tables: Mapping[str, TableData]) -> Mapping[str, Mapping[str, str]]:
    """Return the cells with names of pipe that are called otherwise now, by sheet and address."""
    found: dict[str, dict[str, str]] = defaultdict(dict)
    for table, key in NAME_PIPE:
        for row in tables[table].rows if table in tables else ():
            cell = row.cell(key)
            typed = str(cell.value).strip()
            if (name := as_called_now(typed)) != typed:
                found[cell.sheet][f"{column_letters(cell.column)}{cell.row}"] = name
    return found


def _unlike_units(tables: Mapping[str, TableData]) -> Iterator[Finding]:
    """Yield columns in another unit than the formulas of the sheets count in."""
    for wanted, group in ALIKE:
        unit = wanted
        for table, key in group:
            column = _columns_of(tables[table]).get(key) if table in tables else None
            if column is None:
                continue
            unit = unit or column.unit
            if column.unit != unit:
                header = column.field.header
                message = (
                    f"{header} is in {column.unit}, but the formulas of this sheet count in {unit}"
                )
                at = tables[table].rows[0].cell(key)._replace(row=tables[table].head.row - 1)
                yield Finding(at, f"{message}. Change the unit cell back")


def _columns_of(data: TableData) -> Mapping[str, Column]:
    slots = data.rows[0].slots.items() if data.rows else ()
    return {key: slot.column for key, slot in slots if slot.column is not None}
