"""Which dots of a chart over dates have room for their names, and on which side."""

import datetime as dt
from collections.abc import Iterable, Mapping, Sequence
from typing import NamedTuple

from estimator.data_class import dataclass
from estimator.workbook.sheet.look import SMALL
from estimator.workbook.sheet.spec import Side

LETTER = 0.56 * SMALL
"""About the breadth of a letter of a name, in points."""
DOT, GAP = 3.0, 2.0
"""Half of a dot, and what is free beside it, in points."""
SIDES: Sequence[Side] = ("right", "left", "above", "below")
"""Sides of a dot in the order in which they are tried."""


class Dot(NamedTuple):
    """A dot and its name; one that must be named has its name even where that meets others."""

    name: str
    day: dt.date
    amount: float
    must_be_named: bool = False


class Box(NamedTuple):
    """A box on the chart, in points from its lower left corner."""

    left: float
    bottom: float
    right: float
    top: float

    def meets(self, other: "Box") -> bool:
        """Return whether two boxes overlap."""
        return (
            self.left < other.right
            and other.left < self.right
            and self.bottom < other.top
            and other.bottom < self.top
        )


@dataclass(frozen=True)
class Plot:
    """What the axes span, and how broad and high that is in points."""

    days: tuple[dt.date, dt.date]
    amounts: tuple[float, float]
    size: tuple[float, float]

    def place(self, dot: Dot) -> tuple[float, float]:
        """Return where a dot stands."""
        (first, last), (low, high), (wide, tall) = self.days, self.amounts, self.size
        return (
            (dot.day - first).days / (last - first).days * wide,
            (dot.amount - low) / (high - low) * tall,
        )

    def box(self, dot: Dot, side: Side) -> Box:
        """Return the box of a name on a side of its dot."""
        x, y = self.place(dot)
        wide, high, away = len(dot.name) * LETTER, SMALL, DOT + GAP
        left = {"right": x + away, "left": x - away - wide}.get(side, x - wide / 2)
        bottom = {"above": y + away, "below": y - away - high}.get(side, y - high / 2)
        return Box(left, bottom, left + wide, bottom + high)

    def holds(self, box: Box) -> bool:
        """Return whether a box is within the plot from side to side."""
        return box.left >= 0 and box.right <= self.size[0]


def sides_of_names(
    plot: Plot, dots: Sequence[Dot], taken: Iterable[Box] = ()
) -> Mapping[str, Side]:
    """Return the side on which each name stands; no name where others leave it no room.

    >>> day = dt.date(2027, 3, 1)
    >>> plot = Plot((day, day + dt.timedelta(40)), (0.0, 100.0), (400.0, 100.0))
    >>> middle = day + dt.timedelta(20)
    >>> sides_of_names(plot, [Dot("1", middle, 50.0), Dot("2", middle, 51.0)])
    {'1': 'right', '2': 'left'}
    """
    boxes = [*taken]
    boxes += [Box(x - DOT, y - DOT, x + DOT, y + DOT) for x, y in map(plot.place, dots)]
    found: dict[str, Side] = {}
    for dot in sorted(dots, key=lambda one: not one.must_be_named):
        free = (
            side
            for side in SIDES
            if plot.holds(plot.box(dot, side))
            and not any(plot.box(dot, side).meets(box) for box in boxes)
        )
        side = next(free, SIDES[0] if dot.must_be_named else None)
        if side is not None:
            found[dot.name] = side
            boxes.append(plot.box(dot, side))
    return found
