"""The Plan sheet: what each crew does on each day, with the S-curve."""

import datetime as dt
from collections.abc import Iterator
from dataclasses import replace

from estimator.cost import days_late
from estimator.cost.lines import person_days, site_days
from estimator.display import counted
from estimator.models.estimate import Estimate
from estimator.models.plan import CrewDay, PlanLine
from estimator.workbook.results import plan_side
from estimator.workbook.results.builder import Context, Scalar, SheetBuilder
from estimator.workbook.results.columns import result_columns
from estimator.workbook.sheet.look import INK
from estimator.workbook.sheet.source import column_letters
from estimator.workbook.sheet.spec import Cell, ChartSpec, ConditionalRule, SheetSpec

SUMMARY_ROW = 3


def plan_sheet(context: Context) -> SheetSpec:
    """Return the Plan sheet; anchors ``plan.*`` point at its totals, hours and days."""
    sheet = SheetBuilder(context, "Plan", "Plan")
    columns = result_columns("plan")
    _summary(sheet, context)
    total_row = sheet.add()
    header = sheet.table_head(columns)
    for values, formulas in _lines(context, header):
        sheet.table_row(columns, values, formulas)
    sheet.put_totals(total_row, columns, header + 1, "plan")
    _anchor_columns(sheet, header)
    lines = _lines_at(sheet, header)
    first, last = header + 1, sheet.last_row
    by_day_last = plan_side.add_by_day(sheet, header, lines)
    plan_side.add_by_week(sheet, header, by_day_last)
    side_last = plan_side.add_labor_and_use(sheet, header, lines)
    return replace(
        sheet.spec(),
        widths=plan_side.widths(),
        freeze=(header, 1),
        header_row=header,
        print_area=f"$A$1:${column_letters(len(columns))}${last}",
        autofilter=f"A{header}:{column_letters(len(columns))}{last}",
        conditional=(
            ConditionalRule(f"A{first}:A{last}", "formula", f"$A{first}=$A{header}", "repeated"),
        ),
        charts=(_s_curve(sheet, header, by_day_last, side_last),),
    )


def _summary(sheet: SheetBuilder, context: Context) -> None:
    estimate = context.estimate
    plan = estimate.plan
    weather = len({day.date for day in plan.crew_days if day.kind == "weather"})
    on_time = estimate.job.dates.deadline is None or estimate.finish <= estimate.job.dates.deadline
    joined = "Fusion finish" if estimate.tests else "Finish"
    late = days_late(estimate.job, estimate.finish)
    facts_shown: list[tuple[str, Scalar, str, str]] = [
        ("Start", plan.start, "key_date", "plan.start"),
        (joined, plan.finish, "key_date", "plan.finish"),
        (
            "Deadline",
            _deadline_text(estimate.job.dates.deadline, estimate.finish),
            "text" if on_time else "warn",
            "",
        ),
        ("Days worked", plan.work_days, "key_int", "plan.work_days"),
        ("Weather days", weather, "key_int", "plan.weather_days"),
        ("Paid site days", site_days(plan), "key_int", "plan.site_days"),
        ("Person-days", person_days(plan), "key_num2", "plan.person_days"),
        ("Calendar days late", late, "key_int", "plan.days_late"),
    ]
    for column, (label, value, style, anchor) in enumerate(facts_shown, 1):
        sheet.put(SUMMARY_ROW, column, Cell(label, "header"))
        sheet.put(SUMMARY_ROW + 1, column, Cell(value, style))
        if anchor:
            sheet.anchor(anchor, column, SUMMARY_ROW + 1)
    sheet.heights[SUMMARY_ROW] = 30
    sheet.last_row = SUMMARY_ROW + 1
    if estimate.tests:
        sheet.add(Cell("Finish with hydrotests", "header"), Cell(estimate.finish, "key_date"))


def _deadline_text(deadline: dt.date | None, finish: dt.date) -> str:
    if deadline is None:
        return "none"
    days = (deadline - finish).days
    late = (
        f"missed by {counted(-days, 'calendar day')}"
        if days < 0
        else f"met with {counted(days, 'calendar day')} to spare"
    )
    return f"{deadline:%a %d %b %Y}: {late}"


def _lines(
    context: Context, header: int
) -> Iterator[tuple[dict[str, Scalar], dict[str, str | None]]]:
    estimate = context.estimate
    total = estimate.butt_joints
    so_far = 0
    joints = _letters("joints")
    cumulative = _letters("cumulative")
    total_cell = f"{joints}${header - 1}"
    for row, values in enumerate(_day_rows(estimate), header + 1):
        so_far += int(str(values.get("joints") or 0))
        values["cumulative"] = so_far
        values["share"] = so_far / total if total else 0.0
        yield (
            values,
            {
                "cumulative": f"SUM({cumulative}{row - 1},{joints}{row})",
                "share": f"IF({total_cell}=0,0,{cumulative}{row}/{total_cell})",
            },
        )


def _day_rows(estimate: Estimate) -> list[dict[str, Scalar]]:
    """Return the plan's lines with the crews' lost days among them, by date and crew."""
    names = {run.run_id: run.description for run in estimate.job.runs}
    worked = [(ln.date, ln.crew, _values(ln, names[ln.run_id])) for ln in estimate.plan.lines]
    lost = [
        (day.date, day.crew, _lost_values(day))
        for day in estimate.plan.crew_days
        if day.kind != "work"
    ]
    return [row for _, _, row in sorted(worked + lost, key=lambda entry: entry[:2])]


def _lost_values(day: CrewDay) -> dict[str, Scalar]:
    told = "Weather day (allowance)"
    if day.hold is not None:
        told = f"Hold: {day.hold.cause}, charged to {day.hold.charge_to}"
    return {"date": day.date, "crew": day.crew, "shift": day.shift, "description": told}


def _values(line: PlanLine, description: str | None) -> dict[str, Scalar]:
    return {
        "date": line.date,
        "run_id": line.run_id,
        "description": description,
        "crew": line.crew,
        "shift": line.shift,
        "machine": line.machine,
        "joints": line.joints or None,
        "tie_in_joints": line.tie_in_joints or None,
        "rework_joints": line.rework_joints or None,
        "test_joints": line.test_joints or None,
        "other_joints": line.other_joints or None,
        "moves": ", ".join(line.moves) or None,
        "minutes": line.minutes,
    }


def _anchor_columns(sheet: SheetBuilder, header: int) -> None:
    for key in ("crew", "joints"):
        first = sheet.reference(_number(key), header + 1)
        last = sheet.address(_number(key), sheet.last_row)
        sheet.context.anchors[f"plan.column.{key}"] = f"{first}:{last}"


def _lines_at(sheet: SheetBuilder, header: int) -> plan_side.Lines:
    """Return where the columns of the lines are that other blocks add up."""
    rows = f"${header + 1}:${{0}}${sheet.last_row}"

    def cells(key: str) -> str:
        return f"${_letters(key)}{rows.format(_letters(key))}"

    return plan_side.Lines(cells("date"), cells("crew"), cells("joints"), cells("minutes"))


def _number(key: str) -> int:
    return [column.key for column in result_columns("plan")].index(key) + 1


def _letters(key: str) -> str:
    return column_letters(_number(key))


def _s_curve(sheet: SheetBuilder, header: int, last: int, side_last: int) -> ChartSpec:
    def column(number: int) -> str:
        start = sheet.reference(number, header + 1)
        return f"{start}:{sheet.address(number, last)}"

    top = side_last + 2
    return ChartSpec(
        kind="line",
        title="Cumulative butt joints",
        x_title="Date",
        y_title="Joints",
        categories=column(plan_side.left_of("by_day")),
        series=(("Joints to date", column(plan_side.left_of("by_day") + 2), INK),),
        anchor=(
            f"{column_letters(plan_side.left_of('labor'))}{top}",
            f"{column_letters(plan_side.left_of('labor') + 8)}{top + 20}",
        ),
    )
