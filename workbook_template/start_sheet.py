"""The Start sheet, one page: four results, four steps, pages by reader, how cells look, safety."""

from collections.abc import Mapping, Sequence

from xlsxwriter.worksheet import Worksheet

from estimator.display import UnitSystem
from estimator.inputs.dictionary import fields
from estimator.workbook.results.checks_sheet import (
    BID_PRICE,
    CHECK,
    PAGES_AT,
    SUMMARY_ROWS,
)
from estimator.workbook.results.checks_sheet import WIDTHS as CHECKS_WIDTHS
from estimator.workbook.results.light import HEADING_ROW, LIGHT_ROW, MADE, OK
from estimator.workbook.results.price_words import BEFORE_TAX
from estimator.workbook.sheet import look
from estimator.workbook.sheet.names import quoted
from estimator.workbook.sheet.source import column_letters
from workbook_template.content import own_rows
from workbook_template.page import set_page
from workbook_template.styles import Styles

TITLE = "Butt fusion job estimate"
WIDTHS = (13.0, 15.3, 14.2, 40.5, 5.3)
READER, PAGE, SECOND, QUESTION, PRINTS = range(len(WIDTHS))
CHECKS, CHECK_STATUS = "Checks", "Check status"
LIGHT = f"={CHECKS}!$B${LIGHT_ROW}"
FIRST_RESULT, FIRST_ROW = next(iter(SUMMARY_ROWS.items()))
PAGES = f"Checks!${column_letters(PAGES_AT)}:${column_letters(PAGES_AT)}"
NUMBERS = f"Checks!${column_letters(PAGES_AT + 1)}:${column_letters(PAGES_AT + 1)}"
"""Sheets and the pages that they print, on Checks."""
ESTIMATED = f'{CHECKS}!$A${FIRST_ROW}="{FIRST_RESULT}"'
"""Whether Checks shows results; else it says that there are none yet, or lists what is wrong."""
INPUT_LABEL = "Input"
SAMPLE_STYLES = {
    "Input": "input_sample",
    "Missing": "missing_sample",
    "Result": "result",
}
SAFETY_POINTS, RESULT_POINTS, GAP_POINTS = 24.0, 18.0, 5.25
JOB_NAME, CURRENCY, REVISION = (
    next(field.cell_name for field in fields("job") if field.key == key)
    for key in ("job_name", "currency", "bid_revision")
)
HEADING = f"{CHECKS}!${column_letters(len(CHECKS_WIDTHS))}${HEADING_ROW}"
ESTIMATE_MADE = (
    f'=IFERROR(MID({HEADING},FIND("{MADE}",{HEADING}),LEN({HEADING}))'
    f'&", revision "&(0+{REVISION}),"")'
)
"""The date of the last estimate, as Checks says it, and its revision."""


class StartSheet:
    """Writes the Start sheet from top to bottom."""

    def __init__(self, sheet: Worksheet, styles: Styles) -> None:
        self.sheet, self.styles = sheet, styles
        self.row = 0

    def write(self, system: UnitSystem) -> None:
        """Write every section and the page set-up."""
        for column, width in enumerate(WIDTHS):
            self.sheet.set_column(column, column, width)
        self._title()
        self._results()
        self._steps()
        self._pages()
        self._inputs()
        self._cells()
        self._section("Safety")
        self._over(READER, _only("safety"), "text", SAFETY_POINTS)
        set_page(self.sheet, system, across=False)
        self.sheet.print_area(0, 0, self.row, len(WIDTHS) - 1)

    def _title(self) -> None:
        self.sheet.write_string(0, READER, TITLE, self.styles.named("title"))
        self.sheet.set_row(0, look.TITLE_ROW)
        name = f'=IF({JOB_NAME}="","",{JOB_NAME})'
        self.sheet.write_formula(1, READER, name, self.styles.named("job"), "")
        for column in range(PAGE, PRINTS):
            self.sheet.write_blank(1, column, None, self.styles.named("job"))
        self.sheet.write_formula(1, PRINTS, ESTIMATE_MADE, self.styles.named("job_right"), "")
        self.sheet.set_row(1, look.SUBTITLE_ROW)
        self.row = 2

    def _results(self) -> None:
        """Show the check status and the other results of the last estimate, from Checks."""
        self._result(CHECK_STATUS, LIGHT_ROW, "strong_line")
        cell = f"$B${self.row}"
        for criteria, style in (
            (f'={cell}="{OK}"', "good"),
            (f'=LEFT({cell},{len(CHECK)})="{CHECK}"', "bad"),
            (f"=LEN({cell})>0", "doubtful"),
        ):
            rule = {"type": "formula", "criteria": criteria, "stop_if_true": True}
            rule["format"] = self.styles.named(style)
            self.sheet.conditional_format(self.row - 1, PAGE, self.row - 1, SECOND, rule)
        for label, row in SUMMARY_ROWS.items():
            self._result(label, row, "strong_line")

    def _result(self, label: str, row: int, style: str) -> None:
        """Write a line that shows a value and its note from a row of Checks."""
        self.sheet.set_row(self.row, RESULT_POINTS)
        self.sheet.write_string(self.row, READER, label, self.styles.named("text_line"))
        value, about = _result_texts(label, row)
        place = (self.row, PAGE, self.row, SECOND)
        self.sheet.merge_range(*place, "", self.styles.named(style))
        self.sheet.write_formula(self.row, PAGE, value, self.styles.named(style), "")
        note = self.styles.named("text_line")
        self.sheet.write_formula(self.row, QUESTION, about, note, "")
        self.sheet.write_blank(self.row, PRINTS, None, note)
        self.row += 1

    def _steps(self) -> None:
        self._section("In four steps")
        for row in _rows("step"):
            self.sheet.write_string(self.row, READER, row["label"], self.styles.named("strong"))
            self.sheet.write_string(self.row, SECOND, row["text"], self.styles.named("label"))
            self.row += 1

    def _pages(self) -> None:
        self._section("Pages that Estimate writes, by reader: click a name")
        for column, head in ((READER, "Reader"), (PAGE, "Page"), (QUESTION, "What it answers")):
            self.sheet.write_string(self.row, column, head, self.styles.named("header"))
        self.sheet.write_blank(self.row, SECOND, None, self.styles.named("header"))
        self.sheet.write_string(self.row, PRINTS, "Pages", self.styles.named("header_right"))
        self.row += 1
        for row in own_rows("start_pages.csv"):
            end = "_first" if row["reader"] else "_line"
            reader = self.styles.named(f"strong{end}")
            self.sheet.write_string(self.row, READER, row["reader"], reader)
            for column, name in ((PAGE, row["page"]), (SECOND, row["second"])):
                self._page_link(column, name, f"link{end}")
            question = self.styles.named(f"text{end}")
            self.sheet.write_string(self.row, QUESTION, row["question"], question)
            self._prints((row["page"], row["second"]), f"pages{end}")
            self.row += 1
        self._over(READER, _only("award"), "note", look.ROW)

    def _link(self, column: int, sheet: str, style: str) -> None:
        if sheet:
            link = f"internal:'{sheet}'!A1"
            self.sheet.write_url(self.row, column, link, self.styles.named(style), sheet)
        else:
            self.sheet.write_blank(self.row, column, None, self.styles.named(style))

    def _page_link(self, column: int, sheet: str, style: str) -> None:
        """Write a link to a result sheet; it leads to Checks until an estimate has written it."""
        if sheet in ("", CHECKS):
            self._link(column, sheet, style)
            return
        target = f'IF({ESTIMATED},"{_place(sheet)}","{_place(CHECKS)}")'
        link = f'=HYPERLINK({target},"{sheet}")'
        self.sheet.write_formula(self.row, column, link, self.styles.named(style), sheet)

    def _prints(self, sheets: Sequence[str], style: str) -> None:
        """Write how many pages the sheets of a line print; blank until an estimate says it."""
        numbers = "+".join(f'SUMIF({PAGES},"{name}",{NUMBERS})' for name in sheets if name)
        self.sheet.write_formula(self.row, PRINTS, f"={numbers}", self.styles.named(style), 0)

    def _inputs(self) -> None:
        self._section("Where you type")
        names = [row["sheet"] for row in own_rows("sheets.csv")]
        for first in range(0, len(names), PRINTS):
            for column, name in enumerate(names[first : first + PRINTS]):
                self._link(column, name, "link")
            self.row += 1

    def _cells(self) -> None:
        self._section("How cells look")
        for row in _rows("color"):
            sample = self.styles.named(SAMPLE_STYLES[row["label"]])
            self.sheet.write_string(self.row, READER, row["sample"], sample)
            self.sheet.write_string(self.row, PAGE, row["text"], self.styles.named("label_in"))
            self.row += 1

    def _section(self, heading: str) -> None:
        self.sheet.set_row(self.row, GAP_POINTS)
        self.row += 1
        self.sheet.write_string(self.row, READER, heading, self.styles.named("section"))
        self.sheet.set_row(self.row, look.SECTION_ROW)
        self.row += 1

    def _over(self, column: int, text: str, style: str, height: float) -> None:
        """Write a text over all columns from one on."""
        last = len(WIDTHS) - 1
        self.sheet.merge_range(self.row, column, self.row, last, text, self.styles.named(style))
        self.sheet.set_row(self.row, height)
        self.row += 1


def _rows(section: str) -> Sequence[Mapping[str, str]]:
    return [row for row in own_rows("start.csv") if row["section"] == section]


def _only(section: str) -> str:
    (row,) = _rows(section)
    return row["text"]


def _place(sheet: str) -> str:
    """Return the first cell of a sheet as a link within the workbook names it."""
    return f"#{quoted(sheet)}!A1"


def _result_texts(label: str, row: int) -> tuple[str, str]:
    """Return the formulas of a result on a row of Checks, and of what is said of it."""
    value, about = f"{CHECKS}!$B${row}", f"{CHECKS}!$C${row}"
    if label == BID_PRICE:
        return _unless_blank(value, _money(value)), _unless_blank(value, f'"{BEFORE_TAX}"')
    return LIGHT if row == LIGHT_ROW else _unless_blank(value), _unless_blank(about)


def _money(reference: str) -> str:
    """Return the formula of an amount: a sign stands close to it, letters with a blank."""
    end = f"RIGHT({CURRENCY},1)"
    apart = f'IF(EXACT(UPPER({end}),LOWER({end})),""," ")'
    return f"{CURRENCY}&{apart}&FIXED({reference},2)"


def _unless_blank(reference: str, shown: str = "") -> str:
    return f'=IF({reference}="","",{shown or reference})'
