"""One sheet of a workbook file: its values with what its XML adds to them."""

from collections.abc import Iterator, Sequence, Set
from functools import cached_property
from typing import overload

from estimator.data_class import dataclass
from estimator.inputs.dictionary import is_head, squeeze
from estimator.workbook.read.sheet_scan import SheetMarks
from estimator.workbook.sheet.areas import Area
from estimator.workbook.sheet.source import CellValue, RawCell, RawTable


@dataclass(frozen=True)
class Grid:
    """The values of a sheet from A1 on, and its marks."""

    sheet: str
    values: Sequence[Sequence[CellValue]]
    marks: SheetMarks

    def cell(self, row: int, column: int) -> RawCell:
        """Return one cell; rows and columns count from 1, beyond the sheet's end it is blank."""
        value: CellValue = None
        if 1 <= row <= len(self.values) and column <= len(self.values[row - 1]):
            value = self.values[row - 1][column - 1]
        place = row, column
        error, uncached = self.marks.errors.get(place, ""), place in self.marks.uncached
        blank = value == "" or bool(error) or uncached
        return RawCell(self.sheet, row, column, None if blank else value, error, uncached)

    def values_below(self, area: Area, column: int) -> Sequence[CellValue]:
        """Return the values of a column within the rows of an area, None for a blank cell."""
        found: list[CellValue] = []
        for row in range(area.top, area.bottom + 1):
            values = () if row > len(self.values) else self.values[row - 1]
            if row in self._marked_rows or column > len(values):
                found.append(self.cell(row, column).value)
            else:
                value = values[column - 1]
                found.append(None if value == "" else value)
        return found

    def cells(self, row: int, area: Area) -> tuple[RawCell, ...]:
        """Return the cells of a row within the columns of an area."""
        if row in self._marked_rows or row > len(self.values):
            return tuple(self.cell(row, column) for column in range(area.left, area.right + 1))
        values = self.values[row - 1][area.left - 1 : area.right]
        sheet = self.sheet
        found = [
            RawCell(sheet, row, column, None if value == "" else value)
            for column, value in enumerate(values, area.left)
        ]
        beyond = range(area.left + len(found), area.right + 1)
        return (*found, *(RawCell(self.sheet, row, column) for column in beyond))

    @cached_property
    def _marked_rows(self) -> Set[int]:
        return {row for row, _ in (*self.marks.errors, *self.marks.uncached)}

    def table(self, name: str, headers: tuple[RawCell, ...], bottom: int) -> RawTable:
        """Return the table below these headers, down to a row; its units stand above them.

        Headers in the first row have no units above; blank cells stand for them.
        """
        row, left, right = headers[0].row, headers[0].column, headers[-1].column
        area = Area(row + 1, left, bottom, right)
        units = self.cells(row - 1, area) if row > 1 else _blanks(headers)
        rows = TableRows(self, area)
        return GridTable(name, self.sheet, headers, units, rows, frozenset(self.marks.hidden_rows))

    def filled(self, area: Area) -> tuple[RawCell, ...]:
        """Return the filled cells of an area, row by row."""
        rows = range(area.top, min(area.bottom, self.marks.last_row) + 1)
        return tuple(cell for row in rows for cell in self.cells(row, area) if cell.is_filled)

    def range_below(self, table: str) -> RawTable | None:
        """Return the range whose header row has all required columns of a table, without a name.

        It ends at its first blank row. None if there is no such header row, or if anything
        stands below that blank row, because rows must not be lost unseen.
        """
        for number in range(1, len(self.values) + 1):
            for block in self._blocks(number):
                if is_head(table, {squeeze(str(cell.value)) for cell in block}):
                    return self._range(block)
        return None

    def _blocks(self, row: int) -> Iterator[tuple[RawCell, ...]]:
        block: list[RawCell] = []
        for column in range(1, len(self.values[row - 1]) + 2):
            cell = self.cell(row, column)
            if cell.value is not None:
                block.append(cell)
            elif block:
                yield tuple(block)
                block = []

    def _range(self, headers: tuple[RawCell, ...]) -> RawTable | None:
        top, left, right = headers[0].row + 1, headers[0].column - 1, headers[-1].column
        used = [
            number
            for number, row in enumerate(self.values[top - 1 :], top)
            if any(value != "" for value in row[left:right])
        ]
        if used and used[-1] - top + 1 != len(used):
            return None
        return self.table("", headers, used[-1] if used else top - 1)


class TableRows(Sequence[tuple[RawCell, ...]]):
    """The rows of a table, whose cells are made whenever somebody asks for them."""

    def __init__(self, grid: Grid, area: Area) -> None:
        self.grid, self.area = grid, area

    def __len__(self) -> int:
        """Return the number of rows."""
        return max(self.area.bottom - self.area.top + 1, 0)

    @overload
    def __getitem__(self, at: int) -> tuple[RawCell, ...]: ...

    @overload
    def __getitem__(self, at: slice) -> Sequence[tuple[RawCell, ...]]: ...

    def __getitem__(self, at: int | slice) -> tuple[RawCell, ...] | Sequence[tuple[RawCell, ...]]:
        """Return a row, or some."""
        if isinstance(at, slice):
            return [self[one] for one in range(len(self))[at]]
        return self.grid.cells(self.area.top + range(len(self))[at], self.area)


class GridTable(RawTable):
    """A table of a file: its cells stay with the grid, which has their values."""

    def values(self, column: int) -> Sequence[CellValue]:
        """Return the values of a column, counted from 0."""
        if not isinstance(self.rows, TableRows):
            return super().values(column)
        area = self.rows.area
        return self.rows.grid.values_below(area, area.left + column)


def _blanks(cells: tuple[RawCell, ...]) -> tuple[RawCell, ...]:
    return tuple(RawCell(cell.sheet, cell.row, cell.column) for cell in cells)
