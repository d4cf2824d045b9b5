"""Cost lines and bid items at their edges, each value worked by hand."""

import datetime as dt
from decimal import Decimal
from types import SimpleNamespace

import pytest

from estimator import estimate
from estimator.cost.bid_items import item_of_run, unit_price
from estimator.cost.by_size import price_by_size
from estimator.cost.estimate_class import price_at
from estimator.cost.hydrotest import drained, filled, hours_of_tests, repeat_wage, sections
from estimator.cost.lines import days_late, late_lines, person_days
from estimator.cost.markup import DAMAGES_TYPE, Percents, bond, markup_by_type
from estimator.cost.materials import pipe_lines
from estimator.cost.owner_items import as_owner_asks
from estimator.cost.rental_lines import (
    equipment_lines,
    hours_beyond,
    hours_by_tier,
    hours_lines,
    line_delivery,
    line_rental,
    rental_total,
    two_shift_line,
    waiver_lines,
)
from estimator.models.choice import Reason
from estimator.models.plan import CrewDay, Plan
from estimator.models.rates import MoneyRate
from estimator.models.rental import Fleet, RentalSpan, TierMix
from estimator.models.run_costs import BeforeBond, BidItem
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


def test_the_item_of_a_run_is_the_one_with_its_number_or_its_size():
    by_run = SimpleNamespace(allocations=())
    items = [SimpleNamespace(keys=("R1",)), SimpleNamespace(keys=("R2", "X")),
             SimpleNamespace(keys=("8 in IPS DR 11",))]  # fmt: skip
    for run_id, place in (("R1", 0), ("R2", 1), ("R3", 2)):
        costed = SimpleNamespace(run_id=run_id, label="8 in IPS DR 11", amounts=())
        assert item_of_run(items[place:], by_run, costed) is items[place]
    costed = SimpleNamespace(run_id="R2", label="none", amounts=())
    assert item_of_run(items, by_run, costed) is items[1]


@pytest.mark.parametrize(("step", "price"), [(0.25, 2.50), (0.0, 2.60), (1.0, 3.0)])
def test_a_unit_price_is_rounded_by_its_step_also_below_one(step, price):
    """260 of a price of 1,000 before and after bond, over 100 units: 2.60 each."""
    bid = SimpleNamespace(price=Decimal(1000), price_before_bond=Decimal(1000))
    assert unit_price(bid, Decimal(260), 100.0, rates(unit_price_step=step)) == price


def test_the_runs_of_a_size_add_up():
    """Two runs of one size, 10 and 20 of everything; half of the price goes with half before bond.

    The bid is 120 for 60 before bond, so 30 before bond is 60 of the price.
    """
    made = job(run("A", segments_m=(10.0,)), run("B", segments_m=(20.0,)))
    costed = [SimpleNamespace(label="8", labor_hours=n, cost=Decimal(n), own_item=Decimal(n),
                              before_bond=BeforeBond(Decimal(n), Decimal(0), Decimal(n)))
              for n in (10, 20)]  # fmt: skip
    sized = [SimpleNamespace(counts=SimpleNamespace(butt_joints=n)) for n in (10, 20)]
    bid = SimpleNamespace(price=Decimal(120), price_before_bond=Decimal(60))
    (found,) = price_by_size(SimpleNamespace(job=made, runs=sized, bid=bid), costed)
    assert set(vars(found).values()) == {"8", 30, 60}
    assert found.price == 60


def test_hours_of_tests_are_to_the_hundredth():
    """Three sections of 0.333 h: 0.999, which is 1.00 h."""
    third = SimpleNamespace(labor_hours=0.333)
    assert hours_of_tests([third, third, third], "labor_hours") == 1.0


def test_water_is_counted_in_the_unit_of_its_price():
    """5,025 L and 3,012 L: 5,025.0 and 3,012.0 L to fill; drained by the cubic meter 5.0 and 3.0.

    The Tests sheet shows the unit of the fill: a formula can name its cells for that alone.
    """
    tests = (SimpleNamespace(volume_l=5025.0), SimpleNamespace(volume_l=3012.0))
    given = rates(hydro_water=money(0.01, "L"), hydro_disposal=money(3, "m3"))
    made = SimpleNamespace(job=job().model_copy(update={"rates": given}), tests=tests)
    fill, drain = filled(made), drained(made)
    assert (fill.value, fill.terms) == (8037.0, ((1, "tests.water"),))
    assert (drain.value, drain.terms) == (8.0, ())
    assert filled(SimpleNamespace(job=made.job, tests=())) is None
    assert filled(SimpleNamespace(job=job(), tests=tests)) is None


def test_person_days_are_to_the_hundredth():
    """Two days of 1.333 people: 2.666, which is 2.67."""
    days = [SimpleNamespace(heads=(1.0, 0.333))] * 2
    assert person_days(SimpleNamespace(crew_days=days)) == 2.67


def test_pipe_by_the_foot_is_to_the_hundredth():
    """25 sticks of 12 m: 300 m / 0.3048 = 984.2520 ft."""
    bought = run(pipe_price=money(10, "ft"))
    sized = SimpleNamespace(
        counts=SimpleNamespace(sticks=25), geometry=SimpleNamespace(od_mm=219.1)
    )
    (line,) = pipe_lines(SimpleNamespace(pairs=[(bought, sized)], job=job(bought)))
    assert (line.quantity.value, line.unit) == (984.25, "ft")


def test_all_pieces_of_a_line_are_paid_and_each_is_brought_and_returned():
    """Two machines for a week at 300, brought and fetched at 50 a trip: 600 and 4 x 50."""
    fleet = Fleet(spans=(night_span(quantity=2),), power={})
    lines = {line.key: line for line in equipment_lines(job(), fleet)}
    week, trips = lines["equipment.0.week_rate"], lines["equipment.0.delivery"]
    assert len(lines) == 2
    assert (week.quantity.value, week.amount, week.unit) == (2.0, Decimal(600), "week")
    assert (trips.quantity.value, trips.amount, trips.unit) == (4.0, Decimal(200), "trip")
    assert week.item.endswith("week rate")
    assert week.basis.endswith(", 2 on rent")
    assert trips.item.endswith("delivery trips")
    assert line_delivery(machine(), 4) == 200.0
    assert rental_total(fleet.spans) == 600.0


def test_hours_beyond_are_to_the_hundredth_and_need_a_rate_period_with_hours():
    """Three machines 1.113 h beyond each: 3.339. A week covers 40 h: all are at its rate.

    A day without hours covers none.
    """
    span = night_span(excess_h=1.113, quantity=3)
    covered = rates(rental_week_hours=40.0)
    assert hours_beyond(span) == 3.34
    assert {key: one.value for key, one in hours_by_tier(covered, span).items()} == {
        "week_rate": 3.34,
    }  # fmt: skip
    by_day = TierMix(days=5, weeks=0, four_weeks=0, cost=500.0)
    assert hours_by_tier(covered, span.model_copy(update={"rate_periods": by_day})) == {}
    assert hours_by_tier(covered, night_span(excess_h=0.001)) == {}


def test_two_shifts_at_the_price_of_one_have_no_line():
    night = CrewDay(date=MONDAY, crew=1, kind="work", heads=(1.0,), straight_hours=8.0,
                    overtime_hours=0.0, run_minutes=(), shift="night")  # fmt: skip
    week = SimpleNamespace(key="equipment.0.week_rate", amount=Decimal("300.00"))
    fleet, plan = Fleet(spans=(night_span(),), power={}), Plan((), (night,))
    for multiple, lines in ((1.0, 0), (1.1, 1)):
        made = job(night_rental=multiple)
        assert len([*two_shift_line(made, plan, fleet, [week])]) == lines


def test_hours_beyond_have_a_line_at_each_rate_that_is_not_free():
    """10 h beyond a week at 300 for 40 h: 10 at 7.50; a week that costs nothing has no line."""
    given = rates(rental_week_hours=40.0)
    fleet = Fleet(spans=(night_span(excess_h=10.0),), power={})
    for week, amounts in ((300, [75]), (0, [])):
        made = job(machines=(machine(week_rate=money(week, "week")),))
        lines = [*hours_lines(made.model_copy(update={"rates": given}), fleet)]
        assert [line.amount for line in lines] == amounts
        assert [line.basis for line in lines] == [
            "crew 1, from 1 Mar 2027, week rate" for _ in amounts
        ]
        assert [[*line.quantity.terms] for line in lines] == [
            [(1, "equipment.0.week_rate_hours")] for _ in amounts
        ]


def test_the_bond_is_a_share_of_the_price_that_includes_it():
    """A fifth of 1,250 is 250: 1,000 without it."""
    assert bond(1000.0, rates(bond=0.2)) == 250.0


def test_a_repeated_test_pays_its_share_of_the_wage():
    """A quarter of 30 an hour."""
    tests = SimpleNamespace(hydro_repeat_share=0.25)
    assert repeat_wage(rates(hydro_wage=money(30, "h")), tests) == 7.5
