"""What stands beside the lines of the Plan sheet: by day, by week, labor hours, utilization."""

import datetime as dt
from collections import defaultdict
from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from estimator.cost.labor import night_hours, role_hours
from estimator.models.plan import PlanLine
from estimator.models.rental import Fleet
from estimator.plan.utilization import CrewUse, crew_use, machine_use
from estimator.workbook.results.builder import Scalar, SheetBuilder
from estimator.workbook.results.columns import result_columns
from estimator.workbook.sheet.source import column_letters

GAP = 3.0
MOST_NAMES = 12
WEEK = dt.timedelta(days=7)
ONE_DAY = dt.timedelta(days=1)
TABLES = ("plan", "by_day", "by_week", "labor", "crew_use", "machine_use")
"""Tables of the sheet from left to right, a narrow column between them."""


@dataclass(frozen=True)
class Lines:
    """Absolute ranges of the columns of the plan's lines."""

    date: str
    crew: str
    joints: str
    minutes: str


def left_of(table: str) -> int:
    """Return the number of the first column of a table."""
    before = TABLES[: TABLES.index(table)]
    return 1 + sum(len(result_columns(other)) + 1 for other in before)


def widths() -> tuple[float, ...]:
    """Return the column widths of the whole sheet."""
    found: list[float] = []
    for table in TABLES:
        found += [column.width for column in result_columns(table)] + [GAP]
    return tuple(found[:-1])


def add_by_day(sheet: SheetBuilder, header: int, lines: Lines) -> int:
    """Add the table by day; return its last row."""
    columns, left = result_columns("by_day"), left_of("by_day")
    sheet.put_head(header, left, columns)
    by_date: dict[dt.date, list[PlanLine]] = defaultdict(list)
    for line in sheet.context.estimate.plan.lines:
        by_date[line.date].append(line)
    day, made, so_far_at = (column_letters(left + place) for place in range(3))
    first, row, so_far = header + 1, header, 0
    for row, date in enumerate(sorted(by_date), first):
        joints = sum(line.joints for line in by_date[date])
        so_far += joints
        values: dict[str, Scalar] = {
            "day": date,
            "day_joints": joints,
            "day_cumulative": so_far,
            "who": _who(by_date[date]),
        }
        formulas = {
            "day_joints": f"SUMIF({lines.date},{day}{row},{lines.joints})",
            "day_cumulative": f"SUM({so_far_at}{row - 1},{made}{row})",
        }
        sheet.put(row, left, *sheet.table_cells(columns, values, formulas))
    return row


def _who(lines: Sequence[PlanLine]) -> str:
    """Return which crew makes how many joints on which runs of a day."""
    by_crew: dict[int, dict[str, int]] = defaultdict(dict)
    for line in lines:
        runs = by_crew[line.crew]
        runs[line.run_id] = runs.get(line.run_id, 0) + line.joints
    return "; ".join(
        f"crew {crew}: " + shortened([f"{run} ({made or '+'})" for run, made in runs.items()])
        for crew, runs in sorted(by_crew.items())
    )


def shortened(names: Sequence[str]) -> str:
    """Return names with commas, the first dozen of many.

    >>> shortened(["R1", "R2"])
    'R1, R2'
    """
    more = len(names) - MOST_NAMES
    shown = ", ".join(names[:MOST_NAMES])
    return f"{shown} and {more} more" if more > 0 else shown


def add_by_week(sheet: SheetBuilder, header: int, last: int) -> None:
    """Add the table by week, Monday to Sunday: what begins and ends, and what equipment comes."""
    columns, left = result_columns("by_week"), left_of("by_week")
    sheet.put_head(header, left, columns)
    start, end = column_letters(left), column_letters(left + 1)
    of_days = left_of("by_day")
    days, made = (
        f"${column_letters(of_days + n)}${header + 1}:${column_letters(of_days + n)}${last}"
        for n in (0, 1)
    )
    for row, values in enumerate(_weeks(sheet), header + 1):
        before, after = (
            f'SUMIF({days},"{sign}"&{cell}{row},{made})'
            for sign, cell in ((">=", start), (">", end))
        )
        formulas = {"joints": f"{before}-{after}"}
        sheet.put(row, left, *sheet.table_cells(columns, values, formulas))


def _weeks(sheet: SheetBuilder) -> Iterator[dict[str, Scalar]]:
    plan, spans = sheet.context.estimate.plan, sheet.context.run_spans
    dates: dict[dt.date, set[dt.date]] = defaultdict(set)
    joints: dict[dt.date, int] = defaultdict(int)
    begun: dict[dt.date, list[str]] = defaultdict(list)
    ended: dict[dt.date, list[str]] = defaultdict(list)
    for line in plan.lines:
        dates[_monday(line.date)].add(line.date)
        joints[_monday(line.date)] += line.joints
    for span in spans.values():
        begun[_monday(span.first)].append(span.run_id)
        ended[_monday(span.last)].append(span.run_id)
    equipment = _equipment(sheet.context.estimate.fleet)
    week, last = min({*dates, *equipment}), max({*dates, *equipment})
    while week <= last:
        yield {
            "week": week,
            "until": week + WEEK - ONE_DAY,
            "days": len(dates[week]),
            "joints": joints[week],
            "begun": shortened(begun[week]) or None,
            "ended": shortened(ended[week]) or None,
            "equipment": shortened(equipment[week]) or None,
        }
        week += WEEK


def _equipment(fleet: Fleet) -> dict[dt.date, list[str]]:
    """Return by week which fusion machines come on rent and go off rent, and when."""
    moves = [
        (date, f"{span.class_id} {way} rent {date:%a %b %d} (crew {span.crew})")
        for span in fleet.spans
        if span.kind == "machine"
        for date, way in ((span.on_rent, "on"), (span.off_rent, "off"))
    ]
    found: dict[dt.date, list[str]] = defaultdict(list)
    for date, text in sorted(moves):
        found[_monday(date)].append(text)
    return found


def _monday(date: dt.date) -> dt.date:
    return date - ONE_DAY * date.weekday()


def add_labor_and_use(sheet: SheetBuilder, header: int, lines: Lines) -> int:
    """Add labor hours and the use of crews and machines; return the last row of them."""
    crews = _crew_use(sheet, header, lines)
    return max(_labor(sheet, header), crews, _machine_use(sheet, header))


def _labor(sheet: SheetBuilder, header: int) -> int:
    columns, left = result_columns("labor"), left_of("labor")
    sheet.put_head(header, left, columns)
    row, job, plan = header, sheet.context.estimate.job, sheet.context.estimate.plan
    hours = zip(role_hours(job, plan), night_hours(job, plan), strict=True)
    for row, ((role, straight, overtime), (_, night)) in enumerate(hours, header + 1):
        values: dict[str, Scalar] = {
            "role": role.role,
            "straight": straight,
            "overtime": overtime,
            "night": night,
        }
        sheet.put(row, left, *sheet.table_cells(columns, values))
        for place, kind in enumerate(("straight", "overtime", "night"), left + 1):
            sheet.anchor(f"plan.{kind}.{role.role}", place, row)
    return row


def _crew_use(sheet: SheetBuilder, header: int, lines: Lines) -> int:
    columns, left = result_columns("crew_use"), left_of("crew_use")
    sheet.put_head(header, left, columns)
    at = {column.key: column_letters(n) for n, column in enumerate(columns, left)}
    hours_column = left + [column.key for column in columns].index("crew_hours")
    row, estimate = header, sheet.context.estimate
    for row, use in enumerate(crew_use(estimate.job, estimate.plan), header + 1):
        minutes, available = (f"{at[key]}{row}" for key in ("minutes", "available"))
        formulas = {
            "minutes": f"SUMIF({lines.crew},{at['crew']}{row},{lines.minutes})",
            "share": f"IF({available}=0,0,{minutes}/{available})",
        }
        sheet.put(row, left, *sheet.table_cells(columns, _use_values(use), formulas))
        sheet.anchor(f"plan.crew_hours.{use.crew}", hours_column, row)
    return row


def _use_values(use: CrewUse) -> dict[str, Scalar]:
    return {
        "crew": use.crew,
        "work_days": use.work_days,
        "weather_days": use.weather_days,
        "labor_hours": use.labor_hours,
        "crew_hours": use.crew_hours,
        "minutes": use.minutes,
        "available": use.available_min,
        "share": use.minutes / use.available_min if use.available_min else 0.0,
    }


def _machine_use(sheet: SheetBuilder, header: int) -> int:
    columns, left = result_columns("machine_use"), left_of("machine_use")
    sheet.put_head(header, left, columns)
    used, rented = (column_letters(left + place) for place in (1, 2))
    row = header
    for row, use in enumerate(machine_use(sheet.context.estimate.fleet), header + 1):
        values: dict[str, Scalar] = {
            "class_id": use.class_id,
            "days_in_use": use.days_in_use,
            "days_on_rent": use.days_on_rent,
            "share": use.days_in_use / use.days_on_rent,
        }
        formulas = {"share": f"{used}{row}/{rented}{row}"}
        sheet.put(row, left, *sheet.table_cells(columns, values, formulas))
    return row
