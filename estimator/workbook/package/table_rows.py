"""Puts rows into a table of the user's workbook, which grows downwards where they need it.

Cells keep their looks; formulas of the table, its data validations and its conditional looks
grow with it. All other parts of the file stay as they are.
"""

import datetime as dt
import re
from collections.abc import Iterator, Mapping, Sequence

from lxml import etree

from estimator.data_class import dataclass
from estimator.errors import InputError, Problem, WorkbookError
from estimator.workbook.package.edit import PackageEdit, style_sheet
from estimator.workbook.package.index import SheetEntry
from estimator.workbook.package.parts import read_relationships, tag, whole_number
from estimator.workbook.package.references import moved_formula
from estimator.workbook.sheet.areas import Area, column_number, parse_area
from estimator.workbook.sheet.cell_text import serial_date, storable
from estimator.workbook.sheet.layout import EDGE, INDENT, RESERVE
from estimator.workbook.sheet.look import TEXT
from estimator.workbook.sheet.source import column_letters
from estimator.workbook.sheet.text_width import lines_of

Value = str | int | float | dt.date
FORMULA_SIGNS = frozenset("=+-@\t\r")
LETTER, LETTER_PX = 0.9, 7.0
"""Width of a letter of text in letters of a column's width, and the pixels of one of those."""
LINE_POINTS, MARGIN_POINTS = 13.0, 4.0
MOST_WIDTHS = 1000
_SQREF = re.compile(r"sqref$")


@dataclass(frozen=True)
class TableRows:
    """Rows for a table: values by sheet column, from a sheet row of its body on.

    With ``clear`` what stands in the body is taken out first; formulas stay.
    """

    table: str
    first_row: int
    rows: Sequence[Mapping[int, Value]]
    clear: bool = False


def put_rows(edit: PackageEdit, sheet: SheetEntry, asked: TableRows, *, dates_1904: bool) -> None:
    """Put rows into a table of a sheet.

    Raises
    ------
    InputError
        With every cell that is in the way.
    WorkbookError
        If the table cannot grow.
    """
    table_part = _table_part(edit, sheet, asked.table)
    area = _area(table_part)
    body = Area(
        area.top + whole_number(table_part, "headerRowCount", 1), area.left, area.bottom, area.right
    )
    last = max(area.bottom, asked.first_row + len(asked.rows) - 1)
    writer = _Rows(edit, sheet, body, dates_1904=dates_1904)
    if last > area.bottom:
        _refuse_growth(edit, sheet, table_part, asked.table)
        writer.grow(last)
        _grow_table(table_part, last)
    if asked.clear:
        writer.clear()
    writer.write(asked)
    writer.forget_results()


def _table_part(edit: PackageEdit, sheet: SheetEntry, name: str) -> etree._Element:
    for link in read_relationships(edit.members, sheet.part):
        if link.kind == "table":
            root = edit.tree(link.target)
            if root.get("displayName", "").casefold() == name.casefold():
                return root
    raise WorkbookError(f"Sheet {sheet.name!r} has no table {name}")


def _area(element: etree._Element) -> Area:
    area = parse_area(element.get("ref", ""))
    if area is None:
        raise WorkbookError(f"The file is damaged: {element.get('ref')!r} is not a range")
    return area


def _refuse_growth(edit: PackageEdit, sheet: SheetEntry, root: etree._Element, name: str) -> None:
    if whole_number(root, "totalsRowCount", 0):
        raise WorkbookError(
            f"Table {name} has a row of totals and too few rows for the new ones. Turn the total "
            "row off, or add rows to the table, and run again"
        )
    for link in read_relationships(edit.members, sheet.part):
        if link.kind in ("pivotTable", "queryTable"):
            raise WorkbookError(
                f"Sheet {sheet.name!r} holds a {link.kind} beside table {name}, so that the table "
                "cannot grow. Add rows to the table yourself and run again"
            )


def _grow_table(root: etree._Element, last: int) -> None:
    for element in root.iter(tag("table"), tag("autoFilter"), tag("sortState")):
        area = parse_area(element.get("ref", ""))
        if area is not None:
            element.set("ref", Area(area.top, area.left, last, area.right).address)


class _Rows:
    """The rows of a sheet that a table covers."""

    def __init__(
        self, edit: PackageEdit, sheet: SheetEntry, body: Area, *, dates_1904: bool
    ) -> None:
        self.edit, self.sheet, self.body, self.dates_1904 = edit, sheet, body, dates_1904
        self.root = edit.tree(sheet.part)
        data = self.root.find(tag("sheetData"))
        if data is None:
            raise WorkbookError(f"The file is damaged: sheet {sheet.name!r} holds no rows")
        self.data: etree._Element = data
        self.rows = _by_number(data)
        self.quoted: dict[str, str] = {}
        self.wrapped: dict[str, bool] = {}
        self.widths = dict(_widths(self.root))

    def grow(self, last: int) -> None:
        """Let the table reach down to a row: like its last row, and all that covers that."""
        added = Area(self.body.bottom + 1, self.body.left, last, self.body.right)
        self._refuse_filled(added)
        pattern = list(self._cells(self.body.bottom))
        before = self.rows.get(self.body.bottom)
        formulas = {column: self._formula(cell) for column, cell in pattern}
        for number in range(added.top, added.bottom + 1):
            known = number in self.rows
            row = self._row(number, before)
            for column, cell in pattern:
                made = self._cell(row, number, column) if known else _new_cell(row, number, column)
                _set_style(made, cell.get("s"))
                text = formulas[column]
                if text:
                    _set_formula(made, moved_formula(text, number - self.body.bottom))
            before = row
        self._grow_areas(last)
        self.body = Area(self.body.top, self.body.left, last, self.body.right)

    def clear(self) -> None:
        """Take out what is typed in the body; formulas and looks stay."""
        for number in range(self.body.top, self.body.bottom + 1):
            for _, cell in self._cells(number):
                if cell.find(tag("f")) is None:
                    _empty(cell)

    def write(self, asked: TableRows) -> None:
        """Set the values of each row."""
        in_the_way: list[Problem] = []
        for number, values in enumerate(asked.rows, asked.first_row):
            row = self._row(number, self.rows.get(number - 1))
            known = dict(self._cells(number))
            for column, value in sorted(values.items()):
                cell = known.get(column)
                if cell is None:
                    cell = self._cell(row, number, column)
                if cell.find(tag("f")) is not None:
                    where = f"{self.sheet.name}!{column_letters(column)}{number}"
                    in_the_way.append(Problem(where, "holds a formula, which is not replaced"))
                    continue
                self._set(cell, value)
            _fit(row, max((self._lines(known, *one) for one in values.items()), default=1))
        if in_the_way:
            raise InputError(in_the_way)

    def forget_results(self) -> None:
        """Take away the saved results of the sheet's formulas, which may rest on the new rows."""
        for formula in self.data.iter(tag("f")):
            cell = formula.getparent()
            if cell is not None:
                for value in cell.findall(tag("v")):
                    cell.remove(value)
                cell.attrib.pop("t", "")

    def _set(self, cell: etree._Element, value: Value) -> None:
        _empty(cell)
        if isinstance(value, str):
            cell.set("t", "inlineStr")
            text = etree.SubElement(etree.SubElement(cell, tag("is")), tag("t"))
            text.text = storable(value)
            if value != value.strip():
                text.set("{http://www.w3.org/XML/1998/namespace}space", "preserve")
            if value[:1] in FORMULA_SIGNS:
                cell.set("s", self._quoted(cell.get("s", "0")))
            return
        number = (
            serial_date(value, dates_1904=self.dates_1904) if isinstance(value, dt.date) else value
        )
        etree.SubElement(cell, tag("v")).text = repr(number)

    def _lines(self, cells: Mapping[int, etree._Element], column: int, value: Value) -> int:
        """Return the lines that a text takes where its cell breaks it."""
        width, cell = self.widths.get(column, 0.0), cells.get(column)
        if not isinstance(value, str) or cell is None or len(value) * LETTER <= width or not width:
            return 1
        style = cell.get("s", "0")
        if style not in self.wrapped:
            self.wrapped[style] = style_sheet(self.edit).wraps(int(style))
        room = (width * LETTER_PX - EDGE - INDENT) / RESERVE
        return lines_of(value, room, TEXT) if self.wrapped[style] else 1

    def _quoted(self, style: str) -> str:
        """Return the style that keeps a text text when it is edited."""
        if style not in self.quoted:
            self.quoted[style] = str(style_sheet(self.edit).quoted_like(int(style)))
        return self.quoted[style]

    def _cells(self, number: int) -> Iterator[tuple[int, etree._Element]]:
        """Yield the cells of a row within the table."""
        row = self.rows.get(number)
        for cell in () if row is None else row.iterfind(tag("c")):
            column = _column(cell)
            if self.body.left <= column <= self.body.right:
                yield column, cell

    def _row(self, number: int, before: etree._Element | None) -> etree._Element:
        """Return a row, made below the one before it where it is not there."""
        row = self.rows.get(number)
        if row is not None:
            return row
        row = etree.Element(tag("row"), r=str(number))
        above = before if before is not None else self._last_above(number)
        if above is None:
            self.data.insert(0, row)
        else:
            above.addnext(row)
        self.rows[number] = row
        return row

    def _last_above(self, number: int) -> etree._Element | None:
        above = [known for known in self.rows if known < number]
        return self.rows[max(above)] if above else None

    def _cell(self, row: etree._Element, number: int, column: int) -> etree._Element:
        """Return a cell of a row, made in its place where it is not there."""
        made = None
        for cell in row.iterfind(tag("c")):
            at = _column(cell)
            if at == column:
                return cell
            if at > column:
                made = etree.Element(tag("c"))
                cell.addprevious(made)
                break
        if made is None:
            return _new_cell(row, number, column)
        made.set("r", f"{column_letters(column)}{number}")
        return made

    def _formula(self, cell: etree._Element) -> str:
        """Return the formula of a cell as it stands there, empty for none."""
        formula = cell.find(tag("f"))
        if formula is None:
            return ""
        if formula.get("t") in ("array", "dataTable"):
            raise WorkbookError(
                f"{self.sheet.name}!{cell.get('r')} holds an array formula, so that the table "
                "cannot grow. Add rows to the table yourself and run again"
            )
        if formula.text or formula.get("t") != "shared":
            return formula.text or ""
        for first in self.data.iter(tag("f")):
            if first.get("si") == formula.get("si") and first.text:
                top = _row_number(first.getparent())
                return moved_formula(first.text, _row_number(cell) - top)
        raise WorkbookError(f"The file is damaged: the formula of {cell.get('r')} is missing")

    def _refuse_filled(self, area: Area) -> None:
        problems = [
            Problem(
                f"{self.sheet.name}!{cell.get('r')}",
                "is where the table must grow. Move it away from below the table",
            )
            for number in range(area.top, area.bottom + 1)
            for column, cell in self._cells(number)
            if len(cell) and area.left <= column <= area.right
        ]
        for merged in self.root.iter(tag("mergeCell")):
            other = parse_area(merged.get("ref", ""))
            if other is not None and other.overlaps(area):
                where = f"{self.sheet.name}!{other.address}"
                problems.append(Problem(where, "merged cells are where the table must grow"))
        if problems:
            raise InputError(problems)

    def _grow_areas(self, last: int) -> None:
        """Let validations, conditional looks and the like that reach the last row grow."""
        body = self.body
        for element in self.root.iter():
            if element.get("sqref") and element.tag != tag("selection"):
                element.set("sqref", _grown(element.get("sqref", ""), body, last))
            elif isinstance(element.tag, str) and _SQREF.search(element.tag) and element.text:
                element.text = _grown(element.text, body, last)
        dimension = self.root.find(tag("dimension"))
        used = parse_area(dimension.get("ref", "")) if dimension is not None else None
        if dimension is not None and used is not None and used.bottom < last:
            right = max(used.right, body.right)
            dimension.set("ref", Area(used.top, used.left, last, right).address)


def _grown(areas: str, body: Area, last: int) -> str:
    """Return ranges of which those that cover the last row of a table reach further down.

    >>> _grown("C6:C65 H1", Area(6, 1, 65, 9), 80)
    'C6:C80 H1'
    """
    return " ".join(_grown_one(text, body, last) for text in areas.split())


def _grown_one(text: str, body: Area, last: int) -> str:
    area = parse_area(text)
    if area is None or not area.overlaps(body) or area.bottom != body.bottom:
        return text
    return Area(area.top, area.left, last, area.right).address


def _widths(root: etree._Element) -> Iterator[tuple[int, float]]:
    """Yield the width of each column that has one of its own, in letters."""
    for column in root.iter(tag("col")):
        first, last = whole_number(column, "min", 1), whole_number(column, "max", 1)
        for number in range(first, min(last, MOST_WIDTHS) + 1):
            yield number, float(column.get("width", "0"))


def _fit(row: etree._Element, lines: int) -> None:
    """Make a row high enough for its lines, unless it is already."""
    height = LINE_POINTS * lines + MARGIN_POINTS
    if lines > 1 and float(row.get("ht", "0")) < height:
        row.set("ht", f"{height:g}")


def _by_number(data: etree._Element) -> dict[int, etree._Element]:
    rows: dict[int, etree._Element] = {}
    number = 0
    for row in data.iterfind(tag("row")):
        number = whole_number(row, "r", number + 1)
        rows[number] = row
        column = 0
        for cell in row.iterfind(tag("c")):
            column = _column(cell) if cell.get("r") else column + 1
            cell.set("r", f"{column_letters(column)}{number}")
    return rows


def _new_cell(row: etree._Element, number: int, column: int) -> etree._Element:
    """Append a cell to a row whose cells all stand before it."""
    return etree.SubElement(row, tag("c"), r=f"{column_letters(column)}{number}")


def _column(cell: etree._Element) -> int:
    return column_number(cell.get("r", "").rstrip("0123456789"))


def _row_number(cell: etree._Element | None) -> int:
    address = "" if cell is None else cell.get("r", "")
    return int(address.lstrip("ABCDEFGHIJKLMNOPQRSTUVWXYZ"))


def _set_style(cell: etree._Element, style: str | None) -> None:
    if style is not None:
        cell.set("s", style)


def _set_formula(cell: etree._Element, text: str) -> None:
    _empty(cell)
    etree.SubElement(cell, tag("f")).text = text


def _empty(cell: etree._Element) -> None:
    for child in list(cell):
        cell.remove(child)
    cell.attrib.pop("t", "")
