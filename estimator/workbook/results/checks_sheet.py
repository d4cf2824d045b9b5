"""The Checks sheet: control totals, stale inputs, warnings, and where the figures come from."""

import math
from collections.abc import Sequence
from dataclasses import replace

from estimator.display import FIGURE_LABELS
from estimator.errors import Problem
from estimator.models.estimate import Estimate
from estimator.models.joint import Source
from estimator.workbook.read.checksum import InputSum
from estimator.workbook.results.builder import Context, SheetBuilder
from estimator.workbook.results.control_totals import control_totals
from estimator.workbook.results.light import LIGHT_ROW, OK, light_if_totals_agree
from estimator.workbook.sheet.spec import Cell, ConditionalRule, SheetSpec

WIDTHS = (46, 24, 24, 14, 22)
CHECK, CHANGED, RATE = "CHECK", "CHANGED", "RATE CHANGED"
STALE = "Inputs changed: estimate again"
DISAGREE = "CHECK: totals disagree"
OTHER_CHOICE = "OK; rental or fuel price changed, estimate again for the cheapest choice"
LETTERS_PER_WIDTH = 1.05
LINE_HEIGHT = 15.0


def checks_sheet(context: Context, sums: Sequence[InputSum]) -> SheetSpec:
    """Return the Checks sheet; its cell B3 is the overall light that other sheets show."""
    sheet = SheetBuilder(context, "Checks", "Checks")
    sheet.add()
    sheet.add()
    first_total, last_total = _control_totals(sheet)
    _warnings(sheet, context.estimate.warnings)
    _sources(sheet, context.estimate)
    first_sum, last_sum = _input_sums(sheet, sums)
    agree = all(sheet.value_at(row, 5) == OK for row in range(first_total, last_total + 1))
    good = light_if_totals_agree(context.estimate)
    formula = _light_formula((first_total, last_total), (first_sum, last_sum), good)
    count = len(context.estimate.warnings)
    sheet.put(
        LIGHT_ROW,
        1,
        Cell("Overall", "key"),
        Cell(good if agree else DISAGREE, "ok", formula),
        Cell(f"{count} warning{'s' * (count != 1)} below" if count else "no warnings", "note"),
    )
    return replace(
        sheet.spec(),
        widths=WIDTHS,
        freeze=(LIGHT_ROW, 0),
        landscape=False,
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
    first = _head(sheet, "What must agree", "One way", "Another way", "Difference", "Result") + 1
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
        _text_row(sheet, (Cell("Where", "header"),), Cell("What", "header"))
    for warning in warnings:
        style = "warn_text" if warning.serious else "text_wrap"
        _text_row(sheet, (Cell(warning.where, "text"),), Cell(warning.message, style))
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
    sheet.section("Where the standards' figures come from", len(WIDTHS))
    head = (Cell("Figure", "header"), Cell("How sure", "header"))
    _text_row(sheet, head, Cell("Source", "header"))
    for source in sorted(sources, key=lambda s: (FIGURE_LABELS[s.figure], s.text)):
        style = "text" if source.confidence == "confirmed" else "warn_text"
        lead = (Cell(FIGURE_LABELS[source.figure], "text"), Cell(source.confidence, style))
        _text_row(sheet, lead, Cell(source.text, "text_wrap"))
    sheet.add()


def _input_sums(sheet: SheetBuilder, sums: Sequence[InputSum]) -> tuple[int, int]:
    sheet.section("Inputs watched for change since this estimate", len(WIDTHS))
    first = _head(sheet, "Input", "As estimated", "Now", "Difference", "Result") + 1
    for item in sums:
        row = sheet.next_row
        sheet.add(
            Cell(item.label, "text"),
            Cell(item.stored, "int"),
            Cell(item.stored, "int", item.formula),
            Cell(0, "int", f"C{row}-B{row}"),
            Cell(OK, "center", f'IF(D{row}=0,"{OK}","{RATE if item.only_choice else CHANGED}")'),
        )
    return first, sheet.last_row
