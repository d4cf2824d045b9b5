"""Straight time of a week, Saturdays, Sundays and worked holidays: hours and pay by hand."""

import datetime as dt
from decimal import Decimal

import pytest
from hypothesis import given
from hypothesis import strategies as st

from estimator.cost.labor import labor_lines, role_hours
from estimator.inputs.dictionary import fields
from estimator.models.bands import BandShare
from estimator.models.calendar import Holiday
from estimator.models.job import Override
from estimator.models.places import Places
from estimator.models.plan import CrewDay, Plan
from estimator.optimize.day_prices import DayPrices
from estimator.pipeline import estimate
from estimator.plan.paid_shifts import PaidHours
from estimator.whatif import compare
from estimator.whatif.options import assess
from estimator.workbook.read.file_source import FileSource
from estimator.workbook.read.parse import parse_job
from tests.jobs import job, run
from tests.workbook_factory import WorkbookFactory

MONDAY = dt.date(2027, 3, 1)
DAY = dt.timedelta(days=1)
NO_TESTS = {"test_joint_rule": "none", "rework_share": 0.0}
EIGHT = {"shift_hours": 8.0, "straight_hours": 8.0, **NO_TESTS}


def split(shift, hours, first=MONDAY, name="day"):
    """Return straight and overtime hours of days one after the other."""
    paid = PaidHours(shift)
    return [paid.worked(first + n * DAY, name, each) for n, each in enumerate(hours)]


# Hours


def test_seven_days_of_eight_hours_are_forty_straight_and_sixteen_over():
    """Mon-Fri 40 h, then nothing is left; on the next Monday a new week begins."""
    days = split(job(straight_week_hours=40.0, **EIGHT).shift, [8.0] * 8)
    assert days == [(8.0, 0.0)] * 5 + [(0.0, 8.0)] * 2 + [(8.0, 0.0)]


def test_overtime_of_a_shift_counts_once():
    """Six days of 10 h, 8 h straight: 2 h over on each of five days; of Saturday all 10 h."""
    days = split(job(straight_week_hours=40.0, **NO_TESTS).shift, [10.0] * 6)
    assert days == [(8.0, 2.0)] * 5 + [(0.0, 10.0)]


def test_a_day_in_which_the_week_runs_out_is_split():
    """Four tens at 10 h straight and 36 h a week: 10, 10, 10 and 6 of 10."""
    shift = job(straight_hours=10.0, straight_week_hours=36.0).shift
    assert split(shift, [10.0] * 4)[-1] == (6.0, 4.0)


def test_without_a_limit_every_day_is_straight():
    assert split(job(**EIGHT).shift, [8.0] * 7) == [(8.0, 0.0)] * 7
    assert job().shift.straight_week_hours == 168.0


@given(
    st.lists(st.sampled_from((0.0, 4.0, 8.0, 11.5)), min_size=1, max_size=30),
    st.sampled_from((8.0, 36.0, 40.0, 168.0)),
)
def test_hours_are_kept_and_no_week_has_more_straight_time(hours, limit):
    days = split(job(straight_week_hours=limit).shift, hours)
    assert [sum(day) for day in days] == pytest.approx(hours)
    for first in range(0, len(days), 7):
        assert sum(straight for straight, _ in days[first : first + 7]) <= limit + 1e-9


def worked(**changes):
    """Return the estimate of one crew of 2.5 people on 8 h days."""
    asked = {**EIGHT, "straight_week_hours": 40.0, "workdays": "Mon-Sat", **changes}
    holidays = asked.pop("holidays", ())
    made = job(run(segments_m=(1800.0,)), **asked).model_copy(update={"holidays": holidays})
    return estimate(made)


def first_week(found, shift="day"):
    return [
        day for day in found.plan.crew_days if day.date < MONDAY + 7 * DAY and day.shift == shift
    ]


def test_saturday_is_overtime_in_the_plan_of_a_whole_job():
    days = first_week(worked())
    assert [day.overtime_hours for day in days] == [0, 0, 0, 0, 0, 8]


def test_a_holiday_leaves_room_for_saturday():
    """Wednesday off: five days of 8 h are the forty, Saturday among them."""
    found = worked(holidays=(Holiday(date=MONDAY + 2 * DAY),))
    days = first_week(found)
    assert MONDAY + 2 * DAY not in [day.date for day in days]
    assert sum(day.straight_hours for day in days) == 40.0
    assert sum(day.overtime_hours for day in days) == 0.0


def test_day_and_night_teams_have_a_week_each():
    found = worked(night_hours=8.0)
    for shift in ("day", "night"):
        days = first_week(found, shift)
        assert sum(day.straight_hours for day in days) == 40.0
        assert sum(day.overtime_hours for day in days) == 8.0


def test_hours_for_showing_up_do_not_count():
    """A lost Wednesday pays 2 h; Saturday's 8 h are still the fifth straight day."""
    paid = PaidHours(job(straight_week_hours=40.0, **EIGHT).shift)
    for n in (0, 1, 3, 4):
        paid.worked(MONDAY + n * DAY, "day", 8.0)
    assert paid.shown_up(2.0) == (2.0, 0.0)
    assert paid.worked(MONDAY + 5 * DAY, "day", 8.0) == (8.0, 0.0)


# Pay


def week_of_pay(shift="day", **changes):
    """Return hours and premiums of an operator at 38 an hour, Mon-Sun, 10 h with 8 h straight."""
    made = job(**changes)
    days = tuple(
        CrewDay(date=MONDAY + n * DAY, crew=1, kind="work", heads=(1.0, 0.0),
                straight_hours=8.0, overtime_hours=2.0, run_minutes=(), shift=shift)
        for n in range(7)
    )  # fmt: skip
    planned = estimate(made)
    planned = planned.__class__(**{**vars(planned), "plan": Plan(planned.plan.lines, days)})
    (hours, _) = role_hours(made, planned.plan)
    lines = {line.item: line for line in labor_lines(planned)}
    return hours, lines


def test_saturday_and_sunday_by_hand():
    """Mon-Fri 5 x 8 h straight, 5 x 2 h over. Saturday at 1.25: 8 h, its 2 h beyond stay overtime
    at 1.5. Sunday at 2: all 10 h. Premiums: 12 h x 19 = 228; 8 x 9.50 = 76; 10 x 38 = 380."""
    hours, lines = week_of_pay(saturday_multiple=1.25, sunday_multiple=2.0)
    assert (hours.straight, hours.overtime, hours.saturday, hours.sunday) == (40, 12, 8, 10)
    assert lines["Operator, wage"].quantity.value == 70.0
    assert lines["Operator, overtime premium"].amount == Decimal("228.00")
    assert lines["Operator, Saturday premium"].amount == Decimal("76.00")
    assert lines["Operator, Sunday and holiday premium"].amount == Decimal("380.00")


def test_a_week_of_nights_by_hand():
    """7 x 10 h of the operator at 20 % of 38: 532. Nobody else worked; by day, or at no premium,
    there is no such line."""
    _, lines = week_of_pay("night", night_premium=0.2)
    assert lines["Operator, night differential"].amount == Decimal("532.00")
    nights = [item for item in lines if "night" in item]
    assert nights == ["Operator, night differential"]
    for shift, premium in (("day", 0.2), ("night", 0.0)):
        _, lines = week_of_pay(shift, night_premium=premium)
        assert not [item for item in lines if "night" in item]


def test_saturday_above_overtime_takes_every_hour():
    hours, _ = week_of_pay(saturday_multiple=1.75)
    assert (hours.straight, hours.overtime, hours.saturday, hours.sunday) == (48, 12, 10, 0)


def test_multipliers_are_off_unless_given():
    hours, lines = week_of_pay()
    assert (hours.saturday, hours.sunday) == (0, 0)
    assert not [item for item in lines if "Saturday" in item or "Sunday" in item]


def test_a_worked_holiday_is_paid_at_its_multiplier():
    """Wednesday worked: 8 h of 2.5 people at 2 in the first week, none without the mark."""
    off = Holiday(date=MONDAY + 2 * DAY)
    for holiday, sunday in ((off, 0.0), (off.model_copy(update={"worked": True}), 20.0)):
        found = worked(holidays=(holiday,), sunday_multiple=2.0, straight_week_hours=168.0)
        hours = role_hours(found.job, found.plan)
        assert sum(entry.sunday for entry in hours) == sunday
        on_site = [day.date for day in found.plan.crew_days]
        assert (MONDAY + 2 * DAY in on_site) is holiday.worked


# Whole jobs


def labor_of(found):
    return sum(line.amount for line in found.cost_lines if line.cost_type == "Labor")


def test_seven_days_a_week_are_not_the_cheapest_any_more():
    """The same hours, of which two sevenths now earn half as much again: a premium of 1 / 7."""
    free = worked(workdays="Mon-Sun", straight_week_hours=168.0)
    limited = worked(workdays="Mon-Sun")
    weeks = {}
    for day in limited.plan.crew_days:
        monday = day.date - day.date.weekday() * DAY
        weeks[monday] = weeks.get(monday, 0) + day.crew_hours
    over = sum(max(0.0, hours - 40) for hours in weeks.values())
    assert over >= 16
    premium = over * (1 * 38 + 1.5 * 27) * 0.5
    assert float(labor_of(limited) - labor_of(free)) == pytest.approx(premium, abs=0.02)


def test_scenario_and_options_carry_it():
    """A scenario Mon-Sun pays it, and so does each option: labor is that of the job so changed."""
    made = job(
        run(segments_m=(900.0,)),
        run("R2", segments_m=(900.0,)),
        option_crews=2,
        **{**EIGHT, "straight_week_hours": 40.0},
    )
    changes = Override(scenario="Seven", key="workdays", value="Mon-Sun", text="")
    (found,) = compare(made.model_copy(update={"scenarios": (changes,)})).scenarios
    assert found.figures.job_cost == estimate(made.changed(workdays="Mon-Sun")).bid.job_cost
    table = assess(estimate(made.changed(workdays="Mon-Sun")), Places(), always=True)
    two = next(
        o for o in table.options if (o.crews, o.machines_per_crew, o.shift_hours) == (2, 1, 8)
    )
    whole = estimate(made.changed(workdays="Mon-Sun", crews=2))
    assert two.figures.job_cost == whole.bid.job_cost


IN_A = BandShare.inside("A")


def test_price_of_a_day_for_the_fleet_has_its_part_of_the_weekly_overtime():
    """Mon-Sun at 8 h: 16 of 56 h at half as much again, on a day 16 / 7 h x 0.5 of the wages."""
    free, limited = (
        DayPrices(worked(workdays="Mon-Sun", straight_week_hours=hours)).crew_day(
            BandShare.inside("A")
        )
        for hours in (168.0, 40.0)
    )
    assert limited - free == pytest.approx(16 / 7 * 0.5 * (38 + 1.5 * 27), abs=0.02)


def test_new_workbooks_have_forty_hours_in_the_us_and_old_ones_no_limit():
    def read(**named):
        made = WorkbookFactory()
        made.named["job"] |= named
        return parse_job(FileSource(made.build())).job.shift.straight_week_hours

    assert read() == 40.0
    assert read(straight_week_hours=None) == 168.0
    (limit,) = [field for field in fields("job") if field.key == "straight_week_hours"]
    assert limit.default("SI") == ""
