"""A sheet of plain formulas, whose cells and tables are called by names while it is written."""

import datetime as dt
import re
from collections.abc import Mapping
from pathlib import Path

import xlsxwriter
from xlsxwriter.utility import xl_rowcol_to_cell

NAME = re.compile(r"\{([^{}]+)\}")
RUNS = (1, 2, 3)


def of_run(text: str, n: int) -> str:
    """Return a name or a formula for one run: ``@`` is its number, ``#}`` its row in a table."""
    return text.replace("@", str(n)).replace("#}", f"#{n}}}")


class OneSheet:
    """Writes values and formulas down one sheet; ``{name}`` in a formula is that cell.

    In a table ``{.column}`` is the same row, ``{^column}`` the row before, ``{table.column}`` the
    whole column of a table, ``{table.column#3}`` its third row and ``{table.column#}`` its row of
    the same number.
    """

    def __init__(self, path: Path) -> None:
        self._book = xlsxwriter.Workbook(str(path))
        self._sheet = self._book.add_worksheet("Model")
        self._row = 0
        self._date = self._book.add_format({"num_format": "yyyy-mm-dd"})
        self._bold = self._book.add_format({"bold": True})
        self.places: dict[str, str] = {}
        """Cell of each name, as the recalculated values are found by."""

    def title(self, text: str) -> None:
        """Begin a part of the sheet."""
        self._row += 1
        self._sheet.write(self._row, 0, text, self._bold)
        self._row += 1

    def put(self, name: str, content: object, note: str = "") -> None:
        """Write a line: what it is, its value or formula, and a note."""
        self._sheet.write(self._row, 0, name)
        self._write(self._row, 1, content, {})
        self._sheet.write(self._row, 2, note)
        self.places[name] = self._cell(self._row, 1)
        self._row += 1

    def each(self, name: str, formula: str, note: str = "") -> None:
        """Write a line for each of the three runs; see ``of_run``."""
        for n in RUNS:
            self.put(of_run(name, n), of_run(formula, n), note)

    def table(self, name: str, columns: Mapping[str, object], rows: int) -> None:
        """Write a table; a column is a list of its cells, or one formula for all of its rows.

        A formula before a bar ``|`` is that of the first row.
        """
        self._sheet.write(self._row, 0, name, self._bold)
        top = self._row + 1
        for place, column in enumerate(columns, 1):
            self._sheet.write(self._row, place, column)
            cells = [self._cell(top + row, place) for row in range(rows)]
            self.places[f"{name}.{column}"] = f"{cells[0]}:{cells[-1]}"
            self.places |= {f"{name}.{column}#{n}": cell for n, cell in enumerate(cells, 1)}
        for row in range(rows):
            here = {
                sign + column: self._cell(top + row - back, place)
                for place, column in enumerate(columns, 1)
                for sign, back in ((".", 0), ("^", 1))
            }
            for place, content in enumerate(columns.values(), 1):
                self._write(top + row, place, _of_row(content, row), here)
        self._row = top + rows + 1

    def close(self) -> None:
        """Save the workbook."""
        self._book.close()

    def _write(self, row: int, column: int, content: object, here: Mapping[str, str]) -> None:
        if isinstance(content, str) and content.startswith("="):
            found = {**self.places, **here}
            formula = NAME.sub(lambda match: found[match[1]], content)
            self._sheet.write_formula(row, column, formula)
        elif isinstance(content, dt.date):
            self._sheet.write_datetime(row, column, content, self._date)
        elif content is not None:
            self._sheet.write(row, column, content)

    @staticmethod
    def _cell(row: int, column: int) -> str:
        return str(xl_rowcol_to_cell(row, column, row_abs=True, col_abs=True))


def _of_row(content: object, row: int) -> object:
    """Return what stands in one row of a column."""
    if isinstance(content, list):
        return content[row]
    first, _, others = str(content).partition("|")
    return of_run(first if not others or row == 0 else "=" + others, row + 1)
