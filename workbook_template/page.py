"""Writing one input cell, and the page set-up that all sheets share."""

import datetime as dt
import math
from collections.abc import Iterable, Mapping
from types import MappingProxyType

from xlsxwriter.format import Format
from xlsxwriter.worksheet import Worksheet

from estimator.display import UnitSystem
from estimator.inputs.dictionary import Field
from estimator.workbook.sheet import look
from estimator.workbook.sheet.layout import EDGE
from estimator.workbook.sheet.text_width import line_breadths
from workbook_template.content import Value

BROADER, NARROW_EDGE, HEAD_GAP = 1.06, 2.6, 4.0
"""How much broader LibreOffice draws columns, and the pixels of its edges; those between two
headers, with a blank besides."""
GAP_POINTS = 3.75
"""Height of the row between a title and the table below it, and of that after a group."""
FOOTER = "".join(f"&{side[0]}{text}" for side, text in look.FOOTER.items())


class InputSheet(Worksheet):  # type: ignore[misc]
    """A sheet of inputs: the programs fit the height of its growing rows to what is typed in.

    They leave a height alone that the file marks as one that somebody chose. Formulas are written
    as they are: the library would look in each for a hundred functions that need a prefix, a sixth
    of the time of a build, and ours use none of them.
    """

    def __init__(self) -> None:
        super().__init__()
        self.growing: set[int] = set()

    def set_growing_row(
        self, row: int, points: float, options: Mapping[str, object] = MappingProxyType({})
    ) -> None:
        """Set the height that a row has until something is typed into it."""
        self.set_row(row, points, None, dict(options))
        self.growing.add(row)

    def _xml_start_tag_unencoded(
        self, tag: str, attributes: Iterable[tuple[str, object]] = ()
    ) -> None:
        kept = [*attributes]
        if tag == "row" and int(str(kept[0][1])) - 1 in self.growing:
            kept = [one for one in kept if one[0] != "customHeight"]
        super()._xml_start_tag_unencoded(tag, kept)

    def _prepare_formula(self, formula: str, _: bool = False) -> str:
        return formula.removeprefix("{").removeprefix("=").removesuffix("}")


def write_value(sheet: Worksheet, row: int, column: int, value: Value, style: Format) -> None:
    """Write one value by its type; text is never taken for a formula, number or link."""
    if value is None:
        sheet.write_blank(row, column, None, style)
    elif isinstance(value, str):
        sheet.write_string(row, column, value, style)
    elif isinstance(value, dt.date):
        sheet.write_datetime(row, column, value, style)
    else:
        sheet.write_number(row, column, value, style)


def shown_unit(field: Field, system: UnitSystem, currency: str) -> str | None:
    """Return the unit that stands with an input; a number without one has no dash for it."""
    return field.unit_text(system, currency).removeprefix("-") or None


def apart(header: str, pixels: int) -> int:
    """Return the pixels of a column in which a header, wrapped, stays off the one before it.

    >>> apart("Lost time", 50), apart("Lost time", 60)
    (50, 66)
    """
    room = pixels * BROADER - NARROW_EDGE
    line = max(line_breadths(header, room, look.TEXT, bold=True))
    needed = math.ceil(line + EDGE + HEAD_GAP)
    return pixels if needed <= pixels else apart(header, needed)


def set_page(sheet: Worksheet, system: UnitSystem, *, across: bool = True) -> None:
    """Set paper, margins and footer of a sheet; it prints at full size."""
    if across:
        sheet.set_landscape()
    paper = look.PAPER_OF_SYSTEM[system]
    margins = look.margins_in(paper, across=across)
    sheet.set_paper(look.PAPER_CODES[paper])
    sheet.set_margins(**{side: margins[side] for side in ("left", "right", "top", "bottom")})
    sheet.set_footer(FOOTER, {"margin": margins["footer"]})
    sheet.set_print_scale(100)
    sheet.hide_gridlines(2)


def is_across(widths: Iterable[float]) -> bool:
    """Return whether columns of these widths in letters need a page that lies across."""
    return sum(map(look.pixels_of, widths)) > look.box_pixels(across=False)
