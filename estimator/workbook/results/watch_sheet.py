"""The Input watch sheet: what the inputs were at the estimate, beside what they are now.

The overall light on Checks counts what it finds; nobody needs to read it but who wonders why.
"""

from collections.abc import Mapping, Sequence
from dataclasses import replace
from types import MappingProxyType

from estimator.display import counted, show_date
from estimator.workbook.read.input_check import (
    CellWatch,
    ColumnWatch,
    Plain,
    Shown,
    TableWatch,
    TextWatch,
    UnitWatch,
    Watch,
    differs,
)
from estimator.workbook.results.builder import Context, SheetBuilder
from estimator.workbook.results.light import OK
from estimator.workbook.sheet.source import column_letters
from estimator.workbook.sheet.spec import Cell, ConditionalRule, SheetSpec

INPUT_WATCH = "Input watch"
ANCHOR = "watch.results"
"""Name of the cells that say which inputs have changed."""
WIDTHS = (33.5, 14.5, 14.5, 9, 15)
CHECKSUMS = (
    'A single input shows its value, "blank or zero" a 1 where it is so: other changes of '
    "such a price need no new estimate, since the results recalculate with it. A table shows its "
    "rows, blank ones too, and a checksum of each column: the number itself means nothing, a "
    "difference means that a cell of the column has changed."
)
NOW, NOW_COLUMN, RESULT_COLUMN = "Now", 3, len(WIDTHS)
ROW_ABOVE = len(WIDTHS) + 1
"""Column beside the page: the row above each table; the kept texts stand beyond it."""
KEPT_WIDTH, KEPT_HEAD_ROW = 24, 3
STYLES_SHOWN: Mapping[Shown, str] = MappingProxyType(
    {"text": "text_right", "date": "date_short_right", "percent": "pct2", "number": "general"}
)
MARKED_FROM, MARKED_WHOLE, MARKED = 1000, "figure_0", "figure_2"
"""Number from which thousands are marked, and the styles that mark them."""
CHANGED, RATE = "CHANGED", "RATE CHANGED"


def watch_sheet(context: Context, watched: Sequence[Watch]) -> SheetSpec:
    """Return the Input watch sheet; its results get the anchor ``watch.results``."""
    sheet = SheetBuilder(context, INPUT_WATCH, "Inputs checked for changes since this estimate")
    sheet.add(Cell(_age(context), "plain"))
    sheet.add()
    _rows_read(sheet, context.places.rows_read_text())
    first, last = _watched(sheet, watched)
    results = sheet.address(RESULT_COLUMN, last)
    context.anchors[ANCHOR] = f"{sheet.reference(RESULT_COLUMN, first)}:{results}"
    columns = max(len(sheet.grid[KEPT_HEAD_ROW]), ROW_ABOVE)
    return replace(
        sheet.spec(),
        widths=(*WIDTHS, *[KEPT_WIDTH] * (columns - len(WIDTHS))),
        landscape=False,
        exact_widths=True,
        closes_up=True,
        parts=_part_starts(sheet, first, last),
        header_row=first - 1,
        print_area=f"$A$1:${column_letters(len(WIDTHS))}${last}",
        conditional=tuple(
            ConditionalRule(f"E{first}:E{last}", "text equals", result, "warn")
            for result in (CHANGED, RATE)
        ),
    )


def _part_starts(sheet: SheetBuilder, first: int, last: int) -> Sequence[int]:
    """Return the rows with which the inputs of a sheet begin, the first of all left out."""
    sheets = {row: str(sheet.value_at(row, 1)).partition(":")[0] for row in range(first, last + 1)}
    return tuple(row for row in range(first + 1, last + 1) if sheets[row] != sheets[row - 1])


def _age(context: Context) -> str:
    """Return how old a figure may be before Checks lists it."""
    cover = context.estimate.job.cover
    months = counted(cover.figures_old_months, "month")
    date = show_date(cover.estimate_date, context.system)
    return f"The Checks sheet lists figures whose Basis is dated {months} or more before {date}."


def _rows_read(sheet: SheetBuilder, rows_read: Mapping[str, str]) -> None:
    if not rows_read:
        return
    sheet.section("Rows read from the input tables", len(WIDTHS))
    sheet.text_row(len(WIDTHS), (Cell("Table", "header"),), Cell("How many, and which", "header"))
    for title, rows in rows_read.items():
        sheet.text_row(len(WIDTHS), (Cell(title, "text"),), Cell(rows, "text_wrap"))
    sheet.add()


def _watched(sheet: SheetBuilder, watched: Sequence[Watch]) -> tuple[int, int]:
    sheet.section("Inputs at the estimate and now", len(WIDTHS))
    sheet.merge(sheet.add(Cell(CHECKSUMS, "note")), 1, len(WIDTHS))
    head = sheet.heads("Input", "At estimate", NOW, "Difference", "Result")
    for column, title in ((NOW_COLUMN - 1, "At estimate"), (NOW_COLUMN, NOW)):
        sheet.put(head, column, Cell(title, "header_right"))
    sheet.put(head, ROW_ABOVE, Cell("Row above", "note"))
    for item in watched:
        if isinstance(item, TableWatch):
            _watched_table(sheet, item)
        elif isinstance(item, CellWatch):
            _watched_cell(sheet, item)
        elif isinstance(item, UnitWatch):
            _watched_number(sheet, item.label, 0, item.now())
        else:
            _watched_number(sheet, item.label, item.stored, item.now())
    return head + 1, sheet.last_row


def _watched_cell(sheet: SheetBuilder, item: CellWatch) -> None:
    style = STYLES_SHOWN["text" if isinstance(item.stored, str) else item.shown]
    if item.shown == "number" and isinstance(item.stored, int | float):
        style = number_style(item.stored)
    _watched_value(sheet, item.label, item.stored, style, item.now(), item.only_choice)


def number_style(value: float) -> str:
    """Return the style that shows a number as it is typed, with the thousands of a large one."""
    if abs(value) < MARKED_FROM:
        return STYLES_SHOWN["number"]
    return MARKED_WHOLE if value == int(value) else MARKED


def _watched_value(
    sheet: SheetBuilder, label: str, stored: Plain, style: str, now: str, only_choice: bool = False
) -> None:
    row = sheet.next_row
    sheet.add(
        Cell(label, "text"),
        Cell(stored, style),
        Cell("" if stored is None else stored, style, now),
        Cell(0, "int", differs(f"B{row}", f"C{row}")),
        _result(row, only_choice),
    )


def _watched_table(sheet: SheetBuilder, item: TableWatch) -> None:
    row = _watched_number(sheet, item.label, item.rows, item.now())
    sheet.put(row, ROW_ABOVE, Cell(item.row_above, "note", item.row_above_now))
    row_above = sheet.address(ROW_ABOVE, row)
    for column in item.columns:
        choice = isinstance(column, ColumnWatch) and column.only_choice
        _watched_number(sheet, column.label, column.stored, column.now(row_above), choice)
    for texts in item.texts:
        kept = _keep_texts(sheet, texts)
        _watched_number(sheet, texts.label, 0, texts.now(kept))


def _watched_number(
    sheet: SheetBuilder, label: str, stored: int, formula: str, only_choice: bool = False
) -> int:
    row = sheet.next_row
    return sheet.add(
        Cell(label, "text"),
        Cell(stored, "int"),
        Cell(stored, "int", formula),
        Cell(0, "int", f"C{row}-B{row}"),
        _result(row, only_choice),
    )


def _result(row: int, only_choice: bool) -> Cell:
    changed = RATE if only_choice else CHANGED
    return Cell(OK, "center", f'IF(IFERROR(D{row},1)=0,"{OK}","{changed}")')


def _keep_texts(sheet: SheetBuilder, item: TextWatch) -> str:
    """Set the texts of a table in a column of their own, beside the page; return their range."""
    column = max(ROW_ABOVE, len(sheet.grid.get(KEPT_HEAD_ROW, ()))) + 1
    sheet.put(KEPT_HEAD_ROW, column, Cell(f"{item.label} from these, as estimated", "note"))
    first, last = KEPT_HEAD_ROW + 1, KEPT_HEAD_ROW + len(item.texts)
    for row, text in enumerate(item.texts, first):
        sheet.put(row, column, Cell(text, "plain"))
    return f"{sheet.address(column, first)}:{sheet.address(column, last)}"
