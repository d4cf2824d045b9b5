"""What an action writes into the user's side of an open workbook: cells, table rows, new sheets.

What is in the way was found on a copy of the workbook, by the rules of files. If the program then
refuses a step, the steps before it are taken back.
"""

import datetime as dt
from collections.abc import Callable, Iterator, Mapping, Sequence
from typing import Any

import xlwings as xw

from estimator import files
from estimator.errors import WorkbookError
from estimator.excel.macro.cells import Content, content, kept_content
from estimator.excel.macro.looks import runs
from estimator.excel.macro.native import native
from estimator.workbook.package.fill_cells import Typed
from estimator.workbook.package.table_rows import TableRows
from estimator.workbook.sheet.areas import Area
from estimator.workbook.sheet.cell_text import EPOCHS, serial_number
from estimator.workbook.sheet.source import column_letters
from estimator.workbook.sheet.spec import Cell, SheetSpec

PROTECTED = "Protected: {names}. Choose Review, Unprotect Sheet, and run again; nothing was changed"


class OpenInputs:
    """The user's sheets of an open workbook.

    Parameters
    ----------
    book : xlwings.Book
        The workbook.
    """

    def __init__(self, book: xw.Book) -> None:
        self._book, self._native = book, native(book)
        self._dates_1904 = self._native.is_1904()
        self._undo: list[Callable[[], object]] = []

    def refuse_protected(self, sheets: Sequence[str], tables: Sequence[TableRows]) -> None:
        """Make sure that these sheets, and those of these tables, may be written.

        Raises
        ------
        WorkbookError
            If one is protected.
        """
        wanted = [self._book.sheets[name] for name in sheets]
        wanted += [self._table(rows.table).parent for rows in tables]
        closed = {sheet.name for sheet in wanted if self._native.is_protected(sheet)}
        if closed:
            raise WorkbookError(PROTECTED.format(names=", ".join(sorted(closed))))

    def write(
        self,
        cells: Mapping[str, Mapping[str, Typed]],
        rows: Sequence[TableRows],
        add: Sequence[SheetSpec],
        made: bytes,
    ) -> None:
        """Write all of it, or nothing.

        Parameters
        ----------
        made : bytes
            The workbook with all of it in, from which new sheets are copied.

        Raises
        ------
        WorkbookError
            If the program refuses.
        """
        try:
            for sheet, values in cells.items():
                for address, value in values.items():
                    self._set(self._book.sheets[sheet].range(address), [[self._content(value)]])
            for each in rows:
                self._put_rows(each)
            if add:
                self._add(add, made)
        except Exception as error:  # the program's own kind of error
            refused = self._take_back()
            back = "Nothing was changed"
            if refused:
                back += ", except perhaps some of it: use the backup"
            raise WorkbookError(f"The workbook could not be changed ({error}). {back}") from error

    def kept_if(self, act: Callable[[], list[str]]) -> list[str]:
        """Return what an act gives; where it fails, what was written before is taken back."""
        try:
            return act()
        except WorkbookError:
            self._take_back()
            raise

    def _take_back(self) -> bool:
        """Undo the steps, the last one first; return whether one of them was refused."""
        refused = False
        for step in reversed(self._undo):
            try:
                step()
            except Exception:  # the program's own kind of error
                refused = True
        return refused

    def _content(self, value: Typed) -> Content:
        if isinstance(value, dt.time):
            return serial_number(value, EPOCHS[self._dates_1904])
        return content(Cell(value), dates_1904=self._dates_1904)

    def _set(self, cells: xw.Range, values: list[list[Content]]) -> None:
        before = kept_content(cells, dates_1904=self._dates_1904)
        self._undo.append(lambda: setattr(cells, "formula", before))
        cells.formula = values

    # Rows of a table

    def _table(self, name: str) -> Any:  # noqa: ANN401  # xlwings' table
        tables = (table for sheet in self._book.sheets for table in sheet.tables)
        return next(table for table in tables if table.name.casefold() == name.casefold())

    def _put_rows(self, asked: TableRows) -> None:
        table = self._table(asked.table)
        sheet, whole = table.parent, _area_of(table.range)
        last = asked.first_row + len(asked.rows) - 1
        if last > whole.bottom:
            self._grow(sheet, table, whole, last)
        columns = {column for values in asked.rows for column in values}
        for column in sorted(columns):
            cells = sheet.range(Area(asked.first_row, column, last, column).address)
            block = kept_content(cells, dates_1904=self._dates_1904)
            for line, values in zip(block, asked.rows, strict=True):
                if column in values:
                    line[0] = self._content(values[column])
            self._set(cells, block)

    def _grow(self, sheet: xw.Sheet, table: Any, whole: Area, last: int) -> None:  # noqa: ANN401
        """Let a table reach down to a row, each new row like the last one but blank."""
        old = sheet.range(whole.address)
        pattern = sheet.range(Area(whole.bottom, whole.left, whole.bottom, whole.right).address)
        added = sheet.range(Area(whole.bottom + 1, whole.left, last, whole.right).address)
        self._undo.append(added.clear)
        self._undo.append(lambda: table.resize(old))
        table.resize(sheet.range(Area(whole.top, whole.left, last, whole.right).address))
        pattern.copy(added)
        (line,) = kept_content(pattern, dates_1904=self._dates_1904)
        for column, item in enumerate(line, whole.left):
            if not _is_formula(item):
                blank = Area(whole.bottom + 1, column, last, column)
                sheet.range(blank.address).clear_contents()

    # Sheets to fill in

    def _add(self, specs: Sequence[SheetSpec], made: bytes) -> None:
        """Copy the sheets from a file that has them; formulas are set anew, to look at this one."""
        name = f"added{files.suffix(self._book.name) or '.xlsx'}"
        with files.lent(made, name) as path:
            other = self._book.app.books.open(path, update_links=False, read_only=True)
            try:
                for spec in specs:
                    last = self._book.sheets[len(self._book.sheets) - 1]
                    copied = other.sheets[spec.name].copy(after=last)
                    self._undo.append(copied.delete)
            finally:
                other.close()
        for spec in specs:
            sheet = self._book.sheets[spec.name]
            for address, formulas in formula_blocks(spec):
                sheet.range(address).formula = formulas


def formula_blocks(spec: SheetSpec) -> Iterator[tuple[str, list[list[str]]]]:
    """Yield the formulas of a sheet by runs of cells below each other."""
    width = max((len(row.cells) for row in spec.rows), default=0)
    for column in range(width):
        found = [_formula_at(row.cells, column) for row in spec.rows]
        for top, bottom, there in runs(bool(text) for text in found):
            if there:
                letters = column_letters(column + 1)
                lines = [[f"={text}"] for text in found[top - 1 : bottom]]
                yield f"{letters}{top}:{letters}{bottom}", lines


def _formula_at(cells: Sequence[Cell | None], column: int) -> str:
    cell = cells[column] if column < len(cells) else None
    return "" if cell is None or cell.formula is None else cell.formula


def _is_formula(item: Content) -> bool:
    return isinstance(item, str) and item.startswith("=")


def _area_of(cells: xw.Range) -> Area:
    rows, columns = cells.shape
    return Area(cells.row, cells.column, cells.row + rows - 1, cells.column + columns - 1)
