"""Addresses of cells and rectangles of cells."""

import re
from dataclasses import dataclass

from estimator.workbook.sheet.source import column_letters

_AREA = re.compile(r"\$?([A-Z]{1,3})\$?([0-9]+)(?::\$?([A-Z]{1,3})\$?([0-9]+))?")


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
