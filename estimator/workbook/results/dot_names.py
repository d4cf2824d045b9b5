"""Where the names of the dots of a chart over dates stand: beside each dot, or one for several."""

import datetime as dt
import math
from collections.abc import Iterable, Mapping, Sequence
from typing import NamedTuple

from estimator.data_class import dataclass
from estimator.workbook.results.names_in_short import in_stretches
from estimator.workbook.sheet.look import SMALL
from estimator.workbook.sheet.spec import Side

LETTER = 0.56 * SMALL
"""About the breadth of a letter of a name, in points."""
DOT, GAP = 3.0, 2.0
"""Half of a dot, and what is free beside it, in points."""
CLEAR = 2.0
"""Points between a name and the dots and names of others, so that nobody takes it for theirs."""
NEAR = 4 * DOT
"""Points up to which dots may share a name."""
SIDES: Sequence[Side] = ("right", "left", "above", "below")
"""Sides of a dot in the order in which they are tried."""


class Dot(NamedTuple):
    """A dot and its name; one that must be named has its name even where that meets others."""

    name: str
    day: dt.date
    amount: float
    must_be_named: bool = False


class Name(NamedTuple):
    """The name of one dot or of several, and the side of a dot on which it stands."""

    text: str
    side: Side


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

    def wider(self, by: float) -> "Box":
        """Return the box with so many points more on each side."""
        return Box(self.left - by, self.bottom - by, self.right + by, self.top + by)


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

    def apart(self, dot: Dot, other: Dot) -> float:
        """Return the points from one dot to another."""
        return math.dist(self.place(dot), self.place(other))

    def box(self, dot: Dot, side: Side, name: str | None = None) -> Box:
        """Return the box of a name on a side of a dot; of its own name if none is given."""
        x, y = self.place(dot)
        letters = len(dot.name if name is None else name)
        wide, high, away = letters * LETTER, SMALL, DOT + GAP
        left = {"right": x + away, "left": x - away - wide}.get(side, x - wide / 2)
        bottom = {"above": y + away, "below": y - away - high}.get(side, y - high / 2)
        return Box(left, bottom, left + wide, bottom + high)

    def around(self, dot: Dot) -> Box:
        """Return the box of a dot itself."""
        x, y = self.place(dot)
        return Box(x - DOT, y - DOT, x + DOT, y + DOT)

    def holds(self, box: Box) -> bool:
        """Return whether a box is within the plot from side to side."""
        return box.left >= 0 and box.right <= self.size[0]


Rows = tuple[int, ...]


def names_of_dots(plot: Plot, dots: Sequence[Dot], taken: Iterable[Box] = ()) -> Mapping[int, Name]:
    """Return the names by the row of the dot where they stand.

    Dots that hide each other share a name, and so do dots where there is no room for each its
    own; only a dot far from the others may stay without.

    >>> day = dt.date(2027, 3, 1)
    >>> plot = Plot((day, day + dt.timedelta(40)), (0.0, 100.0), (400.0, 100.0))
    >>> middle = day + dt.timedelta(20)
    >>> names_of_dots(plot, [Dot("1", middle, 50.0), Dot("2", middle, 55.0)])
    {0: Name(text='1', side='right'), 1: Name(text='2', side='left')}
    >>> names_of_dots(plot, [Dot("1", middle, 50.0), Dot("2", middle, 51.0)])
    {0: Name(text='1, 2', side='right')}
    """
    boxes, groups = [*taken], _hiding(plot, dots)
    while True:
        found, lost = _placed(plot, dots, groups, boxes)
        near = ((_apart(plot, dots, one, other), one, other)
                for one in lost for other in groups if other != one)  # fmt: skip
        apart, one, other = min(near, default=(math.inf, (), ()))
        if apart > NEAR:
            return found
        groups = [group for group in groups if group not in (one, other)]
        groups = sorted([*groups, tuple(sorted(one + other))])


def _hiding(plot: Plot, dots: Sequence[Dot]) -> list[Rows]:
    """Return the rows of the dots, in one group those that hide each other."""
    groups: list[Rows] = []
    for row, dot in enumerate(dots):
        hidden = [g for g in groups if any(plot.apart(dot, dots[one]) < DOT for one in g)]
        groups = [g for g in groups if g not in hidden]
        groups.append((*sorted(one for g in hidden for one in g), row))
    return sorted(groups)


def _apart(plot: Plot, dots: Sequence[Dot], group: Rows, other: Rows) -> float:
    """Return the points between the nearest dots of two groups."""
    return min(plot.apart(dots[one], dots[two]) for one in group for two in other)


def _placed(
    plot: Plot, dots: Sequence[Dot], groups: Sequence[Rows], taken: Sequence[Box]
) -> tuple[Mapping[int, Name], list[Rows]]:
    """Return the names that stand by their rows, and the groups whose name has no free place."""
    found: dict[int, Name] = {}
    lost: list[Rows] = []
    boxes = [*taken]
    for group in sorted(groups, key=lambda rows: not any(dots[row].must_be_named for row in rows)):
        text, places = _text([dots[row] for row in group]), _places(dots, group)
        others = [
            plot.around(dot).wider(CLEAR if row not in group else 0.0)
            for row, dot in enumerate(dots)
        ]
        names = {place: plot.box(dots[place[0]], place[1], text) for place in places}
        free = [place for place in places if _is_free(plot, names[place], [*boxes, *others])]
        if not free:
            lost.append(group)
        if free or dots[places[0][0]].must_be_named:
            row, side = (free or places)[0]
            found[row] = Name(text, side)
            boxes.append(names[row, side].wider(CLEAR))
    return found, lost


def _is_free(plot: Plot, box: Box, taken: Iterable[Box]) -> bool:
    return plot.holds(box) and not any(box.meets(other) for other in taken)


def _places(dots: Sequence[Dot], group: Rows) -> list[tuple[int, Side]]:
    """Return the dots and sides beside which a name may stand, the wished first."""
    rows = sorted(group, key=lambda row: not dots[row].must_be_named)
    return [(row, side) for row in rows for side in SIDES]


def _text(dots: Sequence[Dot]) -> str:
    """Return one name for several dots: the base first, numbers in stretches."""
    names = [dot.name for dot in dots]
    words = [name for name in names if not name.isdigit()]
    order = {name: int(name) for name in names if name.isdigit()}
    return ", ".join([*words, *filter(None, [in_stretches(order, order, len(order))])])
