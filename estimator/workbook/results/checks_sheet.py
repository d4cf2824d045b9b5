"""The Checks sheet: control totals, stale inputs, warnings, and where the figures come from."""

import math
from collections.abc import Sequence
from dataclasses import replace

from estimator.display import FIGURE_LABELS
from estimator.errors import Problem
from estimator.models.estimate import Estimate
from estimator.models.joint import Source
from estimator.workbook.checksum import InputSum
from estimator.workbook.results.builder import Context, SheetBuilder
from estimator.workbook.sheet_spec import Cell, ConditionalRule, SheetSpec

WIDTHS = (46, 24, 24, 14, 22)
OK, CHECK, CHANGED = "OK", "CHECK", "CHANGED"
STALE = "Inputs changed: estimate again"
DISAGREE = "CHECK: totals disagree"
LIGHT_ROW = 3
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
    agree = all(sheet.grid[row][5].value == OK for row in range(first_total, last_total + 1))
    stale = f'COUNTIF($E${first_sum}:$E${last_sum},"{CHANGED}")'
    wrong = f'COUNTIF($E${first_total}:$E${last_total},"{CHECK}")'
    formula = f'IF({wrong}>0,"{DISAGREE}",IF({stale}>0,"{STALE}","{OK}"))'
    count = len(context.estimate.warnings)
    sheet.put(
        LIGHT_ROW,
        1,
        Cell("Overall", "key"),
        Cell(OK if agree else DISAGREE, "ok", formula),
        Cell(f"{count} warning{'s' * (count != 1)} below" if count else "no warnings", "note"),
    )
    return replace(
        sheet.spec(),
        widths=WIDTHS,
        freeze=(LIGHT_ROW, 0),
        landscape=False,
        conditional=(
            ConditionalRule(f"B{LIGHT_ROW}", "formula", f'$B${LIGHT_ROW}<>"{OK}"', "warn"),
            ConditionalRule(
                f"E{first_total}:E{last_sum}", "formula",
                f'OR($E{first_total}="{CHECK}",$E{first_total}="{CHANGED}")', "warn",
            ),
        ),
    )  # fmt: skip


def _head(sheet: SheetBuilder, *titles: str) -> int:
    return sheet.add(*(Cell(title, "header") for title in titles))


def _control_totals(sheet: SheetBuilder) -> tuple[int, int]:
    context, at = sheet.context, sheet.context.anchors
    estimate = context.estimate
    runs = estimate.runs
    butt = estimate.butt_joints
    by_day = sum(line.joints for line in estimate.plan.lines)
    outside = sum(run.tie_ins for run in estimate.job.runs)
    parts = sum(r.count.stick_joints + r.count.fitting_joints for r in runs) + outside
    roles = _labour_references(context)
    hours_by_run = sum(estimate.crew_hours.values())
    hours_by_role = estimate.total_crew_hours
    bid = estimate.bid
    job_cost = float(bid.job_cost)
    price = float(bid.price)
    sheet.section("Control totals", len(WIDTHS))
    first = _head(sheet, "What must agree", "One way", "Another way", "Difference", "Result") + 1
    for label, one, one_at, other, other_at, tolerance in (
        ("Butt joints: by run, by day", butt, at["joints.butt_joints"],
         by_day, at["plan.joints"], 0.5),
        ("Butt joints: by run, by crew", butt, at["joints.butt_joints"],
         by_day, _by_crew(context), 0.5),
        ("Butt joints: total, sticks + fittings + tie-ins", butt, at["joints.butt_joints"],
         parts, f"{at['joints.stick_joints']}+{at['joints.fitting_joints']}+{outside}", 0.5),
        ("Remade joints: by run, by day", sum(r.count.remade_joints for r in runs),
         at["joints.remade_joints"], sum(ln.remade_joints for ln in estimate.plan.lines),
         at["plan.remade_joints"], 0.5),
        ("Crew-hours: by run, by role", hours_by_run, at["joints.crew_hours"],
         hours_by_role, "+".join(roles), 0.1),
        ("Job cost: by line, by type", job_cost, at["cost.job"],
         job_cost, at["cost.by_type"], 0.005),
        ("Job cost: Cost sheet, Bid sheet", job_cost, at["cost.job"],
         job_cost, at["bid.job"], 0.005),
        ("Bid price: by steps, by size", price, at["bid.price"],
         price, at["bid.by_size"], 0.005),
    ):  # fmt: skip
        row = sheet.next_row
        sheet.add(
            Cell(label, "text"),
            Cell(one, "num2", one_at),
            Cell(other, "num2", other_at),
            Cell(one - other, "num2", f"B{row}-C{row}"),
            Cell(
                OK if abs(one - other) < tolerance else CHECK,
                "centre",
                f'IF(ABS(D{row})<{tolerance},"{OK}","{CHECK}")',
            ),
        )
    last = sheet.last_row
    sheet.add()
    return first, last


def _labour_references(context: Context) -> list[str]:
    return [
        reference
        for name, reference in context.anchors.items()
        if name.startswith(("plan.straight.", "plan.overtime."))
    ]


def _by_crew(context: Context) -> str:
    crews, joints = context.anchors["plan.column.crew"], context.anchors["plan.column.joints"]
    return "+".join(
        f"SUMIF({crews},{crew},{joints})"
        for crew in sorted({line.crew for line in context.estimate.plan.lines})
    )


def _warnings(sheet: SheetBuilder, warnings: Sequence[Problem]) -> None:
    sheet.section(f"Warnings ({len(warnings)})", len(WIDTHS))
    if not warnings:
        sheet.add(Cell("none", "text"))
    else:
        _text_row(sheet, (Cell("Where", "header"),), Cell("What", "header"))
    for warning in warnings:
        _text_row(sheet, (Cell(warning.where, "text"),), Cell(warning.message, "text_wrap"))
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
            Cell(OK, "centre", f'IF(D{row}=0,"{OK}","{CHANGED}")'),
        )
    return first, sheet.last_row
