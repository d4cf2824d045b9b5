"""One input in the unit that a workbook or a message gives it: conversion, limits, allowed text."""

import math
from collections.abc import Mapping
from decimal import ROUND_CEILING, ROUND_FLOOR, Context, Decimal
from functools import cached_property, lru_cache
from types import MappingProxyType

from estimator.data_class import dataclass
from estimator.display import UNIT_LABELS, UnitSystem
from estimator.inputs.dictionary import Field
from estimator.units import from_si, to_si

HELD_UNITS: Mapping[str, str] = MappingProxyType({"minutes": "min", "hours": "h"})
"""Kinds of the dictionary that are times, and the unit in which the job holds them."""

PERCENT = "%"
FIRST_YEAR, LAST_YEAR = 1990, 2099
"""Years in which a date of a job can lie."""
DIGITS_SHOWN = 4
RELATIVE_SLACK = 1e-9


@dataclass(frozen=True)
class Column:
    """One input as it stands in this workbook.

    ``unit`` is the label of ``estimator.units`` that its numbers are in, ``%``, what an amount
    of money is for, or empty. ``dates_1904`` says how bare serial numbers of dates count.
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
        return HELD_UNITS.get(kind_of_number(self.field), "")

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


def kind_of_number(field: Field) -> str:
    """Return the kind of a field, of a plain number that of its unit."""
    return field.per if field.kind == "number" else field.kind


def measured_kind(field: Field) -> str:
    """Return the kind of ``estimator.units`` that a field's unit must have, empty for none."""
    if field.kind == "money":
        return field.per if field.per in UNIT_LABELS else ""
    return "time" if kind_of_number(field) in HELD_UNITS else field.quantity


@lru_cache(maxsize=1024)
def usual_column(field: Field, system: UnitSystem) -> Column:
    """Return an input in the unit that the sheets of a unit system give it."""
    return Column(field, usual_unit(field, system))


def usual_unit(field: Field, system: UnitSystem) -> str:
    """Return the unit of a field in a unit system."""
    if field.kind == "money":
        return UNIT_LABELS[field.per][system] if field.per in UNIT_LABELS else field.per
    if field.kind == "percent":
        return PERCENT
    if field.quantity:
        return UNIT_LABELS[field.quantity][system]
    return HELD_UNITS.get(kind_of_number(field), "")


def within(number: float, field: Field) -> bool:
    """Return whether a number that a job holds lies between the limits of its input."""
    if not math.isfinite(number):
        return False
    low, high = field.minimum, field.maximum
    slack = RELATIVE_SLACK * max(1.0, abs(number))
    return (low is None or number >= low - slack) and (high is None or number <= high + slack)


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
