"""Builds the input workbook, empty or with an example job, always the same bytes."""

import datetime as dt
import io

from xlsxwriter import Workbook
from xlsxwriter.worksheet import Worksheet

from estimator.display import UnitSystem
from estimator.errors import InputError, Problem
from estimator.inputs.dictionary import InputTable, input_tables
from estimator.workbook.results.light import LIGHT_ROW
from estimator.workbook.sheet import look
from estimator.workbook.sheet.names import PRINT_AREA, marker_name, quoted
from workbook_template.company import NO_COMPANY, Company
from workbook_template.content import (
    Value,
    example_names,
    example_system,
    named_values,
    own_rows,
)
from workbook_template.named_sheet import NamedSheet
from workbook_template.page import InputSheet, set_page
from workbook_template.start_sheet import CHECK_STATUS, CHECKS, TITLE, StartSheet
from workbook_template.styles import FONT, Styles
from workbook_template.table_sheet import make_blocks, write_table_sheet
from workbook_template.takeoff_example import with_takeoff

__all__ = ["build_template", "example_names", "example_system"]

CREATED = dt.datetime(2027, 1, 1, tzinfo=dt.UTC)
"""Creation date in the file's properties: fixed, so that a rebuild gives the same bytes."""
START = "Start"
NOT_ESTIMATED = "Not estimated yet"
HOW_TO_FILL = "Run Estimate: it fills in this sheet and adds the other results."
HOW_ROW, STATUS_ROW, STATUS_COLUMN = LIGHT_ROW - 2, LIGHT_ROW - 1, 1
RESULT_WIDTH = 30
TAB_COLORS = {
    "start": f"#{look.INK}",
    "input": f"#{look.INPUT}",
    "result": "#9AA5A8",
    "settings": "#D9DEDF",
}


def build_template(
    system: UnitSystem, example: str | None = None, company: Company | None = None
) -> bytes:
    """Return the input workbook as the bytes of an .xlsx file.

    Parameters
    ----------
    system : {'US', 'SI'}
        Units of the input columns and of the results.
    example : str, optional
        Name of an example job to fill in; without it the facts of the job stay empty and the
        fleet, crew, times and rates hold their defaults.
    company : Company, optional
        Figures of the company that go in the place of defaults; not with an example.

    Raises
    ------
    UnknownNameError
        If there is no example of that name.
    InputError
        If the example is in the other unit system.
    """
    return build_with(TemplateBuilder, system, example, company)


class TemplateBuilder:
    """Adds the sheets of the template to a workbook, in order."""

    def __init__(
        self,
        workbook: Workbook,
        system: UnitSystem,
        example: str | None,
        company: Company | None = None,
    ) -> None:
        self.workbook, self.system, self.example = workbook, system, example
        self.company = company or NO_COMPANY
        self.styles = Styles(workbook, system)
        self.job = self._values("job", example)

    def build(self) -> None:
        """Add every sheet; the first is shown when the file is opened."""
        start = self._add(START, "start")
        StartSheet(start, self.styles).write(self.system)
        for row in own_rows("sheets.csv"):
            self._inputs(self._add(row["sheet"], "input"))
        self.add_more()
        self._checks(self._add(CHECKS, "result"))
        start.activate()

    def add_more(self) -> None:
        """Add what a workbook of another kind has between inputs and results."""

    def _add(self, name: str, role: str) -> InputSheet:
        sheet: InputSheet = self.workbook.add_worksheet(name, InputSheet)
        sheet.set_tab_color(TAB_COLORS[role])
        return sheet

    def _inputs(self, sheet: InputSheet) -> None:
        tables = [table for table in input_tables() if table.sheet == sheet.get_name()]
        tables.sort(key=lambda table: table.title != table.sheet)
        if tables[0].form == "table":
            own = self.company.rows
            blocks = make_blocks(tables, self.system, self.currency, self.example, own)
            area = write_table_sheet(sheet, self.styles, blocks)
            if area:
                self.workbook.define_name(f"{quoted(sheet.get_name())}!{PRINT_AREA}", f"={area}")
        else:
            self._named(sheet, tables[0])

    def _named(self, sheet: InputSheet, table: InputTable) -> None:
        bases = self.company.bases.get(table.table, {})
        values, defaults = (self._values(table.table, name) for name in (self.example, None))
        named = NamedSheet(self.workbook, sheet, self.styles, self.system)
        named.write(table, values, defaults, self.currency, bases)

    def _values(self, table: str, example: str | None = None) -> dict[str, Value]:
        """Return the named values of an example, or those that every new workbook holds."""
        own = self.company.named.get(table, {})
        return {**named_values(table, self.system, example), **own}

    @property
    def currency(self) -> str:
        """Currency sign of the job, for the unit rows."""
        return str(self.job["currency"])

    def _checks(self, sheet: Worksheet) -> None:
        """Write the one result sheet that Start refers to; the first estimate adds the others."""
        sheet.set_column(0, 1, RESULT_WIDTH)
        sheet.set_row(0, 24)
        sheet.write_string(0, 0, CHECKS, self.styles.named("title"))
        sheet.write_string(HOW_ROW, 0, HOW_TO_FILL, self.styles.named("note"))
        sheet.write_string(STATUS_ROW, 0, CHECK_STATUS, self.styles.named("label"))
        sheet.write_string(STATUS_ROW, STATUS_COLUMN, NOT_ESTIMATED, self.styles.named("strong"))
        set_page(sheet, self.system, across=False)
        sheet.print_area(0, 0, STATUS_ROW, STATUS_COLUMN)
        self._mark_replaceable(CHECKS)

    def _mark_replaceable(self, name: str) -> None:
        """Define the hidden name by which the estimator knows a sheet that it may replace."""
        self.workbook.define_name(marker_name(name), f"={name}!$A$1")
        self.workbook.defined_names[-1][3] = True


def build_with(
    builder: type[TemplateBuilder],
    system: UnitSystem,
    example: str | None,
    company: Company | None = None,
) -> bytes:
    """Return the file that a builder of the template, or one derived from it, makes.

    Raises
    ------
    UnknownNameError, InputError
        As ``build_template``.
    """
    if example is not None and example_system(example) != system:
        message = f"unit system must be {example_system(example)}, got {system}"
        raise InputError([Problem(f"example {example}", message)])
    buffer = io.BytesIO()
    with Workbook(buffer, {"in_memory": True, "default_format_properties": dict(FONT)}) as book:
        book.set_properties({"title": TITLE, "created": CREATED})
        builder(book, system, example, company).build()
    return buffer.getvalue() if example is None else with_takeoff(buffer.getvalue(), example)
