"""What a baseline, a control chart and a field card say of a small award, worked by hand."""

import datetime as dt
from decimal import Decimal
from types import SimpleNamespace

import pytest

from estimator.errors import EstimatorError
from estimator.models.baseline import FITTING, STICK, TIE_IN, BaselineRun, PieceTime
from estimator.models.kinds import CONNECTIONS, EQUIPMENT, HYDROTESTS, JOBSITE_OVERHEAD, LABOR
from estimator.models.plan import PlanLine, Work
from estimator.models.run_costs import Allocation
from estimator.models.site_records import CoolingByAir
from estimator.models.sized_run import CycleElement, JointTime
from estimator.progress import baseline, field_cards
from estimator.progress.baseline import must_add_up, piece_times
from estimator.progress.control_chart import p_chart
from estimator.progress.field_cards import AirCooling, FieldCard, drag_ladder
from tests.each import each

MONDAY = dt.date(2027, 3, 1)
DAY = dt.timedelta(1)
NOTHING = Decimal(0)


def frozen(hours, **head):
    whole = {"labor_hours": hours, "cost": NOTHING, "price": NOTHING, **head}
    return SimpleNamespace(head=SimpleNamespace(**whole), days=(), runs=(), lump_sums=(), items=(),
                           labor_hours=hours, cost=NOTHING)  # fmt: skip


@each("hours, more, adds_up", [
    (2e6, 1.5, True), (2e6, 2.5, False), (1e6, 1.0, True), (0.5, 1.5e-6, False),
])  # fmt: skip
def test_hours_add_up_to_a_millionth_of_them_or_of_one(hours, more, adds_up):
    made = frozen(hours)
    made.labor_hours, made.days = hours + more, [SimpleNamespace(
        labor_hours=hours, cost=NOTHING, pieces={}, run_id="A")]  # fmt: skip
    if adds_up:
        must_add_up(made)
    else:
        with pytest.raises(EstimatorError, match=r"does not add up. Labor-hours by run"):
            must_add_up(made)


def test_minutes_of_a_piece_are_those_of_the_machine_and_of_the_crew():
    """Soak 6 and cooling 24; of the tasks of the machine 5 are seen, 3 hidden: 35 of 72."""
    tasks = (("a", 5.0, "machine", False), ("b", 3.0, "machine", True), ("c", 9.0, "crew", False))
    joint = JointTime(72.0, 42.0, 72.0)
    cycle = SimpleNamespace(elements=[CycleElement(*task) for task in tasks], plain=joint,
                            fitting=joint, tie_in=joint,
                            other_min={kind.key: 7.0 for kind in CONNECTIONS})  # fmt: skip
    fusion = SimpleNamespace(soak_s=360.0, cool_s=1440.0)
    found = piece_times(SimpleNamespace(cycle=cycle, fusion=fusion))
    assert {found[kind] for kind in (STICK, FITTING, TIE_IN)} == {PieceTime(37.0, 35.0)}
    assert {found[kind.key] for kind in CONNECTIONS} == {PieceTime(7.0, 0.0)}


@each("time, found", [
    (JointTime(72.0, 72.0, 72.0), PieceTime(42.0, 30.0)),
    (JointTime(72.0, 36.0, 36.0, machines=2), PieceTime(30.0, 6.0)),
])  # fmt: skip
def test_one_machine_is_never_waited_for_and_of_two_the_crew_holds_up_at_half_a_cycle(time, found):
    assert baseline._butt_time(time, 6.0, 24.0) == found


def test_the_cost_of_a_run_is_that_of_what_its_joints_earn(monkeypatch):
    """Labor 100, equipment 50, fuel 30 and 5; mobilization is not earned by joints."""
    monkeypatch.setattr(baseline, "item_of_run", lambda *asked: SimpleNamespace(description="Pipe"))
    monkeypatch.setattr(baseline, "piece_counts", lambda counts: {})
    monkeypatch.setattr(baseline, "piece_times", lambda sized: {})
    types = (LABOR, EQUIPMENT, "Fuel", "Fuel", "Mobilization")
    cost = SimpleNamespace(amounts=tuple(map(Decimal, (100, 50, 30, 5, 999))), label="P",
                           price=Decimal(300))  # fmt: skip
    by_run = SimpleNamespace(by_run={"A": cost}, allocations=tuple(
        Allocation(name, "labor-hours", by_band=False, with_pipe=False) for name in types
    ))  # fmt: skip
    estimate = SimpleNamespace(by_run=by_run, items=(), labor_hours={})
    sized = SimpleNamespace(cycle=SimpleNamespace(band="S"), counts=None)
    found = baseline._run(estimate, SimpleNamespace(run_id="A", length_m=9.0), sized)
    assert (found.labor, found.equipment, found.other) == (100, 50, 35)
    assert found.labor_hours == 0.0


def item(key, *parts, lump_sum=False):
    return SimpleNamespace(key=key, number="1", description=key, unit="m", quantity=1.0,
                           unit_price=NOTHING, lump_sum=lump_sum,
                           parts=[SimpleNamespace(kind=k, name=n) for k, n in parts])  # fmt: skip


def test_a_bid_item_pays_for_the_runs_that_it_joins_or_furnishes(monkeypatch):
    """Item a joins A, item p furnishes B; a line that has the name of a run furnishes none."""
    items = [item("a"), item("p", ("pipe of run", "B")), item("l", ("lines", "B"))]
    monkeypatch.setattr(baseline, "item_of_run", lambda items, by_run, run: items[0]
                        if run.run_id == "A" else SimpleNamespace(key="none"))  # fmt: skip
    runs = [SimpleNamespace(run_id=name, label="P") for name in "AB"]
    found = baseline._items(SimpleNamespace(items=items, by_run=SimpleNamespace(runs=runs)))
    assert [one.runs for one in found] == [("A",), ("B",), ()]


@each("parts, rule", [
    ((("lines", "Mobilization"),), "start"), ((("lines", "Demobilization"),), "finish"),
    ((("lines", "Hydrostatic testing"),), "tests"), ((("tie-ins", "P"),), "tie-ins"),
    ((("lines", "Mobilization"), ("lines", "Demobilization")), "work"),
    ((("lines", "mobilization"), ("lines", "Mobilization")), "start"),
    ((("lines", "Traffic"), ("tie-ins", "P")), "tie-ins"),
])  # fmt: skip
def test_an_item_is_claimed_by_what_is_in_it_or_by_the_work(parts, rule):
    assert baseline._claim_rule(item("x", *parts), ()) == rule
    if rule == "tie-ins":
        assert baseline._claim_rule(item("x", *parts, lump_sum=True), ()) == "work"
    assert baseline._claim_rule(item("x", *parts), ("A",)) == "length"


def line(key, cost_type, amount):
    return SimpleNamespace(key=key, item=key, cost_type=cost_type, amount=Decimal(amount))


def test_lump_sums_are_earned_at_the_start_by_the_day_by_test_and_at_the_finish():
    """Of 210.05 the runs earn 100; 10 and 5 come and go, 30 by the day, 62.05 with the last work;
    two sections of 100 and 200 m share 3.00; what is left is 0.00."""
    lines = (
        line("labor", LABOR, 100), line("indirect.mobilization", "Mobilization", 10),
        line("indirect.demobilization", "Mobilization", 5),
        line("overhead", JOBSITE_OVERHEAD, 30), line("damages", "Liquidated damages", "62.05"),
        line("tests", HYDROTESTS, 3),
    )  # fmt: skip
    tests = [SimpleNamespace(section=f"T{number}", length_m=100.0 * number, start=MONDAY + DAY,
                             finish=MONDAY + 2 * DAY) for number in (1, 2)]  # fmt: skip
    estimate = SimpleNamespace(
        plan=SimpleNamespace(start=MONDAY), finish=MONDAY + 9 * DAY, cost_lines=lines, tests=tests,
        bid=SimpleNamespace(job_cost=Decimal("210.05")),
    )  # fmt: skip
    found = list(baseline._lump_sums(estimate, [SimpleNamespace(cost=Decimal(100))]))
    assert [(one.rule, (one.first - MONDAY).days, (one.last - MONDAY).days, float(one.cost))
            for one in found] == [
        ("start", 0, 0, 10.0), ("finish", 9, 9, 5.0), ("time", 0, 9, 30.0),
        ("finish", 9, 9, 62.05), ("test", 1, 2, 1.0), ("test", 1, 2, 2.0),
    ]  # fmt: skip
    *_, last = baseline._lump_sums(estimate, [SimpleNamespace(cost=Decimal("99.98"))])
    assert (last.name, last.rule, last.cost) == ("Rounding of cost by run", "finish",
                                                 Decimal("0.02"))  # fmt: skip


def test_days_earn_their_share_and_no_run_more_than_it_costs():
    """Three of four sticks and one: 75.01 of 100.01 and the rest; of 6 made 100.01 are earned."""
    run = BaselineRun(
        run_id="A", bid_item="Pipe", pipe="P", band="S", length_m=1.0, pieces={STICK: 4},
        times={STICK: PieceTime(5.0, 5.0)}, labor_hours=8.0, labor=Decimal("100.01"),
        equipment=NOTHING, other=NOTHING, price=NOTHING,
    )  # fmt: skip

    def day(number, sticks, shift="day"):
        return PlanLine(MONDAY + number * DAY, 1, "A", "M", rework_joints=1, test_joints=2,
                        shift=shift, made=(Work("stick", sticks, 9.0),))  # fmt: skip

    found = list(baseline._days([day(1, 1), day(0, 1), day(0, 2, "night")], {"A": run}))
    assert [(one.pieces, one.labor_hours, one.cost) for one in found] == [
        ({STICK: 3}, 6.0, Decimal("75.01")), ({STICK: 1}, 2.0, Decimal("25.00")),
    ]  # fmt: skip
    assert [(one.rework, one.trial_fusions) for one in found] == [(2, 4), (1, 2)]
    assert baseline._part(Decimal("100.01"), 1.5) == Decimal("100.01")


# Rejects in groups, and the field card


def test_points_of_the_control_chart_are_groups_and_half_a_group():
    """One of two rejected: 0.5 +- 1.5, kept between 0 and 1. Of 75 joints in groups of 50 the last
    25 are a point, of 74 the last 24 are none."""
    found = [(one.first, one.last, one.rejects, one.lower, one.upper)
             for one in p_chart([True, False], 1)]  # fmt: skip
    assert found == [(1, 1, 1, 0.0, 1.0), (2, 2, 0, 0.0, 1.0)]
    assert [(one.first, one.last) for one in p_chart([False] * 75)] == [(1, 50), (51, 75)]
    assert len(p_chart([False] * 74)) == 1
    with pytest.raises(ValueError, match="at least one joint"):
        p_chart([True], 0)


def card(*bands, notes=()):
    cooling = tuple(CoolingByAir(pipe="P", from_c=a, to_c=b, low_s=c, high_s=d)
                    for a, b, c, d in bands)  # fmt: skip
    fusion = SimpleNamespace(method="m", notes=notes)
    return FieldCard(
        label="P", machine="M", runs=(), material="PE", geometry=None, fusion=fusion,
        misalignment_max_mm=1.0, base_gauge_mpa=None, most_gauge_mpa=None, cooling=cooling,
        ambient_c=20.0, marks={},
    )  # fmt: skip


@each("bands, airs", [
    ([(0.0, 40.0, 1300.0, 1400.0)], []),
    ([(-45.0, 15.0, 1000.0, 1000.0), (15.0, 40.0, 1300.0, 1400.0)],
     [(15.0, 1000.0, False), (20.0, 1320.0, True), (30.0, 1360.0, True)]),
    ([(-45.0, 20.0, 1000.0, 1000.0), (20.0, 70.0, 1000.0, 1500.0)],
     [(20.0, 1000.0, False), (30.0, 1100.0, True), (40.0, 1200.0, True), (50.0, 1300.0, True)]),
])  # fmt: skip
def test_cooling_is_given_up_to_an_air_or_at_each_ten_degrees_four_at_most(bands, airs):
    """A band of one time up to its end; one that grows by 100 s in 25 C, or 500 in 50, inside."""
    assert card(*bands).airs == tuple(AirCooling(*air) for air in airs)


def test_what_the_method_says_of_the_air_is_left_to_the_table(monkeypatch):
    rows = [{"text": "cold", "quantity": "ambient_c"}, {"text": "dry", "quantity": "wall"}]
    monkeypatch.setattr(field_cards.tables, "find_rows", lambda *asked, **by: rows)
    assert card(notes=("cold", "dry", "other")).notes == ("dry", "other")


def test_the_step_of_a_ladder_is_the_next_round_one():
    """Twice 6 in four steps are 3 each: 5; twice 24 are 12: 20."""
    assert [drag_ladder(allowance)[1] for allowance in (6.0, 24.0)] == [5.0, 20.0]
