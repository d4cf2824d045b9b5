"""Each value alone against the input list: its type, its limits, its choices.

The reader checks a cell by the same functions while it converts it, since only the cell knows
what was typed.
"""

import datetime as dt
import math
from collections.abc import Callable, Mapping
from types import MappingProxyType

from estimator.input_errors.entries import describe
from estimator.inputs.column import (
    FIRST_YEAR,
    LAST_YEAR,
    Column,
    allowed_range,
    measured_kind,
    within,
)
from estimator.inputs.dictionary import Field
from estimator.inputs.weekdays import weekdays
from estimator.models.rates import MoneyRate
from estimator.units import UNITS

YES_NO = ("yes", "no")
WEEKDAY_RULE = "weekdays and spans of them, such as Mon-Fri, Sat-Thu, or Mon, Wed, Fri"
LONGEST_TEXT = 2_000
"""Characters of a text; results put several into one cell, which holds 32,767."""
BLANK = "The cell is blank. Enter a value"

Check = Callable[[object, Column], str]


def problem(value: object, column: Column) -> str:
    """Return what is wrong with a value as a job holds it, empty if nothing is."""
    field = column.field
    if value is None or (isinstance(value, str | tuple) and not value):
        return BLANK if field.required else ""
    return CHECKS.get(field.kind, _number)(value, column)


def outside(got: str, allowed: str) -> str:
    """Return the message of a value outside its limits."""
    return f"{got} is outside the allowed range ({allowed})"


def not_whole(got: str) -> str:
    """Return the message of a count with a fraction."""
    return f"{got} is not a whole number"


def too_long(got: str) -> str:
    """Return the message of a text that no sheet could show."""
    return (
        f"{describe(got)} has {len(got):,} characters. Use {LONGEST_TEXT:,} or fewer; keep longer "
        "notes on a sheet of your own"
    )


def not_a_choice(got: str, allowed: tuple[str, ...]) -> str:
    """Return the message of a value that is not one of the choices."""
    return f"{got} is not a choice for this cell. Use one of: {', '.join(allowed)}"


def not_yes_no(got: str) -> str:
    """Return the message of a value that is neither yes nor no."""
    return f"{got} is not yes or no. Enter yes or no"


def not_weekdays(got: str) -> str:
    """Return the message of a text that names no days of the week."""
    return f"{got} is not a set of weekdays. Enter {WEEKDAY_RULE}"


def not_a_date(got: str) -> str:
    """Return the message of a date that no job can have."""
    return (
        f"{got} is not a date in range. Enter a date such as 2027-03-15, from {FIRST_YEAR} to "
        f"{LAST_YEAR}"
    )


def shown(number: float, column: Column) -> str:
    """Return a number that a job holds in the unit of a column."""
    return f"{describe(float(f'{column.show(number):.6g}'))} {column.number_unit}".strip()


def _number(value: object, column: Column) -> str:
    if isinstance(value, bool) or not isinstance(value, int | float) or not math.isfinite(value):
        return f"{describe(value)} is not a number"
    if within(value, column.field):
        return ""
    return outside(shown(value, column), allowed_range(column))


def _count(value: object, column: Column) -> str:
    wrong = _number(value, column)
    if wrong or isinstance(value, int):
        return wrong
    return not_whole(describe(value))


def _segments(value: object, column: Column) -> str:
    if not isinstance(value, tuple):
        return f"{describe(value)} is not a number"
    return next(filter(None, (_number(length, column) for length in value)), "")


def _money(value: object, column: Column) -> str:
    if not isinstance(value, MoneyRate):
        return f"{describe(value)} is not an amount of money"
    allowed = _per(column.field)
    if value.per not in allowed:
        wrong = describe(value.per)
        return f"{wrong} is not a unit for this price. Use a price per {', '.join(allowed)}"
    return _number(value.amount, column)


def _per(field: Field) -> tuple[str, ...]:
    kind = measured_kind(field)
    if kind:
        return tuple(unit.label for unit in UNITS.values() if unit.kind == kind)
    return (field.per,)


def _choice(value: object, column: Column) -> str:
    allowed = column.field.allowed
    if allowed == YES_NO:
        return "" if isinstance(value, bool) else not_yes_no(describe(value))
    return "" if value in allowed else not_a_choice(describe(value), allowed)


def _choices(value: object, column: Column) -> str:
    if not isinstance(value, tuple):
        return _choice(value, column)
    return next(filter(None, (_choice(each, column) for each in value)), "")


def _weekdays(value: object, _column: Column) -> str:
    try:
        weekdays(str(value))
    except ValueError:
        return not_weekdays(describe(value))
    return ""


def _date(value: object, _column: Column) -> str:
    if isinstance(value, dt.date) and FIRST_YEAR <= value.year <= LAST_YEAR:
        return ""
    return not_a_date(describe(value))


def _text(value: object, _column: Column) -> str:
    if not isinstance(value, str):
        return f"{describe(value)} is not a text"
    return too_long(value) if len(value) > LONGEST_TEXT else ""


def _anything(_value: object, _column: Column) -> str:
    return ""


CHECKS: Mapping[str, Check] = MappingProxyType(
    {
        "text": _text,
        "size": _text,
        "choice": _choice,
        "choices": _choices,
        "weekdays": _weekdays,
        "date": _date,
        "count": _count,
        "segments": _segments,
        "money": _money,
        "any": _anything,
    }
)
"""Check by kind of the input list; every other kind is a number."""
