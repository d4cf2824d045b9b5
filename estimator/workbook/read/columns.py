"""One input column or named cell: the unit that its sheet gives, and its values as read."""

from collections.abc import Callable, Mapping
from types import MappingProxyType
from typing import Any

from estimator.display import UnitSystem
from estimator.input_errors.entries import describe
from estimator.input_errors.values import LONGEST_TEXT, YES_NO, outside, too_long
from estimator.inputs.column import (
    PERCENT,
    Column,
    allowed_range,
    measured_kind,
    usual_column,
    within,
)
from estimator.inputs.dictionary import Field, squeeze, values_if_absent, values_if_blank
from estimator.inputs.trade_units import written
from estimator.models.rates import MoneyRate
from estimator.standards.pipe_names import as_called_now
from estimator.workbook.read import cells
from estimator.workbook.read.cells import CellError
from estimator.workbook.read.size_text import to_size
from estimator.workbook.read.unit_text import labels_of_kind, unit_label
from estimator.workbook.sheet.source import CellValue

Values = Mapping[str, Any]

NAME_PIPE = frozenset(
    {
        ("owner_items", "item"), ("other_costs", "bid_item"), ("joint_log", "pipe"),
        ("planned_runs", "pipe"), ("cooling_by_air", "pipe"),
    }
)  # fmt: skip
"""Columns of text that may begin with the name of pipe, as earlier workbooks called it too."""
UNITLESS_KINDS = frozenset({"count", "factor", "number"})
NO_UNIT = frozenset({"", "-", "\u2013", "\u2014", "\u2212"})


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
    in_trade = written(wanted, "SI")
    if label != wanted and squeeze(typed) not in {squeeze(wanted), squeeze(in_trade), *NO_UNIT}:
        raise _wrong_unit(text, in_trade or "none: leave the cell blank", money)
    return wanted


def _wrong_unit(text: str, allowed: str, money: bool) -> CellError:
    kind, use = ("price", "a price per ") if money else ("column", "")
    return CellError(f"{describe(text)} is not a unit for this {kind}. Use {use}{allowed}")


def default_value(field: Field, system: UnitSystem) -> object:
    """Return the dictionary's default of a field as the job holds it, None for none."""
    return _value_of(field, field.default(system), system)


def value_if_blank(field: Field, system: UnitSystem) -> object:
    """Return what a blank optional cell of a field counts as."""
    text = values_if_blank(field.table).get(field.key, field.default(system))
    return _value_of(field, text, system)


def value_if_absent(field: Field, system: UnitSystem) -> object:
    """Return what a field counts as in a workbook that has no place for it."""
    text = values_if_absent(field.table).get(field.key, field.default(system))
    return _value_of(field, text, system)


def _value_of(field: Field, text: str, system: UnitSystem) -> object:
    return read_value(text, usual_column(field, system), {}) if text else None


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


def _checked(number: float, value: CellValue, column: Column) -> float:
    if within(number, column.field):
        return number
    got = describe(value)
    if not isinstance(value, str) and column.number_unit:
        got = f"{got} {column.number_unit}"
    allowed = allowed_range(column)
    raise CellError(outside(got, allowed))


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
    if share > 1 and not within(share, column.field) and within(share / 100, column.field):
        got, allowed = describe(value), allowed_range(column)
        hint = f". Type {share:g}% or {share / 100:g}"
        raise CellError(outside(got, allowed) + hint)
    return _checked(share, value, column)


def _money(value: CellValue, column: Column, _row: Values) -> MoneyRate:
    amount = _checked(cells.to_amount(value), value, column)
    return MoneyRate(amount=amount, per=column.unit)


def _clock(value: CellValue, column: Column, _row: Values) -> float:
    return _checked(cells.to_clock(value), value, column)


def _duration(value: CellValue, column: Column, _row: Values) -> float:
    return _checked(cells.to_duration(value), value, column)


def _ratio(value: CellValue, column: Column, _row: Values) -> float:
    return _checked(cells.to_ratio(value), value, column)


def _text(value: CellValue, column: Column, _row: Values) -> str:
    if isinstance(value, float) and abs(value) >= NUMBER_TOO_LONG:
        raise CellError(f"{describe(value)} is too long for a number. Enter it as text")
    text = cells.to_text(value)
    if len(text) > LONGEST_TEXT:
        raise CellError(too_long(text))
    return as_called_now(text) if (column.field.table, column.field.key) in NAME_PIPE else text


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


NUMBER_TOO_LONG = 1e15
"""A spreadsheet keeps fifteen digits of a number: those of a longer one are not what was typed."""

CONVERTERS: Mapping[str, Callable[[CellValue, Column, Values], object]] = MappingProxyType(
    {
        "text": _text,
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
        "clock": _clock,
        "duration": _duration,
        "percent": _share,
        "money": _money,
        "any": lambda value, _column, _row: value,
    }
)
"""Conversion by kind of the dictionary; every other kind is a number."""
