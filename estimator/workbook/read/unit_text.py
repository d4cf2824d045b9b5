"""Unit labels as people type them."""

from collections.abc import Mapping
from functools import cache
from types import MappingProxyType

from estimator.inputs.dictionary import squeeze
from estimator.units import UNITS

PERCENT = "%"

ALIASES: Mapping[str, tuple[str, ...]] = MappingProxyType(
    {
        "m": (
            "metre",
            "metres",
            "meter",
            "meters",
            "lm",
            "l.m.",
            "linearmeters",
            "linearmetres",
        ),
        "ft": (
            "ft.",
            "foot",
            "feet",
            "'",
            "\u2032",
            "\u2019",
            "lf",
            "l.f.",
            "linft",
            "lin.ft.",
            "linearfeet",
            "linealfeet",
            "linearft",
        ),
        "mm": ("millimetre", "millimetres", "millimeter", "millimeters"),
        "in": ("in.", "inch", "inches", '"', "\u2033", "\u201d", "''"),
        "kg": ("kgs", "kilogram", "kilograms"),
        "lb": ("lb.", "lbs", "lbs.", "pound", "pounds"),
        "C": ("°c", "degc", "celsius"),
        "F": ("°f", "degf", "fahrenheit"),
        "psi": ("psig",),
        "bar": ("bars", "barg"),
        "mm2": ("mm²", "mm^2", "sqmm"),
        "cm2": ("cm²", "cm^2", "sqcm"),
        "in2": ("in²", "in^2", "sqin", "sq.in."),
        "kW": ("kilowatt", "kilowatts"),
        "hp": ("horsepower",),
        "L": ("litre", "litres", "liter", "liters"),
        "gal": ("gallon", "gallons"),
        "m3": ("m³", "m^3", "cubicmetre", "cubicmetres", "cubicmeter", "cubicmeters"),
        "L/s": ("lps", "l/sec"),
        "L/min": ("lpm",),
        "m3/h": ("m³/h", "m^3/h", "m3/hr"),
        "gal/min": ("gpm",),
        "L/h": ("l/hr", "lph"),
        "gal/h": ("gal/hr", "gph"),
        "s": ("sec", "second", "seconds"),
        "min": ("min.", "mins", "minute", "minutes"),
        "h": ("hr", "hr.", "hrs", "hour", "hours"),
        "s/mm": ("sec/mm",),
        "min/in": ("min/in.", "min/inch"),
        PERCENT: ("percent", "pct"),
    }
)
"""Other spellings of the labels of ``estimator.units`` and of percent, without spaces."""


@cache
def _labels() -> Mapping[str, str]:
    spellings = {squeeze(label): label for label in (*UNITS, PERCENT)}
    for label, others in ALIASES.items():
        spellings.update(dict.fromkeys(others, label))
    return spellings


def unit_label(text: str) -> str | None:
    """Return the label of ``estimator.units`` (or ``%``) that a text means, None if unknown.

    >>> unit_label(" Feet "), unit_label("sq in"), unit_label("furlong")
    ('ft', 'in2', None)
    """
    return _labels().get(squeeze(text))


@cache
def labels_of_kind(kind: str) -> tuple[str, ...]:
    """Return the labels of every unit of a physical kind."""
    return tuple(unit.label for unit in UNITS.values() if unit.kind == kind)
