"""Limits of a joint as sheets show them: minima rounded up, maxima down, to the last digit."""

from collections.abc import Mapping
from math import ceil, floor
from types import MappingProxyType

from estimator.workbook.results.builder import DAY_S

NOISE = 6
"""Decimals to which a number is taken before it is rounded up or down."""
LEAST = frozenset({"wall", "bead", "soak", "cool", "rest"})
MOST = frozenset({"offset", "open_close"})
LIMITS = LEAST | MOST
"""Keys of the columns with limits."""
STEPS: Mapping[str, float] = MappingProxyType(
    {"int": 1, "num1": 10, "num2": 100, "num3": 1000, "min_s": 60}
)
"""Parts of a unit that a style shows; of a minute, those are seconds."""


def shown_limit(key: str, value: float, style: str) -> float:
    """Return a limit on the safe side, as what its cell holds: minutes as a part of a day.

    >>> shown_limit("bead", 11.1125, "num1"), shown_limit("open_close", 20.9, "int")
    (11.2, 20.0)
    >>> shown_limit("cool", 43.529, "min_s") * DAY_S
    2612.0
    """
    step = STEPS[style]
    whole = (ceil if key in LEAST else floor)(round(value * step, NOISE))
    return whole / (DAY_S if style == "min_s" else step)
