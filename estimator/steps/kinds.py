"""What a number of a step is: a physical kind that is shown in the user's unit, or a plain unit."""

from collections.abc import Mapping
from decimal import Decimal
from types import MappingProxyType
from typing import Annotated

Money = Annotated[float, "money"]
Amount = Annotated[Decimal, "money"]
"""Money in whole cents, kept exactly; ``Money`` is one that a calculation gives."""
Minutes = Annotated[float, "min"]
Hours = Annotated[float, "h"]
Share = Annotated[float, "share"]
Inches = Annotated[float, "in"]
Millimeters = Annotated[float, "mm"]
Celsius = Annotated[float, "C"]
"""Units of a published rule, which stay as they are in both unit systems."""
OfTable = Annotated[float, "{unit}"]
"""A number in the unit that a table states, which the step takes as ``unit``."""
Time = Annotated[float, "time"]
TimePerWall = Annotated[float, "time_per_wall"]

KINDS: Mapping[str, str] = MappingProxyType(
    {
        "mm": "small_length",
        "mm2": "area",
        "m": "length",
        "kg": "mass",
        "kg_m": "weight_per_length",
        "mpa": "pressure",
        "n": "force",
        "c": "temperature",
        "kw": "power",
        "l": "volume",
        "l_h": "fuel_rate",
        "s": "s",
        "min": "min",
        "h": "h",
    }
)
"""Kind or plain unit of a number by the unit that ends its name."""


def kind_of(name: str) -> str:
    """Return the kind that the end of a name gives, empty where it gives none.

    >>> kind_of("wall_mm"), kind_of("weight_kg_m"), kind_of("sticks")
    ('small_length', 'weight_per_length', '')
    """
    return KINDS.get(_unit(name), "")


def words_of(name: str) -> str:
    """Return a name as words, without its unit.

    >>> words_of("wall_mm"), words_of("before_bond")
    ('wall', 'before bond')
    """
    return name.removesuffix(_unit(name)).replace("_", " ").strip().lower()


def _unit(name: str) -> str:
    """Return the unit that ends a name, empty where there is none."""
    parts = name.split("_")
    ends = ("_".join(parts[-count:]) for count in (2, 1) if count < len(parts))
    return next((end for end in ends if end in KINDS), "")
