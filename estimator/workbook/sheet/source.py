"""What the parser reads from, whatever the source: a file, or a workbook open in Excel."""

import datetime as dt
from collections.abc import Sequence
from dataclasses import field
from typing import NamedTuple, Protocol

from estimator.data_class import dataclass

CellValue = str | int | float | bool | dt.date | dt.time | dt.timedelta | None


def column_letters(column: int) -> str:
    """Return the letters of a 1-based column number.

    >>> column_letters(28)
    'AB'
    """
    letters = ""
    while column:
        column, rest = divmod(column - 1, 26)
        letters = chr(65 + rest) + letters
    return letters


class RawCell(NamedTuple):
    """One cell as found, with its place.

    ``row`` and ``column`` are 1-based. ``error`` holds the text of an error value such as
    ``#N/A``; ``uncached`` says that it is a formula whose result was never saved.
    """

    sheet: str
    row: int
    column: int
    value: CellValue = None
    error: str = ""
    uncached: bool = False

    @property
    def is_filled(self) -> bool:
        """Whether anything stands in it: a value that is no mere space, an error, a formula."""
        blank = self.value is None or (isinstance(self.value, str) and not self.value.strip())
        return not blank or bool(self.error) or self.uncached

    @property
    def where(self) -> str:
        """The place as the user reads it: ``Pipe schedule!D17``."""
        return f"{self.sheet}!{column_letters(self.column)}{self.row}"

    @property
    def reference(self) -> str:
        """The place as a formula writes it: ``'Pipe schedule'!$D$17``."""
        quoted = self.sheet.replace("'", "''")
        return f"'{quoted}'!${column_letters(self.column)}${self.row}"


@dataclass(frozen=True)
class RawTable:
    """One Excel table: its headers, the unit row just above them, and its body.

    ``outside`` holds the filled cells below it, and those that touch its sides.
    """

    name: str
    sheet: str
    headers: tuple[RawCell, ...]
    units: tuple[RawCell, ...]
    rows: Sequence[Sequence[RawCell]]
    hidden_rows: frozenset[int] = field(default_factory=frozenset)
    outside: tuple[RawCell, ...] = ()

    def values(self, column: int) -> Sequence[CellValue]:
        """Return the values of a column, counted from 0."""
        return [row[column].value for row in self.rows]


BASIS_COLUMNS_ON = 3
"""How far to the right of a named cell its basis stands."""


class InputSource(Protocol):
    """Where tables and named cells come from."""

    @property
    def dates_1904(self) -> bool:
        """Whether the workbook counts its days from 1904."""

    def table(self, name: str) -> RawTable | None:
        """Return the Excel table of that name (any case), or None."""

    def named_cell(self, name: str) -> RawCell | None:
        """Return the single cell that a defined name points to, or None."""

    def unit_beside(self, cell: RawCell) -> RawCell:
        """Return the cell to the right of a named cell: its unit."""

    def beside(self, cell: RawCell, columns: int) -> RawCell:
        """Return the cell that many columns to the right of a named cell."""

    def filled_below(self, cell: RawCell) -> Sequence[RawCell]:
        """Return the filled cells of a column below one of its cells."""

    def is_named(self, cell: RawCell) -> bool:
        """Return whether any defined name points to this cell alone."""


class SheetSource(InputSource, Protocol):
    """An input source that also gives the values of the result sheets that are kept."""

    def result_values(self, key: str) -> tuple[str, Sequence[Sequence[CellValue]]] | None:
        """Return the name and the values of the result sheet of that key, None without it."""


def first_named_cell(source: InputSource, names: Sequence[str]) -> RawCell | None:
    """Return the cell of the first of these defined names that the source has, or None."""
    return next((cell for name in names if (cell := source.named_cell(name)) is not None), None)
