"""The Status sheet: one page to read, and below it the calculations and what the charts show.

Figures that follow from others on the page are live formulas.
"""

import datetime as dt
import math
from collections.abc import Sequence
from dataclasses import replace
from functools import partial

from estimator.data_class import dataclass
from estimator.display import counted, show_date, show_day, show_day_of_year
from estimator.models.options import NoOptions
from estimator.progress.forecast import Forecast, LearnedShare
from estimator.progress.standing import Standing
from estimator.workbook.results.builder import Context, SheetBuilder
from estimator.workbook.results.columns import result_columns
from estimator.workbook.sheet.source import column_letters
from estimator.workbook.sheet.spec import Cell, ChartSpec, SheetSpec

STATUS = "Status"
WIDTHS = (15.0, *[8.75] * 8)
"""They fill an upright page."""
INK, OCHRE, MUTED, PALE = "1F3550", "B8741A", "8A94A3", "B9C2CE"
CHART_ROWS = 15
PAGE_ROWS, LEAST_CURVE_ROWS, MOST_CURVE_ROWS = 23, 7, 14
"""Rows of the first page that its chart, runs, points and crews share."""
LINE_LETTERS, DAY_LETTERS, NAME_LETTERS, WHY_LETTERS = 105, 10, 28, 22
LEAST_POINTS, MOST_POINTS, FEW_RUNS = 4, 8, 3
MIDDLE = "Forecast P50"
MEAN_OF = 5
"""Days of the moving mean of joints a day."""
LOST_SHOWN = 5


@dataclass(frozen=True)
class _Rows:
    """Rows of the first table, which later formulas refer to."""

    joints: int
    hours: int
    cost: int
    finish: int


def status_sheet(context: Context, standing: Standing) -> SheetSpec:
    """Return the Status sheet of a job on a date."""
    status = standing.status
    week = _week(status.date, status.baseline.head.start)
    about = f"Week {week}, baseline {status.baseline.head.number}"
    sheet = SheetBuilder(
        context, STATUS, f"Status on {show_day(status.date, context.system)}", about
    )
    rows = _summary(sheet, standing)
    _remarks(sheet, standing)
    sheet.section("Labor-hours: planned, earned, actual", len(WIDTHS))
    s_curve_row = sheet.next_row
    curve_rows = _curve_rows(standing)
    sheet.last_row += curve_rows
    _worst(sheet, standing)
    _decisions(sheet, standing)
    _lost(sheet, standing)
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
    charts = _Charts(sheet, standing, curve_rows).charts(s_curve_row, charts_row)
    return replace(
        sheet.spec(),
        widths=WIDTHS,
        freeze=(2, 0),
        landscape=False,
        exact_widths=True,
        charts=charts,
        print_area=f"$A$1:${column_letters(len(WIDTHS))}${page_end}",
    )


def _curve_rows(standing: Standing) -> int:
    """Return the rows that the other parts of the page leave for its chart."""
    points = sum(math.ceil(len(text) / LINE_LETTERS) for text in _open_points(standing))
    left = PAGE_ROWS - _other_rows(standing) - points
    return max(LEAST_CURVE_ROWS, min(MOST_CURVE_ROWS, left))


def _other_rows(standing: Standing) -> int:
    """Return the rows of the page that runs, crews and what is not known take."""
    status, week = standing.status, standing.next_week
    crews = 0 if week is None else sum(_lines_of(crew.days) for crew in week.crews)
    texts = (*status.missing, standing.no_forecast)
    return len(status.worst) + crews + sum(math.ceil(len(x) / LINE_LETTERS) for x in texts)


def _lines_of(days: Sequence[str]) -> int:
    """Return the lines that the fullest day of a crew takes."""
    return max([math.ceil(len(text) / DAY_LETTERS) for text in days] or [1]) or 1


def _open_points(standing: Standing) -> Sequence[str]:
    """Return what needs a decision, as much as the page has room for."""
    found = standing.status.decisions or ("Nothing is open",)
    room = PAGE_ROWS - LEAST_CURVE_ROWS - _other_rows(standing)
    shown = max(LEAST_POINTS, min(MOST_POINTS, room))
    if len(found) <= shown:
        return found
    more = len(found) - shown + 1
    return (*found[: shown - 1], f"and {more} more: estimator status lists them all")


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
    _head(
        sheet, "", "Baseline", "Planned to date", "Earned to date", "Actual to date",
        "Textbook at end", "Forecast P50", "Forecast P10", "Forecast P90",
    )  # fmt: skip
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
        formula = f'IF(N(D{row})*N(E{row})=0,"",B{row}*E{row}/D{row})' if known else None
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
        parts.append(f"Chance to finish by {date}: {found.deadline_share:.0%}")
    if status.not_accepted:
        parts.append(f"{counted(status.not_accepted, 'joint')} made but not accepted")
    if parts:
        _note(sheet, ". ".join(parts))
    for text in (*status.missing, *([standing.no_forecast] if standing.no_forecast else [])):
        _note(sheet, text, "warn_text")


def _worst(sheet: SheetBuilder, standing: Standing) -> None:
    """Add the runs most over their earned hours; over and pace are live."""
    sheet.section("Six worst runs: labor-hours over what the accepted joints earn", len(WIDTHS))
    _head(sheet, "Run", "", "Accepted / planned", "Earned, h", "Actual, h", "Over, h",
          "Actual/ earned", "Why", "")  # fmt: skip
    named = {run.run_id: run.description for run in sheet.context.estimate.job.runs}
    why = WHY_LETTERS if len(standing.status.worst) > FEW_RUNS else 2 * WHY_LETTERS
    for one in standing.status.worst:
        name = f"{one.run.run_id} {named.get(one.run.run_id) or ''}"
        row = sheet.next_row
        sheet.add(
            Cell(_short(name, NAME_LETTERS), "text"),
            None,
            Cell(f"{one.accepted} / {one.planned}", "figure"),
            Cell(one.earned_hours, "num1"),
            Cell(one.actual_hours, "num1"),
            Cell(one.over_hours, "num1", f"E{row}-D{row}"),
            Cell(
                one.ratio if one.ratio is not None else "", "num2",
                f'IF(D{row}=0,"",E{row}/D{row})',
            ),
            Cell(_short(one.why, why), "wrap_after"),
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


def _decisions(sheet: SheetBuilder, standing: Standing) -> None:
    sheet.section("Needs a decision", len(WIDTHS))
    for text in _open_points(standing):
        _note(sheet, text, "text_wrap")


def _lost(sheet: SheetBuilder, standing: Standing) -> None:
    lost = standing.status.lost[:LOST_SHOWN]
    if not lost:
        return
    sheet.section("Lost time since the start, crew-hours", len(WIDTHS))
    causes = (f"{line.cause} {line.crew_hours:.1f} ({line.charge_to})" for line in lost)
    _note(sheet, "; ".join(causes), "text_wrap")


def _next_week(sheet: SheetBuilder, standing: Standing) -> None:
    week = standing.next_week
    if week is None or not week.dates:
        return
    dates = week.dates[: len(WIDTHS) - 3]
    first, last = (show_day_of_year(day, sheet.context.system) for day in (dates[0], dates[-1]))
    span = f"{first} to {last}"
    sheet.section(f"Next week, {span}, from the plan of what is left: run and joints", len(WIDTHS))
    days = [f"{date:%a %d}" for date in dates]
    _head(sheet, "Crew", *days, "Joints", "Labor-hours")
    for crew in week.crews:
        sheet.add(
            Cell(f"Crew {crew.crew}", "text"),
            *(Cell(text, "text_wrap") for text in crew.days[: len(dates)]),
            Cell(crew.joints, "int"),
            Cell(crew.labor_hours, "num1"),
        )


def _of_actual(known: bool, amount: float | None, style: str, formula: str) -> Cell:
    """Return a figure that needs the actual amount, blank where that is not known."""
    if not known:
        return Cell(None, style)
    return Cell("" if amount is None else amount, style, formula)


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
        row = sheet.next_row
        of_actual = partial(_of_actual, known)
        sheet.add(
            Cell(name, "text"),
            of_actual(value.cost_variance, style, f"D{at}-E{at}"),
            Cell(value.schedule_variance, style, f"D{at}-C{at}"),
            of_actual(value.cost_index, "num2", f'IF(E{at}=0,"",D{at}/E{at})'),
            Cell(
                "" if value.schedule_index is None else value.schedule_index,
                "num2",
                f'IF(C{at}=0,"",D{at}/C{at})',
            ),
            of_actual(value.eac_at_present_cost, style, f'IF(D{at}*E{at}=0,"",B{at}*E{at}/D{at})'),
            of_actual(value.eac_as_planned, style, f"E{at}+B{at}-D{at}"),
            of_actual(
                value.eac_at_cost_and_schedule,
                style,
                f'IF(N(D{row})*N(E{row})=0,"",E{at}+(B{at}-D{at})/(D{row}*E{row}))',
            ),
            of_actual(
                value.to_complete_index, "num2", f'IF(B{at}=E{at},"",(B{at}-D{at})/(B{at}-E{at}))'
            ),
        )
    schedule = status.schedule
    sheet.add()
    _head(sheet, "Schedule, working days", "Earned", "Gone by", "SV(t): earned - gone by",
          "SPI(t): earned / gone by", "Planned duration", "Duration at SPI(t)")  # fmt: skip
    row = sheet.next_row
    sheet.add(
        Cell("Earned schedule", "text"),
        Cell(schedule.earned_time, "num2"),
        Cell(schedule.actual_time, "num1"),
        Cell(schedule.variance, "num2", f"B{row}-C{row}"),
        Cell(
            "" if schedule.index is None else schedule.index,
            "num2",
            f'IF(C{row}=0,"",B{row}/C{row})',
        ),
        Cell(schedule.planned_duration, "num1"),
        Cell(
            "" if schedule.duration is None else schedule.duration,
            "num1",
            f'IF(B{row}=0,"",F{row}*C{row}/B{row})',
        ),
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
        _note(sheet, f"No options: {ways.reason}")
        return
    cost = f"Cost against as now, {sheet.context.currency}"
    _head(sheet, "Crews, machines, shift", "", "", "Finish", "Days sooner", cost, "Baseline kept",
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
        _note(sheet, "No other crews, machines or shifts finish sooner")
    sheet.add()


def _learned(sheet: SheetBuilder, found: Forecast | None) -> None:
    """Add how the forecast learns, as sums that recalculate."""
    if found is None:
        return
    sheet.section("What the forecast learned: crew-paced time, actual over planned", len(WIDTHS))
    _head(sheet, "Size band", "Days seen", "Mean of this size", "Weight of it", "Pace of the job",
          "Pace learned", "P10", "P90")  # fmt: skip
    job = found.learned.job_mean
    for size, band in found.bands.items():
        pace = found.pace(size)
        row = sheet.next_row
        formula = f"EXP(D{row}*LN(C{row})+(1-D{row})*LN(E{row}))"
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
        ("Rework joints", found.rework),
        ("Days lost to weather", found.weather),
    ):
        _share_row(sheet, name, share)
    texts = (
        "Heat soak and cooling never learn. A size that has not begun takes the pace of the job. "
        "Far-off days count less. Learned share = (planned x counts for + seen) / (counts for + "
        "out of); what the planned share counts for is an assumption.",
        f"The planner lays out what is left from the day after the status date, at the learned "
        f"pace, rework and weather; {found.draws} draws are read off {found.plans} such plans. "
        "Labor-hours follow the labor cost of the rest; rent from then on is priced as a new stay.",
    )
    for text in texts:
        _note(sheet, text)


def _share_row(sheet: SheetBuilder, name: str, share: LearnedShare) -> None:
    row = sheet.next_row
    sheet.add(
        Cell(name, "text"),
        Cell(share.planned, "pct2"),
        Cell(share.worth, "int"),
        Cell(share.seen.hits, "int"),
        Cell(share.seen.out_of, "int"),
        Cell(share.mean, "pct2", f"(B{row}*C{row}+D{row})/(C{row}+E{row})"),
    )


class _Charts:
    """The tables under the charts, and the charts over them."""

    def __init__(self, sheet: SheetBuilder, standing: Standing, curve_rows: int) -> None:
        self.sheet, self.standing, self.curve_rows = sheet, standing, curve_rows

    def charts(self, s_curve_row: int, charts_row: int) -> Sequence[ChartSpec]:
        self.sheet.section("What the charts show", len(WIDTHS))
        found = [self._s_curve(s_curve_row), self._joints(charts_row)]
        if self.standing.forecast is not None and self.standing.forecast.days:
            found.append(self._pace(charts_row))
        if self.standing.status.lost:
            found.append(self._lost(charts_row + CHART_ROWS))
        return found

    def _range(self, column: int, first: int) -> str:
        start = self.sheet.reference(column, first)
        return f"{start}:{self.sheet.address(column, self.sheet.last_row)}"

    def _place(self, row: int, left: int, right: int, rows: int = CHART_ROWS) -> tuple[str, str]:
        return f"{column_letters(left)}{row}", f"{column_letters(right)}{row + rows}"

    def _s_curve(self, row: int) -> ChartSpec:
        columns = result_columns("status_curve")
        first = self.sheet.table_head(columns) + 1
        bands = {band.date: band for band in self.standing.bands}
        points = {point.date: point for point in self.standing.status.curve}
        budget = self.standing.status.hours.budget
        for date in sorted({*bands, *points}):
            point, band = points.get(date), bands.get(date)
            self.sheet.table_row(
                columns,
                {
                    "date": date,
                    "planned": point.planned if point else budget,
                    "earned": point.earned if point else None,
                    "actual": point.actual if point else None,
                    "late": band.late if band else None,
                    "middle": band.middle if band else None,
                    "early": band.early if band else None,
                    "spread": band.early - band.late if band else None,
                },
                {"spread": f"H{self.sheet.next_row}-B{self.sheet.next_row}" if band else None},
            )
        names = (
            ("Planned", 4, MUTED),
            ("Earned", 5, INK),
            ("Actual", 6, OCHRE),
            (MIDDLE, 7, INK),
        )
        ahead = self.standing.forecast is not None
        shown = [
            (name, self._range(column, first), color)
            for name, column, color in names
            if ahead or column <= 6
        ]
        spread = (
            ("Forecast P90", self._range(2, first), ""),
            ("Forecast P10 to P90", self._range(3, first), PALE),
        )
        spec = ChartSpec(
            kind="line",
            title="Labor-hours: planned, earned, actual and forecast",
            x_title="",
            y_title="Labor-hours",
            categories=self._range(1, first),
            series=tuple(shown),
            anchor=self._place(row, 1, len(WIDTHS) + 1, self.curve_rows),
            values_from=0.0,
            areas=spread if ahead else (),
            dashes={"Planned": "dash", MIDDLE: "sysDot"},
        )
        self.sheet.add()
        return spec

    def _joints(self, row: int) -> ChartSpec:
        columns = result_columns("status_joints")
        first = self.sheet.table_head(columns) + 1
        days = self.standing.status.joints_by_day
        for number, day in enumerate(days):
            last = [one.made for one in days[max(0, number - MEAN_OF + 1) : number + 1]]
            line = self.sheet.next_row
            begin = max(first, line - MEAN_OF + 1)
            self.sheet.table_row(
                columns,
                {"date": day.date, "planned": day.planned, "made": day.made,
                 "mean": sum(last) / len(last)},
                {"mean": f"AVERAGE(C{begin}:C{line})"},
            )  # fmt: skip
        spec = ChartSpec(
            kind="line",
            title="Joints a day, planned and made",
            x_title="",
            y_title="Joints a day",
            categories=self._range(1, first),
            series=(
                ("Planned", self._range(2, first), MUTED),
                ("Made", self._range(3, first), PALE),
                (f"Mean of {MEAN_OF} days made", self._range(4, first), OCHRE),
            ),
            anchor=self._place(row, 1, 5),
            values_from=0.0,
        )
        self.sheet.add()
        return spec

    def _pace(self, row: int) -> ChartSpec:
        found = self.standing.forecast
        if found is None:
            raise ValueError("a pace needs a forecast")
        columns = result_columns("status_pace")
        first = self.sheet.table_head(columns) + 1
        for day in found.days:
            band = found.bands[day.size]
            self.sheet.table_row(
                columns,
                {"date": day.date, "crew": day.crew, "size": day.size, "joints": day.joints,
                 "factor": day.factor, "low": band.low, "learned": band.middle,
                 "high": band.high},
            )  # fmt: skip
        spec = ChartSpec(
            kind="points",
            title="Pace by day, with the band learned for its size",
            x_title="",
            y_title="Actual over planned crew-paced time",
            categories=self._range(1, first),
            series=(
                ("Day", self._range(5, first), OCHRE),
                ("P10", self._range(6, first), PALE),
                ("Learned", self._range(7, first), INK),
                ("P90", self._range(8, first), PALE),
            ),
            anchor=self._place(row, 5, len(WIDTHS) + 1),
            values_from=0.0,
        )
        self.sheet.add()
        return spec

    def _lost(self, row: int) -> ChartSpec:
        columns = result_columns("status_lost")
        first = self.sheet.table_head(columns) + 1
        for line in self.standing.status.lost:
            self.sheet.table_row(
                columns,
                {"cause": line.cause, "hours": line.crew_hours, "charge_to": line.charge_to},
            )
        return ChartSpec(
            kind="bar",
            title="Lost time by cause",
            x_title="",
            y_title="Crew-hours",
            categories=self._range(1, first),
            series=(("Crew-hours", self._range(2, first), OCHRE),),
            anchor=self._place(row, 1, 5),
            values_from=0.0,
        )
