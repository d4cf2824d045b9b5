"""The Start sheet: what the workbook is, how to use it, the overall check and the cautions."""

import textwrap

from xlsxwriter.format import Format
from xlsxwriter.worksheet import Worksheet

from estimator.display import UnitSystem
from estimator.workbook.results.bid_text import cautions
from estimator.workbook.results.checks_sheet import CHECK
from estimator.workbook.results.light import LIGHT_ROW, OK
from workbook_template.content import own_rows
from workbook_template.page import set_page
from workbook_template.styles import Styles

TITLE = "Butt fusion job estimate"
WIDTHS = (20.0, 24.0, 45.0)
LETTERS_OF_TEXT = 92
LETTERS_OF_INTRODUCTION = 100
LINE_POINTS, MARGIN_POINTS = 13.0, 3.0
LIGHT = f"=Checks!$B${LIGHT_ROW}"
LIGHT_NOTE = "From Checks. If it is not OK, look there first."
INPUT_LABEL = "Input"
SAMPLE_STYLES = {"Required": "required", "Unit": "unit", "Result": "result"}


class StartSheet:
    """Writes the Start sheet from top to bottom."""

    def __init__(self, sheet: Worksheet, styles: Styles, input_style: Format) -> None:
        self.sheet, self.styles, self.input_style = sheet, styles, input_style
        self.row = 0

    def write(self, system: UnitSystem) -> None:
        """Write every section and the page set-up."""
        for column, width in enumerate(WIDTHS):
            self.sheet.set_column(column, column, width)
        self._introduction()
        self._light()
        self._texts("Four steps", "step")
        self._texts("Cell colors", "color")
        self._sheets()
        self._section("Cautions")
        for number, text in enumerate(cautions(), 1):
            self._line(str(number), text, self.styles.named("number"))
        set_page(self.sheet, system, across=False)
        self.sheet.print_area(0, 0, self.row, len(WIDTHS) - 1)

    def _introduction(self) -> None:
        self.sheet.write_string(0, 0, TITLE, self.styles.named("title"))
        self.sheet.set_row(0, 26)
        (text,) = (row["text"] for row in own_rows("start.csv") if row["section"] == "what")
        self.sheet.merge_range(1, 0, 1, 2, text, self.styles.named("text"))
        self._set_height(1, text, LETTERS_OF_INTRODUCTION)
        self.row = 3

    def _light(self) -> None:
        self.sheet.write_string(self.row, 0, "Check status", self.styles.named("strong"))
        self.sheet.write_formula(self.row, 1, LIGHT, self.styles.named("light"), "")
        self.sheet.write_string(self.row, 2, LIGHT_NOTE, self.styles.named("unit_beside"))
        cell = f"$B${self.row + 1}"
        for criteria, style in (
            (f'={cell}="{OK}"', "good"),
            (f'=LEFT({cell},{len(CHECK)})="{CHECK}"', "bad"),
            (f"=LEN({cell})>0", "doubtful"),
        ):
            rule = {"type": "formula", "criteria": criteria, "stop_if_true": True}
            rule["format"] = self.styles.named(style)
            self.sheet.conditional_format(self.row, 1, self.row, 1, rule)
        self.row += 1

    def _texts(self, heading: str, section: str) -> None:
        self._section(heading)
        for row in own_rows("start.csv"):
            if row["section"] == section:
                self._line(row["label"], row["text"], self._label_style(row["label"]))

    def _label_style(self, label: str) -> Format:
        if label == INPUT_LABEL:
            return self.input_style
        return self.styles.named(SAMPLE_STYLES.get(label, "strong"))

    def _sheets(self) -> None:
        self._section("Sheets")
        for row in own_rows("sheets.csv"):
            link = f"internal:'{row['sheet']}'!A1"
            self.sheet.write_url(self.row, 0, link, self.styles.named("link"), row["sheet"])
            self.sheet.merge_range(
                self.row, 1, self.row, 2, row["about"], self.styles.named("text")
            )
            self._set_height(self.row, row["about"], LETTERS_OF_TEXT)
            self.row += 1

    def _section(self, heading: str) -> None:
        self.row += 1
        self.sheet.write_string(self.row, 0, heading, self.styles.named("section"))
        for column in range(1, len(WIDTHS)):
            self.sheet.write_blank(self.row, column, None, self.styles.named("section"))
        self.row += 1

    def _line(self, label: str, text: str, style: Format) -> None:
        self.sheet.write_string(self.row, 0, label, style)
        self.sheet.merge_range(self.row, 1, self.row, 2, text, self.styles.named("text"))
        self._set_height(self.row, text, LETTERS_OF_TEXT)
        self.row += 1

    def _set_height(self, row: int, text: str, letters: int) -> None:
        lines = len(textwrap.wrap(text, letters))
        self.sheet.set_row(row, LINE_POINTS * lines + MARGIN_POINTS)
