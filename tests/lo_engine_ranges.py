"""Cells, tables and looks of the LibreOffice engine: see ``lo_engine``."""

import datetime as dt
import re

from xlwings import utils

from estimator.workbook.sheet.spec import LONGEST_ARRAY_FORMULA
from tests.lo_engine import EPOCH, from_office, struct, to_office
from tests.lo_inside import SIDES as LINE_SIDES
from tests.office import CellError

ADDRESS = re.compile(r"\$?([A-Z]{1,3})\$?(\d+)(?::\$?([A-Z]{1,3})\$?(\d+))?")
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
        self.area = top, left, bottom, right

    @property
    def x(self):
        """The cells of the office, all orders carried out."""
        top, left, bottom, right = self.area
        return self.sheet.x.getCellRangeByPosition(left, top, right, bottom)

    def ask(self, name, *values):
        return self.sheet.ask(name, self.area, *values)

    def put(self, name, value, owner=""):
        """Set a property of the cells, or of their rows or columns, before the next question."""
        self.sheet.tell("put", self.area, owner, name, value)

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
        found, kinds, errors = self.ask("values")
        data = [[None if value == "" else value for value in row] for row in found]
        for logical, area in kinds:
            for row, column in self._places_in(area):
                value = data[row][column]
                if isinstance(value, float):
                    data[row][column] = bool(value) if logical else _date(value)
        for row, column, text in errors:
            data[row - self.first_row][column - self.first_column] = CellError(text)
        return data[0][0] if len(self) == 1 else data

    def _places_in(self, area):
        top, left, bottom, right = area
        for row in range(top - self.first_row, bottom - self.first_row + 1):
            for column in range(left - self.first_column, right - self.first_column + 1):
                yield row, column

    @raw_value.setter
    def raw_value(self, value):
        self._write(value)

    @property
    def formula(self):
        values, formulas = self.ask("formulas")
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
        return from_office(self.ask("array_formula").strip("{}"))

    @formula_array.setter
    def formula_array(self, value):
        assert len(value) - 1 <= LONGEST_ARRAY_FORMULA, "Excel takes no longer array formula"
        self.sheet.tell("set_array_formula", self.area, to_office(value))

    def _write(self, value):
        single = not isinstance(value, list | tuple)
        rows = [[value] * self.shape[1]] * self.shape[0] if single else value
        self.ask("write", [[_plain(item) for item in row] for row in rows], *_by_kind(rows))

    def copy(self, destination):
        """Copy to each row of a range below; what the cells accept and how they look too."""
        source = self.x.RangeAddress
        first, column = destination.row - 1, destination.column - 1
        for row in range(first, first + destination.shape[0]):
            place = struct("table.CellAddress", Sheet=source.Sheet, Column=column, Row=row)
            self.sheet.x.copyRange(place, source)

    def clear(self):
        self.ask("clear")

    def clear_contents(self):
        self.x.clearContents(1 | 2 | 4 | 16)

    # Looks

    @property
    def number_format(self):
        key = self.x.NumberFormat
        return None if key is None else self.sheet.book.doc.NumberFormats.getByKey(key).FormatString

    @number_format.setter
    def number_format(self, value):
        self.sheet.tell("number_format", self.area, value)

    @property
    def color(self):
        return _rgb(self.x.CellBackColor)

    @color.setter
    def color(self, value):
        self.put("CellBackColor", -1 if value is None else pack(value))

    font = property(lambda self: Font(self))
    borders = property(lambda self: Borders(self))
    conditional_formats = property(lambda self: ConditionalFormats(self))
    wrap_text = property(
        lambda self: self.x.IsTextWrapped,
        lambda self, value: self.put("IsTextWrapped", bool(value)),
    )

    @property
    def horizontal_alignment(self):
        shown = self.x.HoriJustify.value
        return next(name for name, word in ACROSS.items() if word == shown)

    @horizontal_alignment.setter
    def horizontal_alignment(self, value):
        self.put("HoriJustify", ("com.sun.star.table.CellHoriJustify", ACROSS[value]))

    @property
    def vertical_alignment(self):
        return next(name for name, number in UPRIGHT.items() if number == self.x.VertJustify)

    @vertical_alignment.setter
    def vertical_alignment(self, value):
        self.put("VertJustify", UPRIGHT[value])

    @property
    def column_width(self):
        return column_width(self.x.Columns.getByIndex(0).Width)

    @column_width.setter
    def column_width(self, value):
        self.put("Width", round((value * 7 + 5) / 96 * 2540), "Columns")

    @property
    def row_height(self):
        return self.x.Rows.getByIndex(0).Height / POINT

    @row_height.setter
    def row_height(self, value):
        self.put("Height", round(value * POINT), "Rows")

    @property
    def row_hidden(self):
        shown = {self.x.Rows.getByIndex(i).IsVisible for i in range(self.shape[0])}
        return None if len(shown) > 1 else not shown.pop()

    @row_hidden.setter
    def row_hidden(self, value):
        self.put("IsVisible", not value, "Rows")

    def autofit(self, axis=None):
        if axis != "r":
            self.put("OptimalWidth", True, "Columns")
        if axis != "c":
            self.put("OptimalHeight", True, "Rows")

    def get_special_cells(self, cell_type, value_type):
        assert cell_type == "visible"
        return [Range(self.sheet, *area) for area in self.ask("visible")]

    def merge(self, across=False):
        self.sheet.tell("merge", self.area)

    merge_cells = property(lambda self: self.x.IsMerged)

    @property
    def merge_area(self):
        return Range(self.sheet, *self.ask("merged_area"))

    def select(self):
        self.sheet.tell("select", self.area)

    characters = property(lambda self: Characters(self))

    # Position in points

    left = property(lambda self: self.ask("corner")[0] / POINT)
    top = property(lambda self: self.ask("corner")[1] / POINT)
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


def _by_kind(rows):
    """Return where the office may change a number format, and the blocks of typed texts."""
    digits = [
        (row, column)
        for row, items in enumerate(rows)
        for column, item in enumerate(items)
        if isinstance(item, str) and (item[1:2].isdigit() or item[-4:].isdigit())
    ]
    return digits, _typed_blocks(rows)


def _typed_blocks(rows):
    """Return the blocks of typed texts, of runs side by side: first row and column, and rows."""
    open_blocks, blocks = {}, []
    for column, items in enumerate(zip(*rows, strict=True)):
        still_open = {}
        for run in _runs(items, _is_typed):
            block = open_blocks.get(run)
            if block is None:
                block = run[0], column, [[] for _ in range(*run)]
                blocks.append(block)
            for row, item in zip(block[2], items[slice(*run)], strict=True):
                row.append(_as_typed(item))
            still_open[run] = block
        open_blocks = still_open
    return blocks


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


def column_width(width):
    """Return a width of the office in characters."""
    return round((width / 2540 * 96 - 5) / 7, 2)


class Characters:
    """The text of a cell from a letter on."""

    def __init__(self, cell, start=0):
        self.cell, self.start = cell, start

    def __getitem__(self, part):
        return Characters(self.cell, part.start)

    def put(self, name, value):
        self.cell.sheet.tell("put_in_end", self.cell.area, self.start, name, value)

    font = property(lambda self: Font(self))


class Font:
    """The font of cells, or of a part of a text, of which it is only set."""

    def __init__(self, cells):
        self.cells = cells

    x = property(lambda self: self.cells.x)
    name = property(
        lambda self: self.x.CharFontName,
        lambda self, value: self.cells.put("CharFontName", value),
    )
    bold = property(
        lambda self: self.x.CharWeight > 100,
        lambda self, value: self.cells.put("CharWeight", 150.0 if value else 100.0),
    )
    size = property(
        lambda self: self.x.CharHeight, lambda self, value: self.cells.put("CharHeight", value)
    )
    color = property(
        lambda self: _rgb(self.x.CharColor),
        lambda self, value: self.cells.put("CharColor", pack(value)),
    )

    @property
    def italic(self):
        return self.x.CharPosture.value == "ITALIC"

    @italic.setter
    def italic(self, value):
        posture = "ITALIC" if value else "NONE"
        self.cells.put("CharPosture", ("com.sun.star.awt.FontSlant", posture))


class Borders:
    def __init__(self, parent):
        self.parent = parent

    def set(self, sides, *, line_style, weight, color):
        drawn = [SIDES[side] for side in sides]
        cells = self.parent
        cells.sheet.tell("draw", cells.area, drawn, pack(color), LINES[line_style], WEIGHTS[weight])


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
        colors = [
            -1 if color is None else pack(color)
            for color in (spec.get("font_color"), spec.get("fill_color"))
        ]
        weight = 150.0 if spec.get("font_bold") else 100.0
        cells = self.parent
        cells.sheet.tell("add_rule", cells.area, operator, formula, colors, weight)
        return self

    def clear(self):
        entries = self.parent.x.ConditionalFormat
        entries.clear()
        self.parent.x.ConditionalFormat = entries


class Tables:
    """Excel's tables, which the office holds as database ranges."""

    def __init__(self, sheet):
        self.sheet = sheet

    def __len__(self):
        return len(self.sheet.ask("tables"))

    def __iter__(self):
        return (Table(self.sheet, *found) for found in self.sheet.ask("tables"))


class Table:
    """A table, as it was when it was found."""

    def __init__(self, sheet, name, area, has_totals):
        self.parent, self.name, self._area, self._has_totals = sheet, name, area, has_totals

    @property
    def x(self):
        return self.parent.book.doc.DatabaseRanges.getByName(self.name)

    api = property(lambda self: self.x)
    range = property(lambda self: Range(self.parent, *self._area))

    def resize(self, cells):
        rows, columns = cells.shape
        top, left = cells.row - 1, cells.column - 1
        self._area = top, left, top + rows - 1, left + columns - 1
        table = self.x
        area = table.DataArea
        area.StartRow, area.StartColumn, area.EndRow, area.EndColumn = self._area
        table.setDataArea(area)

    @property
    def header_row_range(self):
        whole = self.range
        return Range(
            self.parent, whole.first_row, whole.first_column, whole.first_row, whole.last_column
        )

    @property
    def totals_row_range(self):
        whole = self.range
        if not self._has_totals:
            return None
        return Range(
            self.parent, whole.last_row, whole.first_column, whole.last_row, whole.last_column
        )


def looks(cells):
    """Return what each cell of a range looks like, and the lines between cells.

    Cells are reported by row and column, a line by the cell above or left of it; where both
    cells beside a line have one of their own, that of the cell below or right of it.
    """
    seen, by_side = {}, {side: {} for side in LINE_SIDES}
    for (top, left, bottom, right), look, drawn in cells.ask("looks"):
        sides = [(side, line) for side, line in zip(LINE_SIDES, drawn, strict=True) if line]
        for row in range(top, bottom + 1):
            for column in range(left, right + 1):
                seen[row, column] = look
                for side, line in sides:
                    by_side[side][PLACES[side](row, column)] = line
    lines = {}
    for side in ("Bottom", "Right", "Top", "Left"):
        lines |= by_side[side]
    return seen, lines


PLACES = {
    "Bottom": lambda row, column: ("h", row, column),
    "Top": lambda row, column: ("h", row - 1, column),
    "Right": lambda row, column: ("v", row, column),
    "Left": lambda row, column: ("v", row, column - 1),
}
