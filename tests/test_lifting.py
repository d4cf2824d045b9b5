"""Lifting equipment by day: hand examples, brute force over every assignment, invariants."""

import datetime as dt
import itertools

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from estimator import InputError, estimate
from estimator.equipment.class_by_day import (
    MOST_BLOCKS,
    DayLevel,
    DayNeed,
    Terms,
    _blocks,
    choose_by_day,
    choose_by_level,
    rank,
)
from estimator.equipment.haulage import Haulage
from estimator.equipment.rental_tiers import cheapest_stays, cheapest_tiers
from estimator.models.equipment import Lifter
from tests.jobs import job, money, rental, run

MONDAY = dt.date(2027, 3, 1)


def lifter(class_id, capacity, day=100.0, delivery=50.0, **changes):
    rates = {
        "day_rate": money(day),
        "week_rate": money(3 * day, "week"),
        "four_week_rate": money(9 * day, "4 weeks"),
        "delivery": money(delivery, "trip"),
    }
    values = {**rental(), **rates, "fuel_rate_l_h": 0.0, **changes}
    return Lifter(class_id=class_id, capacity_kg=capacity, **values)


SMALL, LARGE = lifter("S", 500), lifter("L", 5000, day=400.0, delivery=200.0)


def needs(*spans):
    """Return day needs from (first day of the job, days, mass)."""
    return [
        DayNeed(MONDAY + dt.timedelta(days=first + n), mass)
        for first, days, mass in spans
        for n in range(days)
    ]


def stays_cost(item, dates, haul):
    return sum(
        cheapest_tiers((d[-1] - d[0]).days + 1 + 2 * haul, item).cost + 2 * item.delivery.amount
        for d in cheapest_stays(dates, item, Haulage(haul))
    )


def cost_of(chosen, ranked, haul):
    items = {row.class_id: row for row in ranked}
    return sum(stays_cost(items[name], dates, haul) for name, dates in chosen.items())


def test_large_equipment_comes_only_for_the_heavy_days_by_hand():
    """28 light days, 5 heavy ones, 23 light: no haulage days.

    Large for all 56 days: 2 four-weeks of 3,600 and two trips of 200 = 7,600.
    Small for all 56 days: 2 x 900 + 100 = 1,900; large for 5 days: a week of 1,200 + 400 = 1,600.
    Together 3,500.
    """
    days = needs((0, 28, 300.0), (28, 5, 2000.0), (33, 23, 300.0))
    chosen = choose_by_day(days, rank((LARGE, SMALL), 1), Terms(Haulage(0)))
    assert len(chosen["L"]) == 5
    assert len(chosen["S"]) == 51
    assert cost_of(chosen, (SMALL, LARGE), 0) == pytest.approx(3500)


def test_large_equipment_is_kept_where_that_is_cheaper_than_two_by_hand():
    """Heavy, one light day, heavy: large for 3 days is a week, 1,200 + 400 = 1,600.

    Sending for the small one as well adds a day of 100 and two trips of 50.
    """
    days = needs((0, 1, 2000.0), (1, 1, 300.0), (2, 1, 2000.0))
    assert list(choose_by_day(days, rank((LARGE, SMALL), 1), Terms(Haulage(0)))) == ["L"]


def test_larger_equipment_that_costs_less_is_taken():
    bargain = lifter("B", 900, day=10.0, delivery=0.0)
    chosen = choose_by_day(needs((0, 10, 300.0)), rank((SMALL, bargain), 1), Terms(Haulage(1)))
    assert list(chosen) == ["B"]


def test_no_class_carries_the_stick():
    assert choose_by_day(needs((0, 1, 6000.0)), rank((SMALL, LARGE), 1), Terms(Haulage(1))) is None


def test_fuel_of_the_larger_equipment_counts():
    """Without fuel the large one is free to keep; at 500 a day of fuel it is not."""
    free = lifter("L", 5000, day=0.0, delivery=0.0)
    days = needs((0, 1, 2000.0), (1, 10, 300.0))
    ranked = rank((SMALL, free), 1)
    assert list(choose_by_day(days, ranked, Terms(Haulage(0)))) == ["L"]
    thirsty = Terms(Haulage(0), {"S": 10.0, "L": 500.0})
    thirsty_equipment = rank((SMALL, free.model_copy(update={"fuel_rate_l_h": 9.0})), 1)
    assert len(choose_by_day(days, thirsty_equipment, thirsty)["S"]) == 10


MASSES = st.sampled_from([50.0, 400.0, 2000.0])
PATTERN = st.lists(
    st.tuples(MASSES, st.integers(1, 12), st.integers(0, 20)), min_size=1, max_size=5
)
RATES = st.tuples(st.integers(1, 500), st.integers(0, 800))


def days_of(pattern):
    date, found = MONDAY, []
    for mass, days, pause in pattern:
        found += [DayNeed(date + dt.timedelta(days=n), mass) for n in range(days)]
        date += dt.timedelta(days=days + pause)
    return found


def equipment(rates):
    return [
        lifter(name, capacity, float(day), float(trip))
        for (name, capacity), (day, trip) in zip(
            (("A", 100.0), ("B", 500.0), ("C", 5000.0)), rates, strict=True
        )
    ]


def every_assignment(days, pattern, ranked, haul):
    """Yield the cost of every way to give each piece of the pattern one class that carries it."""
    pieces, start = [], 0
    for _, count, _ in pattern:
        pieces.append(days[start : start + count])
        start += count
    fit = [[row for row in ranked if row.capacity_kg >= piece[0].mass_kg] for piece in pieces]
    for classes in itertools.product(*fit):
        used = {}
        for item, piece in zip(classes, pieces, strict=True):
            used.setdefault(item.class_id, []).extend(day.date for day in piece)
        yield cost_of(used, ranked, haul)


@given(PATTERN, st.tuples(RATES, RATES, RATES), st.integers(0, 2))
def test_choice_equals_brute_force(pattern, rates, haul):
    """Reference: every assignment of a class to every piece of work, each class billed alone."""
    days, ranked = days_of(pattern), rank(equipment(rates), 1)
    chosen = choose_by_day(days, ranked, Terms(Haulage(haul)))
    best = min(every_assignment(days, pattern, ranked, haul))
    assert cost_of(chosen, ranked, haul) == pytest.approx(best)


LONG = st.lists(st.tuples(MASSES, st.integers(1, 3), st.integers(0, 3)), min_size=1, max_size=90)


@settings(max_examples=25, deadline=None)
@given(LONG, st.tuples(RATES, RATES, RATES), st.integers(0, 2))
def test_every_day_is_carried_and_never_dearer_than_one_class(pattern, rates, haul):
    days, ranked = days_of(pattern), rank(equipment(rates), 1)
    chosen = choose_by_day(days, ranked, Terms(Haulage(haul)))
    capacity = {row.class_id: row.capacity_kg for row in ranked}
    served = {date: capacity[name] for name, dates in chosen.items() for date in dates}
    assert sorted(served) == [day.date for day in days]
    assert sum(len(dates) for dates in chosen.values()) == len(days)
    assert all(served[day.date] >= day.mass_kg for day in days)
    heaviest = max(day.mass_kg for day in days)
    one = next(row for row in ranked if row.capacity_kg >= heaviest)
    single = stays_cost(one, [day.date for day in days], haul)
    assert cost_of(chosen, ranked, haul) <= single + 1e-6


def dated(*levels):
    """Return days of work from (day of the job, place of the smallest class that will do)."""
    return [DayLevel(MONDAY + dt.timedelta(days=n), level) for n, level in levels]


@pytest.mark.parametrize(("day", "fuel", "used"), [
    (100.5, {}, {"S": 1, "L": 1}), (100.0, {}, {"L": 2}), (100.5, {"S": 1.0}, {"L": 2}),
])  # fmt: skip
def test_half_a_dollar_decides_and_of_equals_the_fewest_stays(day, fuel, used):
    """A light day and a heavy one. Small for the first is 50 and two trips of 25. Large one day
    more is 100.50, dearer by 0.50, or 100, equal; a dollar of fuel for the small one turns it."""
    ranked = [lifter("S", 500, day=50, delivery=25), lifter("L", 5000, day=day, delivery=200)]
    chosen = choose_by_level(dated((0, 0), (1, 1)), ranked, Terms(Haulage(0), fuel))
    assert {name: len(dates) for name, dates in chosen.items()} == used


def test_a_larger_class_is_sent_back_after_the_day_that_needs_it():
    """Small stays from the first day to the last; large comes twice, though a day longer would
    cost no more and save the fuel of the small one."""
    large = lifter("L", 5000, day=100, delivery=0, week_rate=money(100, "week"))
    ranked = [lifter("S", 500, day=1, delivery=20), large]
    days = dated((0, 0), (21, 1), (22, 0), (40, 1), (60, 0))
    chosen = choose_by_level(days, ranked, Terms(Haulage(0), {"S": 5.0}))
    assert [(date - MONDAY).days for date in chosen["L"]] == [21, 40]


def test_one_day_that_is_too_heavy_leaves_no_choice():
    assert (
        choose_by_day(needs((0, 2, 100), (2, 1, 9000)), [SMALL, LARGE], Terms(Haulage(0))) is None
    )


def test_equipment_that_would_be_back_within_its_haulage_stays():
    """Collected a day after and delivered a day before: three days on it never left, after four
    it would have been away for none, and another need begins another block."""
    blocks = _blocks(dated((0, 0), (3, 0), (7, 0), (8, 1)), 1)
    firsts = [((block.dates[0] - MONDAY).days, len(block.dates), block.level) for block in blocks]
    assert firsts == [(0, 2, 0), (7, 1, 0), (8, 1, 1)]


def test_of_too_many_blocks_the_two_that_span_the_fewest_days_are_joined():
    """Ten days apart, but for the last two, which are one day apart."""
    days = [(10 * n, n % 2) for n in range(MOST_BLOCKS)]
    days.append((days[-1][0] + 1, 1 - days[-1][1]))
    blocks = _blocks(dated(*days), 0)
    assert [len(block.dates) for block in blocks] == [1] * (MOST_BLOCKS - 1) + [2]
    assert blocks[-1].level == 1


def test_many_changes_are_all_served():
    """2,000 days that change every day: more blocks than are looked at one by one."""
    days = [
        DayNeed(MONDAY + dt.timedelta(days=n), (50.0, 400.0, 2000.0)[n % 3]) for n in range(2000)
    ]
    assert len(days) > MOST_BLOCKS
    chosen = choose_by_day(
        days, rank(equipment(((10, 5), (40, 9), (90, 30))), 1), Terms(Haulage(1))
    )
    assert sum(len(dates) for dates in chosen.values()) == 2000


def test_each_size_of_pipe_gets_its_own_lifting_class():
    """24 in DR 11 sticks of 12 m need 1.4 t (see test_fleet); 4 in ones weigh far below 500 kg."""
    heavy, light = (
        run("a", size="24", segments_m=(240.0,)),
        run("b", size="4", segments_m=(9000.0,)),
    )
    cheap, dear = lifter("S", 500, day=50.0), lifter("L", 5000, day=500.0)
    base = job(heavy, light)
    found = estimate(base.model_copy(update={"lifting": (cheap, dear)}))
    spans = [span for span in found.fleet.spans if span.kind == "lifting"]
    assert {span.class_id for span in spans} == {"L", "S"}
    large = next(span for span in spans if span.class_id == "L")
    days = {line.date for line in found.plan.lines if line.run_id == "a"}
    assert large.work_days == len(days)
    assert [r.text for r in large.rejected] == ["lifts {limit}, needs {need}"]


def test_class_with_too_few_in_stock_is_not_taken_and_says_so():
    few, enough = lifter("F", 500, stock=1), lifter("E", 900)
    base = job(lifters_per_crew=2)
    found = estimate(base.model_copy(update={"lifting": (few, enough)}))
    span = next(span for span in found.fleet.spans if span.kind == "lifting")
    assert (span.class_id, span.quantity) == ("E", 2)
    assert span.rejected[0].text == "2 needed at once, only 1 in stock"


def test_stick_that_no_class_carries_names_the_cell():
    base = job(run(size="24", segments_m=(200.0,)))
    weak = base.model_copy(update={"lifting": (lifter("S", 500),)})
    with pytest.raises(InputError, match=r"Capacity: no class in stock lifts a stick"):
        estimate(weak)
    with pytest.raises(InputError, match=r"Capacity: no class in stock, 2 at once lifts a stick"):
        estimate(weak.changed(lifters_per_crew=2))


def test_a_class_is_not_named_among_those_it_was_taken_before():
    base = job().model_copy(update={"lifting": (lifter("S", 500), lifter("T", 500, day=90.0))})
    (span,) = [span for span in estimate(base).fleet.spans if span.kind == "lifting"]
    assert (span.class_id, span.rejected) == ("T", ())


def test_fuel_of_a_day_decides_by_the_hours_of_a_day():
    """Two days of the small one are 200 and fuel of 7.3 x 0.4 x 9.5 h x 1.60 = 44.4 each; the other
    is 300 and burns nothing. With the hours of both days on each the small one would cost 555."""
    small, other = lifter("S", 500, fuel_rate=7.3), lifter("O", 900, day=150.0)
    base = job(run(segments_m=(400.0,), size="4", dr=17.0), haul_days=0)
    found = estimate(base.model_copy(update={"lifting": (small, other)}))
    (span,) = [span for span in found.fleet.spans if span.kind == "lifting"]
    assert (span.class_id, span.work_days) == ("S", 2)


def test_further_machines_bring_the_people_of_their_role():
    """One laborer more for a second machine: crew of 2.5 becomes 3.5."""
    base = job(machines_per_crew=2)
    crew = tuple(
        role.model_copy(update={"further_heads": 1.0}) if role.role == "Laborer" else role
        for role in base.crew
    )
    alone, helped = estimate(base), estimate(base.model_copy(update={"crew": crew}))
    assert sum(alone.plan.crew_days[0].heads) == 2.5
    assert sum(helped.plan.crew_days[0].heads) == 3.5
