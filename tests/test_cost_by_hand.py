"""Cost lines and bid items at their edges, each value worked by hand."""

import datetime as dt
from decimal import Decimal
from types import SimpleNamespace

import pytest

from estimator import estimate
from estimator.cost.bid_items import pipe_name
from estimator.cost.estimate_class import price_at
from estimator.cost.hydrotest import sections
from estimator.cost.lines import days_late, late_lines
from estimator.cost.markup import DAMAGES_TYPE, Percents, markup_by_type
from estimator.cost.owner_items import as_owner_asks
from estimator.cost.rental_lines import line_rental, two_shift_line, waiver_lines
from estimator.models.choice import Reason
from estimator.models.plan import CrewDay, Plan
from estimator.models.rates import MoneyRate
from estimator.models.rental import Fleet, RentalSpan, TierMix
from estimator.models.run_costs import BidItem
from tests.jobs import job, machine, money, rates, rental, run

MONDAY = dt.date(2027, 3, 1)
DAY = dt.timedelta(1)


def test_the_ends_of_a_customary_range():
    """A tenth below 1,000.00 and a fifth above."""
    assert [price_at(Decimal("1000.00"), share) for share in (-0.1, 0.2)] == [900.0, 1200.0]


def test_a_price_of_a_risk_trial_has_all_markups_but_contingency():
    """Overhead of 10 %, contingency of 5 and profit of 12."""
    markups = ({"Labor": 0.1}, {"Labor": 0.05}, {"Labor": 0.12})
    plain = Percents(*markups).without_contingency()
    assert (plain.overhead, plain.contingency, plain.profit) == (
        {"Labor": 0.1}, {"Labor": 0.0}, {"Labor": 0.12},
    )  # fmt: skip


def late(deadline, finish, damages):
    made = job(deadline=deadline, liquidated_damages=money(damages, "day"))
    return made, SimpleNamespace(job=made, finish=finish)


def test_liquidated_damages_are_of_the_days_after_a_deadline():
    """Five days at 500; none in time, and none without a deadline or a charge."""
    made, planned = late(MONDAY, MONDAY + 5 * DAY, 500.0)
    (line,) = late_lines(planned)
    assert (days_late(made.dates, planned.finish), line.amount) == (5, Decimal("2500.00"))
    for deadline, finish, damages, days in (
        (MONDAY, MONDAY, 500.0, 0), (None, MONDAY, 500.0, 0), (MONDAY, MONDAY + 5 * DAY, 0.0, 5),
    ):  # fmt: skip
        made, planned = late(deadline, finish, damages)
        assert days_late(made.dates, finish) == days
        assert not list(late_lines(planned))


def test_each_section_of_a_test_counts_once():
    quantity = sections(SimpleNamespace(tests=("first", "second")))
    assert (quantity.value, quantity.terms) == (2.0, ((1, "tests.sections"),))


def night_span(**changes):
    values = {"kind": "machine", "class_id": "M3", "crew": 1, "quantity": 1, "on_rent": MONDAY,
              "off_rent": MONDAY + 6 * DAY, "used": tuple(MONDAY + n * DAY for n in range(5)),
              "rate_periods": TierMix(days=0, weeks=1, four_weeks=0, cost=300.0), "fuel_l": 0.0,
              "why": Reason(text="")}  # fmt: skip
    return RentalSpan(**{**values, **changes})


@pytest.mark.parametrize(("excess_h", "base"), [(0.0, 450.0), (10.0, 525.0)])
def test_the_waiver_is_on_rental_two_shifts_and_hours_beyond(excess_h, base):
    """A week at 300; half of it more for two shifts; 10 h beyond at 300 / 40 h, 7.50 each."""
    made = job(machines=(machine(),), night_rental=1.5)
    given = rates(damage_waiver=0.1, rental_week_hours=40.0)
    made = made.model_copy(update={"rates": given})
    fleet = Fleet(spans=(night_span(excess_h=excess_h),), power={})
    night = CrewDay(date=MONDAY, crew=1, kind="work", heads=(1.0,), straight_hours=8.0,
                    overtime_hours=0.0, run_minutes=(), shift="night")  # fmt: skip
    week = SimpleNamespace(key="equipment.0.week_rate", amount=Decimal("300.00"))
    both = tuple(two_shift_line(made, Plan((), (night,)), fleet, [week]))
    assert [line.amount for line in both] == [Decimal("150.00")]
    (line,) = waiver_lines(made, fleet, both)
    assert line.quantity.value == base
    hours = [(1, "beyond.cost")] if excess_h else []
    assert [*line.quantity.terms] == [
        (1, "equipment.rental"), (1, "cost.equipment.two_shifts"), *hours,
    ]  # fmt: skip


def test_items_that_the_owner_does_not_number_count_from_one():
    items = [
        BidItem(key=key, description=key, unit="each", quantity=1.0, group="Pipe", cost=Decimal(1),
                before_bond=Decimal(1), unit_price=Decimal(1), parts=(), keys=(key,))
        for key in ("a", "b")
    ]  # fmt: skip
    assert [item.number for item in as_owner_asks(items, ())] == ["1", "2"]


def test_a_job_that_costs_nothing_has_items_at_nothing():
    """Every price and wage 0: nothing to share out, and no item divides by it."""
    free = job()
    priced = {key: value for key, value in vars(free.rates).items()
              if isinstance(value, MoneyRate)}  # fmt: skip
    zero = {key: money(0, value.per) for key, value in priced.items()}
    free = free.model_copy(update={
        "rates": rates(**zero),
        "crew": tuple(role.model_copy(update={"wage": money(0, "h")}) for role in free.crew),
        "machines": (machine(**no_rent()),),
        "generators": tuple(row.model_copy(update=no_rent()) for row in free.generators),
        "lifting": tuple(row.model_copy(update=no_rent()) for row in free.lifting),
    })  # fmt: skip
    found = estimate(free)
    assert found.bid.price == 0
    assert {item.unit_price for item in found.items} == {0}
    assert any(item.quantity > 1 for item in found.items)


def no_rent():
    return {key: value.model_copy(update={"amount": 0.0})
            for key, value in rental().items() if isinstance(value, MoneyRate)}  # fmt: skip


def test_each_cell_of_a_quantity_counts_once():
    """A quantity is the sum of the cells that its formula names; no cell is taken twice or away."""
    made = job(
        run(test_section="S1", ef_closures=1, tie_ins=1), night_hours=8.0, workdays="Mon-Sun",
        shift_hours=11.0, saturday_multiple=1.25, sunday_multiple=2.0, night_premium=0.1,
        night_rental=1.5, deadline=dt.date(2027, 3, 1), liquidated_damages=money(500, "day"),
    )  # fmt: skip
    charged = {
        "damage_waiver": 0.1, "rental_day_hours": 8.0, "subsistence": money(40, "person-day"),
        "hydro_wage": money(30, "h"), "hydro_equipment": money(400, "test section"),
    }  # fmt: skip
    lines = estimate(made.model_copy(update={"rates": rates(**charged)})).cost_lines
    named = [line for line in lines if line.quantity.terms]
    assert {factor for line in named for factor, _ in line.quantity.terms} == {1}
    keys = {line.key.partition(".")[2].partition(".")[0] for line in named}
    assert keys >= {"wage", "night_differential", "two_shifts", "damage_waiver", "subsistence",
                    "site_overhead", "liquidated_damages", "labor_hours"}  # fmt: skip


def test_only_liquidated_damages_carry_no_markup():
    """500 a day after a deadline on the first day of work, of the cost of their type alone."""
    made = job(deadline=MONDAY, liquidated_damages=money(500, "day"))
    found = estimate(made)
    late_days = (found.finish - MONDAY).days
    assert late_days > 0
    outside = {one.of_type: one.cost - one.marked for one in markup_by_type(found)}
    assert {name for name, amount in outside.items() if amount} == {DAMAGES_TYPE}
    assert outside[DAMAGES_TYPE] == 500 * late_days


def test_rental_of_a_line_by_its_tiers():
    """Four weeks at 900, two at 300 and three days at 100."""
    assert line_rental(machine(), 1.0, 2.0, 3.0) == 1800.0


@pytest.mark.parametrize(("system", "size", "name"), [
    ("IPS", "24", "24 in IPS DR 11"), ("DIPS", "24", "24 in DIPS DR 11"),
    ("ISO", "355", "355 mm SDR 11"), ("OD", "13.2 in", "13.2 in OD DR 11"),
])  # fmt: skip
def test_what_a_pipe_is_called(system, size, name):
    assert pipe_name(run(od_system=system, size=size)) == name
