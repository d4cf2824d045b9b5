import datetime as dt
import itertools

import pytest
from hypothesis import given
from hypothesis import strategies as st

from estimator.cost.rental_lines import line_rental
from estimator.equipment.haulage import Haulage
from estimator.equipment.rental_tiers import cheapest_stays, cheapest_tiers
from estimator.models.equipment import Lifter
from tests.data import read_cases
from tests.each import each
from tests.jobs import money, rental


def item(day: float, week: float, four_weeks: float) -> Lifter:
    rates = rental(
        day_rate=money(day),
        week_rate=money(week, "week"),
        four_week_rate=money(four_weeks, "4 weeks"),
    )
    return Lifter(class_id="L", capacity_kg=1, fuel_rate_l_h=0, **rates)


def test_rental_of_a_line_by_hand():
    """Two four-week periods at 900, a week at 300, three days at 100: 2,400."""
    assert line_rental.fn(item(100, 300, 900), 2, 1, 3) == 2400


def test_gear_that_is_away_for_a_day_between_two_uses_goes_where_trips_are_free():
    """One day of haulage, used on days 0 and 4: two stays of three days, 600, in place of one of
    seven, 700, by days at 100. On day 3 it would not have left."""
    free = item(100, 10_000, 100_000).model_copy(update={"delivery": money(0, "trip")})
    first = dt.date(2027, 3, 1)
    fifth, fourth = (first + dt.timedelta(days) for days in (4, 3))
    assert cheapest_stays([first, fifth], free, Haulage(1)) == ((first,), (fifth,))
    assert cheapest_stays([first, fourth], free, Haulage(1)) == ((first, fourth),)


@each("case", read_cases("by_hand/rental_tiers"), ids=lambda c: c["work_days"])
def test_cheapest_tiers_at_one_three_nine_by_hand(case):
    """Work days of a five-day week that starts on a Monday; cost in day rates of 1 : 3 : 9."""
    weeks, days = divmod(int(case["work_days"]) - 1, 5)
    calendar_days = weeks * 7 + days + 1
    assert cheapest_tiers(calendar_days, item(1, 3, 9)).cost == int(case["day_rates"])


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


START = dt.date(2027, 3, 1)


def stays_cost(stays, rates, haul):
    days = [(stay[-1] - stay[0]).days + 1 + 2 * haul for stay in stays]
    return sum(cheapest_tiers(n, rates).cost + 2 * rates.delivery.amount for n in days)


@given(st.lists(st.integers(1, 40), max_size=6), st.integers(0, 2), whole_rates, whole_rates,
       whole_rates, st.integers(0, 300))  # fmt: skip
def test_stays_equal_exhaustive_search_over_all_returns(gaps, haul, day, week, four, trip):
    rates = item(day, week, four).model_copy(update={"delivery": money(trip, "trip")})
    dates = [START + dt.timedelta(days=n) for n in itertools.accumulate([0, *gaps])]
    every = []
    for cuts in itertools.product([False, True], repeat=len(gaps)):
        stays = [[dates[0]]]
        for cut, gap, date in zip(cuts, gaps, dates[1:], strict=True):
            if cut and gap > 2 * haul + 1:
                stays.append([])
            stays[-1].append(date)
        every.append(stays_cost(stays, rates, haul))
    found = cheapest_stays(dates, rates, Haulage(haul))
    assert [day for stay in found for day in stay] == dates
    assert stays_cost(found, rates, haul) == pytest.approx(min(every))


def test_machine_goes_back_over_a_long_gap():
    dates = [START, START + dt.timedelta(days=200)]
    assert len(cheapest_stays(dates, item(100, 300, 900), Haulage(1))) == 2
    near = [START, START + dt.timedelta(days=3)]
    assert len(cheapest_stays(near, item(100, 300, 900), Haulage(1))) == 1


def test_no_days_is_an_error():
    with pytest.raises(ValueError, match="calendar days on rent are 0; enter 1 or more"):
        cheapest_tiers(0, item(1, 3, 9))
