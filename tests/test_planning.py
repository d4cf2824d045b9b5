import datetime as dt
import math
from collections import Counter

import pytest
from hypothesis import assume, given
from hypothesis import strategies as st

from estimator.errors import InputError
from estimator.joint.sizing import Sizer
from estimator.models.places import Places
from estimator.plan import labor_hours_by_run, lay_out
from tests.jobs import job, machine, run
from tests.random_jobs import TRIAL_RULES

NOWHERE = Places()


def planned(job_):
    sizer = Sizer(job_, NOWHERE)
    sized = sizer.size_all()
    return sized, lay_out(job_, sized, sizer.cycle_on)


counts = st.fixed_dictionaries(
    {key: st.integers(0, 3) for key in ("elbows", "tees", "ef_closures", "branch_saddles")}
)
some_runs = st.lists(
    st.tuples(st.integers(1, 900), st.sampled_from(["4", "8", "12"]), counts,
              st.sampled_from([None, 1, 2, 3]), st.sampled_from([None, 0, 20, 60])),
    min_size=1, max_size=8,
)  # fmt: skip


@given(some_runs, st.integers(1, 3), st.integers(1, 2),
       st.sampled_from(TRIAL_RULES))  # fmt: skip
def test_plan_makes_exactly_the_joints_counted(rows, crews, machines, rule):
    start = dt.date(2027, 3, 1)
    runs = [
        run(f"R{i}", segments_m=(float(length),), size=size, priority=priority,
        string_length_m=120.0,
            earliest_start=None if wait is None else start + dt.timedelta(days=wait), **fittings)
        for i, (length, size, fittings, priority, wait) in enumerate(rows)
    ]  # fmt: skip
    job_ = job(*runs, crews=crews, machines_per_crew=machines, test_joint_rule=rule)
    assume(any(r.segments_m[0] > 12 or r.elbows + r.tees + r.ef_closures for r in runs))
    sized, plan = planned(job_)
    made = Counter()
    for line in plan.lines:
        made[line.run_id] += line.joints
        assert line.date.weekday() < 5
        assert min(line.joints, line.rework_joints, line.other_joints) >= 0
    assert {s.run_id: s.counts.butt_joints for s in sized if s.counts.butt_joints} == {
        k: v for k, v in made.items() if v
    }
    minutes = Counter()
    for line in plan.lines:
        minutes[line.date, line.crew] += line.minutes
    assert max(minutes.values()) <= job_.shift.working_min + 1e-6
    for r in runs:
        if r.earliest_start:
            assert all(n.date >= r.earliest_start for n in plan.lines if n.run_id == r.run_id)
    paid = sum(day.labor_hours for day in plan.crew_days)
    assert sum(labor_hours_by_run(plan).values()) == pytest.approx(paid)


def test_full_shift_makes_the_joints_of_a_shift():
    """The second day of a long run is a full shift: its joints are the run's joints per shift."""
    sized, plan = planned(job(run(segments_m=(1500.0,)), rework_share=0.0))
    assert plan.lines[1].joints == sized[0].cycle.joints_per_shift


def test_runs_go_by_priority_then_by_the_schedule():
    job_ = job(run("late"), run("second", priority=2), run("first", priority=1))
    _, plan = planned(job_)
    assert list(dict.fromkeys(line.run_id for line in plan.lines)) == ["first", "second", "late"]


def test_size_change_and_machine_change_are_named():
    small = machine("S", od_max_mm=150.0)
    large = machine("L", od_min_mm=150.0)
    job_ = job(run("a", size="4"), run("b", size="3"), run("c", size="8"),
               machines=(small, large))  # fmt: skip
    _, plan = planned(job_)
    moves = [(line.run_id, move) for line in plan.lines for move in line.moves]
    begun = [(run_id, move) for run_id, move in moves if not move.endswith("(continued)")]
    assert begun == [("b", "move"), ("b", "size change"), ("c", "machine change-out")]


def test_a_move_that_goes_on_is_named_in_each_of_its_shifts():
    """A change of 1,200 min holds what is left of the first day, 505 min of the next and the
    morning of a third."""
    small = machine("S", od_max_mm=150.0)
    large = machine("L", od_min_mm=150.0)
    job_ = job(run("a", size="4"), run("c", size="8"), machines=(small, large),
               machine_swap_min=1200.0, test_joint_rule="none")  # fmt: skip
    _, plan = planned(job_)
    lines = [line for line in plan.lines if line.run_id == "c"]
    again = "machine change-out (continued)"
    assert [line.moves for line in lines[:3]] == [("machine change-out",), (again,), (again,)]
    assert lines[1].minutes == pytest.approx(505)


def test_a_move_that_finds_the_shift_full_begins_in_the_next_one():
    """One joint of a, and the move to b takes what is left of the day: the change of size, 20 min
    of its band, is all on the next, with the one joint of b."""
    runs = run("a", segments_m=(24.0,)), run("b", size="4", segments_m=(24.0,))
    changes = {"test_joint_rule": "none", "rework_share": 0.0}
    a, b = (sized.cycle.plain.cycle_min for sized in planned(job(*runs, **changes))[0])
    _, plan = planned(job(*runs, machine_move_min=505 - a, **changes))
    lines = [line for line in plan.lines if line.run_id == "b"]
    assert [line.moves for line in lines] == [("move",), ("size change",)]
    assert [line.minutes for line in lines] == [pytest.approx(505 - a), pytest.approx(20 + b)]


@pytest.mark.parametrize(("rule", "tests"), [("none", 0), ("job start", 1), ("each size", 3)])
def test_test_joints_follow_the_rule(rule, tests):
    job_ = job(run("a", size="4"), run("b", size="4"), run("c", size="8"), run("d", size="4"),
               test_joint_rule=rule)  # fmt: skip
    _, plan = planned(job_)
    assert sum(line.test_joints for line in plan.lines) == tests


def test_another_wall_of_the_same_diameter_is_tried_where_walls_count():
    """DR 11, 17, 17, 11 of one diameter: tried once by size, three times by size and wall."""
    runs = [run(name, size="4", dr=dr) for name, dr in zip("abcd", (11, 17, 17, 11), strict=True)]
    for rule, tests in (("job start", 1), ("each size", 1), ("each size and wall", 3)):
        _, plan = planned(job(*runs, test_joint_rule=rule))
        assert sum(line.test_joints for line in plan.lines) == tests
        assert next(line.test_joints for line in plan.lines if line.run_id == "c") == 0


def test_test_joint_each_day():
    _, plan = planned(job(run(segments_m=(1500.0,)), test_joint_rule="each day"))
    assert [line.test_joints for line in plan.lines] == [1] * len(plan.lines)


def test_two_crews_finish_sooner_and_share_the_runs():
    runs = [run(f"R{i}", segments_m=(600.0,)) for i in range(6)]
    _, one = planned(job(*runs))
    _, two = planned(job(*runs, crews=2))
    assert two.finish < one.finish
    assert {line.crew for line in two.lines} == {1, 2}


def test_crew_of_a_run_is_kept():
    job_ = job(run("a", crew=2), run("b", crew=1), run("c", crew=2), crews=2)
    _, plan = planned(job_)
    assert {line.run_id: line.crew for line in plan.lines} == {"a": 2, "b": 1, "c": 2}


def test_last_joint_of_a_shift_is_cool_before_the_crew_leaves():
    """With two machines N joints take (N - 1) periods and one whole cycle."""
    sized, plan = planned(job(run(segments_m=(1500.0,)), machines_per_crew=2, rework_share=0.0))
    plain, left = sized[0].cycle.plain, job().shift.working_min
    joints = plan.lines[1].joints
    assert plain.period_min < plain.cycle_min
    assert (joints - 1) * plain.period_min + plain.cycle_min <= left
    assert joints * plain.period_min + plain.cycle_min > left


def test_crew_that_waits_for_a_run_is_not_paid_for_weather():
    start, later = dt.date(2027, 3, 1), dt.date(2027, 6, 1)
    job_ = job(run("a"), run("b", earliest_start=later))
    wet = job_.model_copy(update={"weather": tuple(
        w.model_copy(update={"lost_share": 0.2}) for w in job_.weather)})  # fmt: skip
    sized, plan = planned(wet)
    assert sized[0].run_id == "a"
    idle = [d for d in plan.crew_days if start + dt.timedelta(days=14) < d.date < later]
    assert idle == []


def test_overtime_is_what_is_beyond_straight_time():
    _, plan = planned(job(shift_hours=10.0, straight_hours=8.0))
    assert {(day.straight_hours, day.overtime_hours) for day in plan.crew_days} == {(8.0, 2.0)}


def by_month(job_, **ambient):
    weather = (w.model_copy(update={"ambient_c": ambient.get(w.month)}) for w in job_.weather)
    return job_.model_copy(update={"weather": tuple(weather)})


def test_ambient_of_the_month_sets_the_cooling_of_each_day():
    """Under DVS 2207-1 a hotter month cools longer: fewer joints a day from 1 April on."""
    start = dt.date(2027, 3, 22)
    job_ = job(run(segments_m=(2400.0,)), method="dvs2207", start=start, test_joint_rule="none")
    sized, plan = planned(by_month(job_, Mar=10.0, Apr=30.0))
    joints = {line.date: line.joints for line in plan.lines}
    assert joints[dt.date(2027, 3, 31)] > joints[dt.date(2027, 4, 1)]
    assert sized[0].timing.ambient_c == 10.0


def test_ambient_of_a_month_that_is_not_reached_does_not_matter():
    job_ = job(method="dvs2207")
    _, plan = planned(by_month(job_, Aug=50.0))
    assert plan.finish < dt.date(2027, 8, 1)


def test_ambient_of_a_month_outside_the_method_is_reported_there():
    with pytest.raises(InputError, match=r"Mar: ambient temperature .* is 50, outside"):
        planned(by_month(job(method="dvs2207"), Mar=50.0))


def test_crew_that_wraps_up_while_its_last_joint_cools_makes_more():
    """10 in DR 11: a cycle of c min of which i min are idle cooling, 505 min of work and 20 of
    wrap-up: floor((505 + min(20, i)) / c) joints a shift in place of floor(505 / c)."""
    usual = job(run(size="10", segments_m=(2400.0,)), test_joint_rule="none", rework_share=0.0)
    sized, plan = planned(usual)
    times = sized[0].cycle.plain
    idle = times.cycle_min - times.attended_min
    by_hand = [math.floor((505 + extra) / times.cycle_min) for extra in (0, min(20.0, idle))]
    assert by_hand[1] == by_hand[0] + 1
    changed, longer = planned(usual.changed(cool_in_wrapup=True))
    assert [plan.lines[1].joints, longer.lines[1].joints] == by_hand
    assert changed[0].cycle.joints_per_shift == by_hand[1]
    assert max(line.minutes for line in longer.lines) <= 505 + 1e-6
