"""Crews that come back to strings when their rest ends, and the crew that ties in to other pipe."""

import datetime as dt

import pytest

from estimator.joint.sizing import Sizer
from estimator.models.places import Places
from estimator.pipeline import estimate
from estimator.plan import lay_out
from tests.jobs import job, machine, run

START = dt.date(2027, 3, 1)
NO_TESTS = {"test_joint_rule": "none", "rework_share": 0.0}
REST_400 = {"own_rest_min": 400.0}


def planned(job_):
    sizer = Sizer(job_, Places())
    sized = sizer.size_all()
    return {s.run_id: s for s in sized}, lay_out(job_, sized, sizer.cycle_on)


def tie_in_dates(plan, run_id):
    return [(line.date, line.crew) for line in plan.lines if line.run_id == run_id and line.tie_in_joints]  # noqa: E501  # fmt: skip


def test_string_tie_ins_are_made_in_the_shift_in_which_the_rest_ends():
    """Strings of R1 are joined in the morning of day 1; 400 min of rest end on the same clock day,
    but the shift of 505 working minutes has no room left for a tie-in: the crew is back at the
    start of day 2. R2 takes several weeks and goes on afterwards."""
    strings = run("R1", segments_m=(120.0,), string_length_m=60.0, dr=17.0, priority=1)
    long = run("R2", segments_m=(6000.0,), dr=17.0, priority=2)
    sized, plan = planned(job(strings, long, **NO_TESTS, **REST_400))
    times, count = sized["R1"].cycle, sized["R1"].counts
    joined = count.plain_joints * times.plain.cycle_min
    assert 505 - joined - 400 < 30 + times.tie_in.cycle_min
    assert tie_in_dates(plan, "R1") == [(START + dt.timedelta(days=1), 1)]
    second = [line for line in plan.lines if line.date == START + dt.timedelta(days=1)]
    assert [(line.run_id, line.moves) for line in second] == [("R1", ("move",)), ("R2", ("move",))]
    assert plan.finish > START + dt.timedelta(days=28)


def test_crew_leaves_between_two_joints_so_that_it_arrives_when_the_rest_ends():
    """Rest of 120 min, one move of 30 min each way: the crew makes joints of R2 for 60 min or up
    to one joint longer, moves 30 min, and ties in."""
    strings = run("R1", segments_m=(36.0,), string_length_m=12.0, dr=17.0, priority=1)
    long = run("R2", segments_m=(6000.0,), dr=17.0, priority=2)
    job_ = job(strings, long, own_rest_min=120.0, **NO_TESTS)
    sized, plan = planned(job_)
    assert sized["R1"].counts.plain_joints == 0
    strings = run("R1", segments_m=(48.0,), string_length_m=24.0, dr=17.0, priority=1)
    sized, plan = planned(job(strings, long, own_rest_min=120.0, **NO_TESTS))
    times, other = sized["R1"].cycle, sized["R2"].cycle.plain.cycle_min
    assert tie_in_dates(plan, "R1") == [(START, 1)]
    first = [line for line in plan.lines if line.date == START]
    assert [(line.run_id, line.moves) for line in first] == [("R1", ("move",)), ("R2", ("move", "move"))]  # noqa: E501  # fmt: skip
    before = next(n for n in range(1, 99) if 30 + n * other >= 120 - 30)
    used = 2 * times.plain.cycle_min + times.tie_in.cycle_min + 3 * 30
    after = int((505 - used - before * other) // other)
    assert first[1].joints == before + after


def test_long_rest_costs_no_more_than_a_short_one_and_ends_three_weeks_earlier_than_the_next_run():
    """Beside 60 min of rest, 400 min cost two more moves of 30 min at the most: no further day."""
    runs = (run("R1", segments_m=(1200.0,), string_length_m=240.0, priority=1),
            run("R2", segments_m=(6000.0,), priority=2))  # fmt: skip
    _, short = planned(job(*runs, own_rest_min=60.0, **NO_TESTS))
    _, long = planned(job(*runs, **NO_TESTS, **REST_400))
    assert (long.finish - short.finish).days <= 1
    tied, of_short = (tie_in_dates(plan, "R1")[-1][0] for plan in (long, short))
    assert (tied - of_short).days <= 1
    assert (long.finish - tied).days > 21


def test_crew_stays_at_the_strings_where_two_machine_changes_would_cost_more_than_the_rest():
    """200 min of rest against a change of 240 min to the next run and as much back."""
    small, large = machine("S", od_max_mm=150.0), machine("L", od_min_mm=150.0)
    strings = run("R1", size="4", segments_m=(48.0,), string_length_m=24.0, priority=1)
    long = run("R2", size="12", segments_m=(600.0,), priority=2)
    _, plan = planned(job(strings, long, machines=(small, large), own_rest_min=200.0, **NO_TESTS))
    assert tie_in_dates(plan, "R1") == [(START, 1)]
    assert [line.moves for line in plan.lines if line.run_id == "R1"] == [("cooling rest",)]


def test_pulled_string_is_tied_in_when_it_has_relaxed():
    pulled = run("pull", placement="pullback", segments_m=(60.0,), tie_ins=1, priority=1)
    job_ = job(pulled, run("other", segments_m=(6000.0,)), relax_hours=24.0, **NO_TESTS)
    _, plan = planned(job_)
    assert tie_in_dates(plan, "pull") == [(START + dt.timedelta(days=1), 1)]


TWO_CLASSES = (machine("S", od_max_mm=150.0), machine("L", od_min_mm=150.0))


def test_tie_in_to_other_pipe_goes_to_the_crew_that_has_the_machine():
    """Crew 1 strings A on class L and goes on with small pipe; crew 2 strings B, which A joins,
    on class L and is still at it. The tie-in of A is made by crew 2: class L does not come again
    for crew 1."""
    runs = (
        run("A", segments_m=(240.0,), joins="B", tie_ins=1, priority=1),
        run("B", segments_m=(1200.0,), priority=2),
        run("small", size="4", segments_m=(3000.0,), priority=3),
        run("last", segments_m=(240.0,), priority=4),
    )
    _, plan = planned(job(*runs, crews=2, machines=TWO_CLASSES, **NO_TESTS))
    (_, crew), *_ = tie_in_dates(plan, "A")
    strung_by = {line.crew for line in plan.lines if line.run_id == "A" and not line.tie_in_joints}
    assert strung_by == {1}
    assert crew == 2
    assert {line.crew for line in plan.lines if line.machine == "L" and line.date > START + dt.timedelta(days=7)} == {2}  # noqa: E501  # fmt: skip


def test_run_of_tie_ins_alone_goes_to_the_crew_that_has_the_machine():
    """One stick with one tie-in on class L; crew 2 has class S and is free first."""
    runs = (
        run("big", segments_m=(1200.0,), priority=1),
        run("small", size="4", segments_m=(60.0,), priority=2),
        run("tie", segments_m=(12.0,), tie_ins=1, priority=3),
    )
    _, plan = planned(job(*runs, crews=2, machines=TWO_CLASSES, **NO_TESTS))
    assert tie_in_dates(plan, "tie") == [(max(n.date for n in plan.lines if n.run_id == "big"), 1)]


@pytest.mark.parametrize("crew", [1, 2])
def test_run_given_to_a_crew_is_tied_in_by_it(crew):
    runs = (
        run("A", segments_m=(240.0,), joins="B", tie_ins=1, priority=1, crew=crew),
        run("B", segments_m=(1200.0,), priority=2, crew=2),
        run("small", size="4", segments_m=(600.0,), priority=3),
    )
    _, plan = planned(job(*runs, crews=2, machines=TWO_CLASSES, **NO_TESTS))
    assert [number for _, number in tie_in_dates(plan, "A")] == [crew]


def test_checks_shows_that_a_class_is_on_site_with_another_crew():
    """Crew 2 is named for one tie-in on class L in the middle of the weeks that crew 1 has it: the
    change of machine begins the day before, so 2 days of work, and 1 of haulage at each end."""
    runs = (
        run("big", segments_m=(3000.0,), priority=1, crew=1),
        run("small", size="4", segments_m=(600.0,), priority=1, crew=2),
        run("tie", segments_m=(12.0,), tie_ins=1, priority=2, crew=2),
        run("on", size="4", segments_m=(3000.0,), priority=3, crew=2),
    )
    found = estimate(job(*runs, crews=2, machines=TWO_CLASSES, **NO_TESTS))
    (text,) = [w.message for w in found.warnings if "on site" in w.message]
    assert text.startswith("Class L is on rent for crew 2 from ")
    assert "4 days for 2 days of work. Give crew 1 run tie. The other crew has a machine of" in text


@pytest.mark.parametrize(("rule", "away"), [("none", True), ("each size", False)])
def test_test_joints_of_another_size_count_in_the_trip(rule, away):
    """150 min of rest. To the next run and back: moves of 30 min and changes of 20 and 30 min,
    110 altogether, so the crew goes; with two test joints of some 17 + 30, 37 + 30 min it stays."""
    strings = run("R1", size="4", segments_m=(48.0,), string_length_m=24.0, priority=1)
    long = run("R2", size="12", segments_m=(600.0,), priority=2)
    made = job(strings, long, own_rest_min=150.0, rework_share=0.0, test_joint_rule=rule)
    _, plan = planned(made)
    first, *_ = plan.lines
    assert ("cooling rest" in first.moves) != away


SMALL, LARGE = machine("S", od_max_mm=230.0), machine("L", od_min_mm=250.0)


def test_a_run_goes_to_the_crew_that_is_there_first_with_its_machine():
    """Crew 1 ends R1 after 13 joints of 37.04 min at minute 481.5, crew 2 R2 after 14 of 31.22 at
    437.1. Crew 2 is free first, but a change of its machine for R3 takes 240 min, the move of
    crew 1 30 min: R3 is crew 1's and R4 crew 2's, and no machine is changed."""
    runs = (run("R1", size="12", segments_m=(168.0,)), run("R2", size="8", segments_m=(180.0,)),
            run("R3", size="12", segments_m=(120.0,)),
            run("R4", size="8", segments_m=(120.0,)))  # fmt: skip
    _, plan = planned(job(*runs, crews=2, machines=(SMALL, LARGE), **NO_TESTS))
    assert {(line.run_id, line.crew) for line in plan.lines} == {
        ("R1", 1), ("R3", 1), ("R2", 2), ("R4", 2)}  # fmt: skip
    assert not [move for line in plan.lines for move in line.moves if "change" in move]


def test_a_crew_waits_out_a_rest_before_it_changes_its_machine():
    """R1 rests when R2, of its class, is done. To R3 and back for one tie-in would be two
    changes of 240 min more than the one that R3 needs in any case."""
    runs = (run("R1", segments_m=(240.0,), string_length_m=120.0), run("R2", segments_m=(60.0,)),
            run("R3", size="12", segments_m=(1200.0,)))  # fmt: skip
    _, plan = planned(job(*runs, machines=(SMALL, LARGE), **NO_TESTS, **REST_400))
    moves = [move for line in plan.lines for move in line.moves]
    assert moves.count("machine change-out") == 1
    tied = tie_in_dates(plan, "R1")[0][0]
    assert tied <= min(line.date for line in plan.lines if line.run_id == "R3")


def test_a_crew_changes_no_machine_between_two_joints_for_a_tie_in():
    """A day of rest is too long to wait for: the tie-in comes when the run in hand is done."""
    runs = (run("R1", segments_m=(240.0,), string_length_m=120.0),
            run("R2", size="12", segments_m=(1200.0,)),
            run("R3", size="12", segments_m=(60.0,)))  # fmt: skip
    made = job(*runs, machines=(SMALL, LARGE), own_rest_min=1440.0, **NO_TESTS)
    _, plan = planned(made)
    tied = tie_in_dates(plan, "R1")[0][0]
    joined = [line.date for line in plan.lines if line.run_id == "R2"]
    assert tied >= max(joined)
    assert tied <= max(joined) + dt.timedelta(days=3)


def test_no_crew_comes_for_a_shift_in_which_a_rested_tie_in_has_no_room():
    """16 joints of R1 end on day 1 at minute 499.6 of 505; a day of rest ends on day 2 at that
    minute, too late for a tie-in of 49. Nobody is paid day 2 to wait: it is made on day 3."""
    rested = run("R1", segments_m=(204.0,), tie_ins=1)
    found = estimate(job(rested, own_rest_min=1440.0, **NO_TESTS))
    days = [START + dt.timedelta(days=n) for n in (0, 2)]
    assert [line.date for line in found.plan.lines] == days
    assert [one.date for one in found.plan.crew_days] == days
    assert tie_in_dates(found.plan, "R1") == [(days[-1], 1)]
