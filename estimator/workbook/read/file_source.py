"""Input tables and named cells of a workbook file.

Values come from python-calamine. What it does not give (tables, names, hidden rows, errors,
formulas without a saved result) is read from the parts of the package, and only of the sheets
that hold inputs.
"""

import dataclasses
import io
from collections.abc import Sequence, Set
from functools import cached_property

from python_calamine import CalamineError, CalamineWorkbook

from estimator.errors import WorkbookError
from estimator.inputs.dictionary import input_tables, site_tables
from estimator.workbook.package.package import Package, TableEntry
from estimator.workbook.read.grid import Grid
from estimator.workbook.read.second_try import (
    count_of_texts,
    refused_cells,
    with_known_errors,
    without_count,
)
from estimator.workbook.read.sheet_scan import SheetMarks, scan_sheet
from estimator.workbook.sheet.areas import Area, looked_at, parse_area
from estimator.workbook.sheet.names import sheet_of
from estimator.workbook.sheet.source import CellValue, RawCell, RawTable, column_letters

MOST_CELLS = 5_000_000
"""Cells from A1 to the last one in use that are still read into memory."""
UnreadableError = CalamineError
"""What the reader of cell values raises for a file that it cannot take."""
MOST_BLANK_ROWS = 1_000
"""Blank rows below the last one in use that a table may have; further ones are not looked at."""


class FileSource:
    """An ``InputSource`` over the bytes of an .xlsx or .xlsm file.

    Parameters
    ----------
    data : bytes
        The file.

    Raises
    ------
    WorkbookError
        If it is no workbook that can be read.
    """

    def __init__(self, data: bytes) -> None:
        self._package = Package.open(data)
        try:
            self._workbook = CalamineWorkbook.from_filelike(io.BytesIO(self._readable(data)))
        except CalamineError as error:
            raise WorkbookError(f"The file is damaged and cannot be read: {error}") from error
        self._parts = {entry.name: entry.part for entry in self._package.workbook_sheets()}
        self._tables = {entry.name.casefold(): entry for entry in self._package.tables()}
        names = self._package.defined_names()
        self._names = {name.casefold(): where for name, where in names.items()}
        self._grids: dict[str, Grid] = {}
        self._read: dict[str, RawTable | None] = {}

    @property
    def dates_1904(self) -> bool:
        """Whether bare serial numbers of dates count from 1904."""
        return self._package.dates_1904

    def result_values(self, key: str) -> tuple[str, Sequence[Sequence[CellValue]]] | None:
        """Return the name and the values from A1 on of a result sheet, None where it is not."""
        if not self._package.has_result_sheet(key):
            return None
        name = self._package.result_sheet_name(key)
        return name, self._grid(name).values

    def table(self, name: str) -> RawTable | None:
        """Return the Excel table of that name (any case), or None.

        Where the table has become an ordinary range on the sheet of that input, with the same
        headers and nothing below it, the range is returned with an empty name.
        """
        folded = name.casefold()
        if folded not in self._read:
            entry = self._tables.get(folded)
            self._read[folded] = self._excel_table(entry) if entry else self._plain_range(folded)
        return self._read[folded]

    def named_cell(self, name: str) -> RawCell | None:
        """Return the single cell (or merged cell) that a defined name points to, or None."""
        reference = self._names.get(name.casefold(), "")
        sheet, area = sheet_of(reference), parse_area(reference.rpartition("!")[2])
        if sheet is None or sheet not in self._parts or area is None:
            return None
        grid = self._grid(sheet)
        merged = grid.marks.merged.get((area.top, area.left))
        return grid.cell(area.top, area.left) if area.is_cell or area == merged else None

    def unit_beside(self, cell: RawCell) -> RawCell:
        """Return the cell to the right of a named cell: its unit."""
        return self.beside(cell, 1)

    def beside(self, cell: RawCell, columns: int) -> RawCell:
        """Return the cell that many columns to the right of a cell, merged ones being one."""
        grid = self._grid(cell.sheet)
        merged = grid.marks.merged.get((cell.row, cell.column))
        return grid.cell(cell.row, (merged.right if merged else cell.column) + columns)

    def filled_below(self, cell: RawCell) -> Sequence[RawCell]:
        """Return the filled cells of a column below one of its cells."""
        grid = self._grid(cell.sheet)
        return grid.filled(Area(cell.row + 1, cell.column, grid.marks.last_row, cell.column))

    def is_named(self, cell: RawCell) -> bool:
        """Return whether any defined name points to this cell alone."""
        return cell.reference in self._named_references

    @cached_property
    def _named_references(self) -> Set[str]:
        return {
            RawCell(sheet, area.top, area.left).reference
            for reference in self._names.values()
            if (sheet := sheet_of(reference)) is not None
            and (area := parse_area(reference.rpartition("!")[2])) is not None
            and area.is_cell
        }

    def _grid(self, sheet: str) -> Grid:
        if sheet not in self._grids:
            marks = marks_of(self._package, sheet, self._parts[sheet])
            self._grids[sheet] = Grid(sheet, self._values(sheet), marks)
        return self._grids[sheet]

    def _readable(self, data: bytes) -> bytes:
        """Return the file with texts that the reader of values can take; nearly always as it is.

        What it unpacks at once is unpacked here first, where it counts.
        """
        looks = self._package.linked_part("styles")
        if looks is not None:
            self._package.part(looks)
        part = self._package.linked_part("sharedStrings")
        if part is None:
            return data
        xml = self._package.part(part)
        fixed = without_count(xml)
        return data if fixed is xml else self._package.with_part(part, fixed)

    def _values(self, sheet: str) -> Sequence[Sequence[CellValue]]:
        try:
            return _values_of(self._workbook, sheet)
        except CalamineError:
            return self._values_at_second_try(sheet)

    def _values_at_second_try(self, sheet: str) -> Sequence[Sequence[CellValue]]:
        """Read a sheet with error values that only newer programs know; else name its cell."""
        part = self._parts[sheet]
        xml = self._package.part(part)
        try:
            data = self._package.with_part(part, with_known_errors(xml, part))
            return _values_of(CalamineWorkbook.from_filelike(io.BytesIO(data)), sheet)
        except CalamineError as error:
            texts = self._package.linked_part("sharedStrings")
            count = count_of_texts(self._package.part(texts), texts) if texts else 0
            cell = next(refused_cells(xml, part, count), "")
            place = f"{sheet}!{cell}" if cell else sheet
            raise WorkbookError(
                f"{place}: cannot be read: {error}. Save the file in a spreadsheet program"
            ) from error

    def _excel_table(self, entry: TableEntry) -> RawTable:
        area = parse_area(entry.ref)
        if area is None:
            raise WorkbookError(f"Table {entry.name}: {entry.ref!r} is not a range such as A1:B2")
        grid = self._grid(entry.sheet)
        top = area.top if entry.header_row_count else area.top - 1
        names = dict(enumerate(entry.columns, area.left))
        headers = tuple(
            RawCell(cell.sheet, cell.row, cell.column, cell.value or names.get(cell.column))
            for cell in grid.cells(top, area)
        )
        used = max(grid.marks.last_row, area.top) + MOST_BLANK_ROWS
        bottom = min(area.bottom - entry.totals_row_count, used)
        found = grid.table(entry.name, headers, bottom)
        around = looked_at(area, grid.marks.last_row, self._other_areas(entry))
        outside = tuple(cell for part in around for cell in grid.filled(part))
        return dataclasses.replace(found, outside=outside)

    def _other_areas(self, entry: TableEntry) -> list[Area]:
        """Return the areas of the other tables of its sheet."""
        others = (
            parse_area(other.ref)
            for other in self._tables.values()
            if other.sheet == entry.sheet and other is not entry
        )
        return [area for area in others if area is not None]

    def _plain_range(self, folded_name: str) -> RawTable | None:
        for table in (*input_tables(), *site_tables()):
            if table.excel_name.casefold() != folded_name:
                continue
            for sheet in self._parts:
                if sheet.casefold() == table.sheet.casefold():
                    return self._grid(sheet).range_below(table.table)
        return None


def _values_of(workbook: CalamineWorkbook, sheet: str) -> Sequence[Sequence[CellValue]]:
    values: Sequence[Sequence[CellValue]] = workbook.get_sheet_by_name(sheet).to_python(
        skip_empty_area=False
    )
    return values


def marks_of(package: Package, sheet: str, part: str) -> SheetMarks:
    """Return what the values of a sheet do not show.

    Raises
    ------
    WorkbookError
        If its values would not fit into memory: whoever reads them asks here first.
    """
    marks = scan_sheet(package.part(part))
    if marks.last_row * marks.last_column > MOST_CELLS:
        far = f"{column_letters(marks.last_column)}{marks.last_row}"
        raise WorkbookError(
            f"{sheet}: cells are in use as far as {far}, past the limit of {MOST_CELLS:,} cells "
            "from A1. Delete what lies far from the inputs"
        )
    return marks
