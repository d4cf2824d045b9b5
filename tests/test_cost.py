import datetime as dt
from decimal import Decimal

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from estimator import estimate
from estimator.cost import make_bid
from estimator.cost.lines import fuel_volume
from estimator.cost.markup import factor_of, price_factors
from estimator.cost.rates import DIRECT, INDIRECT
from estimator.models.estimate import CostLine, Quantity
from estimator.models.kinds import COST_TYPES, LIQUIDATED_DAMAGES, MARKUP_TYPES
from tests.jobs import job, money, rate_of, rates, run


def line(amount: float, section: str = DIRECT, cost_type: str = "Fuel") -> CostLine:
    return CostLine("k", section, cost_type, "x", "y", Quantity(1.0), "gal", rate_of(amount))


def bid(direct: float, indirect: float = 0.0, **changes):
    with_rates = job().model_copy(update={"rates": rates(**changes)})
    return make_bid(with_rates.rates, [line(direct), line(indirect, INDIRECT)])


NO_MARKUP = {"office_overhead": 0, "contingency": 0, "profit": 0, "bond": 0, "tax": 0}


def test_fuel_is_bought_to_a_tenth_of_its_unit():
    """10.06 L at a price per liter, and per gallon of 3.785411784 L: 2.6575."""
    assert fuel_volume(job().rates, 10.06) == 10.1
    dear = job().model_copy(update={"rates": rates(fuel_price=money(4, "gal"))})
    assert fuel_volume(dear.rates, 10.06) == 2.7


# By hand: 20 % mark-up on 100,000 gives 120,000 and a margin of 16.7 %;
# a 20 % margin needs 125,000.
def test_markup_of_a_fifth_is_a_margin_of_a_sixth():
    found = bid(100_000, **{**NO_MARKUP, "profit": 0.2})
    assert found.price == Decimal("120000.00")
    assert found.margin == pytest.approx(1 / 6)


def test_margin_of_a_fifth_is_a_markup_of_a_quarter():
    found = bid(100_000, **{**NO_MARKUP, "profit": 0.2, "profit_basis": "margin on price"})
    assert found.price == Decimal("125000.00")
    assert found.markup == pytest.approx(0.25)


def test_chain_by_hand():
    """80,000 + 20,000; overhead 10 %, contingency 5 %, profit 12 %, bond 1 % of price, tax 5 %.

    By hand: 100,000 + 10,000 + 5,000 = 115,000; profit 13,800 gives 128,800; price
    128,800 / 0.99 = 130,101.01; bond 1,301.01; tax 6,505.05.
    """
    found = bid(80_000, 20_000, tax=0.05)
    assert (found.direct_cost, found.indirect_cost, found.job_cost) == (80_000, 20_000, 100_000)
    assert found.cost_before_profit == Decimal("115000.00")
    assert found.profit == Decimal("13800.00")
    assert found.bond == Decimal("1301.01")
    assert found.price == Decimal("130101.01")
    assert found.tax == Decimal("6505.05")
    assert found.total == Decimal("136606.06")


def late_bid(carry, **changed):
    """Return the bid of 80,000 direct, 10,000 indirect and 10,000 of liquidated damages."""
    lines = [
        line(80_000), line(10_000, INDIRECT),
        line(10_000, INDIRECT, LIQUIDATED_DAMAGES),
    ]  # fmt: skip
    asked = job().model_copy(update={"rates": rates(damages_carry=carry, **changed)})
    return make_bid(asked.rates, lines)


def test_liquidated_damages_stay_out_of_the_markups_by_hand():
    """Overhead 10 % and contingency 5 % of 90,000: 113,500 before profit.

    Profit 12 % of 103,500 is 12,420: 125,920, with its bond of 1 % 125,920 / 0.99 = 127,191.92.
    A margin of 20 % is 103,500 x 0.2 / 0.8 = 25,875.
    """
    found = late_bid("no markup")
    assert found.unmarked == 10_000
    assert (found.office_overhead, found.contingency) == (9_000, 4_500)
    assert (found.cost_before_profit, found.profit) == (113_500, 12_420)
    assert found.price == Decimal("127191.92")
    assert late_bid("no markup", profit=0.2, profit_basis="margin on price").profit == 25_875


def test_liquidated_damages_that_carry_the_markups_are_a_cost_like_any_other():
    found, plain = late_bid("markups"), bid(80_000, 20_000)
    assert found.unmarked == 0
    assert found.price == plain.price == Decimal("130101.01")


def mixed(**changed):
    """Return the bid of 70,000 labor and rental, 20,000 pipe and 10,000 mobilization."""
    asked = job().model_copy(update={"rates": rates(**changed)})
    lines = [line(40_000, cost_type="Labor"), line(30_000, cost_type="Equipment"),
             line(20_000, cost_type="Pipe"), line(10_000, INDIRECT, "Mobilization")]  # fmt: skip
    return make_bid(asked.rates, lines)


def test_a_type_of_cost_carries_its_own_markups_by_hand():
    """Pipe: overhead 4 %, profit 5 %; the rest 10 %, 12 %; contingency 5 % on all.

    Overhead 8,000 + 800; contingency 5,000. Before profit 80,000 x 1.15 = 92,000 and
    20,000 x 1.09 = 21,800: 113,800. Profit 11,040 + 1,090 = 12,130; 125,930 / 0.99 = 127,202.02.
    As margins: 92,000 x 0.12 / 0.88 = 12,545.45 and 21,800 x 0.05 / 0.95 = 1,147.37.
    """
    own = {"overhead_materials": 0.04, "profit_materials": 0.05}
    found = mixed(**own)
    assert (found.office_overhead, found.contingency) == (8_800, 5_000)
    assert (found.cost_before_profit, found.profit) == (113_800, 12_130)
    assert found.price == Decimal("127202.02")
    assert mixed(**own, profit_basis="margin on price").profit == Decimal("13692.82")


def test_late_days_carry_no_markup_of_their_type_either():
    """Other cost: 10,000 of it liquidated damages; 15 % overhead on 10,000 only, 10 % on rest."""
    lines = [line(80_000), line(10_000, INDIRECT, "Jobsite overhead"),
             line(10_000, INDIRECT, LIQUIDATED_DAMAGES)]  # fmt: skip
    asked = job().model_copy(
        update={"rates": rates(damages_carry="no markup", overhead_other=0.15)}
    )
    found = make_bid(asked.rates, lines)
    assert found.office_overhead == 8_000 + 1_500
    assert found.unmarked == 10_000


def test_what_one_of_cost_comes_to_by_its_type_by_hand():
    """Overhead 10 %, contingency 5 %, profit 12 %: 1.15 x 1.12 = 1.288; pipe 1.09 x 1.05 = 1.1445.

    Damages come to what they are, unless they carry the markups of other cost.
    """
    own = rates(overhead_materials=0.04, profit_materials=0.05)
    factors = price_factors(MARKUP_TYPES, own)
    assert factor_of("Pipe", factors, own) == pytest.approx(1.1445)
    assert factor_of("Labor", factors, own) == pytest.approx(1.288)
    assert factor_of(LIQUIDATED_DAMAGES, factors, own) == 1.0
    carried = rates(damages_carry="markups")
    assert factor_of(LIQUIDATED_DAMAGES, factors, carried) == pytest.approx(1.288)


def test_every_cost_type_carries_the_markup_of_one_type():
    assert {kind.markup for kind in COST_TYPES} <= set(MARKUP_TYPES)
    found = mixed(**{f"profit_{of_type}": 0.0 for of_type in MARKUP_TYPES})
    assert found.profit == 0


money_amounts = st.integers(0, 10**8).map(lambda n: n / 100)


@given(
    st.lists(money_amounts, min_size=4, max_size=4), st.integers(0, 90), st.integers(0, 90),
    st.sampled_from(["markup on cost", "margin on price"]),
)  # fmt: skip
def test_the_same_percents_for_every_type_price_as_one_line_does(amounts, overhead, profit, basis):
    kinds = ("Labor", "Equipment", "Pipe", "Per diem")
    lines = [line(a, cost_type=kind) for a, kind in zip(amounts, kinds, strict=True)]
    shares = {"overhead": overhead / 100, "contingency": 0.07, "profit": profit / 100}
    typed = {f"{k}_{of}": share for k, share in shares.items() for of in MARKUP_TYPES}
    plain = rates(office_overhead=overhead / 100, contingency=0.07, profit=profit / 100,
                  profit_basis=basis)  # fmt: skip
    by_type = rates(**typed, profit_basis=basis)
    one, each = (make_bid(r, lines) for r in (plain, by_type))
    assert one == each


shares = st.integers(0, 90).map(lambda n: n / 100)


@given(st.floats(0, 1e7), shares, shares, shares, st.integers(0, 20).map(lambda n: n / 100))
def test_price_holds_its_own_bond_and_margin(direct, overhead, contingency, profit, bond):
    found = bid(direct, office_overhead=overhead, contingency=contingency, profit=profit,
                bond=bond, profit_basis="margin on price")  # fmt: skip
    assert abs(float(found.bond) - float(found.price) * bond) < 0.011
    assert abs(float(found.profit) - float(found.price_before_bond) * profit) < 0.011
    assert found.price >= found.job_cost


def test_amounts_are_quantity_times_rate_and_add_up():
    found = estimate(job(run(elbows=2, ef_closures=1, flange_adapters=2, branch_saddles=1)))
    assert sum(x.amount for x in found.cost_lines) == found.bid.job_cost
    for x in found.cost_lines:
        assert abs(float(x.amount) - x.quantity.value * x.rate.value) <= 0.005 + 1e-9
    by_size = sum(size.price for size in found.by_run.sizes)
    assert abs(by_size - found.bid.price) <= Decimal("0.01") * len(found.by_run.sizes)


def test_labor_by_hand():
    """10 h shifts, 8 h straight; operator 38/h, burden 42 %; laborers 1.5 at 27/h, 1.5 x overtime.

    By hand for each day: operator 10 h x 38 = 380.00 and burden 159.60; laborers 15 h x 27 =
    405.00; premium of their 3 overtime hours 3 x 27 x 0.5 = 40.50. Small tools 3 % of straight
    pay with burden: (380 + 405) x 1.42 x 0.03 = 33.441.
    """
    found = estimate(job(rework_share=0.0))
    days = found.plan.work_days
    lines = {x.key: x for x in found.cost_lines}
    assert float(lines["labor.wage.Operator"].amount) == pytest.approx(380.00 * days, abs=0.005)
    assert float(lines["labor.burden.Operator"].amount) == pytest.approx(159.60 * days, abs=0.005)
    assert float(lines["labor.wage.Laborer"].amount) == pytest.approx(405.00 * days, abs=0.005)
    premium = lines["labor.overtime_premium.Laborer"]
    assert premium.quantity.value == pytest.approx(3 * days)
    assert float(premium.amount) == pytest.approx(40.50 * days, abs=0.005)
    assert float(lines["labor.small_tools"].amount) == pytest.approx(33.441 * days, abs=0.02)


def test_overtime_at_the_straight_rate_has_no_premium():
    plain = job(rework_share=0.0)
    crew = tuple(r.model_copy(update={"overtime_multiple": 1.0}) for r in plain.crew)
    lines = {x.key: x for x in estimate(plain.model_copy(update={"crew": crew})).cost_lines}
    assert lines["labor.overtime_premium.Operator"].amount == 0


def test_priced_pipe_is_charged_by_whole_sticks_with_waste():
    """301 m in 12 m sticks: 26 sticks, 312 m at 10.00 and 2 % waste is 3,182.40 (by hand)."""
    priced = run(segments_m=(301.0,), pipe_price={"amount": 10.0, "per": "m"})
    lines = {x.key: x for x in estimate(job(priced)).cost_lines}
    assert lines["pipe.R1"].amount == Decimal("3182.40")


@settings(max_examples=25)
@given(st.integers(20, 3000), st.integers(1, 1500), st.sampled_from([0.0, 0.02]))
def test_cost_never_falls_when_the_run_grows(length, more, rework):
    short = estimate(job(run(segments_m=(float(length),)), rework_share=rework))
    long = estimate(job(run(segments_m=(float(length + more),)), rework_share=rework))
    assert long.bid.price >= short.bid.price
    assert long.plan.finish >= short.plan.finish


def test_weather_days_are_paid_show_up_hours():
    one = job(run(segments_m=(3000.0,)), weather_paid_hours=2.0)
    wet = one.model_copy(
        update={"weather": tuple(w.model_copy(update={"lost_share": 0.2}) for w in one.weather)}
    )
    lost = [day for day in estimate(wet).plan.crew_days if day.kind == "weather"]
    assert lost
    assert all((day.straight_hours, day.overtime_hours) == (2.0, 0.0) for day in lost)
    assert estimate(wet).plan.work_days == estimate(one).plan.work_days


def test_deadline_missed_is_reported_in_working_days():
    found = estimate(job(run(segments_m=(3000.0,)), deadline=dt.date(2027, 3, 5)))
    text = [w.message for w in found.warnings if w.message.startswith("Deadline")]
    worked_after = {n.date for n in found.plan.lines if n.date > dt.date(2027, 3, 5)}
    assert len(text) == 1
    assert f"{len(worked_after)} workdays after 5 Mar 2027" in text[0]
