import datetime as dt
import random

import numpy as np
import openpyxl
import pytest
from hypothesis import given
from hypothesis import strategies as st

from estimator.inputs.weekdays import DAY_NAMES, weekdays
from estimator.workbook.read.cells import CellError, to_weekdays
from estimator.working_time.working_days import WorkingCalendar
from tests.office import recalculate

NO_WEATHER = [0.0] * 12
dates = st.dates(dt.date(2020, 1, 1), dt.date(2040, 1, 1))
spans = st.sampled_from(
    ["Mon-Thu", "Mon-Fri", "Mon-Sat", "Mon-Sun", "Sun-Thu", "Sat-Thu", "Mon-Wed, Fri", "Tue"]
)


@given(dates, spans, st.lists(dates, max_size=5), st.integers(1, 400))
def test_worked_days_agree_with_numpy_busday_count(start, span, holidays, length):
    """Reference: numpy.busday_count, an independent calendar."""
    calendar = WorkingCalendar(start, span, holidays, NO_WEATHER)
    ours = sum(calendar.kind(start + dt.timedelta(days=n)) == "work" for n in range(length))
    mask = [day in weekdays(span) for day in range(7)]
    end = start + dt.timedelta(days=length)
    assert ours == np.busday_count(start, end, weekmask=mask, holidays=holidays)


@given(dates, st.floats(0, 0.9))
def test_weather_takes_its_share_of_days_to_the_nearest(start, share):
    calendar = WorkingCalendar(start, "Mon-Sun", [], [share] * 12)
    kinds = [calendar.kind(start + dt.timedelta(days=n)) for n in range(300)]
    assert abs(kinds.count("weather") - 300 * share) <= 0.5 + 1e-6
    assert kinds.count("weather") + kinds.count("work") == 300


def test_weather_takes_the_very_day_on_which_the_account_reaches_one():
    """By hand: one half and five tenths are one on the fifth day, and again ten days later."""
    calendar = WorkingCalendar(dt.date(2027, 3, 1), "Mon-Sun", [], [0.1] * 12)
    kinds = [calendar.kind(dt.date(2027, 3, day)) for day in range(1, 26)]
    assert [day for day, kind in enumerate(kinds, 1) if kind == "weather"] == [5, 15, 25]


def test_weekdays_wrap_round_the_week():
    assert {DAY_NAMES[n] for n in weekdays("Sun-Thu")} == {"Sun", "Mon", "Tue", "Wed", "Thu"}


@pytest.mark.parametrize(("typed", "short", "days"), [
    ("Sat-Thu", "Sat-Thu", "Mon Tue Wed Thu Sat Sun"),
    ("mon, wed; Friday", "Mon, Wed, Fri", "Mon Wed Fri"),
    ("Saturday \u2013 Wednesday", "Sat-Wed", "Mon Tue Wed Sat Sun"),
])  # fmt: skip
def test_any_set_of_weekdays_is_read(typed, short, days):
    read = to_weekdays(typed)
    assert read == short
    assert [DAY_NAMES[n] for n in sorted(weekdays(read))] == days.split()


@pytest.mark.parametrize("typed", ["Mon-Foo", "weekdays", "M-F", "", 5.0])
def test_no_weekdays_are_refused(typed):
    with pytest.raises(CellError, match="Enter weekdays and spans of them, such as Mon-Fri"):
        to_weekdays(typed)


def test_days_before_the_start_are_off():
    calendar = WorkingCalendar(dt.date(2027, 3, 1), "Mon-Sun", [], NO_WEATHER)
    assert calendar.kind(dt.date(2027, 2, 28)) == "off"


def test_calendar_without_a_working_day_is_an_error():
    start = dt.date(2027, 3, 1)
    holidays = [start + dt.timedelta(days=n) for n in range(500)]
    with pytest.raises(ValueError, match="No workday falls within"):
        WorkingCalendar(start, "Mon-Sun", holidays, NO_WEATHER).next_work(start)


WEEKENDS = {"Mon-Thu": "0000111", "Mon-Fri": "0000011", "Mon-Sat": "0000001",
            "Mon-Sun": "0000000", "Sun-Thu": "0000110"}  # fmt: skip


def test_worked_days_agree_with_networkdays(tmp_path):
    """Reference: NETWORKDAYS and NETWORKDAYS.INTL of LibreOffice."""
    chance = random.Random(5)
    book = openpyxl.Workbook()
    sheet, expected = book.active, {}
    for row in range(1, 121):
        span = list(WEEKENDS)[row % len(WEEKENDS)]
        start = dt.date(2024, 1, 1) + dt.timedelta(days=chance.randrange(2000))
        end = start + dt.timedelta(days=chance.randrange(500))
        holidays = [start + dt.timedelta(days=chance.randrange(-5, 400)) for _ in range(6)]
        for column, date in enumerate((start, end, *holidays), 1):
            sheet.cell(row, column, date)
        among = f"A{row},B{row},"
        sheet[f"J{row}"] = f'=NETWORKDAYS.INTL({among}"{WEEKENDS[span]}",C{row}:H{row})'
        expected[f"J{row}"] = worked = count_worked(start, end, span, holidays)
        if span == "Mon-Fri":
            sheet[f"K{row}"] = f"=NETWORKDAYS({among}C{row}:H{row})"
            expected[f"K{row}"] = worked
    book.save(tmp_path / "days.xlsx")
    found = recalculate(tmp_path / "days.xlsx")[sheet.title]
    assert {cell: found[cell] for cell in expected} == expected


def count_worked(start, end, span, holidays):
    calendar = WorkingCalendar(start, span, holidays, NO_WEATHER)
    days = range((end - start).days + 1)
    return sum(calendar.kind(start + dt.timedelta(days=n)) == "work" for n in days)
