"""Other costs: each way of counting by hand, and every place that they must reach."""

import dataclasses

import pytest

from estimator import estimate, pipeline
from estimator.cost import cost_lines
from estimator.models.job import Override
from estimator.models.places import Places
from estimator.models.priced_items import OtherCost
from estimator.models.risk_ranges import RiskRange
from estimator.study import add_ranges
from estimator.whatif import compare
from estimator.workbook.book import parse_workbook
from tests.jobs import job, money, rates, run
from tests.workbook_factory import WorkbookFactory

# In SI results are in m. Sticks of 12 m: R1 is 10 sticks and 9 joints, R2 5 sticks and 4.
RUNS = (
    run("R1", segments_m=(120.0,), stick_length_m=12.0),
    run("R2", segments_m=(60.0,), stick_length_m=12.0),
)
FT_IN_M = 0.3048


def other(item="Dewatering", quantity=2.0, price=10.0, **changed):
    return OtherCost(item=item, quantity=quantity, unit="day", unit_price=money(price, "unit"),
                     **changed)  # fmt: skip


def with_costs(*costs, runs=RUNS, **changed):
    return job(*runs, **changed).model_copy(update={"other_costs": costs})


def other_lines(planned):
    return [line for line in planned.cost_lines if line.key.startswith("other.")]


@pytest.mark.parametrize(
    ("changed", "quantities"),
    [
        ({}, {"": 2.0}),
        ({"run": "R2"}, {"R2": 2.0}),
        ({"counted": "by run"}, {"R1": 2.0, "R2": 2.0}),
        ({"counted": "by run", "run": "R1"}, {"R1": 2.0}),
        ({"counted": "by length"}, {"": 2 * 180.0}),
        ({"counted": "by length", "run": "R2"}, {"R2": 2 * 60.0}),
        ({"counted": "by joint"}, {"": 2 * 13.0}),
        ({"counted": "by joint", "run": "R1"}, {"R1": 2 * 9.0}),
    ],
)
def test_quantities_by_hand(changed, quantities):
    found = estimate(with_costs(other(**changed), unit_system="SI"))
    lines = other_lines(found)
    assert {line.charged_to: line.quantity.value for line in lines} == quantities
    assert all(float(line.amount) == 10 * line.quantity.value for line in lines)


def test_a_quantity_is_to_the_hundredth_and_says_what_it_is_for():
    """0.333 for each of 13 joints is 4.329."""
    by_joint, of_run = other("Tests", 0.333, counted="by joint"), other(run="R2")
    found = other_lines(estimate(with_costs(by_joint, of_run)))
    assert [(line.item, line.quantity.value, line.basis) for line in found] == [
        ("Tests", 4.33, "0.333 day for each butt joint"),
        ("Dewatering, run R2", 2.0, "Other costs"),
    ]  # fmt: skip


def test_a_length_is_counted_in_the_unit_of_the_results():
    found = estimate(with_costs(other(counted="by length"), unit_system="US"))
    assert other_lines(found)[0].quantity.value == pytest.approx(2 * 180 / FT_IN_M, abs=0.01)


def test_what_is_counted_by_length_or_joint_is_shared_out_by_it():
    """900 by length: 120 of 180 m are R1's, 600 and 300. 260 by joint: 9 of 13, 180 and 80."""
    costs = (other("A", 0.5, counted="by length"), other("B", 2.0, counted="by joint"))
    found = estimate(with_costs(*costs, unit_system="SI"))
    at = {share.name: i for i, share in enumerate(found.by_run.allocations)}
    for name, expected in (("Other costs, by length", [600, 300]),
                           ("Other costs, by butt joints", [180, 80])):  # fmt: skip
        assert [one.amounts[at[name]] for one in found.by_run.runs] == expected


@pytest.mark.parametrize(
    ("changed", "kind"),
    [
        ({}, "Other costs"), ({"cost_type": "labor"}, "Labor"),
        ({"cost_type": "equipment"}, "Equipment"), ({"cost_type": "materials"}, "Materials"),
        ({"cost_type": "materials", "subcontract": True}, "Subcontract"),
    ],
)  # fmt: skip
def test_a_row_belongs_to_its_cost_type(changed, kind):
    assert other_lines(estimate(with_costs(other(**changed))))[0].cost_type == kind


def test_a_subcontract_carries_its_own_markup():
    """1,000 of subcontract at 5 % profit and no overhead, where all else has 10, 5 and 12 %."""
    own = rates(overhead_subcontract=0.0, contingency_subcontract=0.0, profit_subcontract=0.05,
                bond=0.0)  # fmt: skip
    bore = other("Bore", 1.0, 1000.0, subcontract=True)
    without, with_bore = (
        pipeline.estimate(with_costs(*costs).model_copy(update={"rates": own}))
        for costs in ((), (bore,))
    )
    more = float(with_bore.bid.price - without.bid.price)
    assert more == pytest.approx(1050.0, abs=0.02)


def test_an_item_of_its_own_takes_the_cost_out_of_the_pipe():
    bore = other("Bore", 1.0, 1000.0, run="R1", subcontract=True, bid_item="Road crossing")
    plain, found = estimate(with_costs()), estimate(with_costs(bore))
    costs = {item.description: float(item.cost) for item in found.items}
    assert costs.pop("Road crossing") == 1000
    assert costs == {item.description: float(item.cost) for item in plain.items}
    assert float(found.by_run.by_run["R1"].cost - plain.by_run.by_run["R1"].cost) == 1000


def test_two_kinds_of_lines_may_share_an_item():
    fee = other("Haul permit", 1.0, 500.0, bid_item="Mobilization")
    found = estimate(with_costs(fee))
    named = [item for item in found.items if item.description == "Mobilization"]
    assert [float(item.cost) for item in named] == [8500 + 500]
    assert len({item.key for item in found.items}) == len(found.items)


def test_a_range_on_wages_moves_labor_of_other_costs_and_no_subcontract():
    spans = (RiskRange(factor="wages", low=2.0, likely=2.0, high=2.0, shape="PERT"),)
    changed = {}
    for subcontract in (False, True):
        cost = other("Guards", 1.0, 1000.0, cost_type="labor", subcontract=subcontract)
        asked = with_costs(cost, risk_trials=10).model_copy(update={"risk_ranges": spans})
        found = add_ranges(estimate(asked))
        changed[subcontract] = found.risk.lines[0].job_cost - float(found.bid.job_cost)
    assert changed[False] - changed[True] == pytest.approx(1000.0, abs=0.02)


def test_a_scenario_with_shorter_sticks_pays_more_by_the_joint():
    """Sticks of 6 m: 19 + 9 joints in place of 9 + 4, so 15 x 2 x 10 more."""
    short = Override(scenario="Short sticks", key="stick_length_m", value=6.0, text="6")
    asked = with_costs(other(counted="by joint")).model_copy(update={"scenarios": (short,)})
    base = estimate(asked)
    planned = pipeline.estimate(
        asked.model_copy(
            update={"runs": tuple(r.model_copy(update={"stick_length_m": 6.0}) for r in asked.runs)}
        )
    )
    more = other_lines(planned)[0].amount - other_lines(base)[0].amount
    assert more == 15 * 2 * 10
    (found,) = compare(asked).scenarios
    assert found.figures.job_cost == planned.bid.job_cost


def test_the_rate_of_a_row_is_the_cell_it_was_typed_in():
    """Two rows of one item for two runs: each line is live on its own cell."""
    factory = WorkbookFactory()
    factory.tables["other_costs"] = [
        {"item": "Bore", "quantity": 1, "unit": "LS", "unit_price": price, "run": name}
        for name, price in (("R1", 700), ("R2", 900))
    ]
    workbook = parse_workbook(factory.build())
    first, second = workbook.job.other_costs
    assert workbook.places.where("other_costs", first.row_name, "unit_price") == "Other costs!D7"
    assert workbook.places.where("other_costs", second.row_name, "unit_price") == "Other costs!D8"


def test_no_rows_change_nothing():
    plain = estimate(job(*RUNS))
    assert estimate(with_costs()) == dataclasses.replace(plain)
    assert all(not line.own_item for line in cost_lines(plain))
    assert plain.bid == estimate(with_costs(), Places()).bid
