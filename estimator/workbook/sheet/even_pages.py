"""Breaks one long table of parts over as few pages as hold it, where that parts the least."""

from collections.abc import Sequence
from dataclasses import field
from itertools import accumulate
from math import inf

from estimator.data_class import dataclass

FEW = 4
"""Rows of a part, or of the table, fewer of which do not stand alone on a page."""
PARTED, FEW_ALONE, FEW_LAST, EMPTY = 1.0, 4.0, 20.0, 6.0
"""What weighs against a page end: within a part, beside few rows of it, before few last rows of
the table, and the square of the share of the page that it leaves empty.
"""


@dataclass(frozen=True)
class LongTable:
    """Rows that fill pages one after another, counted from 0.

    Parameters
    ----------
    heights : sequence of float
        Points of each row.
    starts : sequence of int
        Rows with which parts begin, in their order.
    first_room, room : float
        Points of rows on the first page, and on each of the others.
    """

    heights: Sequence[float]
    starts: Sequence[int]
    first_room: float
    room: float
    _sums: list[float] = field(default_factory=list)
    _before: list[int] = field(default_factory=list)
    """Rows of its part before each row."""
    _from: list[int] = field(default_factory=list)
    """Rows of its part from each row on."""

    def __post_init__(self) -> None:
        self._sums.extend(accumulate(self.heights, initial=0.0))
        ends = [*self.starts, len(self.heights)]
        begins = [0, *self.starts]
        for begin, end in zip(begins, ends, strict=True):
            self._before.extend(range(end - begin))
            self._from.extend(range(end - begin, 0, -1))

    def page_starts(self) -> Sequence[int]:
        """Return the rows with which the pages after the first begin.

        >>> LongTable([1.0] * 12, [7], 10.0, 10.0).page_starts()
        [7]
        >>> LongTable([1.0] * 12, [], 10.0, 10.0).page_starts()
        [8]
        """
        last = len(self.heights)
        best: list[tuple[int, float]] = [(0, 0.0)] * (last + 1)
        ends = [last] * (last + 1)
        for start in range(last - 1, -1, -1):
            found = (inf, inf)
            for end in self._possible_ends(start):
                pages, weight = best[end]
                one = (pages + 1, weight + self._weight(start, end))
                if one < found:
                    found, ends[start] = one, end
            best[start] = (int(found[0]), found[1])
        starts, at = list[int](), ends[0]
        while at < last:
            starts.append(at)
            at = ends[at]
        return starts

    def _room(self, start: int) -> float:
        return self.room if start else self.first_room

    def _used(self, start: int, end: int) -> float:
        return self._sums[end] - self._sums[start]

    def _possible_ends(self, start: int) -> range:
        """Return the rows before which a page may end that begins with one; it has a row."""
        end = start + 1
        while end < len(self.heights) and self._used(start, end + 1) <= self._room(start):
            end += 1
        return range(end, start, -1)

    def _weight(self, start: int, end: int) -> float:
        """Return what weighs against a page with some rows."""
        last = len(self.heights)
        if end == last:
            return FEW_LAST if start and last - start < FEW else 0.0
        room = self._room(start)
        weight = EMPTY * (1 - self._used(start, end) / room) ** 2
        before = self._before[end]
        if before:
            weight += PARTED
            weight += FEW_ALONE * ((before < FEW) + (self._from[end] < FEW))
        return weight
