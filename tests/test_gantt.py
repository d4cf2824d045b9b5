"""The Gantt sheet: its scale, its rules as LibreOffice works them out, and its figures."""

import dataclasses
import datetime as dt
import functools
import io
import re
from collections import Counter
from pathlib import Path
from types import SimpleNamespace

import openpyxl
import pytest
from hypothesis import given
from hypothesis import strategies as st
from openpyxl.formula.translate import Translator
from openpyxl.utils import get_column_letter
from PIL import ImageFont

from estimator import api
from estimator.models.places import Places
from estimator.plan import run_spans
from estimator.workbook.book import parse_workbook, with_results
from estimator.workbook.results import gantt_actual_sheet, gantt_sheet, timescale
from estimator.workbook.results.builder import Context
from estimator.workbook.results.result_columns import result_columns
from estimator.workbook.results.sheets import RESULT_SHEETS
from estimator.workbook.results.timescale import MOST_COLUMNS, TimeScale
from estimator.workbook.sheet import look
from estimator.workbook.sheet.layout import laid_out
from estimator.workbook.sheet.look import LONG_TABLE, SMALL, box_pixels, pixels_of
from estimator.workbook.sheet.spec import Cell
from estimator.workbook.sheet.styles import STYLES
from estimator.working_time.working_days import WorkingCalendar
from tests.office import recalculate
from tests.one_page import sheet_of

FOLDER = Path(__file__).parent.parent / "examples"
MONDAY = dt.date(2027, 3, 1)
DEADLINE = dt.date(2027, 5, 28)
EPOCH = dt.date(1899, 12, 30)
FIRST, HEADER, COLUMNS = 8, 7, 8


# Scale


@pytest.mark.parametrize(
    ("days", "step", "count"),
    [(1, 1, 1), (24, 1, 24), (25, 7, 4), (168, 7, 24), (169, 14, 13), (336, 14, 24),
     (337, 28, 13), (672, 28, 24), (673, 56, 13)],
)  # fmt: skip
def test_columns_are_as_fine_as_one_page_holds(days, step, count):
    """By hand: 168 days from a Monday are 24 weeks; 336 are 24 times two weeks, 672 times four."""
    scale = TimeScale.over(MONDAY, MONDAY + dt.timedelta(days=days - 1), None)
    assert (scale.step, scale.count) == (step, count)


spans = st.tuples(st.integers(0, 4000), st.integers(0, 4000), st.none() | st.integers(-90, 5000))


@given(st.dates(dt.date(2000, 1, 1), dt.date(2090, 1, 1)), spans)
def test_every_date_of_a_plan_is_in_the_column_that_holds_it(start, lengths):
    length, at, due = lengths
    finish = start + dt.timedelta(days=length)
    deadline = None if due is None else start + dt.timedelta(days=due)
    scale = TimeScale.over(start, finish, deadline)
    assert scale.count <= MOST_COLUMNS
    date = start + dt.timedelta(days=min(at, length))
    assert date in scale.days_of(scale.place(date))
    assert scale.dates[scale.place(date)] == scale.days_of(scale.place(date))[0]
    assert 0 <= scale.place(date) < scale.count
    assert scale.step == 1 or scale.first.weekday() == 0


def test_deadline_is_shown_where_it_needs_no_coarser_columns():
    finish = MONDAY + dt.timedelta(days=20)
    near, far = finish + dt.timedelta(days=3), finish + dt.timedelta(days=60)
    assert TimeScale.over(MONDAY, finish, near).dates[-1] == near
    assert TimeScale.over(MONDAY, finish, far).dates[-1] == finish


def test_heading_stands_where_its_month_begins_and_has_room():
    scale = TimeScale.over(dt.date(2027, 3, 30), dt.date(2027, 5, 1), None, most=40)
    found = {text: date for text, date in zip(scale.bands(), scale.dates, strict=True) if text}
    assert found == {"Mar": dt.date(2027, 3, 30), "Apr/May 2027": dt.date(2027, 4, 1)}


@pytest.mark.parametrize(
    ("first", "weeks", "wanted"),
    [
        (MONDAY, 1, ["Mar 2027", "Apr", "May", "Jun", "Jul", "Aug"]),
        (dt.date(2027, 11, 29), 1, ["Nov/Dec 2027", "Jan 2028", "Feb", "Mar", "Apr", "May"]),
        (dt.date(2027, 4, 26), 2, ["Apr/May", "Jun", "Jul", "Aug 2027", "Sep", "Oct"]),
        (dt.date(2027, 11, 15), 2, ["Nov", "Dec", "2028", "Feb", "Mar", "Apr", "May"]),
    ],
)
def test_each_month_is_named_and_the_year_stands_as_early_as_it_has_room(first, weeks, wanted):
    """Mondays by the calendar. By week: four or five a month, one in November 2027.

    By two weeks from April 26: May 10 and 24, June 7 and 21, July 5 and 19, August 2, 16 and 30,
    September 13 and 27, October 11 and 25. From November 15: the 15th and 29th, December 13 and
    27, January 10 and 24, February 7 and 21, March 6 and 20, April 3 and 17, May 1 and 15.
    """
    scale = TimeScale(first, 7 * weeks, {1: 24, 2: 14}[weeks])
    assert [text for text in scale.bands() if text] == wanted


def test_a_year_of_one_column_of_months_is_named_too():
    """By the calendar: the tenth column of four weeks from May 3, 2027 begins on January 10.

    Measured with the advance widths of Arial, bold, 8 points; a cell's edges take 5 pixels.
    """
    bold = ImageFont.truetype("LiberationSans-Bold.ttf", 800)
    scale = TimeScale(dt.date(2027, 5, 3), 28, 10)
    assert scale.bands() == ["2027", *[""] * 8, "2028"]
    assert pixels_of(scale.month_width) >= bold.getlength("2028") / 75 + 5
    assert TimeScale(dt.date(2027, 5, 3), 28, 11).month_width == timescale.MONTH_WIDTH


def test_the_column_of_the_status_date_is_headed_as_its_neighbors_are():
    for key in ("gantt_head", "gantt_month"):
        own, now = STYLES[key], STYLES[f"{key}_now"]
        assert (now.vertical, now.border, now.bold, now.align) == (
            own.vertical, own.border, own.bold, own.align
        )  # fmt: skip
        assert now.fill != own.fill


@pytest.mark.parametrize(("days", "broader"), [(8, True), (20, False)])
def test_few_columns_of_time_share_what_the_page_has_left(days, broader):
    """Eight days leave 37 letters: 22 for the names, and nearly two more for each column."""
    scale = TimeScale.over(MONDAY, MONDAY + dt.timedelta(days=days - 1), None)
    chart = gantt_sheet.Chart(scale, (), {}, [5])
    width = gantt_sheet._width(chart)
    widths = gantt_sheet.filled_widths(result_columns("gantt"), width, scale.count)
    time = widths[len(result_columns("gantt")) :]
    assert (len(time), len(set(time))) == (days, 1)
    assert (time[0] > width + 1) is broader
    assert sum(map(pixels_of, widths)) == pytest.approx(box_pixels(across=True))


def test_columns_of_dates_leave_the_names_a_line_and_hold_their_heads():
    """Twelve columns of months; measured with the advance widths of Arial at 96 pixels an inch.

    A cell's edges take 5 pixels; a name that fills its column by 6 % more is set to shrink.
    """
    plain, bold = (
        ImageFont.truetype(f"LiberationSans-{face}.ttf", 960) for face in ("Regular", "Bold")
    )
    chart = gantt_sheet.Chart(TimeScale(MONDAY, 56, 12), (), {}, [500])
    columns = [column.key for column in result_columns("gantt")]
    of_time = gantt_sheet._width(chart), chart.scale.count
    widths = gantt_sheet.filled_widths(result_columns("gantt"), *of_time)
    pixels = dict(zip(columns, map(pixels_of, widths), strict=False))
    closed_up, small = LONG_TABLE / 720, SMALL / 720
    name = plain.getlength("Reach 2, valve vault VV-1 to air-release tee") * closed_up
    assert 1.06 * pixels["description"] > name + 6
    heads = {"first_day": "First day", "last_day": "Last day", "machine": "Machine"}
    for key, head in heads.items():
        assert pixels[key] >= bold.getlength(head) * closed_up + 5
    assert pixels["last_day"] >= plain.getlength("Nov 20 '28") * small + 5
    assert pixels["joints"] >= bold.getlength("12,345") * closed_up + 5


@pytest.mark.parametrize("table", ["gantt", "gantt_actual"])
def test_widths_that_fill_the_page_are_on_one_page_however_they_are_rounded(table):
    """A page's worth and 3e-13 pixels would be two pages, each with the frozen columns."""
    for count in range(1, 21):
        widths = gantt_sheet.filled_widths(result_columns(table), 2.1, count)
        assert sum(map(pixels_of, widths)) <= box_pixels(across=True)


def test_columns_of_months_hold_their_names_and_still_fit_the_page():
    """Measured with the advance widths of Arial, bold, 8 points; a cell's edges take 5 pixels."""
    bold = ImageFont.truetype("LiberationSans-Bold.ttf", 800)
    names = [f"{dt.date(2027, month, 1):%b}" for month in range(1, 13)]
    needed = max(map(bold.getlength, names)) / 75 + 5
    finish = MONDAY + dt.timedelta(days=600)
    planned = gantt_sheet.Chart(TimeScale.over(MONDAY, finish, None), (), {}, [5])
    assert pixels_of(gantt_sheet._width(planned)) >= needed

    bar = gantt_actual_sheet._Bar(Counter({MONDAY: 1, finish: 1}))
    standing = SimpleNamespace(status=SimpleNamespace(date=MONDAY))
    actual = gantt_actual_sheet._scale(standing, ({"R1": bar},), result_columns("gantt_actual"))
    width = pixels_of(gantt_actual_sheet._time_width(actual))
    assert actual.shows_months
    assert width >= needed
    others = sum(pixels_of(column.width) for column in result_columns("gantt_actual"))
    assert others + actual.count * width <= box_pixels(across=True)


# Sheet


@functools.cache
def shortened(deadline=None):
    """Return an example cut to its first ten runs, two crews, and its file with results.

    Its Gantt shows every day, on as broad a page as it takes.
    """
    workbook = parse_workbook((FOLDER / "tailings_line.xlsx").read_bytes())
    runs = tuple(
        r.model_copy(update={"crew": None, "after": None, "joins": None})
        for r in workbook.job.runs[:10]
    )
    job = workbook.job.changed(deadline=deadline, risk_trials=0)
    job = job.model_copy(update={"runs": runs, "scenarios": ()})
    found = dataclasses.replace(workbook, job=job)
    estimate = api.estimate_workbook(found)
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(gantt_sheet, "MOST_COLUMNS", 90)
        patch.setattr(gantt_sheet, "box_pixels", lambda **_: 5000)
        return estimate, with_results(found, estimate)


def day_columns(sheet):
    return range(COLUMNS + 1, sheet.max_column + 1)


def test_bars_deadline_and_days_off_are_where_the_plan_has_them(tmp_path):
    """LibreOffice works out every rule for every cell; the first that holds is the color."""
    estimate, data = shortened(DEADLINE)
    book = openpyxl.load_workbook(io.BytesIO(data))
    sheet, probe = book["Gantt"], book.create_sheet("Probe")
    rules = rules_of_bars(sheet)
    for row in range(FIRST, sheet.max_row):
        for column in day_columns(sheet):
            probe.cell(row, column).value = first_that_holds(rules, row, column)
    path = tmp_path / "probe.xlsx"
    book.save(path)
    values = recalculate(path, typed_deadline(data, DEADLINE))
    calendar = WorkingCalendar.of(estimate.job)
    found = run_spans(estimate.job, estimate.plan)
    worked = {(line.run_id, line.date) for line in estimate.plan.lines}
    seen = set()
    for row in range(FIRST, sheet.max_row):
        span = found[values["Gantt"][f"A{row}"]]
        for column in day_columns(sheet):
            date = sheet.cell(HEADER, column).value.date()
            shown = values["Probe"][f"{get_column_letter(column)}{row}"]
            expected = color(span, date, (span.run_id, date) in worked, calendar)
            assert shown == expected, f"{span.run_id} on {date}"
            seen.add(shown)
    assert len(seen) == 8


def typed_deadline(data, date):
    """Return the change that types a deadline into the input cell, none for a blank one."""
    sheet, _, cell = parse_workbook(data).places.where("job", "", "deadline").partition("!")
    return {sheet: {cell: "" if date is None else (date - EPOCH).days}}


def color(span, date, is_worked, calendar):
    """Return the number of the color by the legend, 0 for none, from the plan itself."""
    if is_worked:
        return 1 if span.is_critical else 2
    if span.first <= date <= span.last:
        return 3 if span.is_critical else 4
    if date == DEADLINE:
        return 5
    return {"work": 0, "off": 6, "weather": 7}[calendar.kind(date)]


def rules_of_bars(sheet):
    """Return the formulas of the rules for the cells of the bars, the first that counts first."""
    first = f"{get_column_letter(COLUMNS + 1)}{FIRST}"
    found = [
        rule
        for area in sheet.conditional_formatting
        if str(area.sqref).startswith(f"{first}:")
        for rule in area.rules
    ]
    return [rule.formula[0] for rule in sorted(found, key=lambda rule: rule.priority)]


def first_that_holds(rules, row, column):
    first, place = f"{get_column_letter(COLUMNS + 1)}{FIRST}", f"{get_column_letter(column)}{row}"
    nested = "0"
    for number, rule in reversed(list(enumerate(rules, 1))):
        moved = Translator(f"={rule}", first).translate_formula(place)[1:]
        there = re.sub(r"(\$?[A-Z]{1,2}\$?[0-9]+)", r"Gantt!\1", moved)
        nested = f"IF({there},{number},{nested})"
    return f"={nested}"


def test_cells_hold_the_joints_of_each_day():
    estimate, data = shortened(DEADLINE)
    sheet = sheet_of(data, "Gantt")
    made = Counter()
    for line in estimate.plan.lines:
        made[line.run_id, line.date] += line.joints
    shown = {
        (sheet.cell(row, 1).value, sheet.cell(HEADER, column).value.date()): value
        for row in range(FIRST, sheet.max_row)
        for column in day_columns(sheet)
        if (value := sheet.cell(row, column).value) is not None
    }
    assert shown == dict(made)


def test_deadline_that_is_typed_over_moves_without_an_estimate(tmp_path):
    _, data = shortened(DEADLINE)
    path = tmp_path / "job.xlsx"
    path.write_bytes(data)
    typed = dt.date(2027, 5, 20)
    moved, blank = (recalculate(path, typed_deadline(data, date)) for date in (typed, None))
    assert moved["Gantt"]["F4"] == (typed - EPOCH).days
    assert blank["Gantt"]["F4"] == "none"


def test_all_rules_of_the_bars_stand_in_one_block_of_the_file():
    """Programs take the rules of a range in the order of their priority; one block keeps it."""
    sheet = sheet_of(shortened(DEADLINE)[1], "Gantt")
    areas = [str(area.sqref) for area in sheet.conditional_formatting]
    assert len(areas) == len(set(areas))
    assert len(rules_of_bars(sheet)) == 7


def test_large_job_shows_bars_without_numbers(monkeypatch):
    """Where the cells would be too many, none is written, and the bars take the full colors."""
    monkeypatch.setattr(gantt_sheet, "MOST_NUMBERS", 20)
    estimate, _ = shortened(DEADLINE)
    context = Context(estimate, Places(), {key: key for key in RESULT_SHEETS})
    context.anchors["plan.finish"] = "'Plan'!$B$4"
    spec = gantt_sheet.gantt_sheet(context)
    rows = spec.rows[FIRST - 1 : -1]
    assert {len(row.cells) for row in rows} == {COLUMNS}
    assert sum(row.cells[6].value for row in rows) == estimate.butt_joints
    assert {row.cells[6].formula for row in rows} == {None}
    totals = [cell.value for cell in spec.rows[-1].cells[COLUMNS:]]
    assert sum(totals) == estimate.butt_joints
    styles = [rule.style for rule in spec.conditional]
    assert styles[:2] == ["gantt_critical", "gantt_worked"]
    assert "gantt_span" not in styles


def test_columns_of_several_days_say_of_how_many_above_their_heads():
    for step, said in ((1, None), (14, "14 days a column"), (28, "28 days a column")):
        spec = in_columns_of(step)
        label = spec.rows[HEADER - 2].cells[COLUMNS - 1]
        assert (label and label.value.partition(";")[0].partition(",")[0]) == said


def in_columns_of(step):
    """Return the sheet of the shortened example in columns of some days."""
    context = Context(shortened(DEADLINE)[0], Places(), {key: key for key in RESULT_SHEETS})
    context.anchors["plan.finish"] = "'Plan'!$B$4"
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(gantt_sheet, "box_pixels", lambda **_: 5000)
        patch.setattr(gantt_sheet.TimeScale, "over", lambda first, *_: TimeScale(first, step, 90))
        return gantt_sheet.gantt_sheet(context)


def test_a_column_with_joints_made_and_forecast_shows_both():
    """By hand: made 10 and 3 by the Friday, 3 left for the Saturday of the same column."""
    friday = MONDAY + dt.timedelta(days=4)
    scale, left = TimeScale(MONDAY, 7, 2), Counter({friday + dt.timedelta(days=1): 3})
    cells = gantt_actual_sheet._actual_cells
    made = gantt_actual_sheet._Bar(Counter({MONDAY: 10, friday: 3}))
    found = list(cells(made, gantt_actual_sheet._Bar(left), scale, friday))
    assert [cell.value for cell in found] == ["13+3", None]
    other = Counter({friday + dt.timedelta(days=1): 0, friday + dt.timedelta(days=3): 4})
    found = list(cells(made, gantt_actual_sheet._Bar(other), scale, friday))
    assert [cell.value for cell in found] == ["13+", 4]

    plain = ImageFont.truetype("LiberationSans-Regular.ttf", 800)
    widths = gantt_sheet.filled_widths(result_columns("gantt_actual"), 2.1, 14)
    broad = gantt_actual_sheet._with_room_for_both(widths, 6, ["13+3", "113+26"])
    assert pixels_of(broad[6]) >= plain.getlength("113+26") / 75 + 5
    assert sum(broad) == pytest.approx(sum(widths))
    assert gantt_actual_sheet._with_room_for_both(widths, 6, []) == widths


def test_names_of_runs_stay_on_one_line():
    """Measured with the advance widths of Arial, 9 points; a cell's edges take 5 pixels."""
    plain = ImageFont.truetype("LiberationSans-Regular.ttf", 1200)
    names = ["FW-101", "CWR-230B"]
    for table in ("gantt", "gantt_actual"):
        columns = gantt_sheet.with_room_for_runs(result_columns(table), names)
        assert pixels_of(columns[0].width) >= plain.getlength(names[1]) / 100 + 5
        few = gantt_sheet.with_room_for_runs(result_columns(table), ["R1"])
        assert few == list(result_columns(table))


def test_printed_pages_repeat_the_months_and_days_and_name_the_deadline():
    sheet = sheet_of(shortened(DEADLINE)[1], "Gantt")
    assert sheet.print_title_rows == "$5:$7"
    assert "Deadline" in {sheet.cell(row, 1).value for row in range(5, 8)}
    assert sheet.print_title_cols == "$A:$B"
    assert sheet.page_setup.scale == 100


def test_a_year_over_three_columns_of_two_weeks_stays_on_one_line():
    """March 1, 15 and 29, then April 12; a band of two lines makes the legend twice as high."""
    context = Context(shortened(DEADLINE)[0], Places(), {key: key for key in RESULT_SHEETS})
    context.anchors["plan.finish"] = "'Plan'!$B$4"
    spec = gantt_sheet.gantt_sheet(context)
    columns = len(result_columns("gantt"))
    cells = list(spec.rows[4].cells)
    bands = [None] * (len(cells) - columns)
    bands[0], bands[3] = (Cell(name, cells[columns].style) for name in ("Mar 2027", "Apr"))
    rows = [*spec.rows]
    rows[4] = dataclasses.replace(rows[4], cells=[*cells[:columns], *bands])
    narrow = (*spec.widths[:columns], *[1.85] * len(bands))
    placed = laid_out(dataclasses.replace(spec, rows=tuple(rows), widths=narrow))
    assert placed.rows[4].height <= look.ROW


def test_columns_of_several_days_count_the_days_that_are_worked_and_no_others():
    """Also in the column of the finish: together they are the days worked of Plan by week."""
    plan = shortened(DEADLINE)[0].plan
    worked = {line.date for line in plan.lines}
    kinds = in_columns_of(14).rows[HEADER - 2].cells[COLUMNS:]
    heads = in_columns_of(14).rows[HEADER - 1].cells[COLUMNS:]
    shown = {head.value: kind.value for kind, head in zip(kinds, heads, strict=True)}
    counts = {first: n for first, n in shown.items() if isinstance(n, int)}
    assert sum(counts.values()) == plan.work_days
    last = max(counts)
    assert last <= plan.finish < last + dt.timedelta(days=14)
    assert counts[last] == sum(date >= last for date in worked)
    assert {n for first, n in shown.items() if first > last} <= {None, "off", "w"}


def test_a_column_that_is_headed_by_a_month_has_the_day_it_begins_above_it():
    """Columns of four weeks may begin twice in a month: 1 and 29 March."""
    spec = in_columns_of(28)
    label, *kinds = spec.rows[HEADER - 2].cells[COLUMNS - 1 :]
    assert label.value == "28 days a column, from"
    heads = spec.rows[HEADER - 1].cells[COLUMNS:]
    begun = [(kind.value, head.value.day) for kind, head in zip(kinds, heads, strict=True)
             if isinstance(kind.value, int)]  # fmt: skip
    assert len(begun) > 1
    assert all(shown == day for shown, day in begun)
