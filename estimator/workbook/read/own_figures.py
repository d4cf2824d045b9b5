"""The figures of a company in a workbook: its crews, wages, fleet, times, rates, prices, calendar.

They come along into a new workbook with their basis and date. The date of a figure stands in its
basis, ``quote, as of 2027-03-01``; where it does not, it is that of the estimate it was used in.
"""

import datetime as dt
import re
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from estimator.display import UnitSystem, counted
from estimator.errors import InputError
from estimator.inputs.dictionary import InputTable, fields, input_tables
from estimator.workbook.read.file_source import FileSource
from estimator.workbook.read.findings import Findings
from estimator.workbook.read.parse import read_inputs, unit_system
from estimator.workbook.read.parse_rows import Inputs, Row
from estimator.workbook.sheet.source import RawCell

OF_THE_JOB = frozenset(
    {
        "schedule", "overtime", "crew_dates", "holds", "scenarios", "other_costs", "owner_items",
        "bid_terms",
    }
)  # fmt: skip
"""Tables that hold one job; all others hold figures of the company."""
NAMED = ("job", "rates")
FACTS_KEPT = frozenset(
    {"prepared_by", "company", "company_address", "company_license", "company_contact", "currency"}
)
SITE_FIGURES = frozenset({"ambient_c", "elevation_m", "cable_length_m", "outside_rental"})
"""Inputs of the Job sheet that have a basis and yet belong to the site."""
BASIS, BASIS_COLUMNS_ON = "basis", 3
OLDER = "older than"
"""Words that mark a figure as old, in its basis."""
AS_OF = re.compile(r"as of (\d{4}-\d{2}-\d{2})")
_MARK = re.compile(rf"\s*\({OLDER} \d+ months?: confirm\)$")


@dataclass(frozen=True)
class Figure:
    """One row of a table, or one named cell: its values by key, and its basis."""

    name: str
    values: Mapping[str, Any]
    basis: str


@dataclass(frozen=True)
class OwnFigures:
    """The figures of a workbook by table; ``date`` is that of its estimate, None if it has none."""

    system: UnitSystem
    date: dt.date | None
    tables: Mapping[str, tuple[Figure, ...]]


def own_figures(data: bytes) -> OwnFigures:
    """Return the figures of the company in a workbook; the job in it may be unfinished.

    Raises
    ------
    WorkbookError
        If it cannot be read at all.
    InputError
        With everything that is wrong with the figures.
    """
    source = FileSource(data)
    findings = Findings()
    inputs = read_inputs(source, findings)
    wanted = [table for table in input_tables() if table.table not in OF_THE_JOB]
    _refuse_faults(findings, inputs, wanted)
    tables = {
        table.table: tuple(_figures(table, inputs, source))
        for table in wanted
        if inputs.has(table.table)
    }
    date = inputs.named("job").get("estimate_date")
    return OwnFigures(unit_system(source), date, tables)


def _refuse_faults(findings: Findings, inputs: Inputs, wanted: Sequence[InputTable]) -> None:
    """Raise what is wrong on the sheets of the wanted tables; facts of a job may be missing."""
    sheets = {inputs.tables[one.table].head.sheet for one in wanted if inputs.has(one.table)}
    job = inputs.tables["job"].head.sheet
    found = [one for one in findings.errors if one.where.rpartition("!")[0] in sheets - {job}]
    if found:
        raise InputError(found)


def _figures(table: InputTable, inputs: Inputs, source: FileSource) -> Iterator[Figure]:
    if table.table in NAMED:
        yield from _named(table, inputs.named(table.table), source)
        return
    first = fields(table.table)[0].key
    for row in inputs.rows(table.table):
        values = {key: value for key, value in row.values.items() if key != BASIS}
        yield Figure(str(values[first]), values, str(row.get(BASIS) or ""))


def _named(table: InputTable, row: Row, source: FileSource) -> Iterator[Figure]:
    for field in fields(table.table):
        slot = row.slots.get(field.key)
        carried = field.key in FACTS_KEPT or (field.basis and field.key not in SITE_FIGURES)
        if slot is None or field.key not in row.values or not (carried or table.table == "rates"):
            continue
        basis = _basis_beside(source, row.cells[slot.position]) or field.basis
        yield Figure(field.key, {field.key: row.values[field.key]}, basis)


def _basis_beside(source: FileSource, cell: RawCell) -> str:
    found = source.beside(cell, BASIS_COLUMNS_ON).value
    return found.strip() if isinstance(found, str) else ""


def date_of(basis: str) -> dt.date | None:
    """Return the date that a basis states, None if it states none.

    >>> date_of("quote, as of 2027-03-01")
    datetime.date(2027, 3, 1)
    """
    found = AS_OF.search(basis)
    try:
        return dt.date.fromisoformat(found[1]) if found else None
    except ValueError:
        return None


def dated(basis: str, date: dt.date | None) -> str:
    """Return a basis with a date where it has none; what an earlier copy marked is taken off.

    >>> dated("quote", None), dated("", None)
    ('quote, date not known', 'own figure, date not known')
    """
    bare = _MARK.sub("", basis)
    if date_of(bare) is not None or "date not known" in bare:
        return bare
    said = "date not known" if date is None else f"as of {date:%Y-%m-%d}"
    return f"{bare or 'own figure'}, {said}"


def marked(basis: str, today: dt.date, months: int) -> str:
    """Return a basis, marked where its date is older than some months or not known."""
    date = date_of(basis)
    if date is not None and months_between(date, today) < months:
        return basis
    return f"{basis} ({OLDER} {counted(months, 'month')}: confirm)"


def is_marked(basis: str) -> bool:
    """Return whether a figure is marked as too old."""
    return _MARK.search(basis) is not None


def months_between(first: dt.date, last: dt.date) -> int:
    """Return the whole months from one date to another.

    >>> months_between(dt.date(2026, 3, 15), dt.date(2027, 3, 14))
    11
    """
    return 12 * (last.year - first.year) + last.month - first.month - (last.day < first.day)
