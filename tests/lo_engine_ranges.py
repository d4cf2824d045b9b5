"""Cells, tables and looks of the LibreOffice engine: see ``lo_engine``."""

import datetime as dt
import re

from xlwings import utils

from estimator.workbook.sheet.spec import LONGEST_ARRAY_FORMULA
from tests.lo_engine import EPOCH, from_office, properties, struct, to_office, uno
from tests.office import CellError

ADDRESS = re.compile(r"\$?([A-Z]{1,3})\$?(\d+)(?::\$?([A-Z]{1,3})\$?(\d+))?")
EVERYTHING = 1023
DATE_TIME, LOGICAL = 6, 1024
LINES = {"continuous": 0, "double": 15}
WEIGHTS = {"hairline": 2, "thin": 26, "medium": 53, "thick": 88}
SIDES = {
    "edge_left": "LeftLine", "edge_right": "RightLine", "edge_top": "TopLine",
    "edge_bottom": "BottomLine", "inside_vertical": "VerticalLine",
    "inside_horizontal": "HorizontalLine",
}  # fmt: skip
ACROSS = {"general": "STANDARD", "left": "LEFT", "center": "CENTER", "right": "RIGHT"}
UPRIGHT = {"bottom": 3, "top": 1, "center": 2}
POINT = 2540 / 72


def make_range(sheet, start, end=None):
    """Return a range from an address, or from one or two cells as (row, column) or ranges."""

    def corners(place):
        if isinstance(place, Range):
            return place.first_row, place.first_column, place.last_row, place.last_column
        if isinstance(place, str):
            return _parse(place)
        return place[0] - 1, place[1] - 1, place[0] - 1, place[1] - 1

    first = corners(start)
    last = corners(end) if end is not None else first
    return Range(sheet, *map(min, first[:2], last[:2]), *map(max, first[2:], last[2:]))


def _parse(address):
    whole_rows = re.fullmatch(r"(\d+):(\d+)", address)
    if whole_rows:
        return int(whole_rows[1]) - 1, 0, int(whole_rows[2]) - 1, 1023
    match = ADDRESS.fullmatch(address)
    if match is None:
        message = f"no such range: {address}"
        raise KeyError(message)
    column, row, end_column, end_row = match.groups()
    first = int(row) - 1, _column(column)
    return (*first, *((int(end_row) - 1, _column(end_column)) if end_row else first))


def _column(letters):
    number = 0
    for letter in letters:
        number = number * 26 + ord(letter) - 64
    return number - 1


class Range:
    """A rectangle of cells; its first and last row and column count from 0."""

    max_cells_per_read = max_cells_per_write = options = None

    def __init__(self, sheet, top, left, bottom, right):
        self.sheet = sheet
        self.first_row, self.first_column = top, left
        self.last_row, self.last_column = bottom, right
        self.x = sheet.x.getCellRangeByPosition(left, top, right, bottom)

    api = property(lambda self: self.x)
    row = property(lambda self: self.first_row + 1)
    column = property(lambda self: self.first_column + 1)
    coords = property(lambda self: (self.sheet.name, self.row, self.column, *self.shape))
    rows = columns = property(lambda self: self)

    @property
    def shape(self):
        return self.last_row - self.first_row + 1, self.last_column - self.first_column + 1

    def __len__(self):
        return self.shape[0] * self.shape[1]

    def __call__(self, row, column=None):
        if column is None:
            row, column = divmod(row - 1, self.shape[1])
            row, column = row + 1, column + 1
        top, left = self.first_row + row - 1, self.first_column + column - 1
        return Range(self.sheet, top, left, top, left)

    def get_address(self, row_absolute=True, col_absolute=True, external=False):
        mark_row, mark_column = "$" * row_absolute, "$" * col_absolute

        def cell(row, column):
            return f"{mark_column}{utils.col_name(column + 1)}{mark_row}{row + 1}"

        first, last = cell(self.first_row, self.first_column), cell(self.last_row, self.last_column)
        return first if first == last else f"{first}:{last}"

    address = property(lambda self: self.get_address())

    # Contents

    @property
    def raw_value(self):
        data = [[None if value == "" else value for value in row] for row in self.x.getDataArray()]
        self._put_kinds(data)
        for area in self.x.queryFormulaCells(4).RangeAddresses:
            for row in range(area.StartRow, area.EndRow + 1):
                for column in range(area.StartColumn, area.EndColumn + 1):
                    text = self.sheet.x.getCellByPosition(column, row).String
                    data[row - self.first_row][column - self.first_column] = CellError(text)
        return data[0][0] if len(self) == 1 else data

    def _put_kinds(self, data):
        """Turn numbers that are shown as dates or truth values into these."""
        areas = self.x.CellFormatRanges.createEnumeration()
        while areas.hasMoreElements():
            found = areas.nextElement()
            kind = self.sheet.book.kind_of(found.NumberFormat)
            if not kind & (DATE_TIME | LOGICAL):
                continue
            area = found.RangeAddress
            for row in range(area.StartRow - self.first_row, area.EndRow - self.first_row + 1):
                for column in range(area.StartColumn, area.EndColumn + 1):
                    value = data[row][column - self.first_column]
                    if isinstance(value, float):
                        shown = bool(value) if kind & LOGICAL else _date(value)
                        data[row][column - self.first_column] = shown

    @raw_value.setter
    def raw_value(self, value):
        self._write(value)

    @property
    def formula(self):
        values = self.x.getDataArray()
        formulas = self.x.getFormulaArray()
        rows = tuple(
            tuple(
                _formula(formula) if formula.startswith(("=", "{=")) else _constant(value)
                for formula, value in zip(*pair, strict=True)
            )
            for pair in zip(formulas, values, strict=True)
        )
        return rows[0][0] if len(self) == 1 else rows

    @formula.setter
    def formula(self, value):
        self._write(value)

    @property
    def formula_array(self):
        return from_office(self.x.ArrayFormula.strip("{}"))

    @formula_array.setter
    def formula_array(self, value):
        assert len(value) - 1 <= LONGEST_ARRAY_FORMULA, "Excel takes no longer array formula"
        self.x.setArrayFormula(to_office(value))

    def _write(self, value):
        """Write column by column, which the office does fastest."""
        single = not isinstance(value, list | tuple)
        rows = [[value] * self.shape[1]] * self.shape[0] if single else value
        for number, column in enumerate(zip(*rows, strict=True), self.first_column):
            cells = self.sheet.x.getCellRangeByPosition(
                number, self.first_row, number, self.last_row
            )
            formats = self._formats_kept(cells, column)
            cells.setDataArray(tuple((_plain(item),) for item in column))
            for cell, key in formats:
                cell.NumberFormat = key
            for start, end in _runs(column, _is_typed):
                typed = tuple((_as_typed(item),) for item in column[start:end])
                cells.getCellRangeByPosition(0, start, 0, end - 1).setFormulaArray(typed)

    @staticmethod
    def _formats_kept(cells, column):
        """Return cells whose number format the office would change, Excel not: 24, May 2027."""
        digits = [
            i
            for i, item in enumerate(column)
            if isinstance(item, str) and (item[1:2].isdigit() or item[-4:].isdigit())
        ]
        found = [cells.getCellByPosition(0, place) for place in digits]
        return [(cell, cell.NumberFormat) for cell in found]

    def copy(self, destination):
        """Copy to each row of a range below; what the cells accept and how they look too."""
        source = self.x.RangeAddress
        first, column = destination.row - 1, destination.column - 1
        for row in range(first, first + destination.shape[0]):
            place = struct("table.CellAddress", Sheet=source.Sheet, Column=column, Row=row)
            self.sheet.x.copyRange(place, source)

    def clear(self):
        self.x.merge(False)
        self.x.clearContents(EVERYTHING)

    def clear_contents(self):
        self.x.clearContents(1 | 2 | 4 | 16)

    # Looks

    @property
    def number_format(self):
        key = self.x.NumberFormat
        return None if key is None else self.sheet.book.doc.NumberFormats.getByKey(key).FormatString

    @number_format.setter
    def number_format(self, value):
        self.x.NumberFormat = self.sheet.book.number_key(value)

    @property
    def color(self):
        return _rgb(self.x.CellBackColor)

    @color.setter
    def color(self, value):
        self.x.CellBackColor = -1 if value is None else pack(value)

    font = property(lambda self: Font(self.x))
    borders = property(lambda self: Borders(self))
    conditional_formats = property(lambda self: ConditionalFormats(self))
    wrap_text = property(
        lambda self: self.x.IsTextWrapped,
        lambda self, value: setattr(self.x, "IsTextWrapped", bool(value)),
    )

    @property
    def horizontal_alignment(self):
        shown = self.x.HoriJustify.value
        return next(name for name, word in ACROSS.items() if word == shown)

    @horizontal_alignment.setter
    def horizontal_alignment(self, value):
        self.x.HoriJustify = uno().Enum("com.sun.star.table.CellHoriJustify", ACROSS[value])

    @property
    def vertical_alignment(self):
        return next(name for name, number in UPRIGHT.items() if number == self.x.VertJustify)

    @vertical_alignment.setter
    def vertical_alignment(self, value):
        self.x.VertJustify = UPRIGHT[value]

    @property
    def column_width(self):
        return round((self.x.Columns.getByIndex(0).Width / 2540 * 96 - 5) / 7, 2)

    @column_width.setter
    def column_width(self, value):
        self.x.Columns.Width = round((value * 7 + 5) / 96 * 2540)

    @property
    def row_height(self):
        return self.x.Rows.getByIndex(0).Height / POINT

    @row_height.setter
    def row_height(self, value):
        self.x.Rows.Height = round(value * POINT)

    @property
    def row_hidden(self):
        shown = {self.x.Rows.getByIndex(i).IsVisible for i in range(self.shape[0])}
        return None if len(shown) > 1 else not shown.pop()

    @row_hidden.setter
    def row_hidden(self, value):
        self.x.Rows.IsVisible = not value

    def autofit(self, axis=None):
        if axis != "r":
            self.x.Columns.OptimalWidth = True
        if axis != "c":
            self.x.Rows.OptimalHeight = True

    def get_special_cells(self, cell_type, value_type):
        assert cell_type == "visible"
        return [
            Range(self.sheet, area.StartRow, area.StartColumn, area.EndRow, area.EndColumn)
            for area in self.x.queryVisibleCells().RangeAddresses
        ]

    def merge(self, across=False):
        self.x.merge(True)

    merge_cells = property(lambda self: self.x.IsMerged)

    @property
    def merge_area(self):
        cursor = self.sheet.x.createCursorByRange(self.x.getCellRangeByPosition(0, 0, 0, 0))
        cursor.collapseToMergedArea()
        area = cursor.RangeAddress
        return Range(self.sheet, area.StartRow, area.StartColumn, area.EndRow, area.EndColumn)

    def select(self):
        self.sheet.book.doc.CurrentController.select(self.x)

    characters = property(lambda self: Characters(self.x))

    # Position in points

    left = property(lambda self: self.x.Position.X / POINT)
    top = property(lambda self: self.x.Position.Y / POINT)
    width = property(lambda self: self.x.Size.Width / POINT)
    height = property(lambda self: self.x.Size.Height / POINT)


def _formula(text):
    """Return a formula as Excel gives it; one of an array too comes without braces."""
    return from_office(text[1:-1] if text.startswith("{") else text)


def _date(number):
    return EPOCH + dt.timedelta(seconds=round(number * 86400, 3))


def _constant(value):
    return value if isinstance(value, str) else repr(value)


def _is_typed(item):
    """Return whether Excel reads a value as if a person typed it; an apostrophe prevents that."""
    return isinstance(item, bool) or (isinstance(item, str) and item[:1] not in ("", "'"))


def _as_typed(item):
    text = str(item)
    return to_office(text) if text.startswith("=") else text


def _plain(item):
    if item is None or _is_typed(item):
        return ""
    return item[1:] if isinstance(item, str) else float(item)


def _runs(items, wanted):
    """Yield where the runs of wanted items start and end."""
    start = None
    for place, item in enumerate((*items, None)):
        if place < len(items) and wanted(item):
            start = place if start is None else start
        elif start is not None:
            yield start, place
            start = None


def pack(color):
    red, green, blue = utils.hex_to_rgb(color) if isinstance(color, str) else color
    return (red << 16) + (green << 8) + blue


def _rgb(number):
    return None if number is None or number < 0 else tuple(number.to_bytes(3, "big"))


class Characters:
    """Part of the text of a cell."""

    def __init__(self, x):
        self.x = x

    def __getitem__(self, part):
        cursor = self.x.getCellByPosition(0, 0).createTextCursor()
        cursor.gotoStart(False)
        cursor.goRight(part.start, False)
        cursor.gotoEnd(True)
        return Characters(cursor)

    font = property(lambda self: Font(self.x))


class Font:
    def __init__(self, x):
        self.x = x

    name = property(
        lambda self: self.x.CharFontName, lambda self, value: setattr(self.x, "CharFontName", value)
    )

    bold = property(
        lambda self: self.x.CharWeight > 100,
        lambda self, value: setattr(self.x, "CharWeight", 150.0 if value else 100.0),
    )
    size = property(
        lambda self: self.x.CharHeight, lambda self, value: setattr(self.x, "CharHeight", value)
    )
    color = property(
        lambda self: _rgb(self.x.CharColor),
        lambda self, value: setattr(self.x, "CharColor", pack(value)),
    )

    @property
    def italic(self):
        return self.x.CharPosture.value == "ITALIC"

    @italic.setter
    def italic(self, value):
        posture = "ITALIC" if value else "NONE"
        self.x.CharPosture = uno().Enum("com.sun.star.awt.FontSlant", posture)


class Borders:
    def __init__(self, parent):
        self.parent = parent

    def set(self, sides, *, line_style, weight, color):
        line = struct("table.BorderLine2")
        line.Color, line.LineStyle = pack(color), LINES[line_style]
        line.OuterLineWidth = line.LineWidth = WEIGHTS[weight]
        lines = struct("table.TableBorder2")
        for side in sides:
            setattr(lines, SIDES[side], line)
            setattr(lines, f"Is{SIDES[side]}Valid", True)
        self.parent.x.TableBorder2 = lines


class ConditionalFormats:
    """Rules of a range; a new one comes before those that are there, as xlwings has it."""

    def __init__(self, parent):
        self.parent = parent

    def __len__(self):
        return self.parent.x.ConditionalFormat.Count

    def add_custom(self, spec):
        return self._add("FORMULA", to_office(spec["formula"])[1:], spec)

    def add_cell_value(self, spec):
        assert spec["operator"] == "equal_to"
        return self._add("EQUAL", to_office(spec["formula1"])[1:], spec)

    def _add(self, operator, formula, spec):
        doc = self.parent.sheet.book.doc
        styles = doc.StyleFamilies.getByName("CellStyles")
        name = f"rule {styles.Count}"
        style = doc.createInstance("com.sun.star.style.CellStyle")
        styles.insertByName(name, style)
        style.CharColor, style.CellBackColor = (
            -1 if color is None else pack(color)
            for color in (spec.get("font_color"), spec.get("fill_color"))
        )
        style.CharWeight = 150.0 if spec.get("font_bold") else 100.0
        kind = uno().Enum("com.sun.star.sheet.ConditionOperator", operator)
        entries = self.parent.x.ConditionalFormat
        old = [entries.getByIndex(place) for place in range(entries.Count)]
        rules = [(kind, formula, name)]
        rules += [(rule.Operator, rule.Formula1, rule.StyleName) for rule in old]
        entries.clear()
        for kind, formula, name in rules:
            entries.addNew(properties(Operator=kind, Formula1=formula, StyleName=name))
        self.parent.x.ConditionalFormat = entries
        return self

    def clear(self):
        entries = self.parent.x.ConditionalFormat
        entries.clear()
        self.parent.x.ConditionalFormat = entries


class Tables:
    """Excel's tables, which the office holds as database ranges."""

    def __init__(self, sheet):
        self.sheet = sheet

    def _ranges(self):
        number = self.sheet.x.RangeAddress.Sheet
        found = self.sheet.book.doc.DatabaseRanges
        ranges = [found.getByName(name) for name in found.ElementNames]
        return [item for item in ranges if item.DataArea.Sheet == number]

    def __len__(self):
        return len(self._ranges())

    def __iter__(self):
        return (Table(self.sheet, item) for item in self._ranges())


class Table:
    def __init__(self, sheet, x):
        self.parent, self.x = sheet, x

    api = property(lambda self: self.x)
    name = property(lambda self: self.x.Name)

    @property
    def range(self):
        area = self.x.DataArea
        return Range(self.parent, area.StartRow, area.StartColumn, area.EndRow, area.EndColumn)

    def resize(self, cells):
        area = self.x.DataArea
        rows, columns = cells.shape
        area.StartRow, area.StartColumn = cells.row - 1, cells.column - 1
        area.EndRow, area.EndColumn = cells.row + rows - 2, cells.column + columns - 2
        self.x.setDataArea(area)

    @property
    def header_row_range(self):
        whole = self.range
        return Range(
            self.parent, whole.first_row, whole.first_column, whole.first_row, whole.last_column
        )

    @property
    def totals_row_range(self):
        whole = self.range
        if not self.x.TotalsRow:
            return None
        return Range(
            self.parent, whole.last_row, whole.first_column, whole.last_row, whole.last_column
        )


LOOKS = (
    "BottomBorder2", "CellBackColor", "CharColor", "CharHeight", "CharPosture", "CharWeight",
    "HoriJustify", "IsTextWrapped", "LeftBorder2", "NumberFormat", "RightBorder2", "TopBorder2",
    "VertJustify",
)  # fmt: skip


def looks(cells):
    """Return what each cell of a range looks like, and the lines between cells.

    Cells are reported by row and column, a line by the cell above or left of it.
    """
    formats = cells.sheet.book.doc.NumberFormats
    seen, lines = {}, {}
    areas = cells.x.CellFormatRanges.createEnumeration()
    while areas.hasMoreElements():
        found = areas.nextElement()
        look = dict(zip(LOOKS, found.getPropertyValues(LOOKS), strict=True))
        sides = [look.pop(f"{side}Border2") for side in ("Bottom", "Top", "Right", "Left")]
        look["NumberFormat"] = formats.getByKey(look["NumberFormat"]).FormatString
        look = {name: getattr(value, "value", value) for name, value in look.items()}
        area = found.RangeAddress
        for row in range(area.StartRow, area.EndRow + 1):
            for column in range(area.StartColumn, area.EndColumn + 1):
                seen[row, column] = look
                places = (row, column), (row - 1, column), (row, column), (row, column - 1)
                for way, place, line in zip("hhvv", places, sides, strict=True):
                    if line.LineWidth:
                        lines[way, place] = line.LineStyle, line.Color
    return seen, lines
