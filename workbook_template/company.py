"""The figures of a company for a new workbook, in its units, with their basis and date."""

import datetime as dt
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from typing import Any

from estimator.display import UnitSystem
from estimator.inputs.column import Column, measured_kind, usual_column
from estimator.inputs.dictionary import Field, fields
from estimator.models.rates import MoneyRate
from estimator.units import from_si, to_si
from estimator.workbook.read.ages import BASIS, dated, is_marked, marked
from estimator.workbook.read.own_figures import FACTS_KEPT, Figure, OwnFigures
from workbook_template.content import Row, Value, named_values, table_rows

NAMED = ("job", "rates")
FIGURES = 10


@dataclass(frozen=True)
class Company:
    """What goes into the cells of a new workbook: rows by table, values and bases by key."""

    rows: Mapping[str, list[dict[str, Value]]]
    named: Mapping[str, Mapping[str, Value]]
    bases: Mapping[str, Mapping[str, str]]

    @property
    def old(self) -> Iterator[tuple[str, str, str]]:
        """Table, name and basis of the figures that are older than the stated age."""
        for table, bases in self.bases.items():
            headers = {field.key: field.header for field in fields(table)}
            yield from (
                (table, headers[k], basis) for k, basis in bases.items() if is_marked(basis)
            )
        for table, rows in self.rows.items():
            first = fields(table)[0].key
            for row in rows:
                basis = str(row.get(BASIS) or "")
                if is_marked(basis):
                    yield table, str(row[first]), basis


NO_COMPANY = Company({}, {}, {})


def company_of(own: OwnFigures, system: UnitSystem, today: dt.date, months: int) -> Company:
    """Return the figures of a workbook as a new one of a unit system holds them.

    What equals the figures that a new workbook has anyway keeps its basis as it is.

    Parameters
    ----------
    own : OwnFigures
        As read.
    system : {'US', 'SI'}
        Units of the new workbook.
    today : date
        From which the age of a figure counts.
    months : int
        Age from which a figure is marked.
    """

    def basis_of(figure: Figure) -> str:
        return marked(dated(figure.basis, own.date), today, months)

    rows = {
        table: [_row(table, figure, system, basis_of(figure)) for figure in figures]
        for table, figures in own.tables.items()
        if table not in NAMED
    }
    rows = {table: _like_defaults(table, made, own, system) for table, made in rows.items()}
    named: dict[str, dict[str, Value]] = {}
    bases: dict[str, dict[str, str]] = {}
    for table in NAMED:
        usual = named_values(table, system, None)
        by_key = {field.key: field for field in fields(table)}
        for figure in own.tables.get(table, ()):
            key = figure.name
            value = typed_value(figure.values[key], by_key[key], system)
            named.setdefault(table, {})[key] = value
            if key not in FACTS_KEPT:
                same = value == usual[key] and figure.basis == by_key[key].basis
                bases.setdefault(table, {})[key] = figure.basis if same else basis_of(figure)
    return Company(rows, named, bases)


def _row(table: str, figure: Figure, system: UnitSystem, basis: str) -> dict[str, Value]:
    row = {
        field.key: typed_value(figure.values.get(field.key), field, system)
        for field in fields(table)
        if field.key != BASIS
    }
    return {**row, BASIS: basis} if any(f.key == BASIS for f in fields(table)) else row


def _like_defaults(
    table: str, rows: list[dict[str, Value]], own: OwnFigures, system: UnitSystem
) -> list[dict[str, Value]]:
    """Return the rows; those that a new workbook has anyway keep the basis they had."""
    usual = [_without_basis(row) for row in table_rows(table, system, None)]
    made = []
    for row, figure in zip(rows, own.tables[table], strict=True):
        same = BASIS in row and _without_basis(row) in usual
        made.append({**row, BASIS: figure.basis} if same else row)
    return made


def _without_basis(row: Row) -> dict[str, Value]:
    return {key: value for key, value in row.items() if key != BASIS}


def typed_value(value: Any, field: Field, system: UnitSystem) -> Value:  # noqa: ANN401
    """Return a value that a job holds as it is typed in a workbook of a unit system."""
    if value is None:
        return None
    column = usual_column(field, system)
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, MoneyRate):
        return _number(_amount(value, column))
    if isinstance(value, tuple):
        return "; ".join(str(one) for one in value)
    if isinstance(value, float):
        return _number(column.show(value))
    return value  # type: ignore[no-any-return]  # a whole number, a text or a date


def _amount(rate: MoneyRate, column: Column) -> float:
    """Return an amount per the unit of a column."""
    if not measured_kind(column.field) or rate.per == column.unit:
        return rate.amount
    return rate.amount / from_si(to_si(1.0, rate.per), column.unit)


def _number(number: float) -> Value:
    found = float(f"{number:.{FIGURES}g}")
    return int(found) if found.is_integer() else found
