"""The Plan by week sheet: people, hours, joints, fuel, deliveries and tests of each week."""

import datetime as dt
from collections import Counter, defaultdict
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import replace
from functools import partial
from itertools import pairwise

from estimator.cost import days_late
from estimator.cost.lines import person_days, site_days
from estimator.display import KEPT_BLANK, counted, show_span
from estimator.models.estimate import Estimate
from estimator.models.plan import PlanLine
from estimator.models.weeks import CrewWork, GearMove, Week
from estimator.plan import weeks
from estimator.plan.by_week import share_done
from estimator.steps.cells import row_formula
from estimator.steps.plain import ratio
from estimator.units import from_si
from estimator.workbook.results.builder import Context, Scalar, SheetBuilder
from estimator.workbook.results.equipment_rental import fuel_unit
from estimator.workbook.results.headers_again import with_headers_again
from estimator.workbook.results.names_in_short import in_stretches
from estimator.workbook.results.ready_words import gear
from estimator.workbook.results.result_columns import ResultColumn, result_columns
from estimator.workbook.results.shown_sums import add_up_as_shown
from estimator.workbook.sheet.layout import laid_out
from estimator.workbook.sheet.look import INK, LINE
from estimator.workbook.sheet.page_breaks import pages_down
from estimator.workbook.sheet.source import column_letters
from estimator.workbook.sheet.spec import Cell, ChartSpec, SheetSpec, Value
from estimator.workbook.sheet.styles import RULED_STYLES

SUMMED = ("joints", "tie_ins", "labor_hours")
"""Columns that add up a column of the Plan sheet."""
PLAN_KEYS = {"tie_ins": "tie_in_joints"}
FACTS, FACTS_AT, CHART_AT, FEWEST_IN_CHART = 10, 4, 6, 2
BLOCKS = ((0, 1, 4), (4, 5, 8), (7, 9, 12))
"""Facts side by side: the first of each block, and the columns of its labels and its values."""
FULL_PAGE, GAP = range(21, 43), 7.5
"""Weeks that fill a page of their own, without the curve, and the blank rows on it."""
RUNS, MOVES = 4, 12
"""The columns that name the runs, and what comes and goes."""
CREW = 2
"""The column of the crew in the second table."""
CURVE_AT = 14
"""The first of two columns beside the page, from which the curve is drawn."""
BESIDE = (3.0, 12.0, 8.0)
"""Widths of the columns beside the page."""
LONG, UPRIGHT = 50, 16
"""Letters of runs from which the page lies across, and those that an upright page has room for."""
CURVE_DATES, HIGH_LINES = 6, 3
PROGRESS = "Butt joints complete"
WEEK_ENDS = "Week ends"
NOTE = (
    "People: most on site on one date. M: fusion machine, G: generator, L: lifting; tests by their "
    "section. Days lost: weather allowances by month, no forecasts, and holds. Labor-hours: fusion "
    "crews, overtime and days lost included. Work without a butt joint is in the hours."
)


def week_sheet(context: Context) -> SheetSpec:
    """Return the Plan by week sheet.

    Anchors ``plan.*`` point at dates, days and hours by role and crew, ``weeks.*`` at totals.
    """
    every = weeks(context.estimate)
    build = partial(_sheet, context, every)
    plain = build(frozenset())
    if not _has_crews(every):
        return plain
    return with_headers_again(partial(build, landscape=plain.landscape))


def _sheet(
    context: Context, every: Sequence[Week], again: frozenset[int], landscape: bool | None = None
) -> SheetSpec:
    """Return the sheet; where crews have a table of their own, each has its header ``again``."""
    sheet = SheetBuilder(context, "Plan by week", "Plan by week", again=again)
    columns = result_columns("by_week")
    sheet.result = Cell(_joining(context.estimate), "result")
    is_full = len(every) in FULL_PAGE
    facts = _facts(sheet, is_full=is_full)
    sheet.add(height=GAP if is_full else None)
    header = sheet.table_head(columns, fuel_unit(sheet.context))
    sheet.break_head(header, _number(columns, "test_hours"))
    rows = _weeks(sheet, columns, every, header)
    total = _total(sheet, columns, header + 1)
    _shares(sheet, columns, rows, total)
    _rule_months(sheet, every, rows)
    row = sheet.add(Cell(NOTE, "note"))
    sheet.merge(row, 1, len(columns))
    charts = () if is_full else tuple(_progress(sheet, columns, facts, rows))
    has_crews = _has_crews(every)
    if has_crews:
        _by_crew(sheet, every)
    upright = replace(
        sheet.spec(),
        widths=(*(column.width for column in columns), *BESIDE),
        landscape=False,
        freeze=(header, 1),
        header_row=None if has_crews else header,
        print_area=f"$A$1:${column_letters(len(columns))}${sheet.last_row}",
        charts=charts,
        closes_up=True,
    )
    if landscape is not None:
        return replace(upright, landscape=landscape)
    across = replace(upright, landscape=True)
    is_across = _lies_across(sheet, rows) or _is_lower(across, upright, rows)
    return across if is_across else upright


def _is_lower(across: SheetSpec, upright: SheetSpec, weeks_at: Sequence[int]) -> bool:
    """Return whether pages across have low rows where upright ones have high ones, and no more.

    Weeks in which much comes and goes take three lines or more on a narrow page.
    """
    narrow = laid_out(upright)
    pages = pages_down(narrow)
    highest = max(narrow.rows[number - 1].height or 0.0 for number in weeks_at)
    if pages == 1 or highest < HIGH_LINES * LINE:
        return False
    return pages_down(laid_out(across)) <= pages


def _lies_across(sheet: SheetBuilder, rows: Sequence[int]) -> bool:
    """Return whether the page lies across.

    It does for a long list of runs, and where the weeks fill several pages and most of them would
    take two lines on upright ones.
    """
    texts = [[str(sheet.value_at(row, at) or "") for at in (RUNS, MOVES)] for row in rows]
    if max(len(runs) for runs, _ in texts) > LONG:
        return True
    long = sum(max(map(len, pair)) > UPRIGHT for pair in texts)
    return len(rows) >= FULL_PAGE.stop and 2 * long > len(rows)


def _shows_years(every: Sequence[Week]) -> bool:
    return every[0].first.year != every[-1].last.year


def _joining(estimate: Estimate) -> str:
    first, last = estimate.plan.start, estimate.plan.finish
    return f"Butt fusion {show_span(first, last, estimate.job.cover.unit_system)}"


def _facts(sheet: SheetBuilder, *, is_full: bool) -> int:
    """Add dates and days in short and return their first row.

    They leave room for the curve beside them, or stand side by side on a page full of weeks.
    """
    estimate = sheet.context.estimate
    plan, tested = estimate.plan, bool(estimate.tests)
    weather = len({day.date for day in plan.crew_days if day.kind == "weather"})
    deadline, late = estimate.job.dates.deadline, days_late(estimate.job.dates, estimate.finish)
    spare = 0 if deadline is None else max(0, (deadline - estimate.finish).days)
    last = estimate.finish if tested else "no tests"
    row = sheet.add(height=GAP if is_full else None)
    if not is_full:
        row = sheet.section("Dates and days", FACTS_AT)
        sheet.put(row, CHART_AT, Cell(PROGRESS, "section"))
    facts: list[tuple[str, Scalar, str, str]] = [
        ("Start", plan.start, "key_date_short", "plan.start"),
        ("Fusion finish" if tested else "Finish", plan.finish, "key_date_short", "plan.finish"),
        ("Finish with hydrotests", last, "key_date_short", ""),
        ("Deadline", deadline or "none", "warn_date" if late else "key_date_short", ""),
        ("Days to spare", spare, "key_int", ""),
        ("Days late", late, "key_int", "plan.days_late"),
        ("Days worked", plan.work_days, "key_int", "plan.work_days"),
        ("Weather days", weather, "key_int", "plan.weather_days"),
        ("Paid site days", site_days(plan), "key_int", "plan.site_days"),
        ("Person-days", person_days(plan), "key_num1", "plan.person_days"),
    ]
    blocks = BLOCKS if is_full else BLOCKS[:1]
    for number, (label, value, style, anchor) in enumerate(facts):
        first, label_at, value_at = next(block for block in blocks[::-1] if number >= block[0])
        at = row + 1 + number - first
        sheet.put(at, label_at, Cell(label, "plain"))
        sheet.put(at, value_at, Cell(value, style))
        if anchor:
            sheet.anchor(anchor, value_at, at)
    sheet.last_row = max(sheet.grid)
    return row + 1


def _weeks(
    sheet: SheetBuilder, columns: Sequence[ResultColumn], every: Sequence[Week], header: int
) -> Sequence[int]:
    """Add the weeks and return their rows."""
    context, rows = sheet.context, list[int]()
    estimate = context.estimate
    order = _places(estimate)
    so_far, live = 0, context.adds_up(len(SUMMED) * len(every))
    for week, fuel in zip(every, _fuel_as_shown(estimate, every), strict=True):
        so_far += week.joints
        coming = "; ".join(events(estimate, week))
        values: dict[str, Scalar] = {
            "week": week.first,
            "days": week.work_days,
            "lost": week.lost_days,
            "runs": in_stretches(week.runs, order) or None,
            "joints": week.joints,
            "tie_ins": week.tie_ins,
            "share": share_done(so_far, estimate.butt_joints),
            "people": week.people,
            "labor_hours": week.labor_hours,
            "test_hours": week.test_hours,
            "fuel": fuel,
            "moves": coming or None,
        }
        sheet.head_again(header)
        sums = _sums(context, sheet.next_row) if live else None
        rows.append(sheet.table_row(columns, values, sums))
        if _shows_years(every):
            sheet.put(rows[-1], 1, Cell(week.first, "week_year"))
    return rows


def _fuel_as_shown(estimate: Estimate, work: Iterable[Week | CrewWork]) -> Sequence[float]:
    """Return the fuel of weeks, or of their crews, in whole units that add up to their total."""
    return add_up_as_shown((fuel_in_its_unit(estimate, one.fuel_l) for one in work), 0)


def _places(estimate: Estimate) -> Mapping[str, int]:
    """Return the place of each run in the schedule."""
    return {run.run_id: place for place, run in enumerate(estimate.job.runs)}


def _rule_months(sheet: SheetBuilder, every: Sequence[Week], rows: Sequence[int]) -> None:
    """Draw a rule below the last week of each month but the last."""
    for row, (week, following) in zip(rows, pairwise(every), strict=False):
        if week.first.month != following.first.month:
            sheet.grid[row] = [
                cell and cell._replace(style=RULED_STYLES.get(cell.style, cell.style))
                for cell in sheet.grid[row]
            ]


def _sums(context: Context, row: int, crew: str = "") -> dict[str, str | None]:
    """Return what a week, of all crews or of the one in a cell, adds up of the Plan sheet."""
    at = context.anchors
    dates, crews = at["plan.column.date"], at["plan.column.crew"]
    span = f'{dates},">="&$A{row},{dates},"<"&$A{row}+7'
    only = f",{crews},{crew}" if crew else ""
    return {
        key: f"SUMIFS({at[f'plan.column.{PLAN_KEYS.get(key, key)}']},{span}{only})"
        for key in SUMMED
    }


def fuel_in_its_unit(estimate: Estimate, liters: float) -> float:
    """Return a volume of fuel in the unit of its price."""
    return from_si(liters, estimate.job.rates.fuel_price.per)


def events(estimate: Estimate, week: Week) -> Iterator[str]:
    """Yield what comes and goes on each date of a week, and what is tested."""
    by_date: dict[dt.date, list[str]] = defaultdict(list)
    for way, moves in (("deliver", week.deliveries), ("collect", week.collections)):
        for date, text in _moves(way, moves):
            by_date[date].append(text)
    for test in estimate.tests:
        if week.first <= test.pressure_date <= week.last:
            by_date[test.pressure_date].append(f"test {test.section}")
    for date in sorted(by_date):
        yield f"{date:%a}{KEPT_BLANK}{date.day} {', '.join(by_date[date])}"


def _moves(way: str, moves: Sequence[GearMove]) -> Iterator[tuple[dt.date, str]]:
    by_date: dict[dt.date, list[str]] = {}
    for move in moves:
        by_date.setdefault(move.date, []).append(gear(move))
    for date, names in by_date.items():
        yield date, f"{way} {', '.join(names)}"


def _total(sheet: SheetBuilder, columns: Sequence[ResultColumn], first: int) -> int:
    estimate = sheet.context.estimate
    row = sheet.next_row
    sheet.put_totals(row, columns, first, "weeks")
    sheet.last_row = row
    sheet.put(row, 1, Cell("Job", "total_text"))
    runs = counted(len(estimate.job.runs), "run")
    sheet.put(row, _number(columns, "runs"), Cell(runs, "total_after"))
    return row


def _shares(
    sheet: SheetBuilder, columns: Sequence[ResultColumn], rows: Sequence[int], total: int
) -> None:
    """Make the part that is done follow the joints, that of the job the one of the last week."""
    share = _number(columns, "share")
    for row in rows:
        cell = Cell(sheet.value_at(row, share), "pct0", _done(columns, rows[0], row, total))
        sheet.put(row, share, cell)
    last = rows[-1]
    whole = Cell(sheet.value_at(last, share), "total_pct", f"{column_letters(share)}{last}")
    sheet.put(total, share, whole)


def _done(columns: Sequence[ResultColumn], first: int, row: int, total: int) -> str:
    """Return the formula of the joints from a row to another, as a part of a total."""
    joints = column_letters(_number(columns, "joints"))
    so_far = f"SUM({joints}${first}:{joints}{row})"
    done = row_formula(share_done.worked(1, 1))
    return done.format(so_far=so_far, butt_joints=f"{joints}${total}")


def _number(columns: Sequence[ResultColumn], key: str) -> int:
    return [column.key for column in columns].index(key) + 1


def _progress(
    sheet: SheetBuilder, columns: Sequence[ResultColumn], top: int, rows: Sequence[int]
) -> Iterator[ChartSpec]:
    """Yield the curve of the joints beside the facts; a few weeks make none."""
    if len(rows) < FEWEST_IN_CHART:
        sheet.put(top - 1, CHART_AT, Cell(f"{PROGRESS}: see Done below", "section"))
        return
    ends, shares = _curve(sheet, columns, rows)
    yield ChartSpec(
        kind="line",
        title=PROGRESS,
        x_title="",
        y_title="",
        categories=ends,
        series=(("Planned", shares, INK),),
        anchor=(
            f"{column_letters(CHART_AT)}{top}",
            f"{column_letters(len(columns) + 1)}{top + FACTS}",
        ),
        values_to=1.0,
        values_format="0%",
        most_dates=CURVE_DATES,
    )


def _curve(
    sheet: SheetBuilder, columns: Sequence[ResultColumn], rows: Sequence[int]
) -> tuple[str, str]:
    """Set beside the weeks when each ends and what is done by then; return both ranges.

    The ranges have no gap where a header stands again among the weeks: an axis of dates has none.
    """
    share = _number(columns, "share")
    sheet.put(rows[0] - 1, CURVE_AT, Cell(WEEK_ENDS, "header"), Cell("Done", "header"))
    for at, row in enumerate(rows, rows[0]):
        monday = sheet.value_at(row, 1)
        if isinstance(monday, dt.date):
            end = Cell(monday + dt.timedelta(days=6), "date_short", f"A{row}+6")
            done = Cell(sheet.value_at(row, share), "pct0", f"{column_letters(share)}{row}")
            sheet.put(at, CURVE_AT, end, done)
    last = rows[0] + len(rows) - 1
    first, second = (
        f"{sheet.reference(at, rows[0])}:{sheet.address(at, last)}"
        for at in (CURVE_AT, CURVE_AT + 1)
    )
    return first, second


def _has_crews(every: Sequence[Week]) -> bool:
    return len({crew.crew for week in every for crew in week.crews}) > 1


def _by_crew(sheet: SheetBuilder, every: Sequence[Week]) -> None:
    """Append what each crew does in each week, under a header and over a total of its own."""
    columns, context = result_columns("by_week_crew"), sheet.context
    sheet.add()
    sheet.section("By week and crew", len(columns))
    header = sheet.table_head(columns, fuel_unit(context))
    work, order = _work_of_crews(context.estimate), _places(context.estimate)
    so_far, rows = Counter[int](), list[int]()
    crews = [crew for week in every for crew in week.crews]
    fuel = iter(_fuel_as_shown(context.estimate, crews))
    live = context.adds_up(len(SUMMED) * len(crews))
    for week in every:
        for crew in week.crews:
            sheet.head_again(header)
            row = sheet.next_row
            so_far[crew.crew] += crew.joints
            lines = work.get((week.first, crew.crew), ())
            values = _crew_values(crew, lines) | {
                "week": week.first,
                "fuel": next(fuel),
                "runs": in_stretches({line.run_id for line in lines}, order) or None,
                "share": share_done(so_far[crew.crew], context.estimate.butt_joints),
            }
            sums = _sums(context, row, f"${column_letters(CREW)}{row}") if live else {}
            formulas = sums | {"rate": _rate(columns, row) if values["rate"] else None}
            rows.append(sheet.table_row(columns, values, formulas))
            style = "week_year" if _shows_years(every) else "week"
            is_last = crew is week.crews[-1]
            sheet.put(row, 1, Cell(week.first, style if is_last else f"{style}_kept"))
    total = sheet.add_totals(columns, header + 1, "week_crews")
    _shares_of_crews(sheet, columns, rows, total)


def _shares_of_crews(
    sheet: SheetBuilder, columns: Sequence[ResultColumn], rows: Sequence[int], total: int
) -> None:
    """Make the part of the job's joints that each crew has done follow the joints."""
    share, joints = (column_letters(_number(columns, key)) for key in ("share", "joints"))
    crew, done = column_letters(CREW), row_formula(share_done.worked(1, 1))
    first, last_of = rows[0], dict[Value, int]()
    for row in rows:
        last_of[sheet.value_at(row, CREW)] = row
        so_far = f"SUMIF({crew}${first}:{crew}{row},{crew}{row},{joints}${first}:{joints}{row})"
        formula = done.format(so_far=so_far, butt_joints=f"{joints}${total}")
        at = _number(columns, "share")
        sheet.put(row, at, Cell(sheet.value_at(row, at), "pct0", formula))
    parts = [sheet.number_at(row, _number(columns, "share")) for row in last_of.values()]
    whole = "+".join(f"{share}{row}" for row in last_of.values())
    sheet.put(total, _number(columns, "share"), Cell(sum(parts), "total_pct", whole))


def _work_of_crews(estimate: Estimate) -> Mapping[tuple[dt.date, int], Sequence[PlanLine]]:
    """Return the lines of the plan by the Monday of their week and their crew."""
    found: dict[tuple[dt.date, int], list[PlanLine]] = defaultdict(list)
    for line in estimate.plan.lines:
        monday = line.date - dt.timedelta(days=line.date.weekday())
        found[monday, line.crew].append(line)
    return found


def _crew_values(crew: CrewWork, lines: Sequence[PlanLine]) -> dict[str, Scalar]:
    days = len({line.date for line in lines})
    return {
        "crew": crew.crew,
        "days": days,
        "joints": crew.joints,
        "tie_ins": crew.tie_ins,
        "people": crew.people,
        "labor_hours": crew.labor_hours,
        "rate": ratio(crew.joints, days),
    }


def _rate(columns: Sequence[ResultColumn], row: int) -> str:
    """Return the formula of the joints a day worked."""
    joints, days = (column_letters(_number(columns, key)) for key in ("joints", "days"))
    made = row_formula(ratio.worked(1.0, 1.0))
    return made.format(amount=f"{joints}{row}", divisor=f"{days}{row}")
