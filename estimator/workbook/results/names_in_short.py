"""Names of runs and dates in the little room of a page."""

from collections.abc import Iterable, Mapping, Sequence
from itertools import groupby

MOST_NAMES = 12
FROM_TO = 3
"""Names in a row from which only the first and the last are shown."""


def shortened(names: Sequence[str], most: int = MOST_NAMES) -> str:
    """Return names with commas, the first of many, by usual a dozen.

    >>> shortened(["R1", "R2"])
    'R1, R2'
    """
    more = len(names) - most
    shown = ", ".join(names[:most])
    return f"{shown} and {more} more" if more > 0 else shown


def in_stretches(names: Iterable[str], order: Mapping[str, int], most: int = MOST_NAMES) -> str:
    """Return names with those that follow each other in an order as a stretch.

    >>> in_stretches(["R4", "R1", "R2", "R3", "R9"], {f"R{n}": n for n in range(10)})
    'R1 to R4, R9'
    """
    placed = enumerate(sorted(names, key=order.__getitem__))
    stretches = groupby(placed, key=lambda pair: order[pair[1]] - pair[0])
    found: list[str] = []
    for _, pairs in stretches:
        run = [name for _, name in pairs]
        found += [f"{run[0]} to {run[-1]}"] if len(run) >= FROM_TO else run
    return shortened(found, most)
