"""Options, scenarios, versions and a joint more on stand-ins, each answer worked by hand."""

import datetime as dt
from decimal import Decimal
from types import SimpleNamespace

import pytest

from estimator.errors import EstimatorError, InputError, Problem
from estimator.inputs.column import usual_column
from estimator.inputs.dictionary import fields, input_tables
from estimator.models.calendar import MonthWeather
from estimator.models.comparison import Comparison, Figures, Outcome
from estimator.models.job import Override
from estimator.models.options import NoOptions, Option, OptionTable
from estimator.models.plan import Plan, PlanLine
from estimator.models.revision import ADDED, CHANGED, REMOVED
from estimator.whatif import joint_more, machine_options, options, revision, scenarios
from estimator.whatif.joint_more import cheaper_with_a_joint_more, crews_of, shares_of, with_crews
from estimator.whatif.options import assess, described, remark, rests_on, sentences
from estimator.whatif.revision import shown
from tests.each import each
from tests.jobs import job, machine, money, run

MONDAY = dt.date(2027, 6, 7)
DAY = dt.timedelta(1)


def figures(day=0, cost=1000, late=0):
    return Figures(9, 9, MONDAY, MONDAY + day * DAY, 9.0, 3.0, Decimal(cost), Decimal(cost), late)


def option(crews=1, day=0, cost=1000, **values):
    return Option(crews, 1, 10.0, figures(day, cost, values.pop("late", 0)), **values)


def table(*found, **values):
    asked = {"deadline": None, "days_sooner": 14, "currency": "$", "system": "SI", **values}
    return OptionTable(found[0], found, **asked)


# Options


def priced(cost=0, *, crews=1, hours=10.0, straight=8.0, loss=0.0, heads=(), fee=0.0, lines=()):
    made = job(crews=crews, shift_hours=hours, straight_hours=straight, overtime_loss=loss)
    prices = SimpleNamespace(price=lambda key: fee if key == "crew_overhead" else 0.0)
    return SimpleNamespace(
        job=SimpleNamespace(rates=prices, resources=made.resources, shift=made.shift),
        bid=SimpleNamespace(job_cost=cost),
        plan=SimpleNamespace(lines=lines, crew_days=[SimpleNamespace(heads=h) for h in heads]),
    )


@each("values, texts", [
    ({}, []),
    ({"crews": 3, "heads": ((2.0, 1.5), (1.0,)), "fee": 5.0},
     ["needs 2 more crews of 3.5 people"]),
    ({"crews": 2, "heads": ((2.04, 1.0),)},
     ["needs 1 more crew of 3 people",
      "what a crew brings is not priced (Mobilization per crew on Rates)"]),
    ({"hours": 12.0}, ["assumes 4 hours of overtime a shift with no loss"]),
    ({"hours": 12.0, "loss": 0.1},
     ["assumes 4 hours of overtime a shift with 10% of its pace lost"]),
    ({"hours": 11.0, "straight": 11.0}, []),
])  # fmt: skip
def test_what_an_option_rests_on(values, texts):
    """Beside a crew on 10 hours: two crews more of 3.5, overtime beyond 8 hours."""
    assert rests_on(priced(), priced(**values)) == "; ".join(texts)


@each("beyond, kept, missed, taken, found", [
    (90, 100, (), (), (100, "kept")), (90, 100, ("M4",), (), (100, "kept")),
    (90, 100, ("M4",), ("M4",), (90, "beyond")),
    (100, 100, ("M4", "M6"), ("M4",), (100, "does without class M4, of which too few are in stock "
                                            "for one crew; kept")),
])  # fmt: skip
def test_the_cheapest_way_with_the_stock_is_kept(beyond, kept, missed, taken, found):
    """What plenty of each would take and is not dearer: of as dear ones that within the stock."""
    plenty = SimpleNamespace(cost=beyond, bid=SimpleNamespace(job_cost=beyond),
                             fleet=SimpleNamespace(spans=[SimpleNamespace(class_id=name)
                                                          for name in taken]))  # fmt: skip
    own = SimpleNamespace(cost=kept, bid=SimpleNamespace(job_cost=kept))
    patch = pytest.MonkeyPatch()
    patch.setattr(options, "total_of", lambda *asked: plenty)
    patch.setattr(options, "with_plenty", lambda asked: asked)
    patch.setattr(options, "passed_over", lambda *asked: list(missed))
    patch.setattr(
        options, "within_stock", lambda it, *of: (it, "beyond" if it is plenty else "kept")
    )
    best, text = options._least_of_stock(own, None, None)
    patch.undo()
    assert (best.bid.job_cost, text) == found


def test_a_shortage_is_shown_once_for_each_class(monkeypatch):
    short = SimpleNamespace(quantity=2, item=SimpleNamespace(class_id="M4"))
    monkeypatch.setattr(options, "shortages", lambda *asked: [short, short])
    made = SimpleNamespace(fleet=None, job=None)
    said = options._beyond_stock(made)
    assert said == "holds 2 more of class M4 than in stock, at the class's own rate"
    monkeypatch.setattr(options, "shortages", lambda *asked: [])
    assert options._beyond_stock(made) == ""


@each("choice, crew, blank", [
    ((1, 1, 10.0), 1, False), ((2, 1, 10.0), None, False), ((1, 2, 10.0), 1, True),
    ((1, 1, 12.0), 1, True),
])  # fmt: skip
def test_crews_of_runs_stay_while_there_are_as_many_and_dates_say_machines_until_they_change(
    choice, crew, blank
):
    made = job(run("A", crew=1))
    row = SimpleNamespace(model_copy=lambda update: sorted(update))
    made = made.model_copy(update={"crew_dates": (row,)})
    asked = SimpleNamespace(job=made, asked_job=made)
    found = options.changed_job(asked, choice, (run("A"),))
    assert [one.crew for one in found.runs] == [crew]
    assert (found.crew_dates[0] is row) is not blank
    assert (found.resources.crews, found.resources.machines_per_crew, found.shift.shift_hours) == (
        choice
    )


def test_a_crew_that_never_works_has_no_work():
    lines = [SimpleNamespace(crew=crew) for crew in (1, 1, 3)]
    assert options._idle(priced(crews=2, lines=lines)) == ""
    assert options._idle(priced(crews=3, lines=lines)) == "only 2 of 3 crews would have work"


def test_crews_assigned_beyond_those_of_an_option_are_named_with_where():
    made = job(run("A", crew=3), run("B"), run("C", crew=2), crews=1)
    said = "the Pipe schedule assigns runs to crews 2, 3; this option has 1 crew"
    assert options._crews_assigned_beyond(made) == said
    made = job(run("A", crew=2), crews=2)
    assert options._crews_assigned_beyond(made) == ""
    dated = made.model_copy(update={"crew_dates": (SimpleNamespace(crew=3),)})
    said = "the Calendar has dates of crew 3; this option has 2 crews"
    assert options._crews_assigned_beyond(dated) == said


def test_what_fails_with_plenty_of_each_class_is_the_reason_not_the_stock(monkeypatch):
    """A reader of "no machine" would buy one, where the shift is too short for the work."""

    def fails(asked, shared):
        raise InputError([Problem("A1", asked)])

    monkeypatch.setattr(options, "must_hold", lambda *asked: None)
    monkeypatch.setattr(options, "with_plenty", lambda asked: "too long for a shift")
    monkeypatch.setattr(options, "total_of", fails)
    with pytest.raises(InputError, match="too long for a shift"):
        options._with_or_beyond_stock("no machine", SimpleNamespace(places=None, sound=None))


def test_a_long_reason_is_cut_at_a_word():
    words = "eleven more " * 15
    assert options._brief("short (in brackets)\nmore") == "short"
    assert options._brief(words[:180]) == words[:180]
    assert options._brief(words[:179] + "e, else") == words[:179].rpartition(" ")[0] + " ..."
    reason = options._first_message(InputError([Problem("A1", "one"), Problem("A2", "two")]))
    assert (reason, options._first_message(EstimatorError("plain"))) == ("one", "plain")


def test_an_option_carries_its_charges_for_being_late(monkeypatch):
    monkeypatch.setattr(options, "figures", lambda made: figures())
    lines = [SimpleNamespace(key=key, amount=Decimal(5)) for key in
             ("indirect.liquidated_damages", "other", "indirect.liquidated_damages")]  # fmt: skip
    found = options._priced(SimpleNamespace(cost_lines=lines), (1, 1, 8.0))
    assert (found.liquidated_damages, found.is_base) == (10, False)


def test_options_that_none_beats_come_first_then_others_then_what_cannot_be_done():
    """Same day and cost: the base job is before its twin. 900 on the ninth is beaten by nothing
    before it; 950 and 900 after it are by it."""
    found = options._ranked([
        option(5, day=12, cost=900), Option(6, 1, 10.0, None, why_not="no"), option(2, day=5),
        option(1, day=5, is_base=True), option(3, day=9, cost=900), option(4, day=10, cost=950),
    ])  # fmt: skip
    third = "3 crews x 1 machine, 10 hours"
    assert [(one.crews, one.better) for one in found] == [
        (1, ""), (3, ""), (2, "1 crew x 1 machine, 10 hours"), (4, third), (5, third), (6, ""),
    ]  # fmt: skip


@each("base, other, deadline, said", [
    (option(is_base=True), None, 0, "is met with 0 calendar days to spare."),
    (option(is_base=True), None, 1, "is met with 1 calendar day to spare."),
    (option(day=2, late=2, is_base=True), option(2, day=0), 0,
     "is missed by 2 calendar days. Lowest cost that meets it: 2 crews x 1 machine, 10 hours, "
     "finishes 7 Jun 2027, costs the same."),
    (option(day=2, late=2, is_base=True), option(2, day=1, late=1, cost=900), 0,
     "is missed by 2 calendar days. No option meets it. Closest (1 calendar day late): 2 crews x 1 "
     "machine, 10 hours, finishes 8 Jun 2027, costs $100 less."),
])  # fmt: skip
def test_what_is_said_of_a_deadline(base, other, deadline, said):
    found = table(*filter(None, (base, other)), deadline=MONDAY + deadline * DAY)
    ordered = tuple(sorted(found.options, key=lambda one: one.figures.finish))
    found = OptionTable(base, ordered, found.deadline, 14, "$", "SI")
    name = f"The deadline of {(MONDAY + deadline * DAY).day} Jun 2027"
    assert next(sentences(found)) == f"{name} {said}"


def test_the_cheapest_is_named_where_nothing_else_names_it():
    """The base job, and what meets the deadline, have been named before."""
    base, cheap = option(day=9, is_base=True), option(2, day=9, cost=900)
    assert len(list(sentences(table(base, cheap)))) == 3
    assert len(list(sentences(table(base)))) == 2
    in_time = table(base, cheap, deadline=MONDAY + 9 * DAY)
    assert len(list(sentences(in_time))) == 2
    assert described(in_time, base).endswith("the base job")
    no = Option(6, 1, 10.0, None, why_not="no crew")
    assert described(in_time, no) == "6 crews x 1 machine, 10 hours: no crew"


def test_the_remark_of_an_option_joins_what_holds():
    one = option(2, day=3, late=1, better="x", stock="from elsewhere", rests_on="needs one")
    base = option(1, day=1, is_base=True)
    assert remark(table(base, one), one) == (
        "Misses the deadline; x finishes no later and costs no more; from elsewhere; needs one"
    )
    assert "deadline" not in remark(table(base, one), base)


def test_crews_whose_coming_is_not_priced_are_named_beside_the_cost():
    unpriced = option(2, rests_on=f"needs one; {options.CREW_UNPRICED} (here)")
    said = described(table(option(is_base=True), unpriced), unpriced)
    assert said.endswith(f"costs the same ({options.CREW_UNPRICED})")


@each("crews, count, always, found", [
    (0, 9, True, "Crews to try, up to is 0 on the Job sheet"), (2, 1250, False, "tried"),
    (2, 1251, False, "5004"), (2, 1251, True, "tried"),
])  # fmt: skip
def test_options_are_tried_up_to_a_number_of_plans_unless_they_are_asked_for(
    crews, count, always, found
):
    """Four choices; as many plans as four times the weight of the plan, 5,000 at the most."""
    choices, steps = [(1, 1, float(number)) for number in range(4)], []
    patch = pytest.MonkeyPatch()
    patch.setattr(options, "all_choices", lambda asked: choices)
    patch.setattr(options, "freed_runs", lambda asked: ())
    patch.setattr(options, "_option", lambda estimate, shared, choice, free: option(
        1, day=int(choice[2]), is_base=choice[2] == 0))  # fmt: skip
    estimate = SimpleNamespace(asked_job=None, job=job(option_crews=crews), runs=("A",),
                               plan=SimpleNamespace(weight=lambda runs: count))  # fmt: skip
    made = assess(estimate, progress=lambda *done: steps.append(done), always=always, shared="one")
    patch.undo()
    if found == "tried":
        assert len(made.options) == 4
        assert steps == [(1, 4), (2, 4), (3, 4), (4, 4)]
        assert made.base.is_base
    else:
        assert isinstance(made, NoOptions)
        assert not steps


def test_crews_machines_and_shifts_to_try_hold_those_of_the_job():
    """Up to two crews and three machines; no step is longer than the longest shift wanted."""
    made = job(option_crews=2, machines_per_crew=2, option_overtime_step_hours=1.0,
               option_longest_shift_hours=9.0)  # fmt: skip
    choices = options.all_choices(made)
    assert {crews for crews, _, _ in choices} == {1, 2}
    assert {machines for _, machines, _ in choices} == {1, 2, 3}
    assert {hours for _, _, hours in choices} == {8.0, 10.0}


def test_runs_keep_the_classes_of_the_choice_but_not_its_crews():
    chosen = job(run("A", fleet_class="M9", crew=2))
    asked = SimpleNamespace(job=chosen, asked_job=job(run("A")), fleet_outcome="chosen")
    (found,) = options.freed_runs(asked)
    assert (found.fleet_class, found.crew) == ("M9", None)
    asked.fleet_outcome = None
    assert options.freed_runs(asked) == chosen.runs


def test_less_than_one_more_is_more():
    base, dearer = option(is_base=True), option(2, cost=Decimal("1000.6"))
    assert described(table(base, dearer), dearer).endswith("costs $1 more")


def test_each_class_for_a_pipe_is_taken_another_or_impossible(monkeypatch):
    """A pipe of two runs, one without work; the class taken is M3, M5 does not fit."""
    monkeypatch.setattr(machine_options, "obstacle", lambda machine, *asked:
                        "too small" if machine.class_id == "M5" else None)  # fmt: skip
    monkeypatch.setattr(machine_options, "gauge_range", lambda *asked: None)
    monkeypatch.setattr(machine_options, "near_limits", lambda *asked: ["near"])
    monkeypatch.setattr(machine_options, "uses", lambda job, crew, days: [
        SimpleNamespace(dates=tuple(sorted(days)), quantity=1)])  # fmt: skip
    monkeypatch.setattr(machine_options, "rent_cost", lambda job, machine, use: 50.0)
    made = job(run("A"), run("B"), machines=tuple(map(machine, ("M3", "M4", "M5"))))
    sized = [SimpleNamespace(machine=SimpleNamespace(class_id="M3", force_n=9.0), fusion=None,
                             geometry=SimpleNamespace(od_mm=1.0),
                             counts=SimpleNamespace(has_work=has_work))
             for has_work in (False, True)]  # fmt: skip
    lines = [PlanLine(MONDAY + DAY, 2, "B", "M3"), PlanLine(MONDAY, 1, "B", "M3")]
    estimate = SimpleNamespace(job=made, pairs=list(zip(made.runs, sized, strict=True)),
                               plan=SimpleNamespace(lines=lines))  # fmt: skip
    (found,) = machine_options.pipe_options(estimate)
    assert (found.run_ids, found.dates) == (("A", "B"), (MONDAY, MONDAY + DAY))
    assert [(one.machine.class_id, one.taken, one.rent, one.near) for one in found.options] == [
        ("M3", True, 100.0, ("near",)), ("M4", False, 100.0, ("near",)), ("M5", False, None, ()),
    ]  # fmt: skip
    assert found.taken.machine.class_id == "M3"
    idle = SimpleNamespace(**{**vars(estimate), "pairs": estimate.pairs[:1]})
    assert machine_options.pipe_options(idle) == ()


# Scenarios


def test_a_scenario_leaves_out_runs_or_only_their_pipe(monkeypatch):
    made = job(run("A", pipe_price=money(9, "m")), run("B", pipe_price=money(9, "m")))

    def left(text):
        change = Override(scenario="S", key="leave_out", value=text, text=text)
        return [(one.run_id, one.pipe_price is not None)
                for one in scenarios.with_overrides(made, [change]).runs]  # fmt: skip

    monkeypatch.setattr(scenarios, "LEFT_OUT", "leave_out")
    assert left("A") == [("B", True)]
    assert left("pipe of A") == [("A", False), ("B", True)]
    assert left("pipe") == [("A", False), ("B", False)]
    assert left("") == [("A", True), ("B", True)]
    monkeypatch.setattr(scenarios, "price", lambda *asked, **said: None)
    monkeypatch.setattr(scenarios, "figures", lambda priced: figures())
    some = [Override(scenario="S", key="efficiency", value=0.8, text="x", alternate=offered)
            for offered in (False, True)]  # fmt: skip
    assert scenarios._outcome(made, None, "S", some).is_alternate


def test_a_scenario_says_its_first_reasons_its_delay_and_its_note():
    def said(found, why=(), note=""):
        return scenarios.remark(Outcome("S", (), note, found, tuple(why)))

    assert said(None, ["a", "b"]) == "Not possible. A; b"
    assert said(None, ["a", "b", "c"]) == "Not possible. A; b; and 1 more"
    assert said(figures(late=1), note="N") == "Misses the deadline by 1 calendar day. N"
    assert said(figures(), note="N") == "N"


def test_each_scenario_is_counted_while_they_are_worked_out(monkeypatch):
    monkeypatch.setattr(scenarios, "_outcome", lambda job, shared, name, of: name)
    monkeypatch.setattr(scenarios, "figures", lambda priced: priced)
    asked = SimpleNamespace(scenarios=[SimpleNamespace(scenario=name) for name in "AbaB"])
    steps = []
    found = scenarios.compare(asked, base="base", progress=lambda *done: steps.append(done),
                              shared="one")  # fmt: skip
    assert (found, steps) == (Comparison("base", ("A", "b")), [(1, 2), (2, 2)])


def test_pipe_by_the_owner_is_that_of_the_runs_named_or_of_all():
    made = job(run("A", pipe_price=money(9, "m")), run("B", pipe_price=money(9, "m")))
    for names, left in ((frozenset("A"), ["B"]), (frozenset(), [])):
        found = scenarios.with_pipe_by_owner(made, names).runs
        assert [one.run_id for one in found if one.pipe_price is not None] == left


def test_a_run_that_is_omitted_is_named_nowhere_else():
    made = job(run("A"), run("B", after="A"), run("C", joins="A; B"))
    holds = tuple(SimpleNamespace(run=name) for name in ("A", "B"))
    found = scenarios.without_runs(made.model_copy(update={"holds": holds}), frozenset("A"))
    assert [(one.run_id, one.after, one.joins) for one in found.runs] == [
        ("B", None, None), ("C", None, "B"),
    ]  # fmt: skip
    assert [hold.run for hold in found.holds] == ["B"]


# A joint more


def fallen(*falls, crews=2, price=1000, runs="ABC", given=()):
    """Return whether a fall of the price is named, of runs without a crew unless given one."""
    made = job(*(run(name, crew=1 if name in given else None) for name in runs), crews=crews)
    patch = pytest.MonkeyPatch()
    found = dict(zip(runs, falls, strict=False))
    patch.setattr(joint_more, "_fall", lambda estimate, shared, name:
                  joint_more.Fall(name, found.get(name, 0.0), None))  # fmt: skip
    patch.setattr(joint_more, "_named", lambda estimate, shared, fall: fall.run_id)
    estimate = SimpleNamespace(job=made, bid=SimpleNamespace(price=Decimal(price)))
    answer = cheaper_with_a_joint_more(estimate, None)
    patch.undo()
    return "".join(answer)


@each("falls, values, named", [
    ((0.5, 2.0, 1.5), {}, "B"), ((0.5, 0.9), {}, ""), ((0.5, 1.0), {}, "B"),
    ((5.0,), {"crews": 1}, ""), ((5.0,), {"given": "BC"}, ""), ((5.0,), {"given": "C"}, "A"),
    ((), {"given": "ABC"}, ""),
])  # fmt: skip
def test_the_greatest_fall_is_named_from_a_thousandth_of_the_price_on(falls, values, named):
    """Of 1,000 one; with one crew, or one run that any may take, nothing is asked."""
    assert fallen(*falls, **values) == named


@each("free, asked", [(40, True), (41, False)])
def test_a_joint_more_is_asked_of_jobs_up_to_4000_plans(free, asked):
    """Of a hundred runs 40 that any crew may take are 4,000 plans, 41 are 4,100."""
    names = [f"R{number}" for number in range(100)]
    assert (fallen(5.0, runs=names, given=names[free:]) == "R0") is asked


@each("crew, joints, asked, by", [
    (1, 3, ["A more", "B"], 0.0), (2, 3, ["A more", "B"], 30.0), (2, 0, ["A", "B"], 30.0),
])  # fmt: skip
def test_a_joint_more_of_a_run_is_priced_where_the_crews_share_the_runs_otherwise(
    crew, joints, asked, by
):
    """As before nothing falls; else from 100 to 70. A run without a joint gets none."""
    now, then = (Plan((PlanLine(MONDAY, number, "A", "M"),), ()) for number in (1, crew))
    runs = [SimpleNamespace(run_id=name, name=name, counts=SimpleNamespace(plain_joints=number))
            for name, number in (("A", joints), ("B", 5))]  # fmt: skip
    patch, seen = pytest.MonkeyPatch(), []
    patch.setattr(joint_more, "with_a_joint_more", lambda one: SimpleNamespace(
        name=f"{one.name} more"))  # fmt: skip
    patch.setattr(joint_more, "left_of", lambda sized, done: runs)
    patch.setattr(joint_more, "lay_out", lambda job, counted, *rest: seen.extend(counted) or then)
    for name in ("equip", "plan_tests", "PlannedJob"):
        patch.setattr(joint_more, name, lambda *of, **values: None)
    bids = [SimpleNamespace(price=Decimal(price)) for price in (100, 70)]
    patch.setattr(joint_more, "price_job", lambda made: SimpleNamespace(bid=bids[1]))
    sizer = SimpleNamespace(size_all=list, cycle_on=None, retime_at_start=lambda *of: of[0])
    shared = SimpleNamespace(sizer=lambda made: sizer, places=None)
    fall = joint_more._fall(SimpleNamespace(job=job(), plan=now, bid=bids[0]), shared, "A")
    patch.undo()
    assert (fall.by, [one.name for one in seen]) == (by, asked)


def test_a_joint_more_is_one_between_sticks_in_the_last_segment():
    segment = SimpleNamespace(plain=3, _replace=lambda plain: plain)
    made = SimpleNamespace(
        counts=SimpleNamespace(by_segment=("first", segment), stick_joints=5, butt_joints=7,
                               _replace=lambda **changes: changes),
        _replace=lambda counts: counts,
    )  # fmt: skip
    assert joint_more.with_a_joint_more(made) == {
        "by_segment": ("first", 4), "stick_joints": 6, "butt_joints": 8,
    }  # fmt: skip


def test_crews_of_a_plan_and_the_runs_that_would_move(monkeypatch):
    """Crew 2 would do B, which crew 1 begins; with that entered the job costs 30 less, or as
    much."""
    now = Plan((PlanLine(MONDAY, 1, "A", "M"), PlanLine(MONDAY, 1, "B", "M")), ())
    then = Plan((PlanLine(MONDAY, 1, "A", "M"), PlanLine(MONDAY, 2, "B", "M"),
                 PlanLine(MONDAY, 1, "B", "M")), ())  # fmt: skip
    assert (crews_of(then), shares_of(now)) == ({"A": 1, "B": 2}, {("A", 1), ("B", 1)})
    given = with_crews(job(run("A"), run("B", crew=3)), {"A": 2})
    assert [one.crew for one in given.runs] == [2, 3]
    shared = SimpleNamespace(places=SimpleNamespace(where=lambda *of: of[1]))
    made = SimpleNamespace(plan=now, job=job(), bid=SimpleNamespace(price=Decimal(100)))
    for saved, end in (
        (30.0, "costs $30 less"),
        (1.0, "costs $1 less"),
        (0.0, "Try these under Crew"),
    ):
        monkeypatch.setattr(joint_more, "_saved", lambda *asked, saved=saved: saved)
        problem = joint_more._named(made, shared, joint_more.Fall("A", 12.0, then))
        assert problem.where == "A"
        assert "by $12," in problem.message
        assert "(crew 2: run B)" in problem.message
        assert problem.message.endswith(end)


def test_what_crews_entered_save_is_worked_out_or_nothing(monkeypatch):
    bid = SimpleNamespace(bid=SimpleNamespace(price=Decimal(70)))
    monkeypatch.setattr(joint_more, "total_of", lambda *asked: bid)
    estimate = SimpleNamespace(job=job(), bid=SimpleNamespace(price=Decimal(100)))
    assert joint_more._saved(estimate, None, {}) == 30.0

    def fails(*asked):
        raise EstimatorError("no")

    monkeypatch.setattr(joint_more, "total_of", fails)
    assert joint_more._saved(estimate, None, {}) == 0.0


# Versions of a job


def weather(**values):
    values = {"ambient_c": None, "lost_share": 0.0, "basis": None, **values}
    return SimpleNamespace(model=MonthWeather(month="Jan", **values), name="Jan", table="weather")


def test_rows_are_the_same_where_every_column_is():
    assert revision._same(weather(), weather())
    assert not revision._same(weather(), weather(lost_share=0.1))


@each("row, kind, old, new", [
    (weather(), REMOVED, "Jan", ""), (weather(), ADDED, "", "Jan"),
    (weather(ambient_c=4.0, lost_share=1.0, basis="b"), REMOVED,
     "Ambient 4 C; Lost to weather 100%", ""),
])  # fmt: skip
def test_a_row_is_named_by_what_is_entered_in_it(row, kind, old, new):
    """Neither its name again, nor blanks, zeros and notes; without any figure its name."""
    places = SimpleNamespace(cell=lambda *asked: None)
    version = SimpleNamespace(job=job(), places=places)
    found = revision._whole_row(table_of("weather"), row, kind, version)
    assert (found.old, found.new, found.where) == (old, new, "Calendar: Jan")
    assert revision._where(table_of("weather"), "", "month", places) == "Calendar"


def table_of(name):
    return next(table for table in input_tables() if table.table == name)


def change(key="", row="", kind=CHANGED, of="job", priced=True):
    return SimpleNamespace(table=of, key=key, row=row, kind=kind, header=key, old="1", new="2",
                           priced=priced)  # fmt: skip


def test_up_to_fifteen_inputs_of_a_sheet_are_a_step_each():
    keys = [field.key for field in fields("rates") if field.kind == "money"][:8] * 2
    new = job()
    for count, steps in ((15, [1] * 15), (16, [16])):
        mine = [change(key, of="rates") for key in keys[:count]]
        found = list(revision._named_groups(table_of("rates"), new, mine))
        assert [one.changes for one in found] == steps


def test_runs_are_removed_then_changed_then_added():
    """B goes, A becomes longer, C comes; what is not priced is no step."""
    old = (run("A", segments_m=(100.0,)), run("B"))
    longer, more = run("A", segments_m=(200.0,)), run("C")
    mine = [change(row="C", kind=ADDED), change(row="A"), change(row="A"),
            change(row="B", kind=REMOVED)]  # fmt: skip
    found = list(revision._schedule_groups(old, (longer, more), mine))
    assert [(one.name, one.changes, list(one.updates["runs"])) for one in found] == [
        (f"Runs {REMOVED}: B", 1, [old[0]]), (f"Runs {CHANGED}: A", 2, [longer]),
        (f"Runs {ADDED}: C", 1, [longer, more]),
    ]  # fmt: skip
    alone = [change("profit", of="rates", priced=False), change(row="x", of="scenarios"),
             change(row="R", of="crew")]  # fmt: skip
    assert [one.updates.keys() for one in revision._groups((), job(), alone)] == [{"crew"}]


def test_names_of_rows_are_listed_up_to_five():
    assert revision._listed(list("abcde")) == "a, b, c, d, e"
    assert revision._listed(list("abcdef")) == "a, b, c, d, e and 1 more"


def test_a_part_is_taken_whole_and_an_input_into_what_was_taken():
    made = job()
    crew = made.crew[:1]
    found = revision._merged(made, {"crew": crew, "rates.profit": 0.2, "rates.bond": 0.01,
                                    "shift.breaks_min": 15.0})  # fmt: skip
    assert found["crew"] == crew
    assert (found["rates"].profit, found["rates"].bond) == (0.2, 0.01)
    assert found["shift"].breaks_min == 15.0


def test_steps_that_are_no_job_are_made_with_the_next(monkeypatch):
    """The first of three is none by itself: two steps, of three changes and of four."""
    groups = [revision._Group(name, count, {"crew": ()})
              for name, count in (("a", 1), ("b", 2), ("c", 4))]  # fmt: skip
    monkeypatch.setattr(revision, "_groups", lambda *asked: iter(groups))
    monkeypatch.setattr(revision, "figures", lambda made: made)
    tried, steps = [], []

    def price(job, shared):
        tried.append(job)
        if len(tried) == 1:
            raise EstimatorError("none")
        return "priced"

    monkeypatch.setattr(revision, "price", price)
    last = SimpleNamespace(job=None)
    found = list(revision._steps(job(), last, (), None, lambda *done: steps.append(done)))
    assert [(one.name, one.changes, one.figures) for one in found] == [
        ("a and b", 3, "priced"), ("c", 4, last),
    ]  # fmt: skip
    assert steps == [(1, 3), (2, 3)]
    monkeypatch.setattr(revision, "_groups", lambda *asked: iter(()))
    assert list(revision._steps(job(), last, (), None, None)) == []


def test_rows_of_one_name_are_paired_in_turn_and_equal_ones_go_first(monkeypatch):
    """Of three rows before and two after one is the same; one changed, one is gone."""
    monkeypatch.setattr(revision, "_same", lambda one, other: one.value == other.value)
    monkeypatch.setattr(revision, "_row_changes", lambda table, was, now, *of:
                        [f"{was.value} to {now.value}"])  # fmt: skip
    monkeypatch.setattr(revision, "_whole_row", lambda table, row, kind, of: f"{kind} {row.value}")

    def rows(values):
        return [SimpleNamespace(name="A", value=value) for value in values]

    for before, after, found in (
        ("abc", "bd", ["a to d", f"{REMOVED} c"]), ("b", "abc", [f"{ADDED} a", f"{ADDED} c"]),
        ("aa", "a", [f"{REMOVED} a"]),
    ):  # fmt: skip
        assert list(revision._table_changes(None, rows(before), rows(after), None, None)) == found


@each("key, value, text", [
    ("efficiency", 0.8, "80%"), ("startup_min", 45.0, "45 min"), ("startup_min", None, "blank"),
    ("startup_min", (), "blank"), ("waiting_pay", True, "yes"), ("waiting_pay", False, "no"),
    ("waiting_pay", "not paid", "not paid"), ("waiting_pay", money(1234.5, "L"), "1,234.5/L"),
    ("waiting_pay", money(1234.5, ""), "1,234.5"), ("waiting_pay", MONDAY, "2027-06-07"),
    ("waiting_pay", ("a", "b"), "a; b"), ("startup_min", 1234.0, "1,234 min"),
])  # fmt: skip
def test_a_value_of_a_version_is_shown_with_its_unit(key, value, text):
    field = next(field for field in fields("job") if field.key == key)
    assert shown(value, usual_column(field, "SI")) == text


def test_cost_types_of_either_version_and_the_chain_to_the_price(monkeypatch):
    """Labor from 10 and 5 to nothing; of the 30 and 40 between cost and price nothing is lost."""

    def made(*amounts):
        lines = [SimpleNamespace(cost_type="Labor", amount=Decimal(one)) for one in amounts]
        return SimpleNamespace(cost_lines=lines)

    found = list(revision._costs(made(10, 5), made()))
    assert [(one.name, one.old, one.new) for one in found] == [("Labor", 15, 0)]
    bids = [SimpleNamespace(job_cost=Decimal(cost), price=Decimal(price))
            for cost, price in ((100, 130), (110, 150))]  # fmt: skip
    assert [(one.name, one.old, one.new) for one in revision._chain(*bids)] == [
        ("Job cost", 100, 110), ("Markups", 30, 40), ("Bid price", 130, 150),
    ]  # fmt: skip
