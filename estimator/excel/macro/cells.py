"""Contents of a result sheet as Excel takes them in one write, and kept ones put back."""

import datetime as dt
from collections.abc import Iterable, Sequence
from typing import Any

import xlwings as xw

from estimator.data_class import dataclass
from estimator.workbook.sheet.areas import Area
from estimator.workbook.sheet.cell_text import EPOCHS, fitting, serial_number
from estimator.workbook.sheet.spec import Cell, Row, needs_array

Content = str | float | bool | None

AS_TEXT = "'"
"""Put before a text, it makes Excel take it as it stands; the cell does not show it."""


def as_text(text: str) -> str | None:
    """Return a text so that Excel takes it for nothing else, whatever it begins with.

    Excel takes a value that a program sets as if it were typed: a formula after ``=``, ``+``,
    ``-`` or ``@``, a date from ``3/4``, the number 7 from ``007``.
    """
    return AS_TEXT + text if text else None


def content(cell: Cell | None, *, dates_1904: bool) -> Content:
    """Return what to write into a cell: a formula, a safe text, or a number.

    An array formula has to be set by itself, later: here it gives its value.
    """
    if cell is None:
        return None
    value = cell.value
    if cell.formula is not None and not needs_array(cell.formula):
        return f"={cell.formula}"
    if isinstance(value, str):
        return as_text(fitting(value))
    if isinstance(value, dt.date):
        return serial_number(value, EPOCHS[dates_1904])
    return float(value) if type(value) is int else value


def contents(rows: Sequence[Row], *, dates_1904: bool) -> list[list[Content]]:
    """Return all cells of a sheet from A1 on, as rows of equal length."""
    width = max((len(row.cells) for row in rows), default=0)
    table = [[content(cell, dates_1904=dates_1904) for cell in row.cells] for row in rows]
    return [[*line, *[None] * (width - len(line))] for line in table]


def write_contents(sheet: xw.Sheet, rows: Sequence[Sequence[Content]]) -> None:
    """Write contents from A1 on."""
    if rows and rows[0]:
        sheet.range(Area(1, 1, len(rows), len(rows[0])).address).formula = rows


def array_formulas(rows: Sequence[Row]) -> list[tuple[tuple[int, int], str]]:
    """Return the place, row and column from 1, and the text of every array formula."""
    return [
        ((number, column), f"={cell.formula}")
        for number, row in enumerate(rows, 1)
        for column, cell in enumerate(row.cells, 1)
        if cell is not None and cell.formula is not None and needs_array(cell.formula)
    ]


def write_arrays(sheet: xw.Sheet, formulas: Iterable[tuple[tuple[int, int], str]]) -> None:
    """Set array formulas, each in its cell."""
    for place, formula in formulas:
        sheet.range(place).formula_array = formula


@dataclass(frozen=True)
class KeptSheet:
    """What stood in the cells of a sheet, to put it back if writing fails."""

    sheet: xw.Sheet
    rows: Sequence[Sequence[Content]]

    @classmethod
    def of(cls, sheet: xw.Sheet, *, dates_1904: bool) -> "KeptSheet":
        """Keep the contents of a sheet as they are now."""
        last = sheet.used_range.last_cell
        # Of two rows and columns at least, every program gives rows of cells.
        cells = sheet.range(Area(1, 1, max(last.row, 2), max(last.column, 2)).address)
        return cls(sheet, kept_content(cells, dates_1904=dates_1904))

    def put_back(self) -> None:
        """Write the contents again; looks are left as they are."""
        self.sheet.clear_contents()
        write_contents(self.sheet, self.rows)
        arrays = (
            ((number, column), item)
            for number, row in enumerate(self.rows, 1)
            for column, item in enumerate(row, 1)
            if isinstance(item, str) and item.startswith("=") and needs_array(item[1:])
        )
        write_arrays(self.sheet, arrays)


def kept_content(cells: xw.Range, *, dates_1904: bool) -> list[list[Content]]:
    """Return what stands in cells so that it can be written back, as rows of equal length."""
    found: Any = cells.formula
    one = found if isinstance(found, tuple | list) else (found,)
    rows = one if isinstance(one[0], tuple | list) else (one,)
    pairs = zip(rows, cells.options(ndim=2).value, strict=True)
    return [
        [_kept(formula, value, dates_1904) for formula, value in zip(*pair, strict=True)]
        for pair in pairs
    ]


def _kept(formula: object, value: object, dates_1904: bool) -> Content:
    """Return the content of a cell; a text that begins with ``=`` is its own value."""
    if isinstance(formula, str) and formula.startswith("=") and formula != value:
        return formula
    if isinstance(value, str):
        return as_text(fitting(value))
    if isinstance(value, dt.date):
        return serial_number(value, EPOCHS[dates_1904])
    return value if isinstance(value, bool | float) or value is None else float(str(value))
