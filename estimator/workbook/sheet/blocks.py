"""Long tables of a sheet, held column by column: no cell is an object until somebody asks for it.

A formula that is alike in every row is one text, in which ``ROW``, ``ABOVE`` and ``OTHER`` stand
for the number of the row, of the row above it, and of a row of another sheet.
"""

import dataclasses
from bisect import bisect_right
from collections.abc import Iterable, Iterator, Mapping, Sequence
from itertools import accumulate
from types import MappingProxyType
from typing import NamedTuple, overload

from estimator.data_class import dataclass
from estimator.workbook.sheet.spec import Cell, Row, Value

ROW, ABOVE, OTHER = "\x00", "\x01", "\x02"
"""Characters that no workbook can hold."""
NUMBERS = frozenset((int, float))
NOTHING = type(None)
NO_STYLES: Mapping[int, str] = MappingProxyType({})


class Column(NamedTuple):
    """The cells of one column, from top to bottom.

    Parameters
    ----------
    values : sequence of Value
        What each cell shows.
    style : str
        Style of each cell but those in ``apart``, which has other ones by their place from 0 on.
    formula : str or sequence of str, optional
        Formula of every cell, or one for each.
    """

    values: Sequence[Value]
    style: str = "text"
    formula: str | Sequence[str | None] | None = None
    apart: Mapping[int, str] = NO_STYLES

    def kinds(self) -> set[type]:
        """Return the types of the values."""
        return set(map(type, self.values))

    def part(self, start: int, end: int) -> "Column":
        """Return some of the cells."""
        formula = self.formula
        return Column(
            self.values[start:end],
            self.style,
            formula if formula is None or isinstance(formula, str) else formula[start:end],
            {at - start: style for at, style in self.apart.items() if start <= at < end},
        )


@dataclass(frozen=True)
class Block:
    """Rows below each other whose cells are alike, from column A on.

    Parameters
    ----------
    columns : sequence of Column
        All of the same length.
    first : int
        Number of the first row.
    other : sequence of int
        For each row that of the row of another sheet to which formulas refer.
    heights : sequence of float, optional
        Height of each row in points; None is the layout's.
    """

    columns: Sequence[Column]
    first: int
    other: Sequence[int] = ()
    heights: Sequence[float | None] | None = None

    @property
    def count(self) -> int:
        """Return how many rows there are."""
        return len(self.columns[0].values)

    def row(self, at: int) -> Row:
        """Return a row, counted from 0, as cells."""
        height = None if self.heights is None else self.heights[at]
        return Row([self.cell(column, at) for column in self.columns], height)

    def cell(self, column: Column, at: int) -> Cell:
        """Return one cell of a column."""
        style = column.apart.get(at, column.style) if column.apart else column.style
        return Cell(column.values[at], style, self.formula(column, at))

    def formula(self, column: Column, at: int) -> str | None:
        """Return the formula of one cell."""
        if not isinstance(column.formula, str):
            return None if column.formula is None else column.formula[at]
        row = self.first + at
        text = column.formula.replace(ROW, str(row)).replace(ABOVE, str(row - 1))
        return text.replace(OTHER, str(self.other[at])) if self.other else text

    def slices(self, rows: int) -> Iterator["Block"]:
        """Yield the rows in blocks of so many."""
        for start in range(0, self.count, rows):
            end = start + rows
            yield Block(
                [column.part(start, end) for column in self.columns],
                self.first + start,
                self.other[start:end],
                None if self.heights is None else self.heights[start:end],
            )

    def with_columns(self, columns: Iterable[Column]) -> "Block":
        """Return the rows with other columns."""
        return dataclasses.replace(self, columns=tuple(columns))


class Rows(Sequence[Row]):
    """Rows, some of them as blocks; who asks for one gets it as cells."""

    def __init__(self, parts: Iterable[Row | Block]) -> None:
        self.parts = list(parts)
        counts = (part.count if isinstance(part, Block) else 1 for part in self.parts)
        self._starts = list(accumulate(counts, initial=0))

    def __len__(self) -> int:
        """Return the number of rows."""
        return self._starts[-1]

    def __iter__(self) -> Iterator[Row]:
        """Yield the rows as cells."""
        for part in self.parts:
            if isinstance(part, Block):
                yield from map(part.row, range(part.count))
            else:
                yield part

    @overload
    def __getitem__(self, at: int) -> Row: ...

    @overload
    def __getitem__(self, at: slice) -> Sequence[Row]: ...

    def __getitem__(self, at: int | slice) -> Row | Sequence[Row]:
        """Return a row, or some, as cells."""
        if isinstance(at, slice):
            return [self[one] for one in range(*at.indices(len(self)))]
        number = self.part_of(range(len(self))[at])
        part = self.parts[number]
        place = range(len(self))[at] - self._starts[number]
        return part.row(place) if isinstance(part, Block) else part

    def part_of(self, at: int) -> int:
        """Return which part holds a row, counted from 0."""
        return bisect_right(self._starts, at) - 1

    def parts_between(self, first: int, end: int) -> range:
        """Return which parts hold the rows from one on and before another."""
        return range(self.part_of(first), self.part_of(end - 1) + 1) if first < end else range(0)

    def numbered(self) -> Iterator[tuple[int, Row | Block]]:
        """Yield the parts with the number of their first row, counted from 1."""
        return zip([start + 1 for start in self._starts], self.parts, strict=False)


def parts_of(rows: Sequence[Row]) -> Sequence[Row | Block]:
    """Return rows as they are held: those of a block together."""
    return rows.parts if isinstance(rows, Rows) else rows


def breadth_of(rows: Sequence[Row]) -> int:
    """Return the number of columns of the broadest row."""
    parts = parts_of(rows)
    return max((len(p.columns if isinstance(p, Block) else p.cells) for p in parts), default=0)


def as_held(parts: Sequence[Row | Block]) -> Sequence[Row]:
    """Return rows without blocks as they are, others as ``Rows``."""
    rows = [part for part in parts if isinstance(part, Row)]
    return tuple(rows) if len(rows) == len(parts) else Rows(parts)
