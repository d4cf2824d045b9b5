"""Input tables and named cells of a workbook that is open in Excel.

A question to Excel costs about as much for one cell as for a thousand. So a table is read in one
piece with the unit row above it, and the named cells of a sheet in one piece with their units.
"""

import datetime as dt
from collections.abc import Iterator, Sequence
from decimal import Decimal
from functools import cached_property

import xlwings as xw

from estimator.excel.macro.native import ERRORS, hidden_rows, names_of, native, read_area
from estimator.inputs.dictionary import fields, input_tables
from estimator.workbook.sheet.areas import Area, looked_at, parse_area
from estimator.workbook.sheet.names import sheet_of
from estimator.workbook.sheet.source import BASIS_COLUMNS_ON, CellValue, RawCell, RawTable

NEWER_ERRORS = range(-2146826300, -2146826200)
"""Numbers by which Excel for Windows names errors that xlwings has no text for, as #SPILL!."""
FIRST_DAYS = frozenset({dt.date(1899, 12, 30), dt.date(1904, 1, 1)})
MOST_TOGETHER = 20_000
"""Cells of a sheet that are read at once, to have its named cells."""
MOST_SEARCHED = 2_000_000
"""Cells of a sheet that are searched for a table that is no Excel table any more."""


def raw_cell(sheet: str, row: int, column: int, value: object) -> RawCell:
    """Return a cell from its place and what Excel gives as its value."""
    error = ""
    if value in ERRORS:
        error = str(value)
    elif type(value) is int and value in NEWER_ERRORS:
        error = "#ERROR!"
    return RawCell(sheet, row, column, None if error else _plain(value), error)


def _plain(value: object) -> CellValue:
    if isinstance(value, Decimal):
        return float(value)
    if isinstance(value, dt.datetime):
        if value.date() in FIRST_DAYS:
            return value.time()
        return value.date() if value.time() == dt.time() else value
    if value is None or value == "" or not isinstance(value, str | int | float | dt.date):
        return None
    return value


class LiveSource:
    """An ``InputSource`` over a workbook that is open.

    No formula of it is ever without its result, and typed dates come as dates whatever year
    the workbook counts from.

    Parameters
    ----------
    book : xlwings.Book
        The workbook.
    """

    def __init__(self, book: xw.Book) -> None:
        self._book = book
        self._sheets = {sheet.name: sheet for sheet in book.sheets}
        self._tables = {
            table.name.casefold(): (name, table)
            for name, sheet in self._sheets.items()
            for table in sheet.tables
        }
        self._read: dict[str, RawTable | None] = {}
        self._last_rows: dict[str, int] = {}
        self._together: dict[str, dict[tuple[int, int], RawCell]] = {}

    @cached_property
    def dates_1904(self) -> bool:
        """Whether bare serial numbers of dates count from 1904."""
        return native(self._book).is_1904()

    def table(self, name: str) -> RawTable | None:
        """Return the Excel table of that name (any case), or None.

        Where the table has become an ordinary range on the sheet of that input, with the same
        headers and nothing below it, the range is returned with an empty name.
        """
        folded = name.casefold()
        if folded not in self._read:
            found = self._tables.get(folded)
            self._read[folded] = self._excel_table(*found) if found else self._plain_range(folded)
        return self._read[folded]

    def named_cell(self, name: str) -> RawCell | None:
        """Return the single cell (or merged cell) that a defined name points to, or None."""
        place = self._places.get(name.casefold())
        if place is None:
            return None
        sheet, area = place
        if not area.is_cell and self._merged(sheet, area) != area:
            return None
        return self._cell(sheet, area.top, area.left)

    def unit_beside(self, cell: RawCell) -> RawCell:
        """Return the cell to the right of a named cell: its unit."""
        beside = self._cell(cell.sheet, cell.row, cell.column + 1)
        if beside.value is not None or beside.error:
            return beside
        merged = self._merged(cell.sheet, Area(cell.row, cell.column, cell.row, cell.column))
        return self._cell(cell.sheet, cell.row, merged.right + 1)

    def beside(self, cell: RawCell, columns: int) -> RawCell:
        """Return the cell that many columns to the right of a named cell; no cell is merged."""
        return self._cell(cell.sheet, cell.row, cell.column + columns)

    @cached_property
    def _places(self) -> dict[str, tuple[str, Area]]:
        """Sheet and area of each named input that there is, by name in lower case."""
        named = [table.table for table in input_tables() if table.form != "table"]
        wanted = {
            name.casefold()
            for table in named
            for field in fields(table)
            for name in field.cell_names
        }
        sheets = {name.casefold(): name for name in self._sheets}
        places: dict[str, tuple[str, Area]] = {}
        for text, name in names_of(self._book).items():
            if text in wanted:
                reference = name.refers_to or ""
                sheet = sheets.get((sheet_of(reference) or "").casefold())
                area = parse_area(reference.rpartition("!")[2])
                if sheet is not None and area is not None:
                    places[text] = sheet, area
        return places

    def _cell(self, sheet: str, row: int, column: int) -> RawCell:
        if sheet not in self._together:
            self._together[sheet] = self._read_named(sheet)
        cells = self._together[sheet]
        if (row, column) not in cells:
            cells.update(self._read_cells(sheet, Area(row, column, row, column)))
        return cells[row, column]

    def _read_named(self, sheet: str) -> dict[tuple[int, int], RawCell]:
        """Read all named cells of a sheet at once, to the basis of each, if they lie together."""
        areas = [area for place, area in self._places.values() if place == sheet]
        if not areas:
            return {}
        top, bottom = min(area.top for area in areas), max(area.top for area in areas)
        left, right = (
            min(area.left for area in areas),
            max(area.left for area in areas) + BASIS_COLUMNS_ON,
        )
        if (bottom - top + 1) * (right - left + 1) > MOST_TOGETHER:
            return {}
        return self._read_cells(sheet, Area(top, left, bottom, right))

    def _read_cells(self, sheet: str, area: Area) -> dict[tuple[int, int], RawCell]:
        return {
            (row, column): raw_cell(sheet, row, column, value)
            for row, values in enumerate(read_area(self._sheets[sheet], area), area.top)
            for column, value in enumerate(values, area.left)
        }

    def _merged(self, sheet: str, area: Area) -> Area:
        """Return the merged cell in which an area begins, just its first cell if none."""
        return _area_of(self._sheets[sheet].range((area.top, area.left)).merge_area)

    def _excel_table(self, sheet: str, table: xw.main.Table) -> RawTable:
        whole = _area_of(table.range)
        head = whole.top if table.header_row_range is not None else whole.top - 1
        bottom = whole.bottom - (table.totals_row_range is not None)
        columns = range(whole.left, whole.right + 1)
        area = Area(max(head - 1, 1), whole.left, bottom, whole.right)
        cells = self._read_cells(sheet, area)
        rows = {
            row: tuple(
                cells.get((row, column)) or RawCell(sheet, row, column) for column in columns
            )
            for row in range(head - 1, bottom + 1)
        }
        headers = rows[head]
        if head < whole.top:
            shown = zip(headers, table.columns, strict=True)
            headers = tuple(RawCell(sheet, head, c.column, column.name) for c, column in shown)
        body = tuple(rows[row] for row in range(head + 1, bottom + 1))
        hidden = hidden_rows(self._sheets[sheet], whole)
        outside = tuple(self._outside(sheet, table, whole))
        return RawTable(table.name, sheet, headers, rows[head - 1], body, hidden, outside)

    def _outside(self, sheet: str, table: xw.main.Table, whole: Area) -> Iterator[RawCell]:
        others = [
            _area_of(other.range)
            for place, other in self._tables.values()
            if place == sheet and other.name != table.name
        ]
        for area in looked_at(whole, self._last_row(sheet), others):
            yield from self._filled(sheet, area)

    def filled_below(self, cell: RawCell) -> Sequence[RawCell]:
        """Return the filled cells of a column below one of its cells."""
        bottom = self._last_row(cell.sheet)
        return self._filled(cell.sheet, Area(cell.row + 1, cell.column, bottom, cell.column))

    def is_named(self, cell: RawCell) -> bool:
        """Return whether any defined name points to this cell alone."""
        wanted = cell.reference.replace("'", "")
        names = names_of(self._book).values()
        return any((name.refers_to or "").lstrip("=").replace("'", "") == wanted for name in names)

    def _last_row(self, sheet: str) -> int:
        if sheet not in self._last_rows:
            self._last_rows[sheet] = _area_of(self._sheets[sheet].used_range).bottom
        return self._last_rows[sheet]

    def _filled(self, sheet: str, area: Area) -> list[RawCell]:
        if area.bottom < area.top:
            return []
        most = area.top + MOST_SEARCHED // (area.right - area.left + 1)
        part = Area(area.top, area.left, min(area.bottom, most), area.right)
        return [cell for cell in self._read_cells(sheet, part).values() if cell.is_filled]

    def _plain_range(self, folded_name: str) -> RawTable | None:
        sheets = {name.casefold(): name for name in self._sheets}
        for table in input_tables():
            name = sheets.get(table.sheet.casefold())
            if table.excel_name.casefold() == folded_name and name is not None:
                return self._range_below(name, table.table)
        return None

    def _range_below(self, name: str, table: str) -> RawTable | None:
        # Seldom needed, and the parser of sheet files comes with it.
        from estimator.workbook.read.grid import Grid
        from estimator.workbook.read.sheet_scan import SheetMarks

        end = _area_of(self._sheets[name].used_range)
        if end.bottom * end.right > MOST_SEARCHED:
            return None
        cells = self._read_cells(name, Area(1, 1, end.bottom, end.right))
        values: list[list[CellValue]] = [[""] * end.right for _ in range(end.bottom)]
        for (row, column), cell in cells.items():
            values[row - 1][column - 1] = "" if cell.value is None else cell.value
        marks = SheetMarks(
            errors={place: cell.error for place, cell in cells.items() if cell.error}
        )
        marks.hidden_rows.update(hidden_rows(self._sheets[name], end))
        return Grid(name, values, marks).range_below(table)


def _area_of(cells: xw.Range) -> Area:
    rows, columns = cells.shape
    return Area(cells.row, cells.column, cells.row + rows - 1, cells.column + columns - 1)
