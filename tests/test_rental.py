import itertools

import pytest
from hypothesis import given
from hypothesis import strategies as st

from estimator.models.job import Lifter
from estimator.rental import cheapest_tiers
from tests.jobs import money, rental


def item(day: float, week: float, four_weeks: float) -> Lifter:
    rates = rental(
        day_rate=money(day),
        week_rate=money(week, "week"),
        four_week_rate=money(four_weeks, "4 weeks"),
    )
    return Lifter(class_id="L", capacity=1, fuel_rate=0, **rates)


# trade.md section 6, arithmetic at rates 1 : 3 : 9: work days of a five-day week starting on a
# Monday, and the cost in day rates.
@pytest.mark.parametrize(
    ("work_days", "day_rates"),
    [(1, 1), (2, 2), (3, 3), (5, 3), (6, 4), (7, 5), (8, 6), (10, 6), (11, 7), (12, 8), (13, 9),
     (20, 9), (21, 10), (25, 12), (30, 15), (40, 18), (60, 27)],
)  # fmt: skip
def test_cheapest_tiers_at_one_three_nine(work_days, day_rates):
    weeks, days = divmod(work_days - 1, 5)
    calendar_days = weeks * 7 + days + 1
    assert cheapest_tiers(calendar_days, item(1, 3, 9)).cost == day_rates


whole_rates = st.integers(1, 400)


@given(st.integers(1, 90), whole_rates, whole_rates, whole_rates)
def test_cheapest_tiers_equals_exhaustive_search(days, day, week, four_weeks):
    covers = (
        d * day + w * week + f * four_weeks
        for d, w, f in itertools.product(range(days + 1), range(14), range(5))
        if d + 7 * w + 28 * f >= days
    )
    assert cheapest_tiers(days, item(day, week, four_weeks)).cost == min(covers)


@given(st.integers(1, 400), whole_rates, whole_rates, whole_rates)
def test_longer_on_rent_never_costs_less(days, day, week, four_weeks):
    rates = item(day, week, four_weeks)
    assert cheapest_tiers(days, rates).cost <= cheapest_tiers(days + 1, rates).cost


def test_no_days_is_an_error():
    with pytest.raises(ValueError, match="calendar_days must be 1 or more, got 0"):
        cheapest_tiers(0, item(1, 3, 9))
