"""The Status sheet: one page to read, and below it the calculations.

Figures that follow from others on the page are live formulas, printed from their steps.
"""

import datetime as dt
import math
from collections.abc import Iterator, Sequence
from dataclasses import replace
from functools import partial
from itertools import zip_longest

from estimator.data_class import dataclass
from estimator.display import KEPT_BLANK, counted, show_date, show_day, show_day_of_year
from estimator.inputs.trade_units import written
from estimator.models.options import NoOptions
from estimator.progress.earned_value import (
    as_planned,
    at_cost_and_schedule,
    at_present_cost,
    duration_at_index,
    to_complete_index,
)
from estimator.progress.forecast import Forecast, LearnedShare, learned_share
from estimator.progress.learning import pace_learned
from estimator.progress.standing import OTHER_WORK, Standing
from estimator.progress.status import LostLine
from estimator.steps.cells import row_formula
from estimator.steps.plain import difference, ratio
from estimator.workbook.results.builder import Context, SheetBuilder, header_text
from estimator.workbook.results.status_charts import CHART_ROWS, WIDTHS, Charts
from estimator.workbook.sheet.layout import EDGE, RESERVE, laid_out
from estimator.workbook.sheet.look import ROW, TEXT, page_height, pixels_of
from estimator.workbook.sheet.source import column_letters
from estimator.workbook.sheet.spec import Cell, SheetSpec
from estimator.workbook.sheet.text_width import with_whole_words

STATUS = "Status"
COUNTED_FROM = "counted from the Joint log and the Daily record"
FEWEST_CURVE_ROWS, TIGHT_CURVE_ROWS, CURVE_ROWS, MOST_CURVE_ROWS = 7, 9, 11, 18
"""Rows of the chart on a page that nothing can be left out of, on one whose worst runs would be cut
short otherwise, on a full one, and at most."""
NAME_LETTERS, WHY_LETTERS, MOST_LINES = 28, 22, 2
"""Letters of a worst run and of its reason on one line, and the lines that they may take."""
LEAST_POINTS, MOST_POINTS = 4, 8
MORE_AT = "on Joint log, Coupons or Change orders"
"""Where the points stand that have no room."""
LOST_SHOWN, LOST_AT = 5, 6
"""Causes of lost time beside what needs a decision, and the column with which they begin."""
TWO_ENDS = "Textbook: rate to date; P50: learned pace"
OTHER_WORK_NOTE = f"{OTHER_WORK} is work without a butt joint."
LESS, RATIO = row_formula(difference.worked(1.0, 1.0)), row_formula(ratio.worked(1.0, 1.0))
AT_PRESENT_COST = row_formula(at_present_cost.worked(1.0, 1.0, 1.0))
AS_PLANNED = row_formula(as_planned.worked(1.0, 1.0, 1.0))
AT_COST_AND_SCHEDULE = row_formula(at_cost_and_schedule.worked(1.0, 1.0, 1.0, 1.0, 1.0))
TO_COMPLETE = row_formula(to_complete_index.worked(2.0, 1.0, 1.0))
DURATION = row_formula(duration_at_index.worked(1.0, 1.0, 1.0))
PACE = row_formula(pace_learned.worked(1.0, 1.0, 1.0))
SEEN_SHARE = row_formula(learned_share.worked(1.0, 1.0, 1.0, 1.0))


@dataclass(frozen=True)
class _Rows:
    """Rows of the first table, which later formulas refer to."""

    joints: int
    hours: int
    cost: int
    finish: int


@dataclass(frozen=True)
class _Fills:
    """What fills the first page: rows of the curve, points to decide, lines of a worst run."""

    curve_rows: int
    points: int
    name_lines: int = MOST_LINES
    why_lines: int = MOST_LINES


def _ways_to_fill() -> Iterator[_Fills]:
    """Yield what may fill the first page, the best first; reasons are cut short last."""
    points = range(MOST_POINTS, LEAST_POINTS - 1, -1)
    yield from (_Fills(CURVE_ROWS, number) for number in points)
    yield _Fills(TIGHT_CURVE_ROWS, LEAST_POINTS)
    for why_lines in range(MOST_LINES, 0, -1):
        yield from (_Fills(CURVE_ROWS, number, 1, why_lines) for number in points)


def status_sheet(context: Context, standing: Standing) -> SheetSpec:
    """Return the Status sheet of a job on a date.

    Its first page shows as many points as leave room for the curve, which takes what is left, and
    for the names of the worst runs in two lines; in one only where no fewer points and no lower
    curve would do.
    """
    for fills in _ways_to_fill():
        spec, end = _sheet(context, standing, fills)
        left = _rows_left(spec, end)
        if left >= 0:
            break
    rows = max(FEWEST_CURVE_ROWS, min(MOST_CURVE_ROWS, fills.curve_rows + left))
    if rows == fills.curve_rows:
        return spec
    return _sheet(context, standing, replace(fills, curve_rows=rows))[0]


def _rows_left(spec: SheetSpec, end: int) -> int:
    """Return the rows for which the first page has room below the last one that it prints."""
    used = sum(ROW if row.height is None else row.height for row in laid_out(spec).rows[:end])
    return math.floor((page_height(spec.paper or "letter", across=False) - used) / ROW)


def _sheet(context: Context, standing: Standing, fills: _Fills) -> tuple[SheetSpec, int]:
    """Return the sheet, and the last row that it prints."""
    status, head = standing.status, standing.status.baseline.head
    about = f"baseline {head.number}; {COUNTED_FROM}"
    sheet = SheetBuilder(
        context, STATUS, f"Status on {show_day(status.date, context.system)}", about
    )
    week, weeks = (_week(day, head.start) for day in (status.date, head.finish))
    sheet.result = Cell(f"Week {week} of {weeks}", "result")
    rows = _summary(sheet, standing)
    _remarks(sheet, standing)
    sheet.section("Labor-hours: planned, earned, actual", len(WIDTHS))
    s_curve_row = sheet.next_row
    sheet.last_row += fills.curve_rows
    _worst(sheet, standing, fills)
    _decisions(sheet, standing, fills.points)
    _next_week(sheet, standing)
    page_end = sheet.last_row
    sheet.add()
    _earned_value(sheet, standing, rows)
    _variances(sheet, standing)
    _before(sheet, standing)
    _ways_back(sheet, standing)
    _learned(sheet, standing.forecast)
    charts_row = sheet.next_row + 1
    sheet.last_row += 2 * CHART_ROWS + 2
    charts = Charts(sheet, standing, fills.curve_rows).charts(s_curve_row, charts_row)
    spec = replace(
        sheet.spec(),
        widths=WIDTHS,
        freeze=(2, 0),
        landscape=False,
        exact_widths=True,
        charts=charts,
        print_area=f"$A$1:${column_letters(len(WIDTHS))}${page_end}",
    )
    return spec, page_end


def _open_points(standing: Standing, most: int) -> Sequence[str]:
    """Return what needs a decision, as much as the page has room for."""
    found = standing.status.decisions or ("Nothing is open",)
    if len(found) <= most:
        return found
    more = len(found) - most + 1
    return (*found[: most - 1], f"and {more} more, {MORE_AT}")


def _week(date: dt.date, start: dt.date) -> int:
    return ((date - start).days + start.weekday()) // 7 + 1


def _head(sheet: SheetBuilder, *names: str) -> int:
    return sheet.add(*(Cell(name, "header") for name in names))


def _note(sheet: SheetBuilder, text: str, style: str = "note") -> None:
    row = sheet.add(Cell(text, style))
    sheet.merge(row, 1, len(WIDTHS))


def _blank_if(known: object, value: float, style: str) -> Cell:
    return Cell(value if known else None, style)


def _summary(sheet: SheetBuilder, standing: Standing) -> _Rows:
    """Add joints, hours, cost and finish: baseline, to date, at the end."""
    status, found = standing.status, standing.forecast
    row = _head(
        sheet, "", "Baseline", "Planned to date", "Earned to date", "Actual to date",
        "Textbook at end", "Forecast\nP50",
    )  # fmt: skip
    spread = Cell("Forecast range\nP10 to P90", "header_center")
    sheet.put(row, len(WIDTHS) - 1, spread, spread._replace(value=None))
    sheet.merge(row, len(WIDTHS) - 1, len(WIDTHS))
    joints = sheet.add(
        Cell("Joints accepted", "text"),
        Cell(status.baseline.joints, "int"),
        Cell(status.joints_planned, "int"),
        Cell(status.joints_accepted, "int"),
        Cell(status.joints_made, "int"),
        Cell(None, "int"),
        Cell(status.baseline.joints if found else None, "int"),
        Cell(None, "int"),
        Cell(None, "int"),
    )
    currency = sheet.context.currency
    hours_row = sheet.next_row
    for name, value, known, style, ahead in (
        ("Labor-hours", status.hours, status.hours_known, "num1",
         None if found is None else found.labor_hours),
        (f"Cost, {currency}", status.money, status.money_known, "money0",
         None if found is None else found.cost),
    ):  # fmt: skip
        row = sheet.next_row
        textbook = value.eac_at_present_cost if known else None
        formula = AT_PRESENT_COST.format(**_amounts(row)) if known else None
        sheet.add(
            Cell(name, "text"),
            Cell(value.budget, style),
            Cell(value.planned, style),
            Cell(value.earned, style),
            _blank_if(known, value.actual, style),
            Cell("" if formula and textbook is None else textbook, style, formula),
            Cell(None if ahead is None else ahead.middle, style),
            Cell(None if ahead is None else ahead.low, style),
            Cell(None if ahead is None else ahead.high, style),
        )
    finish = sheet.add(
        Cell("Finish", "text"),
        Cell(status.baseline.head.finish, "date_tight"),
        *[Cell(None, "date_tight")] * 3,
        Cell(status.textbook_finish, "date_tight"),
        Cell(found.finish[1] if found else None, "date_tight"),
        Cell(found.finish[0] if found else None, "date_tight"),
        Cell(found.finish[2] if found else None, "date_tight"),
    )
    return _Rows(joints, hours_row, hours_row + 1, finish)


def _remarks(sheet: SheetBuilder, standing: Standing) -> None:
    status, found = standing.status, standing.forecast
    parts = []
    deadline = sheet.context.estimate.job.dates.deadline
    if found is not None and deadline is not None and found.deadline_share is not None:
        date = show_date(deadline, sheet.context.system)
        parts.append(f"Probability of finishing by {date}: {found.deadline_share:.0%}")
    if status.not_accepted:
        parts.append(f"{counted(status.not_accepted, 'joint')} made but not accepted")
    if found is not None:
        parts.append(TWO_ENDS)
    if parts:
        _note(sheet, ". ".join(parts))
    for text in (*status.missing, *([standing.no_forecast] if standing.no_forecast else [])):
        _note(sheet, text, "warn_text")


def _worst(sheet: SheetBuilder, standing: Standing, fills: _Fills) -> None:
    """Add the runs most over their earned hours; over and pace are live."""
    sheet.section("Worst runs: labor-hours over what the accepted joints earn", len(WIDTHS))
    hours = written("h", sheet.context.system)
    hours_heads = (header_text(word, hours) for word in ("Earned", "Actual", "Over"))
    _head(sheet, "Run", "", "Accepted\nof planned", *hours_heads,
          "Actual/ earned", "Why", "")  # fmt: skip
    named = {run.run_id: run.description for run in sheet.context.estimate.job.runs}
    names = _room(WIDTHS[:2])
    for one in standing.status.worst:
        name = f"{one.run.run_id} {named.get(one.run.run_id) or ''}"
        name = _short(name, fills.name_lines * NAME_LETTERS)
        row = sheet.next_row
        sheet.add(
            Cell(with_whole_words(name, names, TEXT), "text_wrap"),
            None,
            Cell(f"{one.accepted} / {one.planned}", "figure"),
            Cell(one.earned_hours, "num1"),
            Cell(one.actual_hours, "num1"),
            Cell(one.over_hours, "num1", LESS.format(one=f"E{row}", other=f"D{row}")),
            _or_blank(one.ratio, "num2", RATIO.format(amount=f"E{row}", divisor=f"D{row}")),
            Cell(_short(one.why, fills.why_lines * WHY_LETTERS), "wrap_after"),
        )  # fmt: skip
        sheet.merge(row, 1, 2)
        sheet.merge(row, 8, 9)
    if not standing.status.worst:
        none = "none is over" if standing.status.hours_known else "not known without Daily record"
        _note(sheet, f"Runs over their earned hours: {none}")


def _short(text: str, letters: int) -> str:
    """Return a text that has room, cut at the end of a word."""
    text = text.strip()
    if len(text) <= letters:
        return text
    return f"{text[: letters - 3].rpartition(' ')[0]} ..."


def _decisions(sheet: SheetBuilder, standing: Standing, most: int) -> None:
    """Add what needs a decision, and beside it the causes of lost time."""
    lost = standing.status.lost[:LOST_SHOWN]
    row = sheet.section("Needs a decision", len(WIDTHS))
    if lost:
        sheet.put(row, LOST_AT, Cell("Lost crew time", "section_after"))
    last = LOST_AT - 1 if lost else len(WIDTHS)
    room = _room(WIDTHS[:last])
    points = (with_whole_words(text, room, TEXT) for text in _open_points(standing, most))
    beside = _lost_rows(lost, written("h", sheet.context.system)) if lost else ()
    for text, cells in zip_longest(points, beside):
        row = sheet.add(Cell(text, "text_wrap" if text else "plain"))
        sheet.merge(row, 1, last)
        if text:
            sheet.put(row, 2, *[Cell(None, "text_wrap")] * (last - 1))
        if cells:
            sheet.put(row, LOST_AT, *cells)
            sheet.merge(row, LOST_AT, LOST_AT + 1)


def _lost_rows(lost: Sequence[LostLine], hours: str) -> Iterator[Sequence[Cell]]:
    """Yield the header of lost time, and its causes."""
    heads = (("Cause", "header_after"), (None, "header"), (header_text("Lost", hours), "header"),
             ("Charged to", "header_right"))  # fmt: skip
    yield [Cell(*head) for head in heads]
    for line in lost:
        yield (
            Cell(line.cause, "text_after"), Cell(None, "text"), Cell(line.crew_hours, "num1"),
            Cell(line.charge_to, "figure"),
        )  # fmt: skip


def _room(widths: Sequence[float]) -> float:
    """Return the pixels of a line of text in cells that are joined."""
    return (sum(map(pixels_of, widths)) - EDGE) / RESERVE


def _next_week(sheet: SheetBuilder, standing: Standing) -> None:
    week = standing.next_week
    if week is None or not week.dates:
        return
    dates = week.dates[: len(WIDTHS) - 3]
    first, last = (show_day_of_year(day, sheet.context.system) for day in (dates[0], dates[-1]))
    span = f"{first} to {last}"
    sheet.section(f"Next week, {span}, from the plan of what is left: run and joints", len(WIDTHS))
    days = [f"{date:%a} {date.day}" for date in dates]
    free = len(WIDTHS) - 3 - len(days)
    _head(sheet, "Crew", *days, *[""] * free, "Joints", "Labor-hours")
    for crew in week.crews:
        texts = (text.replace(": ", f":{KEPT_BLANK}") for text in crew.days[: len(dates)])
        sheet.add(
            Cell(f"Crew {crew.crew}", "text"),
            *(Cell(text, "wrap_after") for text in texts),
            *[Cell(None, "text")] * free,
            Cell(crew.joints, "int"),
            Cell(crew.labor_hours, "num1"),
        )
    if any(OTHER_WORK in text for crew in week.crews for text in crew.days):
        _note(sheet, OTHER_WORK_NOTE)


def _amounts(row: int) -> dict[str, str]:
    """Return the cells of the first table in one of its rows, as the formulas name them."""
    names = ("budget", "planned", "earned", "actual")
    return {name: f"{letter}{row}" for name, letter in zip(names, "BCDE", strict=True)}


def _or_blank(amount: float | None, style: str, formula: str) -> Cell:
    """Return a figure that is blank where it divides by nothing."""
    return Cell("" if amount is None else amount, style, formula)


def _of_actual(known: bool, amount: float | None, style: str, formula: str) -> Cell:
    """Return a figure that needs the actual amount, blank where that is not known."""
    return _or_blank(amount, style, formula) if known else Cell(None, style)


def _earned_value(sheet: SheetBuilder, standing: Standing, rows: _Rows) -> None:
    """Add the textbook figures as live formulas over the first table."""
    status = standing.status
    sheet.section("Earned value: the textbook figures", len(WIDTHS))
    _head(
        sheet, "", "CV: earned - actual", "SV: earned - planned", "CPI: earned / actual",
        "SPI: earned / planned", "EAC: BAC / CPI", "EAC: actual + BAC - earned",
        "EAC: actual + (BAC - earned) / (CPI x SPI)", "TCPI: (BAC - earned) / (BAC - actual)",
    )  # fmt: skip
    for name, value, known, at, style in (
        ("Labor-hours", status.hours, status.hours_known, rows.hours, "num1"),
        ("Cost", status.money, status.money_known, rows.cost, "money0"),
    ):
        row, of_actual, cells = sheet.next_row, partial(_of_actual, known), _amounts(at)
        less = {key: LESS.format(one=cells["earned"], other=cells[key]) for key in cells}
        index = {key: RATIO.format(amount=cells["earned"], divisor=cells[key]) for key in cells}
        both = AT_COST_AND_SCHEDULE.format(cpi=f"D{row}", spi=f"E{row}", **cells)
        sheet.add(
            Cell(name, "text"),
            of_actual(value.cost_variance, style, less["actual"]),
            Cell(value.schedule_variance, style, less["planned"]),
            of_actual(value.cost_index, "num2", index["actual"]),
            _or_blank(value.schedule_index, "num2", index["planned"]),
            of_actual(value.eac_at_present_cost, style, AT_PRESENT_COST.format(**cells)),
            of_actual(value.eac_as_planned, style, AS_PLANNED.format(**cells)),
            of_actual(value.eac_at_cost_and_schedule, style, both),
            of_actual(value.to_complete_index, "num2", TO_COMPLETE.format(**cells)),
        )
    schedule = status.schedule
    sheet.add()
    _head(sheet, "Schedule, workdays", "Earned", "Elapsed", "SV(t): earned - elapsed",
          "SPI(t): earned / elapsed", "Planned duration", "Duration at SPI(t)")  # fmt: skip
    earned, gone_by, planned = (f"{letter}{sheet.next_row}" for letter in "BCF")
    duration = DURATION.format(planned_duration=planned, earned_time=earned, actual_time=gone_by)
    sheet.add(
        Cell("Earned schedule", "text"),
        Cell(schedule.earned_time, "num2"),
        Cell(schedule.actual_time, "num1"),
        Cell(schedule.variance, "num2", LESS.format(one=earned, other=gone_by)),
        _or_blank(schedule.index, "num2", RATIO.format(amount=earned, divisor=gone_by)),
        Cell(schedule.planned_duration, "num1"),
        _or_blank(schedule.duration, "num1", duration),
    )
    sheet.add()


def _variances(sheet: SheetBuilder, standing: Standing) -> None:
    variance = standing.status.variance
    if variance is None:
        return
    sheet.section("Labor cost, actual less planned to date, by reason", len(WIDTHS))
    first = sheet.next_row
    for name, amount, about in (
        ("Rate", variance.rate, "(actual - planned rate) x actual hours"),
        ("Pace", variance.pace, "(hours worked - hours earned) x planned rate, and rounding"),
        ("Quantity", variance.quantity, "(hours earned - hours planned to date) x planned rate"),
        ("Weather", variance.weather, "paid hours lost to weather x planned rate"),
    ):
        sheet.add(Cell(name, "text"), Cell(amount, "money"), Cell(about, "text"))
    sheet.add(
        Cell("Actual - planned", "total_text"),
        Cell(variance.total, "total_money", f"SUM(B{first}:B{sheet.last_row})"),
    )
    sheet.add()


def _before(sheet: SheetBuilder, standing: Standing) -> None:
    """Add the finish as it was forecast week by week, by what was known then."""
    if standing.forecast is None:
        return
    sheet.section("Forecast finish, week by week", len(WIDTHS))
    _head(sheet, "As of", "P10", "P50", "P90")
    for date, finish in (*standing.before, (standing.status.date, standing.forecast.finish)):
        sheet.add(Cell(date, "date"), *(Cell(day, "date_tight") for day in finish))
    sheet.add()


def _ways_back(sheet: SheetBuilder, standing: Standing) -> None:
    """Add what would finish sooner from the status date on, where it was asked for."""
    ways = standing.ways_back
    if ways is None:
        return
    sheet.section("What would bring it back, from the status date on", len(WIDTHS))
    if isinstance(ways, NoOptions):
        _note(sheet, ways.message)
        return
    cost = f"Cost against as now, {sheet.context.currency}"
    _head(sheet, "Crews, machines, shift", "", "", "Finish", "Days earlier", cost, "Baseline kept",
          "Rests on", "")  # fmt: skip
    finish = standing.status.baseline.head.finish
    for one in ways.sooner_ones:
        if one.figures is None:
            continue
        row = sheet.add(
            Cell(one.name, "text"), None, None,
            Cell(one.figures.finish, "date_tight"),
            Cell(ways.days_before_base(one), "int"),
            Cell(float(ways.more_cost(one)), "money0"),
            Cell("yes" if one.figures.finish <= finish else "no", "figure"),
            Cell("; ".join(filter(None, (one.stock, one.rests_on))), "wrap_after"),
        )  # fmt: skip
        sheet.merge(row, 1, 3)
        sheet.merge(row, 8, 9)
    if not ways.sooner_ones:
        _note(sheet, "No other crews, machines or shifts finish earlier")
    sheet.add()


def _learned(sheet: SheetBuilder, forecast: Forecast | None) -> None:
    """Add how the forecast learns, as sums that recalculate."""
    if forecast is None:
        return
    sheet.section("What the forecast learned: crew-paced time, actual over planned", len(WIDTHS))
    _head(sheet, "Size band", "Days seen", "Average of this size", "Weight of it",
          "Pace of the job", "Pace learned", "P10", "P90")  # fmt: skip
    job = forecast.learned.job_mean
    for size, band in forecast.bands.items():
        pace = forecast.pace(size)
        row = sheet.next_row
        formula = PACE.format(weight=f"D{row}", own=f"C{row}", job=f"E{row}")
        sheet.add(
            Cell(size, "text"),
            Cell(pace.shifts, "int"),
            Cell(math.exp(pace.observed), "num3"),
            Cell(pace.weight, "num3"),
            Cell(math.exp(job), "num3"),
            Cell(pace.factor, "num3", formula),
            Cell(band.low, "num3"),
            Cell(band.high, "num3"),
        )
    sheet.add()
    _head(sheet, "Share", "Planned", "Counts for", "Seen", "Out of", "Learned")
    for name, share in (
        ("Rework joints", forecast.rework),
        ("Days lost to weather", forecast.weather),
    ):
        _share_row(sheet, name, share)
    texts = (
        "Heat soak and cooling never learn. A size that has not begun takes the pace of the job. "
        "Far-off days count less. Learned share = (planned x counts for + seen) / (counts for + "
        "out of); what the planned share counts for is an assumption.",
        f"The planner lays out what is left from the day after the status date, at the learned "
        f"pace, rework and weather; {forecast.draws} draws are read off {forecast.plans} such "
        "plans. "
        "Labor-hours follow the labor cost of the rest; rent from then on is priced as a new stay.",
    )
    for text in texts:
        _note(sheet, text)


def _share_row(sheet: SheetBuilder, name: str, share: LearnedShare) -> None:
    names = ("planned", "worth", "seen", "out_of")
    cells = {key: f"{at}{sheet.next_row}" for key, at in zip(names, "BCDE", strict=True)}
    sheet.add(
        Cell(name, "text"),
        Cell(share.planned, "pct2"),
        Cell(share.worth, "int"),
        Cell(share.seen.hits, "int"),
        Cell(share.seen.out_of, "int"),
        Cell(share.mean, "pct2", SEEN_SHARE.format(**cells)),
    )
