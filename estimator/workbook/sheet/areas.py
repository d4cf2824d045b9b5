"""Addresses of cells and rectangles of cells."""

import re
from collections.abc import Iterable, Iterator

from estimator.data_class import dataclass
from estimator.workbook.sheet.source import column_letters

_AREA = re.compile(r"\$?([A-Z]{1,3})\$?([0-9]{1,7})(?::\$?([A-Z]{1,3})\$?([0-9]{1,7}))?")


@dataclass(frozen=True)
class Area:
    """A rectangle of cells; rows and columns count from 1."""

    top: int
    left: int
    bottom: int
    right: int

    @property
    def is_cell(self) -> bool:
        """Whether it is a single cell."""
        return self.top == self.bottom and self.left == self.right

    def overlaps(self, other: "Area") -> bool:
        """Return whether the two have a cell in common."""
        rows = self.top <= other.bottom and other.top <= self.bottom
        return rows and self.left <= other.right and other.left <= self.right

    @property
    def address(self) -> str:
        """The address of its corners.

        >>> Area(top=6, left=2, bottom=65, right=3).address
        'B6:C65'
        """
        first = f"{column_letters(self.left)}{self.top}"
        return f"{first}:{column_letters(self.right)}{self.bottom}"


def column_number(letters: str) -> int:
    """Return the 1-based number of column letters.

    >>> column_number("AB")
    28
    """
    number = 0
    for letter in letters:
        number = number * 26 + ord(letter) - ord("A") + 1
    return number


def parse_area(text: str) -> Area | None:
    """Return the area of an address, None if it is not one.

    >>> parse_area("$B$6:$C$65")
    Area(top=6, left=2, bottom=65, right=3)
    """
    found = _AREA.fullmatch(text)
    if found is None:
        return None
    left, top = column_number(found[1]), int(found[2])
    if found[3] is None:
        return Area(top, left, top, left)
    return Area(top, left, int(found[4]), column_number(found[3]))


ROWS_OF_A_HEAD = 5
"""Rows above the headers of a table that are its own: title, note, a blank one and units."""


def looked_at(table: Area, last_row: int, others: Iterable[Area]) -> Iterator[Area]:
    """Yield what lies below a table, down to a row, and the columns that touch its sides.

    What belongs to another table of the sheet is left out, with its head.

    >>> [area.address for area in looked_at(Area(5, 2, 9, 4), 20, [Area(17, 3, 18, 5)])]
    ['B10:D11', 'A5:A9', 'E5:E9']
    """
    kept = list(others)
    across = [area for area in kept if area.left <= table.right and table.left <= area.right]
    tops = (area.top - ROWS_OF_A_HEAD - 1 for area in across if area.top > table.bottom)
    yield Area(table.bottom + 1, table.left, min([last_row, *tops]), table.right)
    for column in (table.left - 1, table.right + 1):
        beside = Area(table.top, column, table.bottom, column)
        if column and not any(area.overlaps(beside) for area in kept):
            yield beside
