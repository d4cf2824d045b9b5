"""Looks of the cells of a result sheet: styles by area, widths and heights.

Cells of a sheet start without any look. Rows that look alike make a band; within a band each
property is set once for every run of columns that share it.
"""

from collections.abc import Callable, Iterator, Sequence
from itertools import groupby
from operator import attrgetter
from typing import Any

import xlwings as xw

from estimator.data_class import dataclass
from estimator.excel.macro.native import Native
from estimator.workbook.sheet import look
from estimator.workbook.sheet.areas import Area
from estimator.workbook.sheet.spec import Row
from estimator.workbook.sheet.styles import BORDERS, STYLES, Border, Side, StyleDef

MOST_HEIGHTS = 400
"""A sheet with more changes of height is fitted by the program: one call instead of as many."""

Apply = Callable[[xw.Range, Any], None]
Property = tuple[Callable[[StyleDef], Any], Apply]

LINES: dict[Side, tuple[Any, Any]] = {
    "thin": ("continuous", "thin"),
    "medium": ("continuous", "medium"),
}
"""Line style and weight of each kind of line, in the words of xlwings."""
BETWEEN = {"left": "vertical", "right": "vertical", "top": "horizontal", "bottom": "horizontal"}


def rgb(color: str) -> tuple[int, int, int]:
    """Return red, green and blue of six hexadecimal digits.

    >>> rgb("1F3550")
    (31, 53, 80)
    """
    red, green, blue = bytes.fromhex(color)
    return red, green, blue


@dataclass(frozen=True)
class Band:
    """Rows that look alike, and the style of each of their columns; empty is no cell."""

    top: int
    bottom: int
    styles: Sequence[str]


def bands(rows: Sequence[Row]) -> Iterator[Band]:
    """Yield the bands of a sheet from the top down.

    >>> from estimator.workbook.sheet.spec import Cell
    >>> line = Row((Cell("a", "text"), Cell(1, "int")))
    >>> [(band.top, band.bottom) for band in bands([line, line, Row(())])]
    [(1, 2), (3, 3)]
    """
    looks = (tuple("" if cell is None else cell.style for cell in row.cells) for row in rows)
    for top, bottom, styles in runs(looks):
        yield Band(top, bottom, styles)


def runs(items: Iterator[Any]) -> Iterator[tuple[int, int, Any]]:
    """Yield each run of equal items: its first and last place, counted from 1, and the item."""
    first = 1
    for item, alike in groupby(items):
        last = first + sum(1 for _ in alike) - 1
        yield first, last, item
        first = last + 1


def style_cells(sheet: xw.Sheet, rows: Sequence[Row]) -> None:
    """Give the cells of a cleared sheet their looks, before they have contents.

    A formula that is written into a cell without a number format would take one from the cells
    it refers to.
    """
    for band in bands(rows):
        for each in PROPERTIES:
            _set_look(sheet, band, each)


def indent_cells(sheet: xw.Sheet, rows: Sequence[Row], native: Native) -> None:
    """Indent the cells whose style says so."""
    for band in bands(rows):
        _set_look(sheet, band, (attrgetter("indent"), native.indent))


def shrink_cells(sheet: xw.Sheet, rows: Sequence[Row], native: Native) -> None:
    """Have the texts shrink that fill their cells, where the program lacks room for them."""
    shrunk: Property = (attrgetter("shrink"), lambda cells, _: native.shrink(cells))
    for band in bands(rows):
        _set_look(sheet, band, shrunk)


def underline_cells(sheet: xw.Sheet, rows: Sequence[Row], native: Native) -> None:
    """Underline the cells whose style says so."""
    underlined: Property = (attrgetter("underline"), lambda cells, _: native.underline(cells))
    for band in bands(rows):
        _set_look(sheet, band, underlined)


def small_units(sheet: xw.Sheet, rows: Sequence[Row], native: Native) -> None:
    """Give the last line of a text the style that its cell's style names: the unit of a header."""
    for number, row in enumerate(rows, 1):
        for column, cell in enumerate(row.cells, 1):
            below = STYLES[cell.style].below if cell is not None else ""
            if cell is None or not below or "\n" not in str(cell.value):
                continue
            start = str(cell.value).rindex("\n") + 1
            native.style_end(sheet.range((number, column)), start, STYLES[below])


def _set_look(sheet: xw.Sheet, band: Band, shown: Property) -> None:
    """Set one property of a band, once for every run of columns that share it."""
    read, apply = shown
    values = (read(STYLES[key]) if key else None for key in band.styles)
    for left, right, value in runs(values):
        if value:
            apply(sheet.range(Area(band.top, left, band.bottom, right).address), value)


def size_cells(sheet: xw.Sheet, rows: Sequence[Row], widths: Sequence[float]) -> None:
    """Set column widths in characters and row heights in points."""
    for left, right, width in runs(iter(widths)):
        sheet.range(Area(1, left, 1, right).address).column_width = width
    if not rows:
        return
    every, heights = sheet.range(f"A1:A{len(rows)}"), list(runs(row.height for row in rows))
    if len(heights) > MOST_HEIGHTS:
        every.rows.autofit()
        return
    every.row_height = look.ROW
    for top, bottom, height in heights:
        if height not in (None, look.ROW):
            sheet.range(f"A{top}:A{bottom}").row_height = height


def _setting(name: str, convert: Callable[[Any], Any] = lambda value: value) -> Apply:
    """Return what sets an attribute of a range, such as ``font.bold``."""
    owner, _, attribute = name.rpartition(".")

    def apply(cells: xw.Range, value: object) -> None:
        setattr(attrgetter(owner)(cells) if owner else cells, attribute, convert(value))

    return apply


def _draw(cells: xw.Range, border: Border) -> None:
    """Draw the lines of every single cell of an area, so also those between them."""
    rows, columns = cells.shape
    many = {"horizontal": rows > 1, "vertical": columns > 1}
    for side, (kind, color) in BORDERS[border].items():
        between = BETWEEN[side]
        sides = [f"edge_{side}", *([f"inside_{between}"] if many[between] else [])]
        line_style, weight = LINES[kind]
        cells.borders.set(sides, line_style=line_style, weight=weight, color=rgb(color))


def _number_format(style: StyleDef) -> str:
    return "" if style.number_format == "General" else style.number_format


def _upright(style: StyleDef) -> str:
    return "" if style.vertical == "bottom" else style.vertical


PROPERTIES: tuple[Property, ...] = (
    (_number_format, _setting("number_format")),
    (attrgetter("bold"), _setting("font.bold")),
    (attrgetter("italic"), _setting("font.italic")),
    (attrgetter("font_name"), _setting("font.name")),
    (attrgetter("font_size"), _setting("font.size")),
    (attrgetter("font_color"), _setting("font.color", rgb)),
    (attrgetter("fill"), _setting("color", rgb)),
    (attrgetter("align"), _setting("horizontal_alignment")),
    (_upright, _setting("vertical_alignment")),
    (attrgetter("wrap"), _setting("wrap_text")),
    (attrgetter("border"), _draw),
)
"""What is read from a style, and what gives it to cells; nothing is done for a default."""
