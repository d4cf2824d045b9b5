"""The Plan sheet: what each crew does on each day, a table to filter; not one to print."""

from collections.abc import Iterator, Mapping
from dataclasses import replace

from estimator.models.estimate import Estimate
from estimator.models.plan import CrewDay, PlanLine
from estimator.plan.by_week import share_done
from estimator.plan.paid_shifts import labor_hours_of
from estimator.steps.cells import row_formula
from estimator.workbook.results.builder import Context, Scalar, SheetBuilder
from estimator.workbook.results.result_columns import result_columns
from estimator.workbook.sheet.source import column_letters
from estimator.workbook.sheet.spec import ConditionalRule, SheetSpec

ANCHORED = ("date", "run_id", "crew", "joints", "tie_in_joints", "minutes", "labor_hours")
"""Columns that other sheets add up."""

ShiftKey = tuple[object, int, str]


def plan_sheet(context: Context) -> SheetSpec:
    """Return the Plan sheet; anchors ``plan.*`` point at its totals and columns."""
    sheet = SheetBuilder(context, "Plan", "Plan by day")
    columns = result_columns("plan")
    sheet.add()
    total_row = sheet.add()
    header = sheet.table_head(columns)
    for values, formulas in _lines(context, header):
        sheet.table_row(columns, values, formulas)
    sheet.put_totals(total_row, columns, header + 1, "plan")
    _anchor_columns(sheet, header)
    first, last = header + 1, sheet.last_row
    return replace(
        sheet.spec(),
        widths=tuple(column.width for column in columns),
        freeze=(header, 1),
        closes_up=True,
        header_row=header,
        autofilter=f"A{header}:{column_letters(len(columns))}{last}",
        conditional=(
            ConditionalRule(f"A{first}:A{last}", "formula", f"$A{first}=$A{header}", "repeated"),
        ),
    )


def _lines(
    context: Context, header: int
) -> Iterator[tuple[dict[str, Scalar], dict[str, str | None]]]:
    estimate = context.estimate
    total = estimate.butt_joints
    so_far = 0
    joints = _letters("joints")
    cumulative = _letters("cumulative")
    share = row_formula(share_done.worked(1, 1))
    total_cell = f"{joints}${header - 1}"
    for row, values in enumerate(_day_rows(estimate), header + 1):
        so_far += int(str(values.get("joints") or 0))
        values["cumulative"] = so_far
        values["share"] = share_done(so_far, total)
        yield (
            values,
            {
                "cumulative": f"SUM({cumulative}{row - 1},{joints}{row})",
                "share": share.format(so_far=f"{cumulative}{row}", butt_joints=total_cell),
            },
        )


def _day_rows(estimate: Estimate) -> list[dict[str, Scalar]]:
    """Return the plan's lines with the crews' lost days among them, by date and crew."""
    names = {run.run_id: run.description for run in estimate.job.runs}
    paid = {_shift(day): day for day in estimate.plan.crew_days}
    worked = [
        (ln.date, ln.crew, _values(ln, names[ln.run_id], _labor_hours(ln, paid)))
        for ln in estimate.plan.lines
    ]
    lost = [
        (day.date, day.crew, _lost_values(day))
        for day in estimate.plan.crew_days
        if day.kind != "work"
    ]
    return [row for _, _, row in sorted(worked + lost, key=lambda entry: entry[:2])]


def _shift(one: CrewDay | PlanLine) -> ShiftKey:
    return one.date, one.crew, one.shift


def _labor_hours(line: PlanLine, paid: Mapping[ShiftKey, CrewDay]) -> float:
    day = paid[_shift(line)]
    return labor_hours_of(day, dict(day.run_minutes)[line.run_id], day.all_minutes)


def _lost_values(day: CrewDay) -> dict[str, Scalar]:
    description = "Weather day (allowance)"
    if day.hold is not None:
        description = f"Hold: {day.hold.cause}, charged to {day.hold.charge_to}"
    return {
        "date": day.date,
        "crew": day.crew,
        "shift": day.shift,
        "description": description,
        "labor_hours": day.labor_hours,
    }


def _values(line: PlanLine, description: str | None, labor_hours: float) -> dict[str, Scalar]:
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
        "labor_hours": labor_hours,
    }


def _anchor_columns(sheet: SheetBuilder, header: int) -> None:
    for key in ANCHORED:
        first = sheet.reference(_number(key), header + 1)
        last = sheet.address(_number(key), sheet.last_row)
        sheet.context.anchors[f"plan.column.{key}"] = f"{first}:{last}"


def _number(key: str) -> int:
    return [column.key for column in result_columns("plan")].index(key) + 1


def _letters(key: str) -> str:
    return column_letters(_number(key))
