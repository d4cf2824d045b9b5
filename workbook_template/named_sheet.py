"""Sheets of named cells, Job and Rates: label, value, unit, note and basis under headings."""

from collections.abc import Mapping
from math import ceil
from types import MappingProxyType

from xlsxwriter import Workbook
from xlsxwriter.worksheet import Worksheet

from estimator.display import UnitSystem
from estimator.inputs.dictionary import Field, InputTable, fields
from estimator.workbook.read.own_figures import OLDER
from estimator.workbook.sheet import look
from estimator.workbook.sheet.source import RawCell
from estimator.workbook.sheet.text_width import lines_of
from workbook_template import rules
from workbook_template.content import Value, own_rows
from workbook_template.page import set_page, write_value
from workbook_template.styles import Styles

HEADS = ("Item", "Value", "Unit", "Note", "Basis")
LABEL, VALUE, UNIT, NOTE, BASIS = range(len(HEADS))
WIDTHS = (31.0, 26.0, 9.0, 43.0, 14.0)
HEAD_ROW = 3
SECTION_POINTS = 24
EDGES = 18.0
"""Pixels of a cell that its text leaves free."""


class NamedSheet:
    """Writes one sheet of named cells from top to bottom."""

    def __init__(
        self, workbook: Workbook, sheet: Worksheet, styles: Styles, system: UnitSystem
    ) -> None:
        self.workbook, self.sheet, self.styles, self.system = workbook, sheet, styles, system
        self.row = HEAD_ROW

    def write(
        self,
        table: InputTable,
        values: dict[str, Value],
        currency: str,
        bases: Mapping[str, str] = MappingProxyType({}),
    ) -> None:
        """Write the title, every section and every field, and define the names.

        ``bases`` are those of the company's own figures, in the place of the defaults'.
        """
        self._head(table)
        headings = {
            row["first_key"]: row["heading"]
            for row in own_rows("groups.csv")
            if row["table"] == table.table
        }
        for field in fields(table.table):
            if field.key in headings:
                self._section(headings[field.key])
            basis = bases.get(field.key, field.basis)
            self._field(field, values[field.key], currency, basis)
        ignored = f"B{HEAD_ROW + 2}:B{self.row + 1}"
        self.sheet.ignore_errors({"number_stored_as_text": ignored})
        self.sheet.freeze_panes(HEAD_ROW + 1, 1)
        set_page(self.sheet, self.system)
        self.sheet.repeat_rows(0, HEAD_ROW)
        self.sheet.print_area(0, 0, self.row, len(HEADS) - 1)

    def _head(self, table: InputTable) -> None:
        self.sheet.write_string(0, 0, table.title, self.styles.named("title"))
        self.sheet.set_row(0, 24)
        self.sheet.write_string(1, 0, table.note, self.styles.named("note"))
        for column, (head, width) in enumerate(zip(HEADS, WIDTHS, strict=True)):
            self.sheet.write_string(HEAD_ROW, column, head, self.styles.named("header"))
            self.sheet.set_column(column, column, width)

    def _section(self, heading: str) -> None:
        self.row += 1
        self.sheet.set_row(self.row, SECTION_POINTS)
        self.sheet.write_string(self.row, 0, heading, self.styles.named("section"))
        for column in range(1, len(HEADS)):
            self.sheet.write_blank(self.row, column, None, self.styles.named("section"))

    def _field(self, field: Field, value: Value, currency: str, basis: str) -> None:
        self.row += 1
        unit = field.unit_label(self.system, currency)
        self.sheet.write_string(self.row, LABEL, field.header, self.styles.named("label"))
        write_value(self.sheet, self.row, VALUE, value, self.styles.input(field, wrap=True))
        texts = (
            (value, VALUE, look.TEXT), (field.note, NOTE, look.SMALL), (basis, BASIS, look.SMALL)
        )  # fmt: skip
        self.sheet.set_row(self.row, max(_height(*text) for text in texts))
        write_value(self.sheet, self.row, UNIT, unit or None, self.styles.named("unit_beside"))
        self.sheet.write_string(self.row, NOTE, field.note, self.styles.named("note_wrap"))
        old = "doubtful" if OLDER in basis else "note_wrap"
        self.sheet.write_string(self.row, BASIS, basis, self.styles.named(old))
        self._rules(field)

    def _rules(self, field: Field) -> None:
        where = RawCell(self.sheet.get_name(), self.row + 1, VALUE + 1).reference
        self.workbook.define_name(field.cell_name, f"={where}")
        cell = where.rpartition("!")[2]
        options = rules.validation(field, self.system, cell)
        prompted = rules.with_prompt(options, field, self.system)
        self.sheet.data_validation(self.row, VALUE, self.row, VALUE, prompted)
        if field.required:
            missing = {"type": "formula", "criteria": f"=LEN({cell})=0"}
            missing["format"] = self.styles.named("missing")
            self.sheet.conditional_format(self.row, VALUE, self.row, VALUE, missing)


def _height(value: Value, column: int, size: float) -> float:
    """Return the height of a row in which a value wraps in its column."""
    room = look.pixels_of(WIDTHS[column]) - EDGES
    lines = lines_of(str(value or ""), room, size)
    points = lines * look.LINE * size / look.TEXT + look.LINES_MARGIN
    return max(look.ROW, ceil(points / look.HEIGHT_STEP) * look.HEIGHT_STEP)
