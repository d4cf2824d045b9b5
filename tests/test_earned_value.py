"""Earned value against the textbook example worked by hand, and identities that always hold.

Hand example: BAC 1000, PV 400, EV 350, AC 420, plan of 50 a day over 20 days, day 8.
"""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from estimator.progress.earned_value import (
    EarnedValue,
    LaborActual,
    ScheduleInTime,
    earned_schedule,
)

HAND = EarnedValue(budget=1000.0, planned=400.0, earned=350.0, actual=420.0)
EVENLY = [50.0 * day for day in range(1, 21)]
AMOUNT = st.floats(0.01, 1e7)


def test_variances_and_indices_of_the_hand_example():
    assert (HAND.cost_variance, HAND.schedule_variance) == (-70.0, -50.0)
    assert HAND.cost_index == pytest.approx(0.8333, abs=5e-5)
    assert HAND.schedule_index == pytest.approx(0.8750, abs=5e-5)
    assert HAND.to_complete_index == pytest.approx(1.1207, abs=5e-5)


def test_estimates_at_completion_of_the_hand_example():
    assert HAND.eac_at_present_cost == pytest.approx(1200.0)
    assert HAND.eac_as_planned == 1070.0
    assert HAND.eac_at_cost_and_schedule == pytest.approx(1311.43, abs=5e-3)
    assert HAND.to_complete(1200.0) == 780.0
    assert HAND.variance_at_completion(1200.0) == -200.0


def test_earned_schedule_of_the_hand_example():
    state = ScheduleInTime(earned_schedule(EVENLY, 350.0), 8.0, 20.0)
    assert state.earned_time == 7.0
    assert state.index == 0.875
    assert state.variance == -1.0
    assert state.duration == pytest.approx(22.86, abs=5e-3)


def test_earned_schedule_inside_a_day_at_rest_and_at_the_end():
    assert earned_schedule(EVENLY, 365.0) == pytest.approx(7.3)
    assert earned_schedule([10.0, 10.0, 10.0, 20.0], 10.0) == 3.0
    assert earned_schedule([10.0, 20.0, 20.0], 20.0) == 2.0
    assert earned_schedule([], 0.0) == 0.0


@pytest.mark.parametrize(("curve", "earned"), [([5.0, 4.0], 1.0), ([5.0], -1.0)])
def test_earned_schedule_refuses_what_makes_no_sense(curve, earned):
    with pytest.raises(ValueError, match="must not"):
        earned_schedule(curve, earned)


def test_ratios_without_a_divisor_are_none():
    start = EarnedValue(100.0, 0.0, 0.0, 0.0)
    assert start.cost_index is start.schedule_index is start.eac_at_present_cost is None
    assert start.eac_at_cost_and_schedule is None
    assert EarnedValue(100.0, 50.0, 50.0, 100.0).to_complete_index is None
    assert EarnedValue(100.0, 50.0, 0.0, 20.0).eac_at_present_cost is None


@given(st.lists(AMOUNT, min_size=1, max_size=60), st.data())
def test_a_job_on_plan_has_no_variance_in_time(steps, data):
    curve = [sum(steps[: n + 1]) for n in range(len(steps))]
    day = data.draw(st.integers(1, len(steps)))
    state = ScheduleInTime(earned_schedule(curve, curve[day - 1]), day, len(steps))
    assert state.variance == pytest.approx(0.0, abs=1e-9)


@given(AMOUNT, st.floats(0.1, 0.99), AMOUNT)
def test_on_cost_the_budget_is_the_estimate_at_completion(budget, done, planned):
    state = EarnedValue(budget, planned, budget * done, budget * done)
    assert state.variance_at_completion(state.eac_at_present_cost) == pytest.approx(0, abs=1e-6)


def test_a_late_job_ends_with_spi_of_one_but_not_in_time():
    ended = EarnedValue(1000.0, 1000.0, 1000.0, 1300.0)
    assert ended.schedule_index == 1.0
    assert ScheduleInTime(earned_schedule(EVENLY, 1000.0), 25.0, 20.0).index == 0.8


def test_labor_variance_of_the_hand_example():
    # (63 - 60) x 420 = 1260 and (420 - 350) x 60 = 4200 (worked by hand)
    split = LaborActual(60.0, 63.0, 350.0, 350.0, 420.0).variance
    assert (split.rate, split.pace, split.quantity, split.weather) == (1260.0, 4200.0, 0.0, 0.0)


def test_labor_variance_with_weather_and_quantity():
    # rate 2 x 130 = 260; weather 20 x 50 = 1000; pace (110 - 105) x 50 = 250;
    # quantity (105 - 100) x 50 = 250; all 1760 = 130 x 52 - 100 x 50 (worked by hand)
    split = LaborActual(50.0, 52.0, 100.0, 105.0, 130.0, 20.0).variance
    assert (split.rate, split.weather, split.pace, split.quantity) == (260, 1000, 250, 250)
    assert split.total == 1760.0


@given(*[st.floats(0.0, 1e4)] * 6)
def test_labor_variances_add_up(standard, actual, baseline, done, worked, lost):
    case = LaborActual(standard, actual, baseline, done, worked + lost, lost)
    expected = case.actual_hours * actual - baseline * standard
    assert case.variance.total == pytest.approx(expected, rel=1e-9, abs=1e-3)
