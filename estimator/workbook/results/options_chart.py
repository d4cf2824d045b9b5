"""The chart of the Options sheet: finish and job cost, dots named by their numbers in the table."""

import datetime as dt
from collections.abc import Iterator, Mapping, Sequence
from typing import Literal, NamedTuple

from estimator.data_class import dataclass
from estimator.display import UnitSystem, show_day_of_year
from estimator.models.options import OptionTable
from estimator.workbook.results.builder import SheetBuilder
from estimator.workbook.results.dot_names import Box, Dot, Plot, names_of_dots
from estimator.workbook.sheet.look import (
    DAY_MONTH,
    INK,
    LINE_MUTED,
    MONTH_YEAR,
    OCHRE,
    STEPS,
    US_DATES,
    axis_about,
    money_steps,
)
from estimator.workbook.sheet.source import column_letters
from estimator.workbook.sheet.spec import Cell, ChartSpec, Mark, Side

CHART_ROWS, CHART_ROW, CHART_HEAD = 13, 15.0, 2
"""Rows on which the chart stands, their height in points, and the rows of its heading."""
PLOT = 430.0, 145.0
"""About the points in which the dots stand, across and upward."""
LEAST_CHART_POINTS = 2
MOST_LABELS = 10
"""Labels on the axis of dates that have room beside each other."""
WEEK, MONTH, YEAR = 7, 30, 12
MONTHS = (1, 2, 3, 6, 12)
"""Days of a week, about those of a month, months of a year, and steps of an axis in months."""
APART = 20
"""Part of the days of the dots that is free beside them, for their names: one in so many."""
CHART = "Finish and job cost of each option"
KEY = (
    "Numbers as in the table, together for close dots. Dark: none beats it on both finish and "
    "cost. Diamond: base. Costs do not begin at zero."
)
BASE, OTHERS, LINE = "{} base", "Other options", "Line of the deadline"
LATER, EARLIER = "Deadline later", "Deadline earlier"
"""Words of a deadline beyond the chart: one longer would be broken in two lines."""
DOT, BEATEN_DOT, DIAMOND, TOP_DOT = 7, 5, 9, 3
"""Sizes of the marks in points."""


class Series(NamedTuple):
    """One series of the chart: its name, its mark and color, and its amounts by their rows."""

    name: str
    mark: Mark
    color: str
    amounts: Mapping[int, float]


class Deadline(NamedTuple):
    """Where the deadline stands: its words on a day, and whether a line is drawn there."""

    day: dt.date
    words: str
    has_line: bool


@dataclass(frozen=True)
class Axis:
    """First and last day of an axis, and how far apart its labels stand."""

    days: tuple[dt.date, dt.date]
    step: tuple[int, Literal["days", "months"]]

    @property
    def length(self) -> int:
        """The days that it spans."""
        return (self.days[1] - self.days[0]).days


def axis_of(days: Sequence[dt.date]) -> Axis:
    """Return an axis from and to whole weeks, or whole months where weeks are too many.

    >>> axis_of([dt.date(2027, 8, 5), dt.date(2028, 2, 1)]).days[1].isoformat()
    '2028-03-01'
    """
    beside = dt.timedelta(1 + (max(days) - min(days)).days // APART)
    first, last = min(days) - beside, max(days) + beside
    monday = first - dt.timedelta(first.weekday())
    weeks = -(-(last - monday).days // WEEK)
    if weeks <= MOST_LABELS:
        return Axis((monday, monday + dt.timedelta(weeks * WEEK)), (WEEK, "days"))
    months = (last - first).days / MONTH
    step = next((n for n in MONTHS if months <= n * (MOST_LABELS - 1)), MONTHS[-1])
    start = _month(first, 0)
    count = YEAR * (last.year - start.year) + last.month - start.month + 1
    return Axis((start, _month(start, -(-count // step) * step)), (step, "months"))


def _month(day: dt.date, later: int) -> dt.date:
    """Return the first day of the month so many months after that of a day."""
    years, month = divmod(day.month - 1 + later, YEAR)
    return dt.date(day.year + years, month + 1, 1)


def add_chart(
    sheet: SheetBuilder, table: OptionTable, columns: int, beside: tuple[int, int]
) -> ChartSpec:
    """Append the chart over some columns, and from a cell beside the page on what it shows."""
    dots = list(_dots(table))
    axis, deadline = _axis_and_deadline(table, [dot.day for dot in dots])
    costs = axis_about(min(dot.amount for dot in dots), max(dot.amount for dot in dots))
    series = _series(dots, Plot(axis.days, costs, PLOT), deadline)
    ends = [deadline.day] * (1 + deadline.has_line) if deadline else []
    days, ranges = _add_cells(sheet, beside, [*(dot.day for dot in dots), *ends], series)
    sheet.add()
    sheet.section(CHART, columns)
    sheet.add(Cell(KEY, "subtitle"))
    top = sheet.next_row
    for _ in range(CHART_ROWS):
        sheet.add(height=CHART_ROW)
    return ChartSpec(
        kind="points",
        title=CHART,
        x_title="",
        y_title="",
        categories=days,
        days=axis.days,
        date_step=axis.step,
        categories_format=_date_format(axis, table.system),
        series=[(one.name, cells, one.color) for one, cells in zip(series, ranges, strict=True)],
        marks={one.name: one.mark for one in series},
        has_legend=False,
        anchor=(f"A{top}", f"{column_letters(columns + 1)}{top + CHART_ROWS}"),
        values_from=costs[0],
        values_to=costs[1],
        values_format=money_steps(table.currency, costs[1], (costs[1] - costs[0]) / STEPS),
    )


def _dots(table: OptionTable) -> Iterator[Dot]:
    """Yield the options that can be done, numbered as in the table."""
    for number, option in enumerate(table.possible, 1):
        if option.figures is not None:
            name = BASE.format(number) if option.is_base else str(number)
            cost = float(option.figures.job_cost)
            is_best = option.is_base or not option.better
            yield Dot(name, option.figures.finish, cost, is_best)


def _date_format(axis: Axis, system: UnitSystem) -> str:
    if axis.step[1] == "months":
        return MONTH_YEAR
    return US_DATES[DAY_MONTH] if system == "US" else DAY_MONTH


def _axis_and_deadline(table: OptionTable, days: Sequence[dt.date]) -> tuple[Axis, Deadline | None]:
    """Return the axis of dates, and the deadline: at an end and in words if it is far off."""
    axis, day = axis_of(days), table.deadline
    if day is None:
        return axis, None
    words = f"Deadline {show_day_of_year(day, table.system)}"
    broader = axis_of([*days, day])
    if broader.length <= 2 * axis.length:
        return broader, Deadline(day, words, has_line=True)
    first, last = axis.days
    if day > last:
        return axis, Deadline(last, LATER, has_line=False)
    return axis, Deadline(first, EARLIER, has_line=False)


def _series(dots: Sequence[Dot], plot: Plot, deadline: Deadline | None) -> Sequence[Series]:
    """Return a series for each name and each best option, one for the others, the deadline's.

    Names keep off the words of the deadline. Rows are counted from 0.
    """
    of_deadline = list(_deadline_series(plot, deadline, len(dots)) if deadline else ())
    names = names_of_dots(plot, dots, _boxes(plot, deadline, of_deadline) if deadline else ())
    alone = [row for row, dot in enumerate(dots) if row in names or dot.must_be_named]
    others = {row: dot.amount for row, dot in enumerate(dots) if row not in alone}
    beaten = [Series(OTHERS, Mark(size=BEATEN_DOT), LINE_MUTED, others)] if others else []
    named = [
        Series(
            names[row].text if row in names else dots[row].name,
            _mark(dots[row])._replace(named=names[row].side if row in names else None),
            INK if dots[row].must_be_named else LINE_MUTED,
            {row: dots[row].amount},
        )
        for row in sorted(alone, key=lambda row: dots[row].must_be_named)
    ]
    return [*beaten, *named, *of_deadline]


def _boxes(plot: Plot, deadline: Deadline, series: Sequence[Series]) -> Iterator[Box]:
    """Yield what the words of the deadline and its line take."""
    words = _words(plot, deadline)
    yield from (plot.box(words, one.mark.named) for one in series if one.mark.named)
    if deadline.has_line:
        x, _ = plot.place(words)
        yield Box(x - 1, 0.0, x + 1, plot.size[1])


def _words(plot: Plot, deadline: Deadline) -> Dot:
    """Return the words of the deadline, between the uppermost lines of the chart."""
    low, high = plot.amounts
    return Dot(deadline.words, deadline.day, high - (high - low) / (2 * STEPS))


def _mark(dot: Dot) -> Mark:
    if not dot.name.isdigit():
        return Mark("diamond", DIAMOND)
    return Mark(size=DOT if dot.must_be_named else BEATEN_DOT)


def _deadline_series(plot: Plot, deadline: Deadline, row: int) -> Iterator[Series]:
    """Yield the words of the deadline at the top of the chart, and its line below them."""
    low, high = plot.amounts
    words = _words(plot, deadline)
    side: Side = "right" if plot.holds(plot.box(words, "right")) else "left"
    yield Series(deadline.words, Mark(size=TOP_DOT, named=side), OCHRE, {row: words.amount})
    if deadline.has_line:
        yield Series(LINE, Mark("none", dash="dash"), OCHRE, {row: high, row + 1: low})


def _add_cells(
    sheet: SheetBuilder, at: tuple[int, int], days: Sequence[dt.date], series: Sequence[Series]
) -> tuple[str, Sequence[str]]:
    """Set what the chart shows from a cell on; return the ranges of its days and its series."""
    header, left = at
    heads = ["Finish", *(one.name for one in series)]
    sheet.put(header, left, *(Cell(head, "header") for head in heads))
    for row, day in enumerate(days):
        amounts = (one.amounts.get(row) for one in series)
        cells = (Cell(amount, "money0") if amount is not None else None for amount in amounts)
        sheet.put(header + 1 + row, left, Cell(day, "date_short"), *cells)
    ends = header + 1, header + len(days)
    ranges = [
        f"{sheet.reference(column, ends[0])}:{sheet.address(column, ends[1])}"
        for column in range(left, left + len(heads))
    ]
    return ranges[0], ranges[1:]
