"""The sheet Functions: a live example of each cell function, for the workbook with macros.

In a workbook without macros the functions would show ``#NAME?``.
"""

from xlsxwriter import Workbook
from xlsxwriter.utility import xl_range, xl_rowcol_to_cell
from xlsxwriter.worksheet import Worksheet

from estimator.display import UnitSystem
from estimator.excel import functions
from estimator.excel.cell_functions.arguments import ARGUMENTS
from workbook_template import rules
from workbook_template.content import Value
from workbook_template.function_examples import MACHINES_RANGE, Example, examples, input_field
from workbook_template.page import set_page, write_value
from workbook_template.styles import NAMED, Styles

NAME = "Functions"
TAB_COLOR = "#D9DEDF"
TITLE = "Cell functions"
NOTES = (
    "Quick answers on any sheet of this workbook. Change a yellow cell and the result updates. "
    "Type a function name in any cell and press fx for help on its arguments.",
    "Each argument may be one cell or a whole column, as in the last example. A blank returns a "
    "blank; wrong input returns a message. #NAME? means macros are off.",
)
RESULT_WIDTH, ARGUMENT_WIDTH, ARGUMENT_COLUMNS = 19.0, 17.0, 9
FIRST_ROW = 4
RESULT, FIRST_ARGUMENT = 0, 1
COMMENT = {"width": 260, "height": 60}
RESULT_FORMATS = {int: "#,##0", float: "#,##0.000", str: "General"}
COLUMN_FUNCTION = "PE_COOL"
COLUMN_PIPES = {"US": ("4", "8", "12", "24", "36"), "SI": ("63", "160", "225", "315", "630")}
COLUMN_HEADING = "Whole columns in one formula"
COLUMN_NOTE = (
    "One formula in the first row fills every row. Excel with dynamic arrays spills it. In "
    "older Excel, select the whole result range, type the formula, and press Ctrl+Shift+Enter."
)


def add_functions_sheet(
    book: Workbook, system: UnitSystem, styles: Styles, example: str | None = None
) -> Worksheet:
    """Add the sheet at the end of a workbook that has the sheet Machines.

    Parameters
    ----------
    book : Workbook
        The workbook that is being written.
    system : {'US', 'SI'}
        Units of the examples.
    styles : Styles
        The formats of that workbook.
    example : str, optional
        Name of the example job whose machines the workbook holds.
    """
    sheet = book.add_worksheet(NAME)
    sheet.set_tab_color(TAB_COLOR)
    writer = FunctionsSheet(book, sheet, system, styles)
    writer.head()
    for each in examples(system):
        writer.block(each, each.result(system, example))
    writer.whole_columns()
    sheet.ignore_errors({"number_stored_as_text": xl_range(0, 0, writer.row, ARGUMENT_COLUMNS)})
    set_page(sheet, system)
    sheet.freeze_panes(FIRST_ROW - 1, 0)
    return sheet


class FunctionsSheet:
    """Writes the sheet from top to bottom."""

    def __init__(
        self, book: Workbook, sheet: Worksheet, system: UnitSystem, styles: Styles
    ) -> None:
        self.book, self.sheet, self.system, self.styles = book, sheet, system, styles
        self.row = FIRST_ROW

    def head(self) -> None:
        """Write title, notes and column widths."""
        self.sheet.set_column(RESULT, RESULT, RESULT_WIDTH)
        self.sheet.set_column(FIRST_ARGUMENT, ARGUMENT_COLUMNS, ARGUMENT_WIDTH)
        self.sheet.set_row(0, 24)
        self.sheet.write_string(0, 0, TITLE, self.styles.named("title"))
        for row, note in enumerate(NOTES, 1):
            self.sheet.write_string(row, 0, note, self.styles.named("note"))

    def block(self, example: Example, result: float | str) -> None:
        """Write one function: its name, what it gives, its arguments and the live result."""
        names = list(example.values)
        self._heading(example.function.name, example.function.description)
        self._headers([a.optional for a in example.function.arguments], names)
        given = [self._argument(column, name, example.values[name])
                 for column, name in enumerate(names, FIRST_ARGUMENT)]  # fmt: skip
        self._result(self.row, self.row, f"={example.function.name}({','.join(given)})", [result])
        self.row += 2

    def whole_columns(self) -> None:
        """Write the example of one formula that serves a column of pipes."""
        self._heading(COLUMN_HEADING, COLUMN_NOTE)
        (example,) = (e for e in examples(self.system) if e.function.name == COLUMN_FUNCTION)
        names = list(example.values)
        self._headers([a.optional for a in example.function.arguments], names)
        first, last = self.row, self.row + len(COLUMN_PIPES[self.system]) - 1
        results = []
        for row, size in enumerate(COLUMN_PIPES[self.system], first):
            self.row = row
            values = {**example.values, "size": size}
            for column, name in enumerate(names, FIRST_ARGUMENT):
                self._argument(column, name, values[name])
            results.append(getattr(functions, COLUMN_FUNCTION)(**values))
        columns = range(FIRST_ARGUMENT, FIRST_ARGUMENT + len(names))
        given = [xl_range(first, column, last, column) for column in columns]
        self._result(first, last, f"={COLUMN_FUNCTION}({','.join(given)})", results)

    def _heading(self, name: str, text: str) -> None:
        self.sheet.write_string(self.row, RESULT, name, self.styles.named("section"))
        for column in range(FIRST_ARGUMENT, ARGUMENT_COLUMNS + 1):
            self.sheet.write_blank(self.row, column, None, self.styles.named("section"))
        self.row += 1
        self.sheet.write_string(self.row, RESULT, text, self.styles.named("note"))
        self.row += 1

    def _headers(self, optional: list[bool], names: list[str]) -> None:
        header = self.styles.named("header")
        self.sheet.write_string(self.row, RESULT, "result", header)
        pairs = zip(optional, names, strict=True)
        for column, (may_be_blank, name) in enumerate(pairs, FIRST_ARGUMENT):
            text = f"[{name}]" if may_be_blank else name
            self.sheet.write_string(self.row, column, text, header)
            self.sheet.write_comment(self.row, column, ARGUMENTS[name].doc, COMMENT)
        self.row += 1

    def _argument(self, column: int, name: str, value: Value) -> str:
        """Write the cell of an argument and return how the formula refers to it."""
        if name == MACHINES_RANGE:
            self.sheet.write_string(self.row, column, str(value), self.styles.named("unit_center"))
            return str(value)
        field = input_field(name)
        cell: str = xl_rowcol_to_cell(self.row, column)
        write_value(self.sheet, self.row, column, value, self.styles.input(field))
        if field.allowed:
            options = rules.validation(field, self.system, cell)
            self.sheet.data_validation(self.row, column, self.row, column, options)
        return cell

    def _result(self, first: int, last: int, formula: str, results: list[float | str]) -> None:
        """Write one live formula over the cells of its result, with what it gives."""
        number_format = RESULT_FORMATS[type(results[0])]
        style = self.book.add_format({**NAMED["light"], "num_format": number_format})
        self.sheet.write_dynamic_array_formula(
            first, RESULT, last, RESULT, formula, style, results[0]
        )
        for row, result in enumerate(results[1:], first + 1):
            write_value(self.sheet, row, RESULT, result, style)
