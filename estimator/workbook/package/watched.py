"""Areas of a sheet that formulas look at, found by a cell inside them."""

from collections import defaultdict
from collections.abc import Iterator
from functools import lru_cache
from typing import Generic, TypeVar

from estimator.workbook.sheet.areas import Area

ROWS, COLUMNS = 1 << 21, 1 << 15
"""Powers of two above the number of rows and columns of a sheet."""

Item = TypeVar("Item")


class Watched(Generic[Item]):
    """Things that watch areas; each is given out for the first cells inside its area only.

    An area is kept as few blocks, each twice as long as the next smaller one, so that neither
    many areas nor long ones make the search of a cell slow.
    """

    def __init__(self) -> None:
        self._blocks: dict[int, dict[int, list[Item]]] = defaultdict(dict)

    def add(self, area: Area, item: Item) -> None:
        """Let an item watch an area."""
        for column in _blocks_of(area.left, area.right, COLUMNS):
            rows = self._blocks[column]
            for row in _blocks_of(area.top, area.bottom, ROWS):
                rows.setdefault(row, []).append(item)

    def take(self, row: int, column: int) -> Iterator[Item]:
        """Yield the items whose area holds a cell, and forget that part of their area."""
        for block in _blocks_with(column, COLUMNS):
            rows = self._blocks.get(block)
            if rows:
                for number in _blocks_with(row, ROWS):
                    yield from rows.pop(number, ())


@lru_cache(maxsize=4096)
def _blocks_of(first: int, last: int, size: int) -> tuple[int, ...]:
    """Return the largest blocks that together are the numbers from a first to a last one."""
    blocks = []
    low, high = first + size, last + size + 1
    while low < high:
        if low & 1:
            blocks.append(low)
            low += 1
        if high & 1:
            high -= 1
            blocks.append(high)
        low >>= 1
        high >>= 1
    return tuple(blocks)


def _blocks_with(number: int, size: int) -> Iterator[int]:
    """Yield every block that holds a number."""
    block = number + size
    while block:
        yield block
        block >>= 1
