"""Writing one input cell, and the page set-up that all sheets share."""

import datetime as dt

from xlsxwriter.format import Format
from xlsxwriter.worksheet import Worksheet

from estimator.display import UnitSystem
from workbook_template.content import Value

FOOTER = "&L&9&F&C&9&A&R&9Page &P of &N"
MARGINS_IN = {"left": 0.5, "right": 0.5, "top": 0.6, "bottom": 0.7}
PAPER = {("US", False): 1, ("SI", False): 9, ("US", True): 3, ("SI", True): 8}
"""Paper codes of the file format: Letter and A4, and twice that size for wide sheets."""


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


def set_page(
    sheet: Worksheet, system: UnitSystem, *, landscape: bool = True, wide: bool = False
) -> None:
    """Set paper, margins, footer and fit-to-width of a sheet."""
    if landscape:
        sheet.set_landscape()
    sheet.set_paper(PAPER[system, wide])
    sheet.set_margins(**MARGINS_IN)
    sheet.set_footer(FOOTER)
    sheet.fit_to_pages(1, 0)
    sheet.hide_gridlines(2)
