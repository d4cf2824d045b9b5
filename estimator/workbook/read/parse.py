"""The inputs of a workbook, from wherever they come, into a checked job in SI."""

from collections.abc import Iterator, Mapping, Sequence
from types import MappingProxyType

from estimator.data_class import dataclass
from estimator.display import UnitSystem
from estimator.errors import InputError, Problem
from estimator.input_errors.all_rules import broken_rules
from estimator.inputs.dictionary import InputTable, fields, input_tables
from estimator.models import (
    bands,
    bid_inputs,
    calendar,
    crew,
    equipment,
    priced_items,
    rates,
    risk_ranges,
)
from estimator.models.base import Model, joined
from estimator.models.job import Job, Override, Run
from estimator.models.job_inputs import GROUPS
from estimator.models.places import Places
from estimator.workbook.read.ages import old_figures
from estimator.workbook.read.cell_places import CellPlaces, Key
from estimator.workbook.read.findings import Findings
from estimator.workbook.read.overrides import read_overrides
from estimator.workbook.read.parse_rows import Inputs, Row, Settings, TableData, TableReader
from estimator.workbook.sheet.source import InputSource, RawTable, first_named_cell

TABLE_FORM = "table"

ROW_MODELS: Mapping[str, tuple[str, type[Model]]] = MappingProxyType(
    {
        "schedule": ("runs", Run),
        "machines": ("machines", equipment.Machine),
        "generators": ("generators", equipment.Generator),
        "lifting": ("lifting", equipment.Lifter),
        "crew": ("crew", crew.Role),
        "size_bands": ("size_bands", bands.SizeBand),
        "task_times": ("task_times", crew.TaskTime),
        "cold_factors": ("cold_factors", crew.ColdFactor),
        "holidays": ("holidays", calendar.Holiday),
        "overtime": ("overtime", calendar.OvertimeSpan),
        "crew_dates": ("crew_dates", calendar.CrewDates),
        "holds": ("holds", calendar.Hold),
        "weather": ("weather", calendar.MonthWeather),
        "risk": ("risk_ranges", risk_ranges.RiskRange),
        "material_prices": ("material_prices", rates.MaterialPrice),
        "fitting_prices": ("fitting_prices", priced_items.FittingPrice),
        "other_costs": ("other_costs", priced_items.OtherCost),
        "owner_items": ("owner_items", bid_inputs.OwnerItem),
        "bid_terms": ("bid_terms", bid_inputs.BidTerm),
    }
)
"""Input tables: the part of the job that their rows make, and the model of a row."""


@dataclass(frozen=True)
class ParsedJob:
    """A job as read, with the place of every input and what is doubtful in it."""

    job: Job
    places: Places
    warnings: tuple[Problem, ...]


def parse_job(source: InputSource) -> ParsedJob:
    """Read and check every input.

    Parameters
    ----------
    source : InputSource
        A workbook file, or a workbook that is open.

    Returns
    -------
    ParsedJob

    Raises
    ------
    InputError
        With every problem found, sheet by sheet, each with its cell.
    """
    findings = Findings()
    settings = Settings(unit_system(source), source.dates_1904)
    inputs = read_inputs(source, findings)
    findings.add(map(inputs.finding, broken_rules(inputs)))
    overrides = read_overrides(inputs, settings, findings)
    if findings.errors:
        raise InputError(findings.errors)
    findings.add(old_figures(inputs, source))
    job = _build_job(inputs, overrides)
    return ParsedJob(job, places_of(inputs), findings.warnings)


def read_inputs(source: InputSource, findings: Findings) -> Inputs:
    """Return every input that was found, each by itself; what is wrong goes to the findings."""
    settings = Settings(unit_system(source), source.dates_1904)
    return Inputs(dict(_read_tables(source, settings, findings)))


def unit_system(source: InputSource) -> UnitSystem:
    """Return the unit system that the Job sheet asks for, US where it says nothing."""
    field = next(field for field in fields("job") if field.key == "unit_system")
    cell = first_named_cell(source, field.cell_names)
    typed = str(cell.value).strip().upper() if cell is not None else ""
    return "SI" if typed == "SI" else "US"


def _read_tables(
    source: InputSource, settings: Settings, findings: Findings
) -> Iterator[tuple[str, TableData]]:
    for table in input_tables():
        reader = TableReader(table, settings, findings)
        if table.form != TABLE_FORM:
            findings.announce(table.sheet)
            yield table.table, reader.named(source)
            continue
        raw = source.table(table.excel_name)
        findings.announce(raw.sheet if raw is not None else table.sheet)
        if raw is None and not table.needed:
            continue
        if raw is None:
            message = (
                f"The Excel table {table.excel_name} ({table.title}) is missing. Add a table "
                "with that name and its unit row above the headers"
            )
            findings.error(table.sheet, message)
            continue
        _warn_of_plain_range(table, raw, findings)
        yield table.table, reader.body(raw)


def _warn_of_plain_range(table: InputTable, raw: RawTable, findings: Findings) -> None:
    if raw.name or not raw.rows:
        return
    message = (
        f"The Excel table {table.excel_name} is missing. The cells from here to row "
        f"{raw.rows[-1][0].row} were read instead"
    )
    findings.warn(raw.headers[0], message)


def _build_job(inputs: Inputs, overrides: Sequence[Override]) -> Job:
    job = inputs.named("job").values
    parts: dict[str, object] = {
        group: model(**{key: job[key] for key in model.model_fields})
        for group, model in GROUPS.items()
    }
    parts["rates"] = rates.Rates(**inputs.named("rates").values)
    for name, (part, model) in ROW_MODELS.items():
        parts[part] = tuple(model(**row.values) for row in inputs.rows(name))
    parts["scenarios"] = tuple(overrides)
    return Job.model_validate(parts)


def places_of(inputs: Inputs) -> Places:
    """Return where each input stands, for formulas and messages."""
    ranges: dict[tuple[str, str], str] = {}
    named: dict[Key, str] = {}
    starts: dict[str, dict[str, str]] = {}
    rows: dict[str, dict[str, int]] = {}
    defaulted: set[tuple[str, str]] = set()
    for name, data in inputs.tables.items():
        ranges.update({(name, key): where for key, where in data.ranges.items()})
        if data.table.form != TABLE_FORM:
            named.update({(name, "", key): where for key, where in data.ranges.items()})
            defaulted |= {(name, key) for row in data.rows for key in row.defaulted}
            continue
        keys = _row_keys(name)
        starts[name] = {key: where.partition(":")[0] for key, where in data.ranges.items()}
        rows[name] = {row_name(row, keys): row.cells[0].row for row in data.rows}
    return Places(CellPlaces(starts, rows, named), ranges, frozenset(defaulted), _rows_read(inputs))


def _rows_read(inputs: Inputs) -> dict[str, tuple[int, ...]]:
    """Return by sheet and title of each table the rows of the sheet that were read."""
    tables = (data for data in inputs.tables.values() if data.table.form == TABLE_FORM)
    return {
        _full_title(data.table): tuple(row.cells[0].row for row in data.rows) for data in tables
    }


def _full_title(table: InputTable) -> str:
    same = table.title == table.sheet
    return table.title if same else f"{table.sheet}: {table.title}"


def _row_keys(table: str) -> tuple[str, ...]:
    """Return the columns that set the rows of a table apart: mostly the first."""
    _, model = ROW_MODELS.get(table, ("", Model))
    keys: tuple[str, ...] = getattr(model, "KEYS", (fields(table)[0].key,))
    return keys


def row_name(row: Row, keys: Sequence[str]) -> str:
    """Return the row key of ``Places``: what sets the row apart, as text.

    A date is written ISO, a number as briefly as it can be.
    """
    return joined(row.values[key] for key in keys)
