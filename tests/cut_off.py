"""Texts of a printed sheet that have no room, measured as its letters print."""

from openpyxl.utils import column_index_from_string

from estimator.workbook.sheet import look
from estimator.workbook.sheet.text_width import text_pixels
from tests.one_page import sheet_of

RESERVE, EDGES, INDENT, PADDING = 1.05, 4, 9, 0.7109375
"""Share kept free, pixels of the edges and of an indent, and what the file adds to a width."""
BROADER = 1.12
"""How much more a text that shrinks may take: letters of a screen, and columns on paper."""


def cut_off(data, name):
    """Return the cells of a sheet whose text has no room; those that wrap are left out."""
    sheet = sheet_of(data, name, data_only=True)
    widths = {
        column_index_from_string(letters): look.pixels_of(dimension.width - PADDING)
        for letters, dimension in sheet.column_dimensions.items()
    }
    merged = {(m.min_row, m.min_col): m.max_col for m in sheet.merged_cells.ranges}
    found = []
    for row in sheet.iter_rows():
        for cell in row:
            if cell.value is None or cell.alignment.wrap_text:
                continue
            last = merged.get((cell.row, cell.column), cell.column)
            own = sum(widths[column] for column in range(cell.column, last + 1))
            if last == cell.column:
                own += sum(_empty_beside(cell, row, widths))
            bare = text_pixels(shown(cell), cell.font.sz, bold=bool(cell.font.b))
            if cell.alignment.shrink_to_fit:
                bare /= BROADER
            need = bare * RESERVE + EDGES
            if need + INDENT * (cell.alignment.indent or 0) > own:
                found.append((cell.coordinate, shown(cell)))
    return found


def _empty_beside(cell, row, widths):
    """Yield the widths of the empty cells that a text without a frame may run over."""
    if cell.border.left.style or not isinstance(cell.value, str):
        return
    rest = (
        row[: cell.column - 1][::-1] if cell.alignment.horizontal == "right" else row[cell.column :]
    )
    for other in rest:
        if other.value is not None:
            return
        yield widths[other.column]


def shown(cell):
    """Return what a cell shows."""
    if isinstance(cell.value, str):
        return cell.value
    return f"{cell.value:,.1f}" if "0.0" in cell.number_format else f"{cell.value:,.0f}"
