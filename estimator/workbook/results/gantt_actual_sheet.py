"""The Gantt with actuals: below the planned bar of each run, what was made and what is left."""

import datetime as dt
from collections import Counter, defaultdict
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import field, replace

from estimator.data_class import dataclass
from estimator.display import show_date
from estimator.models.baseline import BUTT_PIECES
from estimator.progress.standing import Standing
from estimator.workbook.results.builder import Context, Scalar, SheetBuilder
from estimator.workbook.results.gantt_sheet import filled_widths, with_room_for_runs
from estimator.workbook.results.result_columns import ResultColumn, result_columns
from estimator.workbook.results.status_sheet import COUNTED_FROM
from estimator.workbook.results.timescale import DAY, MOST_COLUMNS, TimeScale
from estimator.workbook.sheet.layout import EDGE, RESERVE
from estimator.workbook.sheet.look import SMALL, box_pixels, pixels_of
from estimator.workbook.sheet.spec import Cell, SheetSpec
from estimator.workbook.sheet.text_width import text_pixels

GANTT_ACTUAL = "Gantt with actuals"
TIME_WIDTH = 2.1
LEGEND = (
    ("Planned: joints", "bar_planned", 1, 2),
    ("Made", "bar_made", 3, 3),
    ("Forecast", "bar_left", 4, 4),
    ("Status", "gantt_deadline", 5, 5),
)
"""What the colors mean, and the columns in which it stands."""
DESCRIPTION = 1
"""Place of the column that has what is left of the page."""
BOTH_MEANS = ", 13+6: made + forecast"


@dataclass()
class _Bar:
    """Joints by date of one run, of one kind: planned, made, or still to be made.

    A day of other work alone, such as a test joint, counts as 0.
    """

    joints: Counter[dt.date] = field(default_factory=Counter)

    @property
    def first(self) -> dt.date | None:
        return min(self.joints, default=None)

    @property
    def last(self) -> dt.date | None:
        return max(self.joints, default=None)

    @property
    def total(self) -> int:
        return sum(self.joints.values())

    def by_column(self, scale: TimeScale) -> Mapping[int, int]:
        """Return the joints of each column in which there is work."""
        found: Counter[int] = Counter()
        for date, number in self.joints.items():
            found[scale.place(date)] += number
        return found


Bars = Mapping[str, _Bar]


def _bars(days: Iterable[tuple[str, dt.date, int]]) -> Bars:
    found: dict[str, _Bar] = defaultdict(_Bar)
    for run_id, date, joints in days:
        found[run_id].joints[date] += joints
    return found


def gantt_actual_sheet(context: Context, standing: Standing) -> SheetSpec:
    """Return the sheet: two rows for each run, the planned one and below it the actual one."""
    planned, made, left = _planned(standing), _made(standing), _left(standing)
    date = standing.status.date
    columns = with_room_for_runs(result_columns("gantt_actual"), {*planned, *made})
    scale = _scale(standing, (planned, made, left), columns)
    sheet = SheetBuilder(
        context,
        GANTT_ACTUAL,
        GANTT_ACTUAL,
        f"To {show_date(date, context.system)}{_of_days(scale)}; {COUNTED_FROM}",
    )
    finish = max((bar.last for bar in left.values() if bar.last), default=None)
    if finish is not None:
        text = f"Plan of what is left ends {show_date(finish, context.system)}"
        sheet.result = Cell(text, "result")
    legend = _legend(sheet)
    header = sheet.table_head(columns)
    first_column = len(columns) + 1
    _time_head(sheet, scale, header, first_column, date)
    names = {run.run_id: run.description for run in context.estimate.job.runs}
    both: list[str] = []
    order = sorted({*planned, *made}, key=lambda run_id: (_begin(planned, made, run_id), run_id))
    for run_id in order:
        plan, actual, ahead = (bars.get(run_id, _Bar()) for bars in (planned, made, left))
        above: dict[str, Scalar] = {"run_id": run_id, "description": names.get(run_id)}
        sheet.table_row(columns, above | _span(plan))
        _cells(sheet, first_column, _planned_cells(plan, scale, date))
        ends = ahead.last or actual.last
        below: dict[str, Scalar] = {"run_id": None, "description": "made, and forecast"}
        sheet.table_row(columns, below | _span(actual) | {"last_day": ends})
        cells = list(_actual_cells(actual, ahead, scale, date))
        both += [cell.value for cell in cells if isinstance(cell.value, str)]
        _cells(sheet, first_column, iter(cells))
    widths = filled_widths(columns, _time_width(scale), scale.count)
    return replace(
        sheet.spec(),
        widths=_with_room_for_both(widths, first_column - 1 + scale.place(date), both),
        freeze=(header, 2),
        closes_up=True,
        header_row=header,
        header_rows=header - legend + 1,
        exact_widths=True,
        landscape=True,
    )


def _planned(standing: Standing) -> Bars:
    days = standing.status.baseline.days
    return _bars(
        (day.run_id, day.date, sum(day.pieces.get(kind, 0) for kind in BUTT_PIECES)) for day in days
    )


def _made(standing: Standing) -> Bars:
    return _bars((day.run_id, day.date, day.made) for day in standing.made.days)


def _left(standing: Standing) -> Bars:
    lines = () if standing.forecast is None else standing.forecast.plan.plan.lines
    return _bars((line.run_id, line.date, line.joints) for line in lines)


def _scale(
    standing: Standing, all_bars: Sequence[Bars], columns: Sequence[ResultColumn]
) -> TimeScale:
    dates = [date for bars in all_bars for bar in bars.values() for date in bar.joints]
    names = sum(pixels_of(column.width) for column in columns)
    last = max([*dates, standing.status.date])

    room, most = box_pixels(across=True) - names, MOST_COLUMNS
    while True:
        scale = TimeScale.over(min(dates), last, None, most)
        fitting = max(int(room / pixels_of(_time_width(scale))), 1)
        if scale.count <= fitting:
            return scale
        most = fitting


def _of_days(scale: TimeScale) -> str:
    """Return what a column of several days is and holds, empty of a day.

    >>> _of_days(TimeScale(dt.date(2027, 3, 1), 14, 9)), _of_days(TimeScale(dt.date.min, 1, 9))
    (', 14 days a column, 13+6: made + forecast', '')
    """
    if scale.step == DAY:
        return ""
    begins = ", under the month it begins" if scale.shows_months else ""
    return f", {scale.step} days a column{begins}{BOTH_MEANS}"


def _time_width(scale: TimeScale) -> float:
    return scale.month_width if scale.shows_months else TIME_WIDTH


def _with_room_for_both(
    widths: Sequence[float], at: int, texts: Sequence[str]
) -> tuple[float, ...]:
    """Return widths of which a column holds texts on one line; the descriptions give the room."""
    longest = max((text_pixels(text, SMALL) for text in texts), default=0.0)
    needed = (longest * RESERVE + EDGE - pixels_of(0)) / (pixels_of(1) - pixels_of(0))
    more = max(needed - widths[at], 0.0)
    given = {at: more, DESCRIPTION: -more}
    return tuple(width + given.get(number, 0.0) for number, width in enumerate(widths))


def _begin(planned: Bars, made: Bars, run_id: str) -> dt.date:
    bars = (bars[run_id] for bars in (planned, made) if run_id in bars)
    return min(bar.first for bar in bars if bar.first is not None)


def _span(bar: _Bar) -> dict[str, Scalar]:
    return {"first_day": bar.first, "last_day": bar.last, "joints": bar.total}


def _legend(sheet: SheetBuilder) -> int:
    """Add the row that says what the colors mean; return its number."""
    row = sheet.next_row
    for text, style, first, last in LEGEND:
        sheet.put(row, first, Cell(text, style), *[Cell(None, style)] * (last - first))
        if last > first:
            sheet.merge(row, first, last)
    sheet.last_row = row
    return row


def _time_head(
    sheet: SheetBuilder, scale: TimeScale, header: int, first_column: int, status: dt.date
) -> None:
    look = "gantt_month" if scale.shows_months else "gantt_head"
    at = scale.place(status)
    bands = (Cell(text or None, "group") for text in scale.bands())
    sheet.put(header - 1, first_column, *bands)
    heads = [
        Cell(date, f"{look}_now" if place == at else look) for place, date in enumerate(scale.dates)
    ]
    sheet.put(header, first_column, *heads)


def _cells(sheet: SheetBuilder, first_column: int, cells: Iterator[Cell]) -> None:
    sheet.put(sheet.last_row, first_column, *cells)


def _planned_cells(bar: _Bar, scale: TimeScale, status: dt.date) -> Iterator[Cell]:
    joints, at = bar.by_column(scale), scale.place(status)
    for place in range(scale.count):
        if place in joints:
            yield Cell(joints[place] or None, "bar_planned")
        else:
            yield Cell(None, "bar_status" if place == at else "bar_none")


def _actual_cells(made: _Bar, left: _Bar, scale: TimeScale, status: dt.date) -> Iterator[Cell]:
    """Yield what was made of each column, and after it what the forecast has there.

    A column that has both, as that of the status date, says so: 13+6, or 13+ for other work.
    """
    done, to_go, at = made.by_column(scale), left.by_column(scale), scale.place(status)
    for place in range(scale.count):
        if place in done and place in to_go:
            yield Cell(f"{done[place] or ''}+{to_go[place] or ''}", "bar_made")
        elif place in done:
            yield Cell(done[place] or None, "bar_made")
        elif place in to_go:
            yield Cell(to_go[place] or None, "bar_left")
        else:
            yield Cell(None, "bar_status" if place == at else "bar_none")
