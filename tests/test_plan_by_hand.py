"""The plan at its edges: small pieces of it by themselves, and small jobs laid out by hand."""

import datetime as dt
import math
from types import SimpleNamespace

import pytest

from estimator.joint.sizing import Sizer
from estimator.models.calendar import CrewDates, Hold
from estimator.models.hydrotest import HydroHours
from estimator.models.places import Places
from estimator.models.plan import CrewDay, Plan, PlanLine
from estimator.pipeline import estimate
from estimator.plan import lay_out, run_spans
from estimator.plan.by_week import _crew_work, look_ahead
from estimator.plan.crews import CHANGE_OUT, TINY, CrewState, Roster
from estimator.plan.hours_by_run import HoursByRun
from estimator.plan.hydrotest import CrewClock, _ready_dates, _work_days
from estimator.plan.paid_shifts import Payroll
from estimator.plan.planner import Planner
from estimator.plan.tasks import (
    LEFT,
    NEW,
    OUTSIDE_TIE_INS,
    REST,
    STRINGS,
    Task,
    TaskQueue,
)
from estimator.plan.units import units_of
from estimator.steps.recorder import Recorder
from estimator.working_time.working_days import WorkingCalendar
from tests.jobs import job, machine, run

MONDAY = dt.date(2027, 3, 1)
DAY = dt.timedelta(1)
NO_TESTS = {"test_joint_rule": "none", "rework_share": 0.0}
SMALL, LARGE = machine("S", od_max_mm=230.0), machine("L", od_min_mm=250.0)


def planned(job_):
    sizer = Sizer(job_, Places())
    sized = sizer.size_all()
    return {one.run_id: one for one in sized}, lay_out(job_, sized, sizer.cycle_on)


# Where a crew stands: 10 h less 45, 20 and 30 min are 505 min of work


def crew_with(minutes_left, **changes):
    roster = Roster.of(job(**changes), 1)
    crew = CrewState(1, roster, roster.first_on(MONDAY), {})
    crew.minutes_left = minutes_left
    return crew


def test_moves_that_fill_a_shift_end_in_it():
    """With 30 min left, 30 min of moves end with the shift; 40 go on for 10 on Tuesday."""
    crew = crew_with(30.0)
    ends = crew.shift.start + 505.0
    tuesday = crew.roster.after(crew.shift).start
    assert crew.through(30.0) == ends
    assert crew.through(40.0) == tuesday + 10.0
    none_left = crew_with(0.0)
    assert none_left.through(0.0) == none_left.through(TINY) == ends


def test_idle_minutes_are_those_of_shifts():
    """With 30 min left of Monday: to the end of its shift 30, to 10 min of Tuesday's 40."""
    crew = crew_with(30.0)
    tuesday = crew.roster.after(crew.shift).start
    assert [crew.idle_until(moment) for moment in (
        crew.now - 60, crew.now, crew.now + 20, crew.now + 30, tuesday, tuesday + 10,
    )] == [0.0, 0.0, 20.0, 30.0, 30.0, 40.0]  # fmt: skip


def test_a_crew_that_waits_for_now_stays_in_its_shift():
    crew = crew_with(0.0)
    before = crew.shift
    crew.wait(SimpleNamespace(run_id="R1", machine=machine()), crew.now, REST)
    assert crew.shift is before
    assert not crew.shifts


# Tasks


def task(run_, ready_at=0.0, word=REST, crew=None, rank=LEFT):
    return Task((rank, ready_at, 0), run_, OUTSIDE_TIE_INS, ready_at, crew, word)


def test_a_segment_is_planned_like_a_run():
    """12, 1 and 8 sticks: 11, 0 and 7 joints; the last has the elbow's 2 and the tie-in. What comes
    after the run, or joins it, names all three."""
    rows = [run("R2", segments_m=(144.0, 12.0, 96.0), elbows=1, tie_ins=1, after="R1"),
            run("R1"), run("R3", after="R2", joins="R1; R2")]  # fmt: skip
    sized, _ = planned(job(*rows, **NO_TESTS))
    units = units_of(rows, list(sized.values()))
    assert [unit.row for unit in units] == ["R1", "R2", "R2", "R2", "R3"]
    assert [unit.sized.counts.butt_joints for unit in units[1:4]] == [11, 0, 7 + 2 + 1]
    assert [unit.sized.counts.outside_tie_ins for unit in units[1:4]] == [0, 0, 1]
    parts = [unit.run.run_id for unit in units[1:4]]
    assert list(units[4].run.followed_runs) == parts
    assert list(units[4].run.joined_runs) == ["R1", *parts]
    assert units[0].run is rows[1]


def test_tie_ins_wait_for_the_last_of_the_strings_they_join():
    queue = TaskQueue([run("A"), run("B"), run("C", joins="A; B")])
    queue.strings_done("A", 200.0)
    queue.strings_done("B", 100.0)
    tie_in = task(run("C", joins="A; B"), ready_at=50.0)
    assert queue.after_joined(tie_in).ready_at == 200.0
    assert queue.after_joined(task(run("A"), ready_at=50.0)).ready_at == 50.0


def test_tie_ins_that_wait_as_long_for_their_own_rest_wait_for_that():
    """Own strings and those of A rest until minute 200; 201 of A is a wait for it."""
    for moment, word in ((200.0, REST), (201.0, "wait")):
        queue = TaskQueue([run("A"), run("C", joins="A")])
        queue.strings_done("A", moment)
        assert queue.after_joined(task(run("C", joins="A"), ready_at=200.0)).word == word


def test_only_what_a_crew_has_left_is_given_to_others():
    """A new run that the schedule names for a crew stays its own, and so do its own tie-ins."""
    for run_, rank, given in (
        (run("A", crew=1), NEW, False), (run("A", crew=1), LEFT, False), (run("A"), LEFT, True),
    ):  # fmt: skip
        queue = TaskQueue([])
        queue.add(Task((rank, 0.0, 0), run_, STRINGS, 0.0, 1, REST))
        assert queue.release_all() is given
        assert [one.crew for one in queue.all_ready()] == [None if given else 1]


# Planner


def test_a_run_that_two_crews_can_begin_at_once_is_that_of_the_first():
    """Both wait for Thursday."""
    later = run("R1", segments_m=(120.0,), earliest_start=MONDAY + 3 * DAY)
    _, plan = planned(job(later, crews=2, **NO_TESTS))
    assert [(line.crew, line.date) for line in plan.lines] == [(1, MONDAY + 3 * DAY)]


def test_a_crew_leaves_no_strings_for_a_tie_in_that_has_no_room_in_the_shift():
    """15 joints of 31.22 min end at minute 468.3 of Monday and rest a day; a move to R2 is left. On
    Tuesday the rest ends at that minute, and a tie-in of 49 does not fit in 505: 16 joints of R2,
    the whole shift, and the tie-in on Wednesday."""
    strings = run("R1", segments_m=(204.0,), string_length_m=108.0, priority=1)
    long = run("R2", segments_m=(6000.0,), priority=2)
    sized, plan = planned(job(strings, long, own_rest_min=1440.0, **NO_TESTS))
    cycle = sized["R1"].cycle
    assert sized["R1"].counts.plain_joints == 15
    assert cycle.plain.cycle_min == pytest.approx(31.22, abs=0.005)
    assert cycle.tie_in.cycle_min == pytest.approx(49, abs=0.5)
    tuesday = [line for line in plan.lines if line.date == MONDAY + DAY]
    assert [(line.run_id, line.joints, line.moves) for line in tuesday] == [("R2", 16, ())]
    tied = [line.date for line in plan.lines if line.tie_in_joints]
    assert tied == [MONDAY + 2 * DAY]


def test_a_pulled_string_relaxes_from_its_last_tie_in():
    """Two strings: 15 joints of 31.22 min, 30 of rest, and their tie-in of 49 is made on Tuesday
    morning. It rests half an hour and relaxes 4 h from then on: 49 + 30 + 240 + 49 fit that day.
    With 8 h, 49 + 30 + 480 min are more than a shift: the joint to other pipe waits for Wednesday,
    though it is a day and more since the joints of the strings."""
    pulled = run("R1", segments_m=(204.0,), string_length_m=108.0, placement="pullback", tie_ins=1)
    for hours, days in ((4.0, [1, 1]), (8.0, [1, 2])):
        _, plan = planned(job(pulled, relax_hours=hours, **NO_TESTS))
        tied = [(line.date - MONDAY).days for line in plan.lines for _ in range(line.tie_in_joints)]
        assert tied == days


def test_what_a_crew_has_left_when_it_leaves_goes_to_others_before_new_runs():
    """Eight joints of A end at minute 249.8 of Monday; 1,660 min of rest end on Tuesday at 469.8,
    too late for a tie-in of 49, and crew 1 leaves that day. Crew 2, which is named for B and C,
    makes the tie-in of A between them."""
    strings = run("A", segments_m=(120.0,), string_length_m=60.0, priority=1)
    others = [run(name, segments_m=(1000.0,), priority=2, crew=2) for name in ("B", "C")]
    go_on = run("D", segments_m=(600.0,), priority=3)
    made = job(strings, *others, go_on, crews=2, own_rest_min=1660.0, **NO_TESTS)
    leaves = CrewDates(crew=1, from_date=MONDAY, to_date=MONDAY + DAY)
    made = made.model_copy(update={"crew_dates": (leaves,)})
    _, plan = planned(made)
    (tied,) = [line for line in plan.lines if line.tie_in_joints]
    begun = min(line.date for line in plan.lines if line.run_id == "C")
    ended = max(line.date for line in plan.lines if line.run_id == "B")
    assert tied.crew == 2
    assert ended <= tied.date <= begun


def test_a_moment_that_never_comes_has_no_room():
    made = job(**NO_TESTS)
    sizer = Sizer(made, Places())
    sized = sizer.size_all()
    planner = Planner(made, sized, sizer.cycle_on)
    left = task(made.runs[0], crew=1)
    assert planner._room_from(planner.crews[0], sized[0], left, math.inf) == math.inf


# Hours and pay


def test_a_plan_without_rework_has_none_on_its_lines():
    _, plan = planned(job(**NO_TESTS))
    for field in ("rework_joints", "test_joints", "other_joints", "tie_in_joints"):
        assert not any(getattr(line, field) for line in plan.lines)
    assert sum(line.joints for line in plan.lines) == 24


def test_change_outs_to_a_class_are_shared_by_the_minutes_of_its_runs():
    """A shift of 10 h: 240 min of change to L and 60 of R2; the next, 300 of R3 on L. Of 8 h for
    the change 60 / 360 are R2's and 300 / 360 R3's."""

    def day(n, minutes):
        return CrewDay(date=MONDAY + n * DAY, crew=1, kind="work", heads=(2.0,),
                       straight_hours=10.0, overtime_hours=0.0, run_minutes=minutes)  # fmt: skip

    lines = (
        PlanLine(MONDAY, 1, "R2", "L", joints=2, minutes=300.0, moves=(CHANGE_OUT,),
                 moved_min=(240.0,)),
        PlanLine(MONDAY + DAY, 1, "R3", "L", joints=10, minutes=300.0),
    )  # fmt: skip
    plan = Plan(lines, (day(0, (("R2", 300.0),)), day(1, (("R3", 300.0),))))
    recorder = Recorder()
    with recorder.on():
        hours = HoursByRun.crew(plan).all()
    assert hours == {"R2": pytest.approx(10 - 8 + 8 / 6), "R3": pytest.approx(10 + 8 * 5 / 6)}
    shares = [step.given for step in recorder.steps if step.key == "share_of_change_outs"]
    assert [(one["hours"], one["minutes"], one["all_minutes"]) for one in shares] == [
        (8.0, 60.0, 360.0), (8.0, 300.0, 360.0),
    ]  # fmt: skip


def test_a_crew_that_has_two_runs_behind_it_is_held_by_the_last():
    """On Tuesday A is held, which it has done before B on Monday, and C is free: the crew waits."""
    made = job(run("A"), run("B"), run("C"), waiting_pay="full shift", waiting_days=5)
    held = Hold(run="A", from_date=MONDAY + DAY, to_date=MONDAY + DAY, cause="permit")
    roster = Roster.of(made, 1)
    monday = roster.first_on(MONDAY)
    wednesday = roster.after(roster.after(monday))
    before, crew = (monday, {"A": 1, "B": 2}), SimpleNamespace(roster=roster)
    for name, kind in (("A", "waiting"), ("B", "hold"), ("C", "hold")):
        row = held.model_copy(update={"run": name})
        payroll = Payroll(made.model_copy(update={"holds": (row,)}), {})
        (lost,) = payroll._lost_between(crew, before, (wednesday, {"C": 3}))
        assert (lost.date, lost.kind) == (MONDAY + DAY, kind)
    assert not payroll._lost_between(crew, before, (roster.after(monday), {"C": 3}))


def test_a_crew_that_is_not_paid_is_nobody():
    assert _crew_work(1, [], [], 5.0).people == 0.0


# Weeks ahead and hydrotests


def test_what_goes_in_a_week_is_collected_in_it():
    """24 and 99 joints at 16 a day, a move between them: done on Wednesday of the second week, and
    all gear goes on Thursday. R2 follows one run."""
    found = estimate(job(run("R1"), run("R2", after="R1", segments_m=(1200.0,)), **NO_TESTS))
    weeks = [look_ahead(found, MONDAY + 7 * n * DAY, 1) for n in range(3)]
    gone = [[move.date for move in week.collections] for week in weeks]
    assert gone == [[], [MONDAY + 10 * DAY] * 3, []]
    (second,) = [one for week in weeks for one in week.ready if one.name == "R2"]
    assert [item.quantity for item in second.items if item.name == "R1"] == [1]


def test_phases_before_pressure_go_on_the_next_day():
    """Six of ten hours are used. Set-up of 5 h: 4 and 1. Filling 3, bleeding 7: 6 and 1. At
    pressure 4 h in one go, on that day; emptying 2."""
    calendar = WorkingCalendar.of(job())
    crew = CrewClock(1, 10.0, calendar, MONDAY, used_hours=6.0)
    hours = HydroHours(setup=5.0, fill=3.0, bleed=7.0, raising=1.0, expansion=1.0, hold=2.0,
                       drain=2.0)  # fmt: skip
    days, pressure_date = _work_days(crew, "S1", hours)
    assert [(day.date, day.work, day.hours) for day in days] == [
        (MONDAY, ("set-up",), 4.0),
        (MONDAY + DAY, ("set-up", "filling", "bleeding"), 10.0),
        (MONDAY + 2 * DAY, ("bleeding", "at pressure", "drain and restore"), 7.0),
    ]
    assert pressure_date == MONDAY + 2 * DAY
    none_left = CrewClock(1, 10.0, calendar, MONDAY, used_hours=7.0)
    days, pressure_date = _work_days(none_left, "S1", hours.model_copy(update={"setup": 2.0,
                                     "fill": 0.5, "bleed": 0.4}))  # fmt: skip
    assert [day.hours for day in days] == [pytest.approx(2.9), 6.0]
    assert pressure_date == MONDAY + DAY


def test_strings_to_which_nothing_is_tied_hold_up_nothing():
    """A names B and has no tie-in. B ends a day later: A has one day of float, B none."""
    made = job(run("A", joins="B"), run("B", crew=2), crews=2)
    lines = tuple(PlanLine(MONDAY + n * DAY, n + 1, name, "M3", joints=2)
                  for n, name in enumerate("AB"))  # fmt: skip
    spans = run_spans(made, Plan(lines, ()))
    assert {name: span.float_days for name, span in spans.items()} == {"A": 1, "B": 0}


def test_joints_of_a_night_that_ends_at_midnight_are_tested_the_day_after():
    """16 h of day and 8 of night; with 30 min of rest it is the day after that."""
    made = job(run("R1"), shift_hours=16.0, night_hours=8.0, start=MONDAY)
    plan = Plan((PlanLine(MONDAY, 1, "R1", "M3", joints=2, shift="night"),), ())
    for rest_s, ready in ((None, 1), (0.0, 1), (1800.0, 2)):
        known = {"R1": SimpleNamespace(fusion=SimpleNamespace(rest_s=rest_s))}
        assert _ready_dates(made, known, plan) == {"R1": MONDAY + ready * DAY}
