"""The owner's bid items, rounding in mobilization, pipe apart, prices typed in, scope left out."""

from dataclasses import replace
from decimal import Decimal

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from estimator import api
from estimator.cost import make_bid, price_items, share_cost
from estimator.errors import InputError
from estimator.models.bid_inputs import OwnerItem
from estimator.models.estimate import CostLine, Quantity
from estimator.models.job import Override
from estimator.models.priced_items import OtherCost
from estimator.models.rates import MoneyRate
from estimator.models.run_costs import ItemPart
from estimator.pipeline import estimate
from estimator.whatif import compare
from estimator.workbook.book import parse_workbook, with_results
from estimator.workbook.results.price_words import price_in_words
from tests.jobs import job, money, rate_of, rates, run
from tests.office import recalculate
from tests.one_page import book_of
from tests.workbook_factory import WorkbookFactory

TWO = job(
    run("R1", size="8", dr=11.0, segments_m=(300.0,), pipe_price=money(9.5, "m")),
    run("R2", size="8", dr=11.0, segments_m=(200.0,), tie_ins=1),
).model_copy(update={"rates": rates(mobilization=money(8500, "lump sum"),
                                    demobilization=money(5000, "lump sum"))})  # fmt: skip


def items_of(found):
    return {item.key: item for item in found.items}


def asked(base, *rows):
    return base.model_copy(update={"owner_items": tuple(OwnerItem(**row) for row in rows)})


@pytest.mark.parametrize("step", [None, 0.5, 10.0])
@pytest.mark.parametrize("by", ["by size", "by run"])
@pytest.mark.parametrize("pipe", ["with fusion", "own items"])
def test_items_add_up_and_mobilization_takes_the_rounding(step, by, pipe):
    asked_for = TWO.changed(bid_items=by, pipe_items=pipe)
    asked_for = asked_for.model_copy(update={"rates": asked_for.rates.model_copy(
        update={"unit_price_step": step, "bid_step": 100.0})})  # fmt: skip
    found = estimate(asked_for)
    assert sum(item.amount for item in found.items) == found.bid.price
    assert [item.key for item in found.items if item.balances] == ["Mobilization"]
    assert sum(item.cost for item in found.items) == pytest.approx(found.bid.job_cost, abs=1)


def test_furnished_pipe_stands_apart_from_pipe_by_others():
    """500 m altogether: 300 m furnished at 9.50, bought by the stick with 2 % waste."""
    items = items_of(estimate(TWO))
    assert items["8 in IPS DR 11 furnished"].description.startswith(
        "Furnish and butt fuse 8 in IPS DR 11"
    )
    assert items["8 in IPS DR 11 furnished"].quantity == 300.0
    assert items["8 in IPS DR 11"].description.endswith("pipe by others")
    assert items["8 in IPS DR 11"].quantity == 200.0
    apart = items_of(estimate(TWO.changed(pipe_items="own items")))
    whole = estimate(TWO)
    pipe = sum(line.amount for line in whole.cost_lines if line.cost_type == "Pipe")
    assert apart["8 in IPS DR 11 pipe"].cost == pipe > Decimal(300) * Decimal("9.5")
    joined = apart["8 in IPS DR 11 furnished"].cost + pipe
    assert joined == items["8 in IPS DR 11 furnished"].cost
    text = apart["8 in IPS DR 11 furnished"].description
    assert text == "Butt fusion, 8 in IPS DR 11 polyethylene pipe"


LINES = (
    ("Labor", 1000.0, {}),
    ("Pipe", 2000.0, {"allocated_by": "direct to run", "charged_to": "R1"}),
    ("Subcontract", 4000.0, {"own_item": "Drilled crossing"}),
    ("Mobilization", 500.0, {}),
)
BY_TYPE = {"office_overhead": 0.1, "contingency": 0.0, "profit": 0.0, "profit_labor": 0.2,
           "profit_materials": 0.05, "profit_subcontract": 0.03, "bond": 0.0}  # fmt: skip


def priced_by_hand(lines, pipe="with fusion", **changes):
    """Price lines of a run of 100 m, and return the items by name and the bid."""
    base = job(run("R1", segments_m=(100.0,), pipe_price=money(9.5, "m")), pipe_items=pipe)
    base = base.model_copy(update={"rates": rates(**{**BY_TYPE, **changes})})
    made = tuple(
        CostLine(f"k{n}", "Direct cost", of_type, of_type, "", Quantity(1.0), "LS",
                 rate_of(amount), **rule)
        for n, (of_type, amount, rule) in enumerate(lines)
    )  # fmt: skip
    priced = replace(estimate(base), cost_lines=made, bid=make_bid(base.rates, made))
    items = price_items(priced, share_cost(priced, {"R1": 8.0}))
    assert sum(item.amount for item in items) == priced.bid.price
    return {item.key: item.amount for item in items}, priced.bid.price


def test_items_carry_the_markups_of_their_own_types_by_hand():
    """1.1 on all; profit 20 % on labor, 5 % on pipe, 3 % on the subcontract, none on the rest.

    Labor 1000 -> 1320, pipe 2000 -> 2310, crossing 4000 -> 4532, mobilization 500 -> 550: 8712.
    """
    items, price = priced_by_hand(LINES)
    assert price == 8712
    assert items == {"Mobilization": 550, "8 in IPS DR 11 furnished": 1320 + 2310,
                     "Drilled crossing": 4532}  # fmt: skip
    apart, _ = priced_by_hand(LINES, pipe="own items")
    assert (apart["8 in IPS DR 11 pipe"], apart["8 in IPS DR 11 furnished"]) == (2310, 1320)


def test_each_item_stands_in_its_group_and_mobilization_comes_before_the_pipe():
    """One line of mobilization makes an item of several lines part of it, wherever it stands."""
    base = job(run("R1", segments_m=(100.0,), description="River crossing"), bid_items="by run")
    named = [("Labor", "Setting up"), ("Mobilization", "Setting up"), ("Labor", ""),
             ("Labor", "Traffic"), ("Trial fusions", "")]  # fmt: skip
    made = tuple(
        CostLine(f"k{n}", "Direct cost", of_type, of_type, "", Quantity(1.0), "LS",
                 rate_of(100.0), own_item=item)
        for n, (of_type, item) in enumerate(named)
    )  # fmt: skip
    priced = replace(estimate(base), cost_lines=made, bid=make_bid(base.rates, made))
    items = price_items(priced, share_cost(priced, {"R1": 8.0}))
    assert [(item.key, item.group) for item in items] == [
        ("Setting up", "Mobilization"), ("R1", "Pipe"),
        ("Trial fusions", "Connections and tests"), ("Traffic", "Other work")]  # fmt: skip
    assert items[1].description == (
        "Butt fusion, run R1, River crossing: 8 in IPS DR 11 polyethylene pipe, pipe by others"
    )


@pytest.mark.parametrize(
    "named", ["8 in IPS DR 11", "ips 8 dr 11", "tie-in Joints", "mobilization"]
)
def test_a_cost_that_names_an_item_of_ours_goes_into_it(named):
    """1,000 of traffic control, typed for an item of the estimate, raises that item alone."""
    key = {"t": "Tie-in joints", "m": "Mobilization"}.get(named[0], "8 in IPS DR 11")
    cost = OtherCost(item="Traffic control", quantity=1, unit="LS",
                     unit_price=money(1000, "unit"), bid_item=named)  # fmt: skip
    plain = estimate(TWO)
    found = estimate(TWO.model_copy(update={"other_costs": (cost,)}))
    more = {item.key: item.cost - items_of(plain)[item.key].cost for item in found.items}
    assert {name: amount for name, amount in more.items() if amount} == {key: Decimal(1000)}
    before, now = items_of(plain)[key], items_of(found)[key]
    assert (now.description, now.quantity, now.unit) == (
        before.description, before.quantity, before.unit
    )  # fmt: skip
    assert sum(item.amount for item in found.items) == found.bid.price


def test_runs_without_pipe_carry_what_the_furnished_ones_of_the_size_leave():
    items = items_of(estimate(TWO))
    size = "8 in IPS DR 11"
    assert items[f"{size} furnished"].parts == (ItemPart("furnished size", size),)
    assert items[size].parts == (ItemPart("size", size), ItemPart("furnished size", size, -1))
    apart = items_of(estimate(TWO.changed(pipe_items="own items")))
    assert apart[f"{size} furnished"].parts[-1] == ItemPart("pipe of size", size, -1)
    (alone,) = (item for item in estimate(job(TWO.runs[0])).items if item.group == "Pipe")
    assert alone.parts == (ItemPart("size", size),)


def test_a_bid_of_nothing_has_items_without_a_price():
    found = estimate(TWO)
    nothing = replace(found.bid, price_before_bond=Decimal(0), price=Decimal(0))
    items = price_items(replace(found, bid=nothing), found.by_run)
    assert {item.unit_price for item in items} == {0}


def test_damages_without_markup_bring_an_item_their_cost_alone():
    """300 of damages come on the joining at 300, and with markups at 300 x 1.1."""
    late = (*LINES, ("Liquidated damages", 300.0, {}))
    assert priced_by_hand(late)[0]["8 in IPS DR 11 furnished"] == 3630 + 300
    marked, _ = priced_by_hand(late, damages_carry="markups")
    assert marked["8 in IPS DR 11 furnished"] == 3630 + 330


@settings(max_examples=25, deadline=None)
@given(st.fixed_dictionaries({
    f"{markup}_{of}": st.none() | st.floats(0, 0.4)
    for markup in ("overhead", "contingency", "profit") for of in ("labor", "materials", "other")
}), st.sampled_from(["markup on cost", "margin on price"]))  # fmt: skip
def test_prices_before_bond_add_up_whatever_the_markups(shares, basis):
    """Tie-ins, furnished pipe and lump sums, in items by size: no part is lost or counted twice."""
    changed = TWO.rates.model_copy(update={**shares, "profit_basis": basis})
    found = estimate(TWO.model_copy(update={"rates": changed}))
    whole = pytest.approx(float(found.bid.price_before_bond), abs=0.2)
    assert float(sum(item.before_bond for item in found.items)) == whole
    assert float(sum(each.before_bond.run for each in found.by_run.runs)) == whole
    assert sum(item.amount for item in found.items) == found.bid.price


def test_a_lump_sum_without_cost_is_not_listed():
    free = TWO.model_copy(update={"rates": rates(demobilization=money(0, "lump sum"))})
    assert "Demobilization" not in items_of(estimate(free))
    assert "Demobilization" in items_of(estimate(TWO))


def test_without_a_lump_sum_mobilization_is_added_for_the_rounding():
    bare = job(run(), test_joint_rule="none").model_copy(
        update={"rates": rates(mobilization=money(0, "lump sum"),
                               demobilization=money(0, "lump sum"))})  # fmt: skip
    found = estimate(bare)
    first = found.items[0]
    assert (first.key, first.balances, first.cost) == ("Mobilization", True, 0)
    assert sum(item.amount for item in found.items) == found.bid.price


def test_the_owner_numbers_words_and_joins_items():
    """Trial fusions go into the length of one size; mobilization and demobilization are one."""
    rows = (
        {"item": "Mobilization", "owner_no": "10.01", "owner_text": "Mobilize", "unit": "Sum"},
        {"item": "demobilization", "owner_no": "10.01"},
        {"item": "8 in IPS DR 11", "owner_no": "33.02", "unit": "L.M."},
        {"item": "8 in IPS DR 11 furnished", "owner_no": "33.02"},
        {"item": "Trial fusions", "owner_no": "33.02"},
    )
    found, plain = estimate(asked(TWO, *rows)), items_of(estimate(TWO))
    one, pipe, ties = found.items
    assert (one.number, one.description, one.unit) == ("10.01", "Mobilize", "Sum")
    assert one.cost == plain["Mobilization"].cost + plain["Demobilization"].cost
    assert (pipe.number, pipe.quantity, pipe.unit) == ("33.02", 500.0, "L.M.")
    names = ("8 in IPS DR 11", "8 in IPS DR 11 furnished", "Trial fusions")
    assert pipe.cost == sum(plain[name].cost for name in names)
    assert pipe.before_bond == sum(plain[name].before_bond for name in names)
    assert (ties.key, ties.number) == ("Tie-in joints", "")
    assert sum(item.amount for item in found.items) == found.bid.price
    serious = [warning.message for warning in found.warnings if warning.serious]
    assert any("Tie-in joints is on the Bid schedule" in text for text in serious)


def test_a_row_without_an_item_is_named_with_the_nearest():
    found = estimate(asked(TWO, {"item": "Tie in joint", "owner_no": "1"}))
    (text,) = (w.message for w in found.warnings if "has no cost on this bid" in w.message)
    assert "'Tie in joint'" in text
    assert "Tie-in joints" in text


def test_a_price_typed_in_moves_mobilization_alone():
    price = MoneyRate(amount=31.25, per="each")
    row = {"item": "8 in IPS DR 11", "owner_no": "1", "price": price}
    found, plain = items_of(estimate(asked(TWO, row))), items_of(estimate(TWO))
    item = found["8 in IPS DR 11"]
    assert (item.amount, item.fixed_price) == (Decimal("6250.00"), True)
    moved = {key for key in plain if plain[key].amount != found[key].amount}
    assert moved == {"8 in IPS DR 11", "Mobilization"}
    change = plain["8 in IPS DR 11"].amount - item.amount
    assert found["Mobilization"].amount - plain["Mobilization"].amount == change


def test_mobilization_below_zero_is_a_serious_warning():
    price = MoneyRate(amount=9000.0, per="each")
    found = estimate(asked(TWO, {"item": "8 in IPS DR 11", "owner_no": "1", "price": price}))
    assert any(w.serious and "Mobilization on the Bid schedule is -" in w.message
               for w in found.warnings)  # fmt: skip


def test_a_joined_row_says_nothing_of_its_own():
    rows = ({"item": "Mobilization", "owner_no": "1"},
            {"item": "Demobilization", "owner_no": "1", "unit": "LS"})  # fmt: skip
    with pytest.raises(InputError, match="worded and priced in its first row"):
        estimate(asked(TWO, *rows))
    twice = ({"item": "Mobilization", "owner_no": "1"}, {"item": "mobilization", "owner_no": "2"})
    with pytest.raises(InputError, match="already used"):
        estimate(asked(TWO, *twice))


def without(names):
    return Override(scenario="S", key="left_out", value=names, text=f"Omit {names}")


def test_a_scope_left_out_is_the_job_without_the_run():
    """R3 starts after R2 and ties into it; without R2 it is priced as if that were not there."""
    follower = run(
        "R3", size="8", dr=11.0, segments_m=(100.0,), after="R1; R2", joins="R2", tie_ins=1
    )
    free = follower.model_copy(update={"after": "R1", "joins": None})
    base = TWO.model_copy(update={"runs": (*TWO.runs, follower)})
    expected = estimate(TWO.model_copy(update={"runs": (TWO.runs[0], free)}))
    reported = base.model_copy(update={"scenarios": (without("R2"),)})
    (outcome,) = compare(reported).scenarios
    assert outcome.figures.price == expected.bid.price < estimate(base).bid.price
    assert outcome.figures.joints == expected.butt_joints


@pytest.mark.parametrize("names", ["pipe", "Pipe of R1; R2", "pipe of R1"])
def test_pipe_by_the_owner_is_the_job_without_its_price(names):
    """Only R1 has priced pipe; it must still be joined, and tested as before."""
    first, second = TWO.runs
    free = TWO.model_copy(update={"runs": (first.model_copy(update={"pipe_price": None}), second)})
    (outcome,) = compare(TWO.model_copy(update={"scenarios": (without(names),)})).scenarios
    expected = estimate(free)
    assert outcome.figures.price == expected.bid.price < estimate(TWO).bid.price
    assert outcome.figures.joints == expected.butt_joints == estimate(TWO).butt_joints


@pytest.mark.parametrize(
    ("names", "message"),
    [("R9", "R9: no such run"), ("R1; R2", "No run would be left"),
     ("pipe of R9", "R9: no such run"), ("pipe of R2", "None of this pipe has a price")],
)  # fmt: skip
def test_a_scope_that_cannot_be_left_out_is_refused(names, message):
    with pytest.raises(InputError, match=message):
        estimate(TWO.model_copy(update={"scenarios": (without(names),)}))
    made = WorkbookFactory()
    made.tables["scenarios"] = [{"scenario": "S", "input": "Omit", "value": names}]
    with pytest.raises(InputError) as caught:
        parse_workbook(made.build())
    where = made.where("scenarios", "value")
    assert [str(one).startswith(f"{where}: Value: {message}") for one in caught.value.problems]


def test_the_schedule_recalculates_to_the_same_items(tmp_path):
    """Reference: LibreOffice. Pipe in items of its own, one size furnished in part."""
    factory = WorkbookFactory()
    extra = {**factory.tables["schedule"][0], "run_id": "R3", "pipe_price": None}
    factory.tables["schedule"].append(extra)
    factory.named["job"] |= {"pipe_items": "own items", "risk_trials": 0}
    factory.named["rates"] |= {"profit_materials": 0.03, "overhead_labor": 0.31}
    factory.tables["owner_items"] = [
        {"item": "Mobilization", "owner_no": "1"}, {"item": "Demobilization", "owner_no": "1"},
        {"item": "8 in IPS DR 11 pipe", "owner_no": "2", "price": 25.5},
    ]  # fmt: skip
    workbook = parse_workbook(factory.build())
    found = api.estimate_workbook(workbook, ranges=False)
    path = tmp_path / "items.xlsx"
    path.write_bytes(with_results(workbook, found))
    values = recalculate(path)
    shown = ("Bid", "Bid schedule", "Item prices", "Price build-up")
    ours = book_of(path, shown, data_only=True)
    for name in shown:
        for line in ours[name].iter_rows():
            for cell in line:
                theirs = values[name].get(cell.coordinate)
                if isinstance(cell.value, int | float):
                    assert theirs == pytest.approx(cell.value, abs=0.004), (name, cell.coordinate)
                elif name == "Price build-up" and isinstance(cell.value, str):
                    assert (theirs or "") == cell.value, cell.coordinate
    wage = workbook.places.where("crew", "Operator", "wage").split("!")
    moved = recalculate(path, {wage[0]: {wage[1]: 55}})
    sums = [row[5].coordinate for row in ours["Bid schedule"].iter_rows() if row[3].value]
    price = moved["Bid"][price_cell(ours["Bid"])]
    amounts = [moved["Bid schedule"][at] for at in sums]
    assert sum(a for a in amounts if isinstance(a, float | int)) == pytest.approx(price, abs=0.004)
    words = moved["Bid"][f"A{int(price_cell(ours['Bid'])[1:]) + 1}"]
    assert words == f"{price_in_words(price, '$')}; taxes not included"


def price_cell(sheet):
    (row,) = (row for row in sheet.iter_rows() if row[0].value == "Bid price" and row[4].value)
    return row[4].coordinate


@pytest.mark.parametrize(
    ("price", "currency", "words"),
    [(0.01, "$", "Zero dollars and one cent"), (1, "$", "One dollar and no cents"),
     (21.5, "\u20ac", "Twenty-one euros and fifty cents"),
     (1_000_000_019, "\u00a3", "One billion nineteen pounds and no pence"),
     (110_300.4, "$", "One hundred ten thousand three hundred dollars and forty cents")],
)  # fmt: skip
def test_a_price_in_words(price, currency, words):
    """As one writes it by hand on a bid form."""
    assert price_in_words(price, currency) == words
