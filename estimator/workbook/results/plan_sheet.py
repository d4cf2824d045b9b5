"""The Plan sheet: what each crew does on each day, a table to filter; not one to print."""

import datetime as dt
from collections import Counter, defaultdict
from collections.abc import Iterator, Sequence
from dataclasses import replace
from itertools import accumulate
from operator import itemgetter
from typing import NamedTuple

from estimator.models.estimate import Estimate
from estimator.models.plan import CrewDay, Plan, PlanLine
from estimator.plan.by_week import share_done
from estimator.plan.paid_shifts import labor_hours_of
from estimator.steps.cells import row_formula
from estimator.workbook.results.builder import Context, Scalar, SheetBuilder
from estimator.workbook.results.result_columns import ResultColumn, result_columns
from estimator.workbook.results.shown_sums import add_up_as_shown
from estimator.workbook.sheet.blocks import ABOVE, ROW
from estimator.workbook.sheet.source import column_letters
from estimator.workbook.sheet.spec import Cell, ConditionalRule, SheetSpec

ANCHORED = ("date", "run_id", "crew", "joints", "tie_in_joints", "minutes", "labor_hours")
"""Columns that other sheets add up."""

OF_WHAT = "of the days below"
"""What the total sums; it stands above the days, so that a filter leaves it in sight."""

SHARE_DIGITS = 3
"""Decimals of the part that is done: a tenth of a percent is shown."""

ShiftKey = tuple[object, int, str]


def plan_sheet(context: Context) -> SheetSpec:
    """Return the Plan sheet; anchors ``plan.*`` point at its totals and columns."""
    sheet = SheetBuilder(context, "Plan", "Plan by day")
    columns = _columns(context)
    sheet.add()
    total_row = sheet.add()
    header = sheet.table_head(columns)
    sheet.add_table(columns, _values(context.estimate), _formulas(header))
    sheet.put_totals(total_row, columns, header + 1, "plan")
    sheet.put(total_row, _number("description"), Cell(OF_WHAT, "total_text"))
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


def _columns(context: Context) -> Sequence[ResultColumn]:
    """Return the columns; the date has its year only where it is needed."""
    first, *others = result_columns("plan")
    return [first if context.spans_years else replace(first, style="weekday_date"), *others]


def _formulas(header: int) -> dict[str, str]:
    """Return the formulas of every row: joints so far, and their share of all."""
    joints, cumulative = _letters("joints"), _letters("cumulative")
    share = row_formula(share_done.worked(1, 1))
    total_cell = f"{joints}${header - 1}"
    share = share.format(so_far=f"{cumulative}{ROW}", butt_joints=total_cell)
    return {
        "cumulative": f"SUM({cumulative}{ABOVE},{joints}{ROW})",
        "share": f"ROUNDDOWN({share},{SHARE_DIGITS})",
    }


def _values(estimate: Estimate) -> dict[str, Sequence[Scalar]]:
    """Return the plan's lines with the crews' lost days among them, column by column."""
    lines = _day_lines(estimate)
    total = estimate.butt_joints
    so_far = list(accumulate(line.joints or 0 for line in lines))
    return {
        **{key: [one[at] for one in lines] for at, key in enumerate(_DayLine._fields)},
        "cumulative": so_far,
        "share": [_rounded_down(joints, total) for joints in so_far],
    }


def _rounded_down(so_far: int, butt_joints: int) -> float:
    """Return the part that is done as shown: all of it is none before the last joint.

    >>> _rounded_down(3286, 3287), _rounded_down(29, 100), _rounded_down(0, 0)
    (0.999, 0.29, 0.0)
    """
    steps = 10**SHARE_DIGITS
    return share_done(so_far * steps // butt_joints, steps) if butt_joints else 0.0


class _DayLine(NamedTuple):
    """A line of the sheet, by the columns of its table."""

    date: dt.date
    crew: int
    shift: str
    run_id: str | None = None
    description: str | None = None
    machine: str | None = None
    joints: int | None = None
    tie_in_joints: int | None = None
    rework_joints: int | None = None
    test_joints: int | None = None
    other_joints: int | None = None
    moves: str | None = None
    minutes: float | None = None
    labor_hours: float = 0.0


def _day_lines(estimate: Estimate) -> Sequence[_DayLine]:
    """Return the lines of the sheet by date and crew, work before lost days."""
    names = {run.run_id: run.description for run in estimate.job.runs}
    lines = [
        _of_work(line, names[line.run_id], hours)
        for line, hours in zip(estimate.plan.lines, _labor_hours(estimate.plan), strict=True)
    ]
    lines += [_of_lost(day) for day in estimate.plan.crew_days if day.kind != "work"]
    return _in_whole_minutes(sorted(lines, key=itemgetter(0, 1)))


def _in_whole_minutes(lines: Sequence[_DayLine]) -> Sequence[_DayLine]:
    """Return the lines with minutes as shown; those of each crew add up to its total."""
    minutes: dict[int, list[float]] = defaultdict(list)
    for line in lines:
        minutes[line.crew].append(line.minutes or 0.0)
    shown = {crew: iter(add_up_as_shown(every, 0)) for crew, every in minutes.items()}
    whole = [next(shown[line.crew]) for line in lines]
    return [
        line if line.minutes is None else line._replace(minutes=each)
        for line, each in zip(lines, whole, strict=True)
    ]


def _labor_hours(plan: Plan) -> Iterator[float]:
    """Yield the part of its paid shift that each line takes."""
    paid = {_shift(day): (day, dict(day.run_minutes), day.all_minutes) for day in plan.crew_days}
    for line in plan.lines:
        day, minutes, of_all = paid[_shift(line)]
        yield labor_hours_of(day, minutes[line.run_id], of_all)


def _shift(one: CrewDay | PlanLine) -> ShiftKey:
    return one.date, one.crew, one.shift


def _of_lost(day: CrewDay) -> _DayLine:
    description = "Weather day (allowance)"
    if day.hold is not None:
        description = f"Hold: {day.hold.cause}, charged to {day.hold.charge_to}"
    return _DayLine(
        day.date, day.crew, day.shift, description=description, labor_hours=day.labor_hours
    )


def _of_work(line: PlanLine, description: str | None, labor_hours: float) -> _DayLine:
    return _DayLine(
        date=line.date,
        crew=line.crew,
        shift=line.shift,
        run_id=line.run_id,
        description=description,
        machine=line.machine,
        joints=line.joints or None,
        tie_in_joints=line.tie_in_joints or None,
        rework_joints=line.rework_joints or None,
        test_joints=line.test_joints or None,
        other_joints=line.other_joints or None,
        moves=moves_text(line.moves) or None,
        minutes=line.minutes,
        labor_hours=labor_hours,
    )


def moves_text(moves: Sequence[str]) -> str:
    """Return the moves of a shift, several alike by their number.

    >>> moves_text(["move", "machine change-out", "move"])
    'move x 2, machine change-out'
    """
    counts = Counter(moves).items()
    return ", ".join(f"{name} x {number}" if number > 1 else name for name, number in counts)


def _anchor_columns(sheet: SheetBuilder, header: int) -> None:
    for key in ANCHORED:
        first = sheet.reference(_number(key), header + 1)
        last = sheet.address(_number(key), sheet.last_row)
        sheet.context.anchors[f"plan.column.{key}"] = f"{first}:{last}"


def _number(key: str) -> int:
    return [column.key for column in result_columns("plan")].index(key) + 1


def _letters(key: str) -> str:
    return column_letters(_number(key))
