"""The sheet ``xlwings.conf``: how xlwings is to run Python for this workbook.

xlwings reads columns A and B from the first row down to the first empty cell of A, in VBA and
in Python alike. So the settings begin in row 1 without a header, and column C explains them.
"""

import sys
import textwrap
from collections.abc import Iterator

from xlsxwriter.worksheet import Worksheet

from estimator.display import UnitSystem
from estimator.excel.installed import this_python
from estimator.excel.setup import INTERPRETER_KEYS
from estimator.inputs.dictionary import fields
from workbook_template.content import own_rows
from workbook_template.page import set_page, write_value
from workbook_template.styles import Styles

NAME = "xlwings.conf"
WIDTHS = (34.0, 58.0, 76.0)
OFF = "_"
"""A key that begins so is one that xlwings does not know: the user's own setting then holds."""
OFF_NOTE = (
    " The underscore switches it off, so each user's own setting applies (estimator excel-setup "
    "writes it). To set it for this workbook, enter the path and remove the underscore."
)
ON_NOTE = (
    " On another computer, put an underscore before the key. Each user's own setting then "
    "applies (estimator excel-setup writes it)."
)
NOTE_LETTERS = 80
LINE_POINTS, MARGIN_POINTS = 13.0, 4.0


def settings() -> Iterator[tuple[str, str, str]]:
    """Yield key, value and explanation of each setting, for the system that this runs on."""
    for row in own_rows("xlwings_settings.csv"):
        key, value, note = row["key"], row["value"], row["note"]
        if key == INTERPRETER_KEYS.get(sys.platform):
            yield key, this_python().path, note + ON_NOTE
        elif key in INTERPRETER_KEYS.values():
            yield OFF + key, "", note + OFF_NOTE
        else:
            yield key, value, note


def write_settings_sheet(sheet: Worksheet, styles: Styles, system: UnitSystem) -> None:
    """Write the settings, as text so that no value turns into a date or a truth value."""
    for column, width in enumerate(WIDTHS):
        sheet.set_column(column, column, width)
    input_style = styles.input(fields("job")[0], wrap=True)
    for row, (key, value, note) in enumerate(settings()):
        sheet.write_string(row, 0, key, styles.named("strong"))
        write_value(sheet, row, 1, value or None, input_style)
        sheet.write_string(row, 2, note, styles.named("text"))
        lines = len(textwrap.wrap(note, NOTE_LETTERS))
        sheet.set_row(row, LINE_POINTS * lines + MARGIN_POINTS)
    set_page(sheet, system)
