"""The Gantt sheet: the runs as bars over days or weeks, with the joints of each day."""

import datetime as dt
from collections import Counter
from collections.abc import Iterable, Iterator, Mapping, Sequence, Set
from dataclasses import replace

from estimator.data_class import dataclass
from estimator.display import show_date
from estimator.inputs.weekdays import DAY_NAMES
from estimator.plan import RunSpan
from estimator.workbook.results.builder import Context, Scalar, SheetBuilder
from estimator.workbook.results.result_columns import ResultColumn, result_columns
from estimator.workbook.results.timescale import DAY, MOST_COLUMNS, TimeScale
from estimator.workbook.sheet.look import TEXT, box_pixels, pixels_of
from estimator.workbook.sheet.source import column_letters
from estimator.workbook.sheet.spec import Cell, ConditionalRule, SheetSpec, all_of
from estimator.workbook.sheet.styles import CLOSE_STYLES
from estimator.workbook.sheet.text_width import text_pixels
from estimator.working_time.working_days import WorkingCalendar

MOST_NUMBERS = 70_000
"""More cells than these are left empty: the bars then show without the joints in them."""
DIGIT, EDGES, FEWEST_DIGITS = 6.0, 6.0, 2
"""Pixels of a figure in the small type of the bars, and of the edges of its cell."""
ROOM_OF_NAMES, BROADEST_TIME = 22.0, 5.0
"""Letters that descriptions are given first, and how broad a column of time may then get."""
ROUNDED = 1e-6
"""Pixels that keep widths from adding up to more than the page by rounding alone."""
OFF, WEATHER, NO_DEADLINE = "off", "w", "none"
FACTS_ROW, LEGEND_ROW, FIRST_ROW = 3, 5, 8
FINISH, DEADLINE = "$E$4", "$F$4"
LEGEND = (
    ("Critical", "gantt_critical", 1, 1),
    ("Worked: joints, + other", "gantt_worked", 2, 2),
    ("Critical, no work", "gantt_critical_span", 3, 4),
    ("Float, no work", "gantt_span", 5, 6),
    ("off, w: lost", "gantt_off", 7, 8),
)
"""What the colors mean, and the columns in which it stands; the deadline is named below them."""
OF_DATES = "{} days a column; days worked"
OF_MONTHS = "{} days a column, from"
"""What columns of several days and the numbers over them say, headed by dates or by months."""
MOST_OF_RUN, EDGES_OF_RUN, RESERVE = 14.0, 7.0, 1.06
"""Letters that the column of runs takes at most, pixels of its edges, and how much broader
LibreOffice draws a name."""
DATED_WIDTH = 7.8
"""Width of a date with its year."""

Made = Mapping[tuple[str, int], int]


@dataclass(frozen=True)
class Chart:
    """What the sheet is drawn from: joints ``made`` by run and column, and by column as a total."""

    scale: TimeScale
    spans: Sequence[RunSpan]
    made: Made
    in_all: Sequence[int]

    @property
    def numbered(self) -> bool:
        """Whether the cells hold the joints made."""
        return len(self.spans) * self.scale.count <= MOST_NUMBERS

    @property
    def first_column(self) -> int:
        """Number of the first column of time."""
        return len(result_columns("gantt")) + 1

    @property
    def last_column(self) -> int:
        """Number of the last column of time."""
        return self.first_column + self.scale.count - 1


def gantt_sheet(context: Context) -> SheetSpec:
    """Return the Gantt sheet: a row for each run, its bar made by rules from its dates.

    Anchor ``gantt.joints`` points at the joints of all rows.
    """
    sheet = SheetBuilder(context, "Gantt", "Gantt chart")
    columns = with_room_for_runs(_columns(context), context.run_spans)
    chart = _chart(context, columns)
    _facts(sheet, chart)
    sheet.result = Cell(
        f"Fusion finish {show_date(context.estimate.plan.finish, context.system)}", "result"
    )
    sheet.last_row = FIRST_ROW - 2
    header = sheet.table_head(columns)
    _time_head(sheet, chart, header)
    for values, formulas, cells in _rows(chart, context, header):
        row = sheet.table_row(columns, values, formulas)
        sheet.put(row, chart.first_column, *cells)
    last = sheet.last_row
    _totals(sheet, chart, sheet.add_totals(columns, header + 1, "gantt"))
    return replace(
        sheet.spec(),
        widths=filled_widths(columns, _width(chart), chart.scale.count),
        freeze=(header, 2),
        closes_up=True,
        header_row=header,
        header_rows=header - LEGEND_ROW + 1,
        autofilter=f"A{header}:{column_letters(len(columns))}{last}",
        conditional=tuple(_rules(chart, header, last)),
        exact_widths=True,
        landscape=True,
    )


def _columns(context: Context) -> Sequence[ResultColumn]:
    """Return the columns beside the bars; their dates have the year only where it is needed."""
    columns = result_columns("gantt")
    if context.spans_years:
        return [replace(one, width=DATED_WIDTH) if _is_date(one) else one for one in columns]
    return [replace(one, style="day") if _is_date(one) else one for one in columns]


def with_room_for_runs(
    columns: Sequence[ResultColumn], names: Iterable[str]
) -> Sequence[ResultColumn]:
    """Return columns of which that of the runs holds each name on one line, if it is not long."""
    longest = max((text_pixels(name, TEXT) for name in names), default=0.0)
    letters = (longest * RESERVE + EDGES_OF_RUN - pixels_of(0)) / (pixels_of(1) - pixels_of(0))
    room = min(letters, MOST_OF_RUN)
    return [
        replace(one, width=max(one.width, room)) if one.key == "run_id" else one for one in columns
    ]


def _is_date(column: ResultColumn) -> bool:
    return column.kind == "date"


def _chart(context: Context, columns: Sequence[ResultColumn]) -> Chart:
    """Return the finest chart whose columns have room for their joints on one page."""
    names = sum(pixels_of(column.width) for column in columns)
    room, most = box_pixels(across=True) - names, MOST_COLUMNS
    while True:
        chart = _in_columns(context, most)
        fitting = int(room / pixels_of(_width(chart)))
        if chart.scale.count <= max(fitting, 1):
            return chart
        most = fitting


def _in_columns(context: Context, most: int) -> Chart:
    plan = context.estimate.plan
    scale = TimeScale.over(plan.start, plan.finish, context.estimate.job.dates.deadline, most)
    made: Counter[tuple[str, int]] = Counter()
    in_all = [0] * scale.count
    for line in plan.lines:
        place = scale.place(line.date)
        made[line.run_id, place] += line.joints
        in_all[place] += line.joints
    spans = sorted(context.run_spans.values(), key=lambda span: (span.first, span.last))
    return Chart(scale, spans, made, in_all)


def _facts(sheet: SheetBuilder, chart: Chart) -> None:
    """Set the facts that the rules refer to, and the meaning of the colors."""
    context = sheet.context
    deadline = context.estimate.job.dates.deadline
    given = context.input("job", "", "deadline")
    floats = _column("float")
    critical = sum(span.is_critical for span in chart.spans)
    cells = f"{floats}{FIRST_ROW}:{floats}{FIRST_ROW + len(chart.spans) - 1}"
    facts: dict[int, tuple[str, Cell]] = {
        1: ("Runs", Cell(len(chart.spans), "key_int")),
        2: ("Of which critical", Cell(critical, "key_int", f"COUNTIF({cells},0)")),
        5: ("Finish", Cell(context.estimate.plan.finish, "key_day",
                           context.anchors["plan.finish"])),
        6: ("Deadline", Cell(deadline or NO_DEADLINE, "key_day",
                             given and f'IF({given}="","{NO_DEADLINE}",{given})')),
    }  # fmt: skip
    for column, (label, value) in facts.items():
        sheet.put(FACTS_ROW, column, Cell(label, "plain"))
        sheet.put(FACTS_ROW + 1, column, value)
    for text, style, first, last in LEGEND:
        sheet.put(LEGEND_ROW, first, Cell(text, style), *[Cell(None, style)] * (last - first))
        if last > first:
            sheet.merge(LEGEND_ROW, first, last)


def _time_head(sheet: SheetBuilder, chart: Chart, header: int) -> None:
    scale, estimate = chart.scale, sheet.context.estimate
    calendar, worked = WorkingCalendar.of(estimate.job), {line.date for line in estimate.plan.lines}
    look = "gantt_month" if scale.shows_months else "gantt_head"
    kinds = (_kind(calendar, worked, scale, place) for place in range(scale.count))
    bands = (Cell(text or None, CLOSE_STYLES["group"]) for text in scale.bands())
    sheet.put(LEGEND_ROW, chart.first_column, *bands)
    sheet.put(header - 1, chart.first_column, *(Cell(kind, "gantt_kind") for kind in kinds))
    sheet.put(header - 1, 1, Cell("Deadline", "gantt_deadline"))
    if scale.step > DAY:
        label = (OF_MONTHS if scale.shows_months else OF_DATES).format(scale.step)
        sheet.put(header - 1, chart.first_column - 1, Cell(label, "unit_right"))
    sheet.put(header, chart.first_column, *(Cell(date, look) for date in scale.dates))
    sheet.heights[header] = 30


def _kind(
    calendar: WorkingCalendar, worked: Set[dt.date], scale: TimeScale, place: int
) -> str | int | None:
    """Return the weekday of a working day, of longer columns the number of days worked, if any.

    Over the name of a month stands the day on which its column begins.
    """
    days = scale.days_of(place)
    if scale.step > DAY and not worked.isdisjoint(days):
        return days[0].day if scale.shows_months else sum(day in worked for day in days)
    kinds = [calendar.kind(day) for day in days]
    if "work" not in kinds:
        return WEATHER if "weather" in kinds else OFF
    return DAY_NAMES[days[0].weekday()][:2] if scale.step == DAY else None


def _rows(
    chart: Chart, context: Context, header: int
) -> Iterator[tuple[dict[str, Scalar], dict[str, str | None], list[Cell]]]:
    names = {run.run_id: run.description for run in context.estimate.job.runs}
    left, right = (column_letters(n) for n in (chart.first_column, chart.last_column))
    for row, span in enumerate(chart.spans, header + 1):
        values: dict[str, Scalar] = {
            "run_id": span.run_id,
            "description": names[span.run_id],
            "crew": ", ".join(str(crew) for crew in span.crews),
            "machine": ", ".join(span.machines),
            "first_day": span.first,
            "last_day": span.last,
            "joints": span.joints,
            "float": span.float_days,
        }
        total = f"SUM({left}{row}:{right}{row})" if chart.numbered else None
        places = range(chart.scale.count) if chart.numbered else ()
        cells = [Cell(chart.made.get((span.run_id, n)), "gantt_joints") for n in places]
        yield values, {"joints": total}, cells


def _totals(sheet: SheetBuilder, chart: Chart, row: int) -> None:
    """Add the joints of all runs in each column to the last row."""
    for place, joints in enumerate(chart.in_all):
        letters = column_letters(chart.first_column + place)
        formula = f"SUM({letters}{FIRST_ROW}:{letters}{row - 1})" if chart.numbered else None
        sheet.put(row, chart.first_column + place, Cell(joints, "gantt_total", formula))


def _column(key: str) -> str:
    return column_letters([column.key for column in result_columns("gantt")].index(key) + 1)


def _width(chart: Chart) -> float:
    """Return the width of a column of time in characters, by its joints and its head."""
    digits = max(FEWEST_DIGITS, len(str(max(chart.in_all))))
    joints = (DIGIT * digits + EDGES - pixels_of(0)) / (pixels_of(1) - pixels_of(0))
    return max(joints, chart.scale.month_width) if chart.scale.shows_months else joints


def filled_widths(
    columns: Sequence[ResultColumn], time_width: float, count: int
) -> tuple[float, ...]:
    """Return the widths of all columns; descriptions take what is left of the page.

    Where few columns of time leave much, these get broader once descriptions have their room.
    """
    used = sum(map(pixels_of, [*(column.width for column in columns), *[time_width] * count]))
    spare = max(0.0, box_pixels(across=True) - used - ROUNDED) / (pixels_of(1) - pixels_of(0))
    more = min(max(spare - ROOM_OF_NAMES, 0.0) / count, max(BROADEST_TIME - time_width, 0.0))
    spare -= more * count
    names = (c.width + spare * (c.key == "description") for c in columns)
    return (*names, *[time_width + more] * count)


def _rules(chart: Chart, header: int, last: int) -> Iterator[ConditionalRule]:
    """Yield the colors of the bars and of the columns, the first that holds counts."""
    left, right = (column_letters(n) for n in (chart.first_column, chart.last_column))
    row, date = header + 1, f"{left}${header}"
    first_day, last_day = (f"${_column(key)}{row}" for key in ("first_day", "last_day"))
    bar = f"{date}<={last_day}", f"{date}+{chart.scale.step}>{first_day}"
    critical = f"${_column('float')}{row}=0"
    worked = f'{left}{row}<>""'
    due = all_of(f"{date}<={DEADLINE}", f"{date}+{chart.scale.step}>{DEADLINE}")
    kind = f"{left}${header - 1}"
    area = f"{left}{row}:{right}{last}"
    looks = [
        (all_of(worked, critical), "gantt_critical"), (worked, "gantt_worked"),
        (all_of(*bar, critical), "gantt_critical_span"), (all_of(*bar), "gantt_span"),
    ]  # fmt: skip
    if not chart.numbered:
        looks = [(all_of(*bar, critical), "gantt_critical"), (all_of(*bar), "gantt_worked")]
    looks += [(due, "gantt_due"), (f'{kind}="{OFF}"', "gantt_off"),
              (f'{kind}="{WEATHER}"', "gantt_weather")]  # fmt: skip
    for operand, style in looks:
        yield ConditionalRule(area, "formula", operand, style)
    yield ConditionalRule(f"{left}{header}:{right}{header}", "formula", due, "gantt_deadline")
    yield ConditionalRule(DEADLINE, "formula", f"{FINISH}>{DEADLINE}", "warn")
    floats = _column("float")
    yield ConditionalRule(
        f"{floats}{row}:{floats}{last}", "formula", critical, "gantt_critical_span"
    )
