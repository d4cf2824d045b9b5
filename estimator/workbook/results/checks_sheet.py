"""The Checks sheet: control totals, stale inputs, warnings, and where the figures come from."""

import math
from collections.abc import Mapping, Sequence
from dataclasses import replace
from types import MappingProxyType

from estimator.display import FIGURE_LABELS, counted
from estimator.errors import Problem
from estimator.models.estimate import Estimate
from estimator.models.joint import Source
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
from estimator.workbook.results.control_totals import control_totals
from estimator.workbook.results.light import LIGHT_ROW, OK, light_if_totals_agree
from estimator.workbook.sheet.source import column_letters
from estimator.workbook.sheet.spec import Cell, ConditionalRule, SheetSpec

WIDTHS = (46, 24, 24, 14, 22)
ROW_ABOVE = len(WIDTHS) + 1
"""Column beside the page: the row above each table; the kept texts stand beyond it."""
KEPT_WIDTH = 24
STYLES_SHOWN: Mapping[Shown, str] = MappingProxyType(
    {"text": "text", "date": "date_short", "percent": "pct2", "number": "num3"}
)
CHECK, CHANGED, RATE = "CHECK", "CHANGED", "RATE CHANGED"
STALE = "Inputs changed: run Estimate again"
DISAGREE = "CHECK: totals disagree"
OTHER_CHOICE = "OK; rental or fuel price changed: run Estimate again for the cheapest equipment"
LETTERS_PER_WIDTH = 1.05
LINE_HEIGHT = 15.0


def checks_sheet(context: Context, watched: Sequence[Watch]) -> SheetSpec:
    """Return the Checks sheet; its cell B3 is the overall light that other sheets show."""
    sheet = SheetBuilder(context, "Checks", "Checks")
    sheet.add()
    sheet.add()
    first_total, last_total = _control_totals(sheet)
    _warnings(sheet, context.estimate.warnings)
    _rows_read(sheet, context.places.rows_read_text())
    _sources(sheet, context.estimate)
    first_sum, last_sum = _watched(sheet, watched)
    columns = max(len(sheet.grid[LIGHT_ROW]), ROW_ABOVE)
    agree = all(sheet.value_at(row, 5) == OK for row in range(first_total, last_total + 1))
    good = light_if_totals_agree(context.estimate)
    formula = _light_formula((first_total, last_total), (first_sum, last_sum), good)
    count = len(context.estimate.warnings)
    sheet.put(
        LIGHT_ROW,
        1,
        Cell("Overall status", "key"),
        Cell(good if agree else DISAGREE, "ok", formula),
        Cell(f"{counted(count, 'warning')} below" if count else "no warnings", "note"),
    )
    return replace(
        sheet.spec(),
        widths=(*WIDTHS, *[KEPT_WIDTH] * (columns - len(WIDTHS))),
        freeze=(LIGHT_ROW, 0),
        landscape=False,
        print_area=f"$A$1:${column_letters(len(WIDTHS))}${last_sum}",
        conditional=(
            ConditionalRule(f"B{LIGHT_ROW}", "formula", f'$B${LIGHT_ROW}<>"{OK}"', "warn"),
            *(
                ConditionalRule(f"E{first_total}:E{last_sum}", "text equals", result, "warn")
                for result in (CHECK, CHANGED, RATE)
            ),
        ),
    )


def _light_formula(totals: tuple[int, int], sums: tuple[int, int], good: str) -> str:
    def count(rows: tuple[int, int], result: str) -> str:
        return f'COUNTIF($E${rows[0]}:$E${rows[1]},"{result}")>0'

    otherwise = f'IF({count(sums, RATE)},"{OTHER_CHOICE}","{good}")' if good == OK else f'"{good}"'
    return (
        f'IF({count(totals, CHECK)},"{DISAGREE}",IF({count(sums, CHANGED)},"{STALE}",{otherwise}))'
    )


def _head(sheet: SheetBuilder, *titles: str) -> int:
    return sheet.add(*(Cell(title, "header") for title in titles))


def _control_totals(sheet: SheetBuilder) -> tuple[int, int]:
    sheet.section("Control totals", len(WIDTHS))
    first = (
        _head(
            sheet, "Totals that must agree", "First total", "Second total", "Difference", "Result"
        )
        + 1
    )
    for total in control_totals(sheet.context):
        row = sheet.next_row
        sheet.add(
            Cell(total.label, "text"),
            Cell(total.one, "num2", total.one_formula),
            Cell(total.other, "num2", total.other_formula),
            Cell(total.one - total.other, "num2", f"B{row}-C{row}"),
            Cell(
                OK if abs(total.one - total.other) < total.tolerance else CHECK,
                "center",
                f'IF(ABS(D{row})<{total.tolerance},"{OK}","{CHECK}")',
            ),
        )
    last = sheet.last_row
    sheet.add()
    return first, last


def _warnings(sheet: SheetBuilder, warnings: Sequence[Problem]) -> None:
    sheet.section(f"Warnings ({len(warnings)})", len(WIDTHS))
    if not warnings:
        sheet.add(Cell("none", "text"))
    else:
        _text_row(sheet, (Cell("Where", "header"),), Cell("Warning", "header"))
    for warning in warnings:
        style = "warn_text" if warning.serious else "text_wrap"
        _text_row(sheet, (Cell(warning.where, "text"),), Cell(warning.message, style))
    sheet.add()


def _rows_read(sheet: SheetBuilder, rows_read: Mapping[str, str]) -> None:
    if not rows_read:
        return
    sheet.section("Rows read from the input tables", len(WIDTHS))
    _text_row(sheet, (Cell("Table", "header"),), Cell("How many, and which", "header"))
    for title, rows in rows_read.items():
        _text_row(sheet, (Cell(title, "text"),), Cell(rows, "text_wrap"))
    sheet.add()


def _text_row(sheet: SheetBuilder, lead: Sequence[Cell], text: Cell) -> None:
    """Append cells and a text that runs across the columns left."""
    first = len(lead) + 1
    blanks = [Cell(None, text.style)] * (len(WIDTHS) - first)
    row = sheet.add(*lead, text, *blanks)
    sheet.merge(row, first, len(WIDTHS))
    letters = sum(WIDTHS[first - 1 :]) * LETTERS_PER_WIDTH
    sheet.heights[row] = LINE_HEIGHT * math.ceil(len(str(text.value)) / letters)


def _sources(sheet: SheetBuilder, estimate: Estimate) -> None:
    sources: dict[Source, None] = {}
    for run in estimate.runs:
        sources.update(dict.fromkeys((*run.geometry.sources, *run.fusion.sources)))
    sheet.section("Sources of the standards' figures", len(WIDTHS))
    head = (Cell("Figure", "header"), Cell("Confidence", "header"))
    _text_row(sheet, head, Cell("Source", "header"))
    for source in sorted(sources, key=lambda s: (FIGURE_LABELS[s.figure], s.text)):
        style = "text" if source.confidence == "confirmed" else "warn_text"
        lead = (Cell(FIGURE_LABELS[source.figure], "text"), Cell(source.confidence, style))
        _text_row(sheet, lead, Cell(source.text, "text_wrap"))
    sheet.add()


def _watched(sheet: SheetBuilder, watched: Sequence[Watch]) -> tuple[int, int]:
    sheet.section("Inputs checked for changes since this estimate", len(WIDTHS))
    head = _head(sheet, "Input", "At estimate", "Now", "Difference", "Result")
    sheet.put(head, ROW_ABOVE, Cell("Row above", "note"))
    for item in watched:
        if isinstance(item, TableWatch):
            _watched_table(sheet, item)
        elif isinstance(item, CellWatch):
            _watched_cell(sheet, item)
        elif isinstance(item, UnitWatch):
            _watched_value(sheet, item.label, item.stored, "text", item.now())
        else:
            _watched_number(sheet, item.label, item.stored, item.now())
    return head + 1, sheet.last_row


def _watched_cell(sheet: SheetBuilder, item: CellWatch) -> None:
    style = STYLES_SHOWN[item.shown]
    _watched_value(sheet, item.label, item.stored, style, item.now(), item.only_choice)


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
    row = _watched_number(sheet, f"{item.label}, rows", item.rows, item.now())
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
    column = max(ROW_ABOVE, len(sheet.grid.get(LIGHT_ROW, ()))) + 1
    sheet.put(LIGHT_ROW, column, Cell(f"{item.label} from these, as estimated", "note"))
    first, last = LIGHT_ROW + 1, LIGHT_ROW + len(item.texts)
    for row, text in enumerate(item.texts, first):
        sheet.put(row, column, Cell(text, "plain"))
    return f"{sheet.address(column, first)}:{sheet.address(column, last)}"
