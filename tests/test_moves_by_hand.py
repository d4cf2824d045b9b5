"""Which values an own assumption is moved to, and what it then weighs, each worked by hand."""

import datetime as dt
from dataclasses import replace
from decimal import Decimal
from types import SimpleNamespace

import pytest

from estimator.errors import EstimatorError, InputError, Problem
from estimator.inputs.column import usual_column
from estimator.inputs.dictionary import fields
from estimator.models.assumptions import NoAssumptions
from estimator.models.calendar import Hold, MonthWeather
from estimator.models.crew import ColdFactor
from estimator.whatif import default_inputs, weighing
from estimator.whatif.default_inputs import GROUPS, Group, Held, at_defaults, shown_value
from tests.each import each
from tests.jobs import job, machine, money, run


def column_of(key, system="SI", table="job", **changes):
    field = next(field for field in fields(table) if field.key == key)
    return usual_column(replace(field, **changes), system)


def others(value, column, system="SI"):
    return [(text, other) for text, other in default_inputs._others(value, column, system)]


WEEKS = ("Mon-Fri", "Mon-Sat", "Mon-Sun")


@each("value, moves", [
    ("Mon-Fri", ["Mon-Sat", "Mon-Sun"]), ("Mon-Sat", ["Mon-Sun", "Mon-Fri"]),
    ("Mon-Sun", ["Mon-Sat", "Mon-Fri"]), ("never", ["Mon-Fri", "Mon-Sat", "Mon-Sun"]),
])  # fmt: skip
def test_a_choice_goes_to_the_next_ones_and_then_back(value, moves):
    found = others(value, column_of("workdays", allowed=WEEKS))
    assert found == [(f"to {other}", other) for other in moves]


@each("key, value, moves", [
    ("night_hours", True, [("to no", False)]), ("night_hours", False, [("to yes", True)]),
    ("ambient_c", 20.0, [("to 25 C", 25.0), ("to 15 C", 15.0)]),
    ("waiting_days", 5, [("to 6", 6), ("to 4", 4)]), ("waiting_days", 1, [("to 2", 2)]),
    ("waiting_days", 260, [("to 259", 259)]),
    ("efficiency", 0.8, [("to 88%", 0.88), ("to 72%", 0.72)]),
    ("efficiency", 1.0, [("to 90%", 0.9)]), ("near_limit", 0.0, []),
])  # fmt: skip
def test_a_number_goes_up_and_down_within_its_limits(key, value, moves):
    """A choice of two to the other, air by 5 C, a count by 1, a share by a tenth of itself."""
    found = others(value, column_of(key))
    assert [text for text, _ in found] == [text for text, _ in moves]
    assert [other for _, other in found] == pytest.approx([other for _, other in moves])


def test_money_goes_up_and_down_for_what_it_is_paid():
    found = others(money(2.0, "L"), column_of("fuel_price", table="rates"))
    assert [text for text, _ in found] == ["to 2.2 per L", "to 1.8 per L"]
    assert [other.per for _, other in found] == ["L", "L"]


def test_air_goes_by_ten_degrees_fahrenheit_in_a_us_job():
    found = others(20.0, column_of("ambient_c", "US"), "US")
    assert [text for text, _ in found] == ["to 78 F", "to 58 F"]


@each("one, other, alike", [
    (0.0, 1e-9, True), (0.0, 1.5e-9, False), (1000.0, 1000.0 + 5e-7, True),
    (1000.0, 1000.0 + 2e-6, False),
])  # fmt: skip
def test_numbers_are_alike_to_a_billionth_of_them_or_of_one(one, other, alike):
    assert default_inputs._alike(one, other) is alike


@each("value, default, is_default", [
    (True, "yes", True), (True, "no", False), (False, "no", True), (False, "yes", False),
    (money(2.0, "L"), "2", True), (money(2.0, "L"), "", False), (money(2.0, "L"), "3", False),
    (0.5, "0.5", True), (0.5, "", False), (0.5, "0.6", False), ("a", "a", True), ("a", "b", False),
])  # fmt: skip
def test_an_input_is_at_its_default_where_it_holds_it(value, default, is_default):
    column = column_of("fitting_factor", default_si=default)
    assert default_inputs._is_default(value, column, "SI") is is_default


def test_a_value_is_shown_with_its_unit():
    shown = [shown_value(value, column_of(key)) for key, value in (
        ("efficiency", 0.8), ("startup_min", 45.0), ("waiting_pay", "not paid"),
        ("night_hours", True), ("night_hours", False), ("fuel_price_", money(1234.5, "L")),
    ) if key != "fuel_price_"]  # fmt: skip
    assert shown == ["80%", "45 min", "not paid", "yes", "no"]
    assert shown_value(money(1234.5, "L"), column_of("startup_min")) == "1,234.5 per L"


def named(value, default="2", **changes):
    column = column_of("fitting_factor", default_si=default, **changes)
    return list(default_inputs._named(column.field, value, "SI", lambda *asked: asked, "plan"))


def test_one_input_at_its_default_says_why_it_is_not_moved():
    """At 2 it is; blank or another it is not. Where it can only be 2 there is no other value."""
    (one,) = named(2.0)
    assert (one.rows, one.value, one.why_not, one.reach) == (1, "2", "", "plan")
    assert [change("job") for _, change in one.moves] == [
        ("job", "fitting_factor", pytest.approx(2.2)), ("job", "fitting_factor", 1.8)]  # fmt: skip
    assert named(3.0) == named(None) == []
    assert [one.why_not for one in named(0.0, default="0")] == ["it is 0"]
    (only,) = named(2.0, minimum=2.0, maximum=2.0, allowed=("2",))
    assert only.why_not == "it has no other value"


@each("key, reach", [
    ("haul_days", "equipment"), ("night_premium", "prices"), ("hydro_people", "tests"),
    ("start_dip", "equipment"), ("efficiency", "plan"), ("waiting_days", "pay"),
    ("weather_paid_hours", "pay"), ("night_slowing", "prices"), ("open_hold_days", "prices"),
])  # fmt: skip
def test_what_a_move_makes_anew(key, reach):
    """A job without night shifts and holds that are open is not planned anew for these."""
    assert default_inputs._reach(key, job()) == reach


def test_a_night_shift_or_an_open_hold_is_planned_anew():
    """One held from a run's first day until further notice, and one that ends."""
    assert default_inputs._reach("night_slowing", job(night_hours=8.0)) == "plan"
    begun = dt.date(2027, 3, 1)
    for last, reach in ((None, "plan"), (begun, "prices")):
        held_back = Hold(run="A", from_date=begun, to_date=last, cause="weather")
        made = job(run("A")).model_copy(update={"holds": (held_back,)})
        assert default_inputs._reach("open_hold_days", made) == reach


def test_only_what_rests_on_an_assumption_and_has_a_price_is_moved():
    """A method, a price of damage and what risk and options ask are no assumptions of a price."""
    keys = {one.key for one in at_defaults(job())}
    assert {"efficiency", "profit", "rental_week_hours"} <= keys
    assert keys.isdisjoint({"method", "currency", "crews", "bid_items", "tax", "validity_days",
                            "profit_basis", "risk_share", "option_crews"})  # fmt: skip


def group_of(name):
    return next(group for group in GROUPS if group.name == name)


def moved(group, row, share, **changes):
    known = {field.key: replace(field, **changes) for field in fields(group.table)}
    return default_inputs._moved(row, group, known, share, "SI")


def test_rows_that_are_assumed_are_moved_together():
    """Air by 5 C, lost days and rates by a tenth, none beyond its limit; no effect stays none."""
    weather, lost = group_of("Ambient temperature by month"), group_of("Days lost to weather")
    cold = group_of("Cold-weather handling factors")
    month = MonthWeather(month="Jan", ambient_c=4.0, lost_share=0.2, basis="Assumption")
    assert [moved(weather, month, share).ambient_c for share in (0.1, -0.1)] == [9.0, -1.0]
    assert moved(lost, month, 0.1).lost_share == pytest.approx(0.22)
    assert moved(lost, month, 0.1, maximum=0.2).lost_share == 0.2
    assert moved(lost, month.model_copy(update={"basis": None}), 0.1).lost_share == 0.2
    assert moved(weather, month.model_copy(update={"ambient_c": None}), 0.1).ambient_c is None
    for factor, found in ((1.0, 1.0), (2.0, 2.2)):
        row = ColdFactor(from_c=-7.0, factor=factor, basis="from memory")
        assert moved(cold, row, 0.1).factor == pytest.approx(found)
    rented = moved(group_of("Rental rates of machines"), machine(basis="one source"), -0.1)
    assert (rented.day_rate.amount, rented.week_rate.amount) == pytest.approx((90.0, 270.0))
    assert rented.delivery == machine().delivery


def test_one_line_stands_for_all_assumed_rows_of_a_table():
    months = tuple(MonthWeather(month=name, ambient_c=None, lost_share=0.2, basis=basis)
                   for name, basis in (("Jan", None), ("Feb", "assumption"), ("Mar", "assumed"))
                   )  # fmt: skip
    made = job().model_copy(update={"weather": months})
    (one,) = default_inputs._of_table(group_of("Days lost to weather"), made)
    assert (one.row, one.rows, one.key) == ("Feb", 2, "lost_share")
    assert [text for text, _ in one.moves] == ["10% more", "10% less"]
    found = [round(row.lost_share, 4) for row in one.moves[1][1](made).weather]
    assert found == [0.2, 0.18, 0.18]
    air = group_of("Ambient temperature by month")
    assert list(default_inputs._of_table(air, made)) == []
    warm = months[2].model_copy(update={"ambient_c": 9.0})
    (one,) = default_inputs._of_table(air, made.model_copy(update={"weather": (months[1], warm)}))
    assert one.rows == 2
    both = Group("weather", "weather", "Air and days lost", ("ambient_c", "lost_share"))
    assert [one.rows for one in default_inputs._of_table(both, made)] == [2]
    texts = [default_inputs._share_text(air, share, system)
             for share, system in ((0.1, "US"), (-0.1, "SI"))]  # fmt: skip
    assert texts == ["10 F warmer", "5 C colder"]
    nameless = Group("cold_factors", "cold_factors", "Cold", ("factor",))
    cold = made.model_copy(update={"cold_factors": (
        ColdFactor(from_c=-7.5, factor=1.1, basis="common practice"),)})  # fmt: skip
    assert [one.row for one in default_inputs._of_table(nameless, cold)] == ["-7.5"]


# What each weighs


def held(key, *moves, reach="plan", why_not=""):
    return Held("job", "", key, key, "", 1, moves, reach, why_not)


def refused(text):
    def change(job):
        raise InputError([Problem("Job!B2", text)])

    return change


def test_each_assumption_weighs_the_first_of_its_moves_that_can_be_made(monkeypatch):
    """From 100: up 7 or a half, down 30; what cannot be moved comes last, with its first reason."""
    found = [
        held("a", ("up", refused("too long\nmore")), ("down", lambda job: 107)),
        held("b", ("up", lambda job: 70), ("down", lambda job: 1)),
        held("c", ("up", refused("first")), ("down", refused("second"))),
        held("d", why_not="it is 0"),
        held("e", ("up", lambda job: 100.5)),
    ]
    monkeypatch.setattr(weighing, "at_defaults", lambda job: iter(found))
    monkeypatch.setattr(weighing, "_price", lambda change, *asked: Decimal(change(None)))
    asked, shared = [], SimpleNamespace(places=SimpleNamespace(where=lambda *of: "Job!B2"))
    estimate = SimpleNamespace(job=job(), bid=SimpleNamespace(price=Decimal(100)))
    table = weighing.weigh_all(estimate, shared, lambda *steps: asked.append(steps))
    assert [(one.key, one.change, one.move, one.why_not) for one in table.assumptions] == [
        ("b", -30, "up", ""), ("a", 7, "down", ""), ("e", 0.5, "up", ""),
        ("c", None, "up", "first"), ("d", None, "", "it is 0"),
    ]  # fmt: skip
    assert asked == [(done, 5) for done in range(1, 6)]
    assert weighing._brief(EstimatorError("one\ntwo")) == "one"


@each("runs, weighed", [(4000, True), (4001, False)])
def test_up_to_a_number_of_plans_the_assumptions_are_weighed(runs, weighed):
    """One of three asks for a plan: as many plans as the job has runs."""
    reaches = [held("a", reach="plan"), held("b", reach="prices"), held("c", reach="tests")]
    estimate = SimpleNamespace(job=None, runs=(), plan=SimpleNamespace(weight=lambda count: runs))
    patch = pytest.MonkeyPatch()
    patch.setattr(weighing, "at_defaults", lambda job: iter(reaches))
    patch.setattr(weighing, "weigh_all", lambda *asked: "all")
    with patch.context():
        found = weighing.weigh(estimate, None)
    patch.undo()
    assert found == "all" if weighed else isinstance(found, NoAssumptions)


@each("reach, made", [
    ("plan", "planned"), ("equipment", "equipped"), ("tests", "tested"), ("pay", "paid"),
    ("prices", "as it is"),
])  # fmt: skip
def test_only_what_a_move_reaches_is_made_anew(reach, made):
    patch = pytest.MonkeyPatch()
    priced = SimpleNamespace(bid=SimpleNamespace(price="planned"))
    patch.setattr(weighing, "total_of", lambda job, shared: priced)
    patch.setattr(weighing, "equip", lambda *asked, reasons: "equipped")
    patch.setattr(weighing, "plan_tests", lambda *asked: "tested")
    patch.setattr(weighing, "paid_again", lambda *asked: "paid")
    patch.setattr(weighing, "PlannedJob", lambda **parts: parts)
    patch.setattr(weighing, "price_job", lambda it: SimpleNamespace(bid=SimpleNamespace(price=it)))
    estimate = SimpleNamespace(runs=(), plan="plan", fleet="fleet", tests="tests")
    found = weighing._price(lambda job: job, held("a", reach=reach), estimate, "job",
                            SimpleNamespace(places=None))  # fmt: skip
    patch.undo()
    parts = {"job": "job", "runs": (), "plan": "plan", "fleet": "fleet", "tests": "tests"}
    wanted = {"planned": "planned", "equipped": {**parts, "fleet": "equipped"},
              "tested": {**parts, "tests": "tested"}, "paid": {**parts, "plan": "paid"},
              "as it is": parts}  # fmt: skip
    assert found == wanted[made]
