"""The Look-ahead sheet: three weeks by crew, run and day, and what must be ready before."""

import datetime as dt
import math
from collections.abc import Iterator, Sequence
from dataclasses import replace
from functools import cached_property
from itertools import groupby

from estimator.display import counted, show_date, show_day_of_year
from estimator.models.plan import PlanLine
from estimator.models.weeks import DayAhead, LookAhead
from estimator.plan import OtherFirst, look_ahead, others_first
from estimator.plan.by_week import WEEK_DAYS
from estimator.workbook.results.builder import Context, SheetBuilder
from estimator.workbook.results.names_in_short import in_stretches
from estimator.workbook.results.ready_words import Due, all_due, gear
from estimator.workbook.results.shown_sums import add_up_as_shown
from estimator.workbook.results.week_sheet import fuel_in_its_unit
from estimator.workbook.sheet.layout import EDGE, RESERVE, laid_out
from estimator.workbook.sheet.look import TEXT, box_pixels, pixels_of
from estimator.workbook.sheet.names import literal
from estimator.workbook.sheet.page_breaks import pages_down
from estimator.workbook.sheet.source import column_letters
from estimator.workbook.sheet.spec import Cell, SheetSpec, Value
from estimator.workbook.sheet.styles import WEEK_STYLES
from estimator.workbook.sheet.text_width import text_pixels

FIRST_DAY = 2
NAME_WIDTH, DAYS_WIDTH, SUM_WIDTH = 40.0, 78.0, 7.0
A_DATE = "Wed 30 Mar"
"""As broad as the dates by which things are needed."""
OF_THESE = (
    ("tie_in_joints", "of which tie-in joints"),
    ("rework_joints", "rework joints, allowance"),
    ("test_joints", "trial fusions"),
    ("other_joints", "other connections"),
)
READY_HEADS = ("What", "Needed by", "For", "Who", "Ready", "If not")
HEAD_ROWS = 3
DAYS_ROW, BEFORE_LIST = 12.0, 6.0
"""Heights in points of the weeks and of the weekdays, close over the days of the month; and of
the blank row before what must be ready."""
EMPTY_LINES, OTHER = (3, 2, 1), "Other:"
"""Lines to write on, the most that the last page has room for."""
WHOLE_FROM = 100
"""Fuel or hours of a day from which their column has no room for a decimal."""
ROOM_FOR_WORDS = 10
"""Days up to which each has room for why it is lost; of more, for the first letter."""
LABEL = "Butt joints by crew and run"
BETWEEN = "  "
"""Stands between a run and what it is called."""
MOVES = "the finish moves"
NO_WORK = "No work is planned in these weeks."
NOTE = (
    "Joints at the estimate's pace; + is work without a butt joint. Weather days are the month's "
    "allowance, not a forecast. Who is our suggestion; write in the name. Cross the box when ready."
)


def look_ahead_sheet(context: Context) -> SheetSpec:
    """Return the Look-ahead sheet, from the date on the Job sheet or from the first work on."""
    *more, least = EMPTY_LINES
    ahead = look_ahead(context.estimate)
    shortest = _with_lines(context, ahead, least)
    size = _size(shortest)
    roomier = (_with_lines(context, ahead, lines) for lines in more)
    return next((sheet for sheet in roomier if _size(sheet) == size), shortest)


def _size(sheet: SheetSpec) -> tuple[float | None, int]:
    """Return what more lines must leave: the height of rows, closed up or not, and the pages."""
    laid = laid_out(sheet)
    return laid.rows[(sheet.header_row or 0) + 1].height, pages_down(laid)


def _with_lines(context: Context, ahead: LookAhead, lines: int) -> SheetSpec:
    """Return the sheet with some empty lines below what must be ready."""
    sheet = SheetBuilder(context, "Look-ahead", "Three-week look-ahead")
    page = _Page(sheet, ahead)
    first, last = page.days[0].date, page.days[-1].date
    since, until = show_day_of_year(first, context.system), show_date(last, context.system)
    sheet.result = Cell(f"{since} to {until}", "result")
    page.heads()
    header = page.head
    if page.crews or page.sections:
        for crew in page.crews:
            page.crew(crew)
        page.tests()
        page.on_site()
    else:
        page.group(NO_WORK)
    page.ready(lines)
    row = sheet.add(Cell(NOTE, "note"))
    sheet.merge(row, 1, page.last_column)
    days = len(page.days)
    return replace(
        sheet.spec(),
        widths=(NAME_WIDTH, *[DAYS_WIDTH / days] * days, SUM_WIDTH),
        freeze=(header, FIRST_DAY - 1),
        alike=(FIRST_DAY, page.last_column - 1),
        closes_up=True,
        header_row=header,
        header_rows=HEAD_ROWS,
        landscape=True,
    )


class _Page:
    """The rows of the sheet, one after the other."""

    def __init__(self, sheet: SheetBuilder, ahead: LookAhead) -> None:
        self.sheet, self.context = sheet, sheet.context
        self.estimate = sheet.context.estimate
        self.ahead = ahead
        self.days = [day for day in ahead.days if day.date.weekday() in self._weekdays]
        self.last_column = FIRST_DAY + len(self.days)

    @cached_property
    def _weekdays(self) -> set[int]:
        """Weekdays on which anything is planned in these weeks, or all of them if there is none.

        They keep their column in every week. One alone is shown with the next: the list of what
        must be ready needs the room.
        """
        found = {day.date.weekday() for day in self.ahead.days if _has_something(day)}
        if len(found) == 1:
            found |= {(day + 1) % WEEK_DAYS for day in found}
        return found or set(range(WEEK_DAYS))

    @cached_property
    def crews(self) -> list[int]:
        """Crews that are paid in these weeks."""
        return sorted({one.crew for day in self.days for one in day.crews if one.labor_hours})

    @cached_property
    def sections(self) -> list[str]:
        """Test sections that are worked on in these weeks."""
        return list(dict.fromkeys(test.section for day in self.days for test in day.tests))

    @cached_property
    def order(self) -> dict[str, int]:
        """Place of each run in the schedule."""
        return {run.run_id: place for place, run in enumerate(self.estimate.job.runs)}

    def heads(self) -> None:
        """Set the weeks over the days, the weekday and the day of the month."""
        sheet = self.sheet
        weeks, names = sheet.add(height=DAYS_ROW), sheet.add(height=DAYS_ROW)
        self.head = sheet.add(Cell(LABEL, "header"))
        for monday in self._mondays:
            places = [n for n, day in enumerate(self.days) if _monday(day.date) == monday]
            first, last = FIRST_DAY + places[0], FIRST_DAY + places[-1]
            blanks = [Cell(None, "over")] * (len(places) - 1)
            week = show_day_of_year(monday, sheet.context.system)
            style = self._ruled("over", first)
            sheet.put(weeks, first, Cell(f"Week starting {week}", style), *blanks)
            if blanks:
                sheet.merge(weeks, first, last)
        for column, day in enumerate(self.days, FIRST_DAY):
            sheet.put(names, column, Cell(day.date, self._ruled("weekday", column)))
            sheet.put(self.head, column, Cell(day.date, self._ruled("day_of_month", column)))
        sheet.put(self.head, self.last_column, Cell("Sum", "header_right"))

    @property
    def _mondays(self) -> list[dt.date]:
        return list(dict.fromkeys(_monday(day.date) for day in self.days))

    @cached_property
    def _week_starts(self) -> set[int]:
        """Columns of the first day of each week, at whose left a rule stands."""
        mondays = [_monday(day.date) for day in self.days]
        return {FIRST_DAY + mondays.index(monday) for monday in mondays}

    def _ruled(self, style: str, column: int) -> str:
        return WEEK_STYLES[style] if column in self._week_starts else style

    def group(self, text: str) -> None:
        """Append a line that heads a group of rows."""
        blanks = [Cell(None, "group")] * (self.last_column - 1)
        self.sheet.add(Cell(text, "group"), *blanks)

    def crew(self, crew: int) -> None:
        """Append what a crew does: joints by run, what is of these, days lost."""
        self.group(f"Crew {crew}: {', '.join(self._equipment(crew))}")
        lines = {day.date: [line for line in day.lines if line.crew == crew] for day in self.days}
        for run_id in dict.fromkeys(line.run_id for of in lines.values() for line in of):
            self._run(crew, run_id, lines)
        for key, text in OF_THESE:
            counts = [sum(getattr(line, key) for line in lines[day.date]) for day in self.days]
            if any(counts):
                self.strip(f"    {text}", [count or None for count in counts])
        lost = [self._lost.get((day.date, crew)) for day in self.days]
        if any(lost):
            self._days_lost(lost)

    def _days_lost(self, lost: Sequence[str | None]) -> None:
        """Append why days are lost: in short, and what is short for what, where days are many."""
        if len(self.days) <= ROOM_FOR_WORDS:
            self.strip("Days lost", lost, summed=False)
            return
        why = ", ".join(f"{one[0]}: {one}" for one in dict.fromkeys(filter(None, lost)))
        self.strip(f"Days lost ({why})", [one and one[0] for one in lost], summed=False)

    def _equipment(self, crew: int) -> Iterator[str]:
        dates = [day.date for day in self.days]
        held = [
            span
            for span in self.estimate.fleet.spans
            if span.crew == crew and span.on_rent <= dates[-1] and span.off_rent >= dates[0]
        ]
        yield from dict.fromkeys(gear(span) for span in held)
        people = max(one.people for day in self.days for one in day.crews if one.crew == crew)
        yield f"{people:g} people"

    def _run(self, crew: int, run_id: str, lines: dict[dt.date, list[PlanLine]]) -> None:
        made = [
            [line.joints for line in lines[day.date] if line.run_id == run_id] for day in self.days
        ]
        at = self.context.anchors
        name = literal(run_id)
        formulas = [
            f"SUMIFS({at['plan.column.joints']},{at['plan.column.date']},"
            f"{column_letters(column)}${self.head},{at['plan.column.run_id']},{name},"
            f"{at['plan.column.crew']},{crew})"
            if joints and self._adds_up
            else None
            for column, joints in enumerate(made, FIRST_DAY)
        ]
        numbers = [sum(joints) if joints else None for joints in made]
        called = self.names[run_id]
        self.strip(f"{run_id}{BETWEEN}{called}" if called else run_id, numbers, formulas)

    @cached_property
    def _adds_up(self) -> bool:
        """Whether the sums over the Plan sheet stay live."""
        return self.context.adds_up(sum(len(day.lines) for day in self.days))

    @cached_property
    def names(self) -> dict[str, str | None]:
        """What each run is called."""
        return {run.run_id: run.description for run in self.estimate.job.runs}

    @cached_property
    def _lost(self) -> dict[tuple[dt.date, int], str]:
        """Why a crew is paid without work on a date."""
        days = self.estimate.plan.crew_days
        return {(day.date, day.crew): day.kind for day in days if day.kind != "work"}

    def tests(self) -> None:
        """Append the test sections, with the work of each day."""
        tests = {test.section: test for test in self.estimate.tests}
        if self.sections:
            self.group("Hydrotests")
        for section in self.sections:
            test = tests[section]
            work = {day.date: "test" if day.date == test.pressure_date else day.work[0]
                    for day in test.days}  # fmt: skip
            runs = in_stretches(test.run_ids, self.order)
            on_days = [work.get(day.date) for day in self.days]
            self.strip(f"{section}{BETWEEN}{runs}", on_days, summed=False)

    def on_site(self) -> None:
        """Append people, hours and fuel of each day."""
        self.group("On site")
        self.strip("People", [day.people or None for day in self.days], summed=False)
        self._amounts("Labor-hours, hydrotests included", [day.labor_hours for day in self.days])
        fuel = [sum(one.fuel_l for one in day.crews) for day in self.days]
        unit = self.estimate.job.rates.fuel_price.per
        shown = [fuel_in_its_unit(self.estimate, liters) for liters in fuel]
        self._amounts(f"Diesel fuel, {unit}", shown)

    def _amounts(self, label: str, amounts: Sequence[float]) -> None:
        """Append an amount of each day, with a decimal where one has it and all have room.

        The days as shown add up to their sum.
        """
        is_whole = all(round(one, 1) == round(one) for one in amounts)
        in_tenths = not is_whole and max(amounts) < WHOLE_FROM
        places, kind = (1, "tenth") if in_tenths else (0, "whole")
        shown = [one or None for one in add_up_as_shown(amounts, places)]
        self.strip(label, shown, kind=kind)

    def strip(
        self,
        label: str,
        values: Sequence[Value],
        formulas: Sequence[str | None] = (),
        *,
        summed: bool = True,
        kind: str = "",
    ) -> None:
        """Append a row over the days, with its sum.

        ``kind`` says how amounts are shown that are no counts: in tenths or whole.
        """
        row = self.sheet.next_row
        number, added = (f"day_{kind}", f"day_sum_{kind}") if kind else ("day_number", "day_sum")
        formulas = formulas or [None] * len(values)
        pairs = zip(values, formulas, strict=True)
        cells = [
            Cell(v, self._ruled("day_text" if isinstance(v, str) else number, at), formula)
            for at, (v, formula) in enumerate(pairs, FIRST_DAY)
        ]
        total = Cell(None, "day_sum")
        if summed:
            first, last = column_letters(FIRST_DAY), column_letters(self.last_column - 1)
            amount = sum(v for v in values if isinstance(v, int | float))
            total = Cell(amount, added, f"SUM({first}{row}:{last}{row})")
        self.sheet.add(Cell(label, "text_wrap"), *cells, total)

    def ready(self, lines: int) -> None:
        """Append what must be ready, by when and who sees to it, with a box to cross.

        What one run or test needs by one date stands together; whom it is for, and what if not,
        is said once.
        """
        sheet = self.sheet
        sheet.add(height=BEFORE_LIST)
        sheet.section("Ready before the crew comes", self.last_column)
        self._across([Cell(text, "header") for text in READY_HEADS])
        for (_, whom), group in groupby(self.due, lambda due: (due.by, due.whom)):
            dues = list(group)
            said: tuple[str | None, str | None] = whom, self._if_not(dues[0])
            for due in dues:
                self._across(_ready_cells(due, *said, goes_on=due is not dues[-1]))
                said = None, None
        for n in range(lines):
            self._across(_ready_line(None if n else OTHER))

    @cached_property
    def due(self) -> list[Due]:
        """What must be ready in these weeks or for them."""
        return all_due(self.estimate, self.ahead)

    def _across(self, cells: Sequence[Cell]) -> None:
        row = self.sheet.add()
        for cell, (first, last) in zip(cells, self._spans, strict=True):
            self.sheet.put(row, first, cell, *[Cell(None, cell.style)] * (last - first))
            if last > first:
                self.sheet.merge(row, first, last)

    @cached_property
    def _spans(self) -> list[tuple[int, int]]:
        """First and last column of each part of the list; the last has what the others leave."""
        found, first = [(1, FIRST_DAY - 1)], FIRST_DAY
        _, *heads, _ = READY_HEADS
        held = [
            [A_DATE], [due.whom for due in self.due], [due.who for due in self.due], [],
        ]  # fmt: skip
        others = pixels_of(NAME_WIDTH) + pixels_of(SUM_WIDTH)
        a_day = (box_pixels(across=True) - others) / len(self.days)
        for place, (head, texts) in enumerate(zip(heads, held, strict=True)):
            broad = [text_pixels(head, TEXT, bold=True), *(text_pixels(x, TEXT) for x in texts)]
            last = first + math.ceil((max(broad) * RESERVE + EDGE) / a_day) - 1
            last = min(last, self.last_column - len(heads) + place)
            found.append((first, last))
            first = last + 1
        return [*found, (first, self.last_column)]

    def _if_not(self, due: Due) -> str:
        if due.run_id is None:
            return f"the {due.waits} waits"
        span = self.context.run_spans[due.run_id]
        if span.float_days:
            return f"{counted(span.float_days, 'day')} of float, then {MOVES}"
        other = self._others.get(due.run_id)
        if other is None or due.before != span.first:
            return MOVES
        more = f"{other.more_min:.0f} min more" if other.more_min else "no extra move"
        return f"{other.run_id} first if ready, {more}"

    @cached_property
    def _others(self) -> dict[str, OtherFirst]:
        """Runs that may come first where the one before them is not ready."""
        return others_first(self.estimate, self.context.run_spans)


def _ready_cells(due: Due, whom: str | None, if_not: str | None, *, goes_on: bool) -> list[Cell]:
    """Return a row of the list, which stays on a page with the next one where that goes on."""
    return [
        Cell(due.what, "wrap_kept" if goes_on else "text_wrap"), Cell(due.by, "due_day"),
        Cell(whom, "text"), Cell(due.who, "text"), Cell(None, "tick"), Cell(if_not, "text_after"),
    ]  # fmt: skip


def _ready_line(text: str | None) -> list[Cell]:
    """Return a line to write on, with its box."""
    blanks = [Cell(None, "text")] * 3
    return [Cell(text, "text"), *blanks, Cell(None, "tick"), Cell(None, "text_after")]


def _has_something(day: DayAhead) -> bool:
    return bool(day.crews or day.tests or day.deliveries or day.collections)


def _monday(date: dt.date) -> dt.date:
    return date - dt.timedelta(days=date.weekday())
