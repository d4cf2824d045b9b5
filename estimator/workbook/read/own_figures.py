"""The figures of a company in a workbook: its crews, wages, fleet, times, rates, prices, calendar.

They come along into a new workbook with their basis and date. The date of a figure stands in its
basis, ``quote, as of 2027-03-01``; where it does not, it is that of the estimate it was used in.
"""

import datetime as dt
from collections.abc import Iterator, Mapping, Sequence
from typing import Any

from estimator.data_class import dataclass
from estimator.display import UnitSystem
from estimator.errors import InputError, Problem
from estimator.inputs.dictionary import InputTable, fields, input_tables
from estimator.workbook.read.ages import BASIS, basis_text
from estimator.workbook.read.file_source import FileSource
from estimator.workbook.read.findings import Findings
from estimator.workbook.read.parse import read_inputs, unit_system
from estimator.workbook.read.parse_rows import Inputs, Row
from estimator.workbook.sheet.source import BASIS_COLUMNS_ON, RawCell

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

NO_FIGURES = (
    "no figures of a company: this workbook has none of the tables that they are in. Name one that "
    "estimator new has made"
)


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
    if not any(tables.values()):
        raise InputError([Problem(wanted[0].sheet, NO_FIGURES)])
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
    return basis_text(source.beside(cell, BASIS_COLUMNS_ON))
