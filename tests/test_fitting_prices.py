"""Fitting prices: exactly the kind, size and DR, and whatever is missing is named."""

import pytest

from estimator import InputError, estimate
from estimator.joint.takeoff import Takeoff, count_joints
from estimator.models.priced_items import FittingPrice
from estimator.workbook.book import parse_workbook
from tests.jobs import job, money, run
from tests.workbook_factory import WorkbookFactory


def price(kind="elbow", size="8", dr=11.0, amount=96.0, **changed):
    cost = None if amount is None else money(amount, "each")
    return FittingPrice(kind=kind, od_system="IPS", size=size, dr=dr, price=cost, **changed)


def found_for(*prices, **fittings):
    made = job(run("R1", size="8", dr=11.0, **fittings))
    return estimate(made.model_copy(update={"fitting_prices": prices}))


def fitting_lines(found):
    lines = [line for line in found.cost_lines if line.cost_type == "Fittings"]
    return {line.key.rpartition(".")[2]: float(line.amount) for line in lines}


def missing(found):
    return [warning for warning in found.warnings if warning.message.startswith("No price")]


def test_each_kind_is_paid_by_the_piece():
    """3 elbows at 96, 2 reducers 8 x 6 at 140, a tee at 210, a flange adapter at 55."""
    prices = (price(), price("reducer", to_size="6", amount=140.0), price("tee", amount=210.0),
              price("flange adapter", amount=55.0))  # fmt: skip
    found = found_for(*prices, elbows=3, reducers=2, reduce_to="6", tees=1, flange_adapters=1)
    assert fitting_lines(found) == {
        "elbow": 288.0, "reducer": 280.0, "tee": 210.0, "flange adapter": 55.0,
    }  # fmt: skip
    assert missing(found) == []
    plain = found_for(elbows=3, reducers=2, reduce_to="6", tees=1, flange_adapters=1)
    assert found.bid.direct_cost - plain.bid.direct_cost == 288 + 280 + 210 + 55
    assert found.by_run.by_run["R1"].cost - plain.by_run.by_run["R1"].cost == 833


@pytest.mark.parametrize(
    "near",
    [price(size="6"), price(size="10"), price(dr=9.0), price(dr=13.5), price("cap"),
     price("reducer", to_size="4")],
)  # fmt: skip
def test_no_price_is_taken_from_another_size_ratio_or_kind(near):
    found = found_for(near, elbows=3, reducers=1, reduce_to="6")
    assert fitting_lines(found) == {}
    assert [warning.message for warning in missing(found)] == [
        "No price for 3 x elbow, 8 in IPS DR 11 (run R1). Add a row to the sheet Fitting prices",
        "No price for 1 x reducer, 8 x 6 in IPS DR 11 (run R1). Add a row to the sheet "
        "Fitting prices",
    ]


@pytest.mark.parametrize(
    ("asked", "amount"), [("molded", 90.0), ("fabricated", 400.0), (None, None)]
)
def test_molded_and_fabricated_have_their_own_price(asked, amount):
    prices = (price(made="molded", amount=90.0), price(made="fabricated", amount=400.0))
    found = found_for(*prices, elbows=1, fittings_made=asked)
    assert fitting_lines(found).get("elbow") == amount
    named = [warning.message for warning in missing(found)]
    assert named == ([] if asked else [
        "No price for 1 x elbow, 8 in IPS DR 11 (run R1). There is more than one: enter molded or "
        "fabricated here"
    ])  # fmt: skip


def test_a_price_for_both_makes_stands_in_where_the_asked_one_is_not_listed():
    prices = (price(amount=100.0), price(made="fabricated", amount=400.0))
    for asked, amount in (("molded", 100.0), ("fabricated", 400.0)):
        found = found_for(*prices, elbows=1, fittings_made=asked)
        assert fitting_lines(found) == {"elbow": amount}


def test_elbows_are_paid_by_their_angle():
    """4 of 90 at 96, 2 of 22.5 at 60 and one of no stated angle at 80: 384 + 120 + 80."""
    prices = (price(angle=90.0), price(angle=22.5, amount=60.0), price(amount=80.0))
    found = found_for(*prices, elbows=7, elbow_angles="4 x 90; 2 x 22-1/2")
    assert fitting_lines(found) == {"elbow 90": 384.0, "5": 120.0, "elbow": 80.0}
    assert missing(found) == []
    plain = found_for(*prices, elbows=7)
    assert fitting_lines(plain) == {"elbow": 560.0}
    assert found.butt_joints == plain.butt_joints
    every = found_for(*prices, elbows=7, elbow_angles="90")
    assert fitting_lines(every) == {"elbow 90": 672.0}


def test_an_angle_without_a_price_takes_the_one_for_all_and_never_a_near_one():
    near = price(angle=45.0, amount=60.0)
    found = found_for(near, price(amount=80.0), elbows=2, elbow_angles="30")
    assert fitting_lines(found) == {"elbow 30": 160.0}
    found = found_for(near, elbows=3, elbow_angles="1 x 30")
    assert fitting_lines(found) == {}
    assert [(one.where, one.message) for one in missing(found)] == [
        ("Fitting prices", "No price for 1 x 30 degree elbow, 8 in IPS DR 11 (run R1). Add a row "
         "to the sheet Fitting prices"),
        ("R1", "No price for 2 x elbow, 8 in IPS DR 11 (run R1). Prices are by "
         "angle: enter the angles here, such as 4 x 90; 2 x 45"),
    ]  # fmt: skip


@pytest.mark.parametrize("text", ["4 x", "ninety", "4 x 90; 45", "1/0", "90 x 4 x 2", "0 x 500"])
def test_angles_that_are_none_are_refused(text):
    with pytest.raises(InputError, match="Elbow angles"):
        found_for(price(), elbows=4, elbow_angles=text)


def test_a_sweep_adds_no_joint_and_needs_no_price():
    plain, swept = found_for(price()), found_for(price(), sweeps=4)
    assert swept.butt_joints == plain.butt_joints
    assert swept.bid == plain.bid
    assert missing(swept) == []
    bought = found_for(price("sweep", amount=70.0), sweeps=4)
    assert fitting_lines(bought) == {"sweep": 280.0}


@pytest.mark.parametrize(("rule", "joints"), [("cut in mid-stick", 3), ("set at stick end", 2)])
def test_a_reducing_tee_has_two_ends_on_the_run_and_one_at_the_smaller_size(rule, joints):
    """Two joints in the line, one saved at a stick end, and one on the branch."""
    plain = Takeoff(segments_m=(60.0,), stick_length_m=12.0)
    teed = Takeoff(segments_m=(60.0,), stick_length_m=12.0, reducing_tees=1)
    counted = count_joints(teed, rule)
    assert counted.butt_joints - count_joints(plain, rule).butt_joints == joints
    assert counted.small_ends == 1


def test_the_branch_of_a_reducing_tee_is_joined_at_its_own_size():
    """One small end, which takes the time of the 3 in pipe and not that of the run."""
    found = estimate(job(run("R1", size="8", reducing_tees=1, reduce_to="3")))
    cycle = found.runs[0].cycle
    assert cycle.small_end is not None
    assert cycle.small_end.period_min < cycle.fitting.period_min
    with pytest.raises(InputError, match="smaller size of the 1 reducing tee"):
        estimate(job(run("R1", size="8", reducing_tees=1)))


def book(*rows, **columns):
    factory = WorkbookFactory()
    factory.tables["schedule"][0].update(columns)
    factory.tables["fitting_prices"] = list(rows)
    return parse_workbook(factory.build())


ELBOW = {"kind": "elbow", "od_system": "IPS", "size": "8", "dr": 11}


def test_a_missing_price_is_named_with_the_cell_to_type_it_in():
    """Run R1 of the workbook has 2 elbows and a reducer; row 7 is the first of the table."""
    workbook = book({**ELBOW, "price": None})
    named = missing(estimate(workbook.job, workbook.places))
    assert [(warning.where, warning.message.partition(" (")[0]) for warning in named] == [
        ("Fitting prices!H7", "No price for 2 x elbow, 8 in IPS DR 11"),
        ("Fitting prices!A8", "No price for 1 x reducer, 8 x 6 in IPS DR 11"),
    ]


def test_pipe_with_a_price_and_fittings_without_any_are_reported_once():
    workbook = book()
    reported = [
        w for w in estimate(workbook.job, workbook.places).warnings if "No price for" in w.message
    ]
    assert [(one.where, one.message) for one in reported] == [(
        "Fitting prices!A7",
        "No price for 3 fittings of the pipe schedule, while pipe is priced. Enter prices on the "
        "sheet Fitting prices, or on Other costs",
    )]  # fmt: skip


def test_a_faulty_number_of_elbows_is_reported_once():
    """Not again as angles that do not fit it."""
    with pytest.raises(InputError) as caught:
        book({**ELBOW, "price": 96}, elbows="many", elbow_angles="2 x 90")
    (problem,) = caught.value.problems
    assert problem.message.startswith("Elbows: 'many' is not a number")
