"""The sheet After award of the workbook with buttons: an action is chosen, its button does it."""

from collections.abc import Sequence

from xlsxwriter import Workbook
from xlsxwriter.format import Format
from xlsxwriter.worksheet import Worksheet

from estimator.award_actions import ACTIONS, PARTS
from estimator.display import UnitSystem
from estimator.inputs.dictionary import Field, fields
from estimator.workbook.sheet import look
from estimator.workbook.sheet.names import quoted
from workbook_template.page import set_page
from workbook_template.styles import Styles

NAME = "After award"
BUTTON = ("Do it", "DoAfterAward", 4)
"""Caption, macro, and pixels from the left edge of its column."""
WIDTHS = (20.0, 39.0, 23.0, 20.0, 20.0)
LABEL, ENTRY, MEANING = range(3)
DO_ROW, LIST_ROW = 3, 11
BUTTON_ROW = DO_ROW + 5
FIRST, LAST = LIST_ROW + 2, LIST_ROW + 1 + len(ACTIONS)
"""Rows of the list, counted from 1."""
HEADS = ("Do", "Result", "Date", "Detail", "Files")
NOTE = (
    "Choose, then press Do it. What is not saved is read too, a backup is kept, nothing is saved. "
    "Several details or files: put ; between. A file without a folder lies beside this workbook."
)
ON_MAC = "Excel on a Mac cannot do this: save, close, and use the command (estimator --help)."
NAMES = ("award_do", *(f"award_{part}" for part in PARTS))
LABELS = ("Do", "Date", "Detail", "Files")


class AwardSheet:
    """Writes the sheet from top to bottom."""

    def __init__(self, workbook: Workbook, sheet: Worksheet, styles: Styles) -> None:
        self.workbook, self.sheet, self.styles = workbook, sheet, styles

    def write(self, system: UnitSystem) -> None:
        """Write the cells of the choice, the list of all actions and the page set-up."""
        for column, width in enumerate(WIDTHS):
            self.sheet.set_column(column, column, width)
        self.sheet.write_string(0, LABEL, NAME, self.styles.named("title"))
        self.sheet.set_row(0, look.TITLE_ROW)
        for row, text in enumerate((NOTE, ON_MAC), 1):
            self.sheet.write_string(row, LABEL, text, self.styles.named("note"))
        for at, (label, name) in enumerate(zip(LABELS, NAMES, strict=True)):
            self._entry(DO_ROW + at, label, name)
        self._validations()
        self._list()
        set_page(self.sheet, system)

    def _entry(self, row: int, label: str, name: str) -> None:
        """Write a cell to fill in, and beside it what it means for the action chosen."""
        self.sheet.write_string(row, LABEL, label, self.styles.named("strong"))
        date = name == "award_date"
        style = self.styles.input(_field("date" if date else "text"), wrap=not date)
        if row == DO_ROW:
            self.sheet.write_string(row, ENTRY, ACTIONS[0].name, style)
        else:
            self.sheet.write_blank(row, ENTRY, None, style)
        self.workbook.define_name(name, f"={quoted(NAME)}!${'ABCDE'[ENTRY]}${row + 1}")
        column = "BCDE"[row - DO_ROW]
        at = f"MATCH($B${DO_ROW + 1},$A${FIRST}:$A${LAST},0)"
        found = f"INDEX(${column}${FIRST}:${column}${LAST},{at})"
        formula = f'=IF(ISNA({at}),"choose from the list",IF({found}="","not used",{found}))'
        shown = _shown(0)[row - DO_ROW + 1] or "not used"
        self.sheet.write_formula(row, MEANING, formula, self.styles.named("label_in"), shown)

    def _validations(self) -> None:
        options = {
            "validate": "list",
            "source": f"=$A${FIRST}:$A${LAST}",
            "error_title": "Do",
            "error_message": "Choose one from the list below.",
        }
        self.sheet.data_validation(DO_ROW, ENTRY, DO_ROW, ENTRY, options)

    def _list(self) -> None:
        heads: list[tuple[str, Format]] = [(h, self.styles.named("header")) for h in HEADS]
        for column, (text, style) in enumerate(heads):
            self.sheet.write_string(LIST_ROW, column, text, style)
        for number in range(len(ACTIONS)):
            for column, text in enumerate(_shown(number)):
                style = self.styles.named("strong_line" if column == LABEL else "result")
                self.sheet.write_string(LIST_ROW + 1 + number, column, text, style)


def _shown(number: int) -> Sequence[str]:
    """Return what the list says of an action."""
    action = ACTIONS[number]
    return (action.name, action.does, *(action.meaning(part) for part in PARTS))


def _field(kind: str) -> Field:
    """Return an input of a kind, for the look of its cell."""
    return next(one for one in fields("job") if one.kind == kind)
