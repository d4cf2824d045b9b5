"""What a cell accepts, taken from the data dictionary: validation, limits and notes."""

import datetime as dt
import math
import textwrap
from collections.abc import Callable
from typing import Any

from estimator.display import UnitSystem
from estimator.input_errors.entries import describe
from estimator.inputs.dictionary import Field
from estimator.standards import tables
from estimator.units import from_si
from estimator.workbook.sheet import look
from workbook_template.content import NUMBER_OR_TEXT_KINDS, TEXT_KINDS

FIRST_DATE, LAST_DATE = dt.date(2000, 1, 1), dt.date(2100, 12, 31)
FIGURES = 4
NOISE_FIGURES = 9
LONGEST_ERROR, LONGEST_PROMPT, LONGEST_TITLE = 225, 255, 32
"""Letters that Excel takes, by its documentation; more in an error text and it repairs the file."""
OPTIONAL = "Optional"
ERROR_TITLE = "Not allowed"
SUGGESTED_KINDS = frozenset({"choices", "weekdays"})
"""Kinds whose list offers what is usual and stops nothing else; the reader checks it."""
WHOLE_KINDS = frozenset({"count"})
TIME_KINDS = {
    "clock": "a clock time such as 7:42:10",
    "duration": "minutes and seconds, such as 0:06:22",
}
SUPPLY, SI_HZ = "supply", 50.0
UNMARKED_KINDS = TEXT_KINDS | TIME_KINDS.keys() | {"date", "percent", "count", "money", "any"}
"""Kinds that hold no number whose thousands a rule marks: money has its own format."""
LAST_OF_DAY = 0.99999
"""A second before midnight as the programs count it, in days."""


def limits(field: Field, system: UnitSystem) -> tuple[float, float] | None:
    """Return the least and greatest value in the sheet's units, None where there are none.

    Converted limits are rounded to four figures, inwards, so that a cell never accepts what
    the reader refuses.
    """
    if field.minimum is None or field.maximum is None:
        return None
    if not field.quantity:
        return field.minimum, field.maximum
    unit = field.unit_label(system)
    low, high = from_si(field.minimum, unit), from_si(field.maximum, unit)
    return inwards(low, math.ceil), inwards(high, math.floor)


def inwards(value: float, whole: Callable[[float], int]) -> float:
    """Return a value rounded to four figures by ``math.ceil`` or ``math.floor``.

    >>> inwards(19685.039, math.floor), inwards(-1312.3, math.ceil)
    (19680.0, -1312.0)
    """
    if value == 0:
        return 0.0
    step = 10.0 ** (math.floor(math.log10(abs(value))) + 1 - FIGURES)
    return float(f"{whole(float(f'{value / step:.{NOISE_FIGURES}g}')) * step:.{FIGURES}g}")


def shown(value: float, field: Field) -> str:
    """Return a limit as text: percent as such, other numbers with thousands marked."""
    if field.kind == "percent":
        return f"{value:.0%}"
    return plain(value)


def plain(limit: float) -> str:
    """Return a limit to six figures.

    >>> plain(1e6), plain(0.0393801)
    ('1,000,000', '0.0393801')
    """
    return describe(float(f"{limit:.6g}"))


def allowed(field: Field, system: UnitSystem) -> str:
    """Return what the cell accepts, in words; empty where anything goes."""
    if field.kind == "weekdays":
        return f"any days of the week, such as {', '.join(field.allowed)}"
    if field.kind == "choices":
        return f"one or more of: {', '.join(field.allowed)}"
    if field.allowed:
        return f"one of: {', '.join(choices(field, system))}"
    if field.kind in TIME_KINDS:
        return TIME_KINDS[field.kind]
    if field.kind == "date":
        return f"a date, {FIRST_DATE:%Y} to {LAST_DATE:%Y}"
    bounds = limits(field, system)
    if bounds is None:
        return ""
    low, high = (shown(bound, field) for bound in bounds)
    unit = "" if field.kind in ("percent", "money") else field.unit_text(system).strip("-")
    whole = "a whole number, " if field.kind in WHOLE_KINDS else ""
    return f"{whole}{low} to {high} {unit}".rstrip()


def choices(field: Field, system: UnitSystem) -> list[str]:
    """Return what the list of a cell offers; in SI units power supplies of 50 Hz come first.

    >>> from estimator.inputs.dictionary import fields
    >>> supply = next(field for field in fields("machines") if field.key == "supply")
    >>> choices(supply, "US")[0], choices(supply, "SI")[:2]
    ('1-ph 115 V', ['1-ph 230 V 50 Hz', '3-ph 400 V 50 Hz'])
    """
    if system == "US" or field.key != SUPPLY:
        return list(field.allowed)
    hz = {str(row["supply"]): row["hz"] for row in tables.load("supplies")}
    return sorted(field.allowed, key=lambda one: hz[one] != SI_HZ)


def note(field: Field, system: UnitSystem) -> str:
    """Return the note of a cell or header: what it means, what is allowed, whether needed."""
    accepts = allowed(field, system)
    lines = [
        field.note,
        f"Allowed: {accepts}" if accepts else "",
        "Required" if field.required else OPTIONAL,
    ]
    return "\n".join(line for line in lines if line)


def validation(field: Field, system: UnitSystem, first_cell: str) -> dict[str, Any]:
    """Return the validation options of the cells that hold this field.

    Parameters
    ----------
    field : Field
        The input.
    system : {'US', 'SI'}
        Units of the sheet.
    first_cell : str
        Relative address of the first cell, for rules written as a formula.
    """
    return {
        **_criteria(field, system, first_cell),
        "ignore_blank": True,
        "error_title": ERROR_TITLE,
        "error_message": _error_message(field, system),
        "error_type": "warning" if field.quantity else "stop",
    }


def with_prompt(options: dict[str, Any], field: Field, system: UnitSystem) -> dict[str, Any]:
    """Return validation options with a message that shows while the cell is selected."""
    return {
        **options,
        "input_title": textwrap.shorten(field.header, LONGEST_TITLE, placeholder=" ..."),
        "input_message": note(field, system)[:LONGEST_PROMPT],
    }


def marks_thousands(field: Field, system: UnitSystem) -> bool:
    """Return whether the whole numbers of a field have their thousands marked."""
    bounds = limits(field, system)
    return field.kind not in UNMARKED_KINDS and (bounds is None or bounds[1] >= look.THOUSAND)


def large_and_whole(field: Field, system: UnitSystem, first_cell: str) -> dict[str, str] | None:
    """Return the rule of a number whose thousands are marked, None where a field has none.

    A number format alone would round what is typed, or end a whole number in a point.
    """
    if not marks_thousands(field, system):
        return None
    number = f"N({first_cell})"
    criteria = f"=AND({number}>={look.THOUSAND},INT({number})={number})"
    return {"type": "formula", "criteria": criteria}


def _criteria(field: Field, system: UnitSystem, first_cell: str) -> dict[str, Any]:
    if field.kind in SUGGESTED_KINDS:
        return {"validate": "list", "source": list(field.allowed), "show_error": False}
    if field.allowed:
        return {"validate": "list", "source": choices(field, system)}
    if field.kind == "date":
        return _between("date", FIRST_DATE, LAST_DATE)
    if field.kind in TIME_KINDS:
        return _between("decimal", 0.0, LAST_OF_DAY)
    bounds = limits(field, system)
    if bounds is None:
        return {"validate": "any"}
    low, high = bounds
    if field.kind in NUMBER_OR_TEXT_KINDS:
        inside = f"AND({first_cell}>={low:.15g},{first_cell}<={high:.15g})"
        return {"validate": "custom", "value": f"=OR(ISTEXT({first_cell}),{inside})"}
    return _between("integer" if field.kind in WHOLE_KINDS else "decimal", low, high)


def _between(kind: str, low: float | dt.date, high: float | dt.date) -> dict[str, Any]:
    return {"validate": kind, "criteria": "between", "minimum": low, "maximum": high}


def _error_message(field: Field, system: UnitSystem) -> str:
    message = f"{field.header}: enter {allowed(field, system)}."
    if len(message) > LONGEST_ERROR:
        message = f"{field.header}: allowed is what the list of this cell shows."
    if field.quantity:
        message += " Keep another number only if you changed the unit of this cell."
    return message
