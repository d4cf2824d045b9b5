"""One input column or named cell: its unit, its limits, and the conversion of its values."""

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from decimal import ROUND_CEILING, ROUND_FLOOR, Context, Decimal
from functools import cached_property
from types import MappingProxyType
from typing import Any

from estimator.display import UNIT_LABELS, UnitSystem
from estimator.inputs.dictionary import Field, squeeze, values_if_absent
from estimator.models.rates import MoneyRate
from estimator.units import from_si, to_si
from estimator.workbook.read import cells
from estimator.workbook.read.cells import CellError, describe
from estimator.workbook.read.size_text import to_size
from estimator.workbook.read.unit_text import PERCENT, labels_of_kind, unit_label
from estimator.workbook.sheet.source import CellValue

Values = Mapping[str, Any]

HELD_UNITS: Mapping[str, str] = MappingProxyType({"minutes": "min", "hours": "h"})
"""Kinds of the dictionary that are times, and the unit in which the job holds them."""

UNITLESS_KINDS = frozenset({"count", "factor", "number"})
NO_UNIT = frozenset({"", "-", "\u2013", "\u2014", "\u2212"})
YES_NO = ("yes", "no")
DIGITS_SHOWN = 4
RELATIVE_SLACK = 1e-9


@dataclass(frozen=True)
class Column:
    """One input as it stands in this workbook.

    ``unit`` is the label of ``estimator.units`` that its numbers are in, ``%``, what an amount
    of money is for, or empty. ``dates_1904`` tells how bare serial numbers of dates count.
    """

    field: Field
    unit: str = ""
    dates_1904: bool = False

    @cached_property
    def number_unit(self) -> str:
        """Unit that is converted, and that a text may name after its number; often empty."""
        return self.unit if measured_kind(self.field) and self.field.kind != "money" else ""

    @cached_property
    def held_unit(self) -> str:
        """Unit in which the job holds the value if that is not SI; only for times."""
        return HELD_UNITS.get(_kind(self.field), "")

    def convert(self, number: float) -> float:
        """Return a number of this column as the job holds it."""
        if not self.number_unit or self.number_unit == self.held_unit:
            return number
        si = to_si(number, self.number_unit)
        return from_si(si, self.held_unit) if self.held_unit else si

    def show(self, number: float) -> float:
        """Return a number that the job holds in the unit of this column."""
        if not self.number_unit or self.number_unit == self.held_unit:
            return number
        si = to_si(number, self.held_unit) if self.held_unit else number
        return from_si(si, self.number_unit)


def _kind(field: Field) -> str:
    return field.per if field.kind == "number" else field.kind


def measured_kind(field: Field) -> str:
    """Return the kind of ``estimator.units`` that a field's unit must have, empty for none."""
    if field.kind == "money":
        return field.per if field.per in UNIT_LABELS else ""
    return "time" if _kind(field) in HELD_UNITS else field.quantity


def has_unit(field: Field) -> bool:
    """Return whether a unit cell says anything about the values of a field."""
    return measured_kind(field) != "" or field.kind in {"money", "percent", *UNITLESS_KINDS}


def column_unit(field: Field, text: str) -> str:
    """Return what the text of a unit cell means for a field.

    Parameters
    ----------
    field : Field
        The input that the unit belongs to.
    text : str
        The unit cell's text, such as ``ft``, ``%`` or ``$/4 weeks``.

    Returns
    -------
    str
        The unit for ``Column.unit``.

    Raises
    ------
    CellError
        If the unit is unknown, or of another kind than the field.
    """
    kind, money = measured_kind(field), field.kind == "money"
    typed = text.rpartition("/")[2] if money else text
    label = unit_label(typed)
    if kind:
        if label not in labels_of_kind(kind):
            raise _wrong_unit(text, ", ".join(labels_of_kind(kind)), money)
        return str(label)
    wanted = field.per if money else PERCENT if field.kind == "percent" else ""
    if not has_unit(field):
        return ""
    if label != wanted and squeeze(typed) not in {squeeze(wanted), *NO_UNIT}:
        raise _wrong_unit(text, wanted or "- or none", money)
    return wanted


def _wrong_unit(text: str, allowed: str, money: bool) -> CellError:
    return CellError(f"the unit {describe(text)}", f"per {allowed}" if money else allowed)


def usual_unit(field: Field, system: UnitSystem) -> str:
    """Return the unit of a field in a unit system."""
    return column_unit(field, field.unit_label(system))


def default_value(field: Field, system: UnitSystem) -> object:
    """Return the dictionary's default of a field as the job holds it, None for none."""
    return _value_of(field, field.default(system), system)


def value_if_absent(field: Field, system: UnitSystem) -> object:
    """Return what a field counts as in a workbook that has no place for it."""
    text = values_if_absent(field.table).get(field.key, field.default(system))
    return _value_of(field, text, system)


def _value_of(field: Field, text: str, system: UnitSystem) -> object:
    return read_value(text, Column(field, usual_unit(field, system)), {}) if text else None


def read_value(value: CellValue, column: Column, row: Values) -> object:
    """Return the value of a cell that is not blank as the job holds it.

    Parameters
    ----------
    value : CellValue
        What the cell holds.
    column : Column
        The input that it is.
    row : mapping
        The values of its row that were read before; a size needs the OD system.

    Raises
    ------
    EstimatorError
        If the value does not fit the column.
    """
    return CONVERTERS.get(column.field.kind, _number)(value, column, row)


def allowed_range(column: Column) -> str:
    """Return the limits of a column in its own unit, rounded inwards."""
    low, high = column.field.minimum, column.field.maximum
    if column.field.kind == "percent":
        return f"{100 * (low or 0):g}% to {100 * (high or 0):g}%"
    least = "" if low is None else _rounded(column.show(low), ROUND_CEILING)
    most = "" if high is None else _rounded(column.show(high), ROUND_FLOOR)
    span = " to ".join(filter(None, (least, most)))
    return f"{span} {column.number_unit}".strip()


def _rounded(number: float, rounding: str) -> str:
    exact = Decimal(f"{number:.12g}")
    short = Context(prec=DIGITS_SHOWN, rounding=rounding).create_decimal(exact)
    return f"{short.normalize():,f}"


def _within(number: float, column: Column) -> bool:
    low, high = column.field.minimum, column.field.maximum
    slack = RELATIVE_SLACK * max(1.0, abs(number))
    return (low is None or number >= low - slack) and (high is None or number <= high + slack)


def _checked(number: float, value: CellValue, column: Column) -> float:
    if _within(number, column):
        return number
    got = describe(value)
    if not isinstance(value, str) and column.number_unit:
        got = f"{got} {column.number_unit}"
    raise CellError(got, allowed_range(column))


def _number(value: CellValue, column: Column, _row: Values) -> float:
    number = cells.to_number(value, column.number_unit)
    return _checked(column.convert(number), value, column)


def _count(value: CellValue, column: Column, _row: Values) -> int:
    count = cells.to_count(value)
    _checked(count, value, column)
    return count


def _segments(value: CellValue, column: Column, _row: Values) -> tuple[float, ...]:
    lengths = cells.to_segments(value, column.number_unit)
    return tuple(_checked(column.convert(length), value, column) for length in lengths)


def _share(value: CellValue, column: Column, _row: Values) -> float:
    share = cells.to_share(value)
    if share > 1 and not _within(share, column) and _within(share / 100, column):
        hint = f"; type {share:g}% or {share / 100:g}"
        raise CellError(describe(value), allowed_range(column) + hint)
    return _checked(share, value, column)


def _money(value: CellValue, column: Column, _row: Values) -> MoneyRate:
    amount = _checked(cells.to_amount(value), value, column)
    return MoneyRate(amount=amount, per=column.unit)


def _ratio(value: CellValue, column: Column, _row: Values) -> float:
    return _checked(cells.to_ratio(value), value, column)


def _size(value: CellValue, _column: Column, row: Values) -> str:
    od_system = row.get("od_system")
    return to_size(value, od_system) if od_system else cells.to_text(value)


def _choice(value: CellValue, column: Column, _row: Values) -> str | bool:
    allowed = column.field.allowed
    return (
        cells.to_yes_no(value)
        if allowed == YES_NO
        else cells.to_choice(value, allowed, column.field.old_choices)
    )


CONVERTERS: Mapping[str, Callable[[CellValue, Column, Values], object]] = MappingProxyType(
    {
        "text": lambda value, _column, _row: cells.to_text(value),
        "choice": _choice,
        "choices": lambda value, column, _row: cells.to_choices(
            value, column.field.allowed, column.field.old_choices
        ),
        "size": _size,
        "ratio": _ratio,
        "weekdays": lambda value, _column, _row: cells.to_weekdays(value),
        "date": lambda value, column, _row: cells.to_date(value, column.dates_1904),
        "count": _count,
        "segments": _segments,
        "percent": _share,
        "money": _money,
        "any": lambda value, _column, _row: value,
    }
)
"""Conversion by kind of the dictionary; every other kind is a number."""
