"""The plan at its edges: small pieces of it by themselves, and small jobs laid out by hand."""

import datetime as dt
import math
from types import SimpleNamespace

import pytest

from estimator.errors import InputError
from estimator.joint.butt_kinds import alone
from estimator.joint.sizing import Sizer
from estimator.models.bands import BandShare
from estimator.models.calendar import CrewDates, Hold
from estimator.models.crew import Role
from estimator.models.hydrotest import HydroHours
from estimator.models.job_inputs import NO_WAITING_PAY
from estimator.models.places import Places
from estimator.models.plan import CrewDay, Plan, PlanLine, Work
from estimator.pipeline import estimate
from estimator.plan import lay_out, run_spans
from estimator.plan.by_week import _crew_work, look_ahead
from estimator.plan.crews import CHANGE_OUT, TINY, CrewState, Roster, ShiftTally, StoppedError
from estimator.plan.hours_by_run import HoursByRun
from estimator.plan.hydrotest import CrewClock, _ready_dates, _work_days, pipe_volume_l
from estimator.plan.paid_shifts import PaidHours, Payroll, labor_hours_of, people_at, people_between
from estimator.plan.planner import Planner, only_ties_in
from estimator.plan.tasks import (
    LEFT,
    NEW,
    OUTSIDE_TIE_INS,
    REST,
    STRING_TIE_INS,
    STRINGS,
    WAIT,
    Batch,
    Task,
    TaskQueue,
)
from estimator.plan.units import units_of
from estimator.steps.recorder import Recorder
from estimator.working_time.clock import elapsed_s
from estimator.working_time.working_days import WorkingCalendar
from tests.jobs import job, machine, money, run

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
    crew = CrewState(1, roster, roster.first_on(MONDAY), {"R1": "R1"})
    crew.minutes_left = minutes_left
    return crew


def test_work_is_held_by_no_shift_before_the_one_from_which_on_it_is_asked_for():
    """Ten hours by day and eight by night: ten minutes into Monday, but from its night on."""
    roster = Roster.of(job(night_hours=8.0), 1)
    day = roster.first_on(MONDAY)
    night = roster.after(day)
    moment = day.start + 10.0
    assert [roster.holding(moment, shift).name for shift in (day, night)] == ["day", "night"]
    assert not roster.leaves_between(day, night)
    assert [roster.shift(MONDAY, one.name) for one in (day, night)] == [day, night]


def test_a_month_without_a_row_of_weather_loses_no_day():
    calendar = WorkingCalendar.of(job().model_copy(update={"weather": ()}))
    assert {calendar.kind(MONDAY + n * DAY) for n in range(5)} == {"work"}


def test_weather_takes_the_days_of_its_own_month():
    """All of March and none of April."""
    made = job()
    weather = tuple(row.model_copy(update={"lost_share": float(row.month == "Mar")})
                    for row in made.weather)  # fmt: skip
    calendar = WorkingCalendar.of(made.model_copy(update={"weather": weather}))
    kinds = [calendar.kind(date) for date in (MONDAY, dt.date(2027, 3, 31), dt.date(2027, 4, 1))]
    assert kinds == ["weather", "weather", "work"]


def test_half_a_day_goes_by_between_two_times_and_no_more():
    assert elapsed_s(0.0, 720.0) == 43_200.0
    with pytest.raises(ValueError, match="backwards"):
        elapsed_s(0.0, 721.0)


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
    assert crew.go_to(before) is False


def test_work_begins_in_the_shift_of_its_moment_or_the_next():
    """505 min of work from 0:00 of Monday: at its last minute, at its end, and long before."""
    crew = crew_with(505.0)
    start, tuesday = crew.shift.start, crew.roster.after(crew.shift).start
    assert crew.works_from(start + 504) == start + 504
    assert crew.works_from(start + 505) == tuesday
    assert crew.works_from(start - 1000) == start


def test_a_joint_that_ends_in_the_wrapup_takes_what_is_left_of_the_shift():
    """Joints of 20 min with 40 left: two and none left, then one of 20 with 19.5, and 0.5 over."""
    sized = SimpleNamespace(run_id="R1", machine=machine())
    crew = crew_with(40.0)
    assert crew.make(sized, Work("plain", 2, 20.0), "joints") == 0.0
    assert (crew.minutes_left, crew.tally(sized).in_wrapup_min) == (0.0, [])
    crew = crew_with(19.5)
    assert crew.make(sized, Work("plain", 1, 20.0), "joints") == 0.5
    assert (crew.minutes_left, crew.tally(sized).in_wrapup_min) == (0.0, [0.5])


def test_a_crew_that_goes_on_tuesday_leaves_before_wednesday_and_not_before_now():
    """At the end of Tuesday's shift no more time passes until now."""
    goes = CrewDates(crew=1, from_date=MONDAY, to_date=MONDAY + DAY)
    roster = Roster.of(job().model_copy(update={"crew_dates": (goes,)}), 1)
    tuesday = roster.after(roster.first_on(MONDAY))
    crew = CrewState(1, roster, tuesday, {})
    assert not crew.leaves_before(tuesday.start + 500)
    assert crew.leaves_before(tuesday.start + 1440)
    crew.minutes_left = 0.0
    assert not crew.leaves_before(crew.now)


def test_work_of_a_shift_is_noted_by_its_kind_and_minutes():
    """Five joints at 30 min, one at 31 and a tie-in at 31, 20 min of a move, 7 in the wrap-up:
    150 + 31 + 31 + 20 - 7."""
    tally = ShiftTally("M3")
    for name, number, each_min in (("plain", 3, 30.0), ("plain", 2, 30.0), ("plain", 1, 31.0),
                                   ("tie", 1, 31.0)):  # fmt: skip
        tally.add(Work(name, number, each_min), "joints")
    tally.move("move", 20.0)
    tally.in_wrapup_min.append(7.0)
    assert tally.made == [Work("plain", 5, 30.0), Work("plain", 1, 31.0), Work("tie", 1, 31.0)]
    assert tally.counts == {"joints": 7}
    assert tally.minutes == 225.0


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


def test_a_run_begins_after_the_last_of_those_it_follows():
    queue = TaskQueue([run("A"), run("B"), run("C", after="A; B")])
    queue.finish("A", 200.0)
    queue.finish("B", 100.0)
    (begun,) = [one for one in queue.all_ready() if one.run.run_id == "C"]
    assert begun.ready_at == 200.0


def test_tie_ins_that_wait_as_long_for_their_own_rest_wait_for_that():
    """Own strings and those of A rest until minute 200; 201 of A is a wait for it."""
    for moment, word in ((200.0, REST), (201.0, "waiting on A")):
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


def test_a_run_with_strings_of_its_own_does_not_only_tie_in():
    """Two tie-ins and no more; a joint made again; a joint of a string and one made again; a
    saddle."""
    for butt_joints, rework, others, found in (
        (2, 0, 0, True), (2, 1, 0, False), (3, 1, 0, False), (2, 0, 1, False),
    ):  # fmt: skip
        counts = SimpleNamespace(outside_tie_ins=2, butt_joints=butt_joints, rework_joints=rework,
                                 other_joints=others)  # fmt: skip
        assert only_ties_in(counts) is found


def test_progress_counts_each_run_once_from_the_first_on():
    """Crew 1 leaves on Tuesday; what it has left of A is begun a second time by crew 2."""
    runs = run("A", segments_m=(600.0,), crew=None), run("B", segments_m=(120.0,), crew=2)
    made = job(*runs, crews=2, **NO_TESTS)
    leaves = CrewDates(crew=1, from_date=MONDAY, to_date=MONDAY + DAY)
    made = made.model_copy(update={"crew_dates": (leaves,)})
    sizer = Sizer(made, Places())
    seen = []
    plan = lay_out(made, sizer.size_all(), sizer.cycle_on, lambda *counts: seen.append(counts))
    assert {line.crew for line in plan.lines if line.run_id == "A"} == {1, 2}
    assert seen == [(1, 2), (2, 2), (2, 2)]


def test_who_left_too_soon_is_named_by_its_last_row():
    """Crew 1 is there from Monday to Friday, crew 2 on Tuesday and Wednesday; R1 takes longer. The
    date of the crew that is named for it, or else of the last of all to leave, is too early."""
    rows = (CrewDates(crew=1, from_date=MONDAY, to_date=MONDAY + 4 * DAY),
            CrewDates(crew=2, from_date=MONDAY + DAY, to_date=MONDAY + 2 * DAY))  # fmt: skip
    for crew, row, who in ((None, rows[0], "all crews have"),
                           (2, rows[1], "the crew that the schedule names has")):  # fmt: skip
        made = job(run(segments_m=(6000.0,), crew=crew), crews=2, **NO_TESTS)
        with pytest.raises(InputError) as refused:
            planned(made.model_copy(update={"crew_dates": rows}))
        (problem,) = refused.value.problems
        assert problem.where == row.row_name
        assert problem.message.startswith(f"Last date: {who} left before run R1")


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


def planner_of(job_):
    sizer = Sizer(job_, Places())
    return Planner(job_, sizer.size_all(), sizer.cycle_on)


def test_left_work_that_does_not_fit_what_is_left_of_a_shift_begins_in_the_next():
    """A tie-in of some 49 min does not fit in the last ten of Monday's 505. A crew that works on
    Monday anyway goes there all the same, and so does one that leaves the site after that day."""
    made = job(run("R1", tie_ins=1), **NO_TESTS)
    first, back = (CrewDates(crew=1, from_date=MONDAY + n * DAY, to_date=MONDAY + n * DAY)
                   for n in (0, 3))  # fmt: skip
    for rows, busy, waits in (((), False, True), ((), True, False), ((first,), False, False),
                              ((first, back), False, False)):  # fmt: skip
        planner = planner_of(made.model_copy(update={"crew_dates": rows}))
        (crew,), (sized,) = planner.crews, planner.sized.values()
        if busy:
            crew.tally(sized)
        late = crew.shift.start + 495.0
        found = planner._room_from(crew, sized, task(made.runs[0], crew=1), late)
        assert found == (crew.roster.after(crew.shift).start if waits else late)


def test_a_moment_after_the_crew_has_left_stays_as_it_is():
    goes = CrewDates(crew=1, from_date=MONDAY, to_date=MONDAY)
    made = job(**NO_TESTS).model_copy(update={"crew_dates": (goes,)})
    planner = planner_of(made)
    (crew,), (sized,) = planner.crews, planner.sized.values()
    later = crew.shift.start + 2 * 1440.0
    assert planner._room_from(crew, sized, task(made.runs[0], crew=1), later) == later


def test_a_crew_that_brings_its_machine_or_has_it_there_needs_no_moves():
    """The first run is that for which the machine comes; from R1 to R2 it takes 30 min."""
    planner = planner_of(job(run("R1"), run("R2"), **NO_TESTS))
    (crew,) = planner.crews
    assert planner._minutes_to(crew, planner.sized["R1"]) == 0.0
    crew.run_id, crew.machine = "R1", "M3"
    crew.od_mm = planner.sized["R1"].geometry.od_mm
    minutes = [planner._minutes_to(crew, planner.sized[name]) for name in ("R1", "R2")]
    assert minutes == [0.0, 30.0]


def test_a_crew_waits_for_its_tie_ins_as_long_as_two_changes_of_the_machine():
    """240 min each; for none that ends when it has left."""
    planner = planner_of(job(**NO_TESTS))
    resting = task(planner.job.runs[0])
    planner._resting = lambda crew: resting
    cases = ((480.0, False, resting), (480.1, False, None), (480.0, True, None))
    for idle, leaves, found in cases:
        crew = SimpleNamespace(machine="other", idle_until=lambda moment, idle=idle: idle,
                               leaves_before=lambda moment, leaves=leaves: leaves)  # fmt: skip
        assert planner._worth_a_wait(crew, task(planner.job.runs[0])) is found


def test_left_work_without_a_machine_of_its_class_is_that_of_who_left_it():
    planner = planner_of(job(crews=2, **NO_TESTS))
    for crew in planner.crews:
        crew.machine = "other"
    planner.left_by["R1"] = 1
    left = task(planner.job.runs[0])
    assert [planner._has_machine(crew, left) for crew in planner.crews] == [True, False]


@pytest.mark.parametrize(("leaves", "by"), [(True, None), (False, 1)])
def test_tie_ins_that_rest_until_a_crew_has_left_are_for_any_crew(leaves, by):
    """Two strings on Monday rest for 50 h; the crew has other work meanwhile, or leaves on
    Tuesday."""
    strings = run("R1", segments_m=(120.0,), string_length_m=60.0)
    made = job(strings, run("R2"), own_rest_min=3000.0, **NO_TESTS)
    if leaves:
        goes = CrewDates(crew=1, from_date=MONDAY, to_date=MONDAY + DAY)
        made = made.model_copy(update={"crew_dates": (goes,)})
    planner = planner_of(made)
    (crew,) = planner.crews
    planner.queue.take(next(one for one in planner.queue.all_ready() if one.run.run_id == "R1"))
    planner.jointed_at["R1"] = crew.now
    assert planner._goes_on(crew, strings, STRING_TIE_INS) is False
    (left,) = [one for one in planner.queue.all_ready() if one.run.run_id == "R1"]
    assert (left.crew, left.ready_at) == (by, crew.now + 3000.0)


def test_a_crew_leaves_for_a_rest_that_is_longer_than_the_way_to_other_work_and_back():
    """Nothing else to do, so two moves of 30 min: 60 min of rest are waited for, 61 are not. That a
    change of the machine takes but 10 min does not shorten them."""
    for swap, idle, leaves in ((240.0, 60.0, False), (240.0, 61.0, True), (10.0, 40.0, False),
                               (10.0, 60.0, False)):  # fmt: skip
        planner = planner_of(job(machine_swap_min=swap, **NO_TESTS))
        planner._task_for = lambda crew: None
        crew = SimpleNamespace(idle_until=lambda moment, idle=idle: idle, now=0.0)
        assert planner._pays_to_leave(crew, planner.sized["R1"], 0.0) is leaves


def test_the_way_to_like_pipe_and_back_needs_no_trial_fusions():
    """30 min there and 30 back between two runs of one size."""
    planner = planner_of(job(run("R1"), run("R2"), test_joint_rule="each size"))
    (crew,) = planner.crews
    planner.queue.take(next(one for one in planner.queue.all_ready() if one.run.run_id == "R1"))
    assert planner._there_and_back_min(crew, planner.sized["R1"]) == 60.0


def test_other_pipe_is_tied_to_strings_that_are_tied_together():
    """Crew 1 strings A on Monday, and ties its two strings together when they have rested for 24 h
    of Monday's last joint. R of crew 2 is short; its joint to A waits for that."""
    whole = run("A", segments_m=(204.0,), string_length_m=108.0, crew=1)
    joining = run("R", segments_m=(24.0,), joins="A", tie_ins=1, crew=2)
    _, plan = planned(job(whole, joining, crews=2, own_rest_min=1440.0, **NO_TESTS))
    tied = {line.run_id: line.date for line in plan.lines if line.tie_in_joints}
    assert tied == {"A": MONDAY + 2 * DAY, "R": MONDAY + 2 * DAY}


def test_a_trial_fusion_goes_before_the_last_stage_of_a_run_too():
    for tie_ins, has_joints in ((1, True), (0, False)):
        planner = planner_of(job(run("R1", tie_ins=tie_ins)))
        planner.stage_of["R1"] = OUTSIDE_TIE_INS
        assert planner._has_butt_joints_left(planner.sized["R1"]) is has_joints


def test_a_new_run_goes_to_the_first_crew_there_that_would_take_it_and_left_work_to_a_machine():
    """Crew 2 can be there sooner, has a machine of the class, and would take another run next."""
    planner = planner_of(job(crews=2, **NO_TESTS))
    first, second = planner.crews
    planner._there_at = lambda crew, task: (crew.now + (10.0 if crew is first else 5.0), 0.0)
    planner._has_machine, planner._takes_next = lambda *_: True, lambda *_: False
    for rank, found in ((NEW, first), (LEFT, second)):
        assert planner._nearest(first, task(run(), rank=rank)) is found
    named = task(run(), crew=1)
    assert planner._nearest(first, named) is first


def test_of_two_crews_there_at_one_moment_the_one_with_fewer_moves_takes_a_run():
    """Crew 2 is free at the moment at which crew 1 has made its moves."""
    planner = planner_of(job(crews=2, **NO_TESTS))
    first, second = planner.crews
    planner._there_at = lambda crew, task: (second.now, 30.0 if crew is first else 0.0)
    planner._takes_next = lambda *_: True
    assert planner._nearest(first, task(run(), rank=NEW)) is second


def test_a_crew_goes_on_with_saddles_when_strings_have_rested():
    """Two strings of one joint each rest from early on Monday for 100 min. The crew has gone to 20
    saddles of an hour and more: they take it into the next days, and the tie-in is after them."""
    strings = run("R1", segments_m=(48.0,), string_length_m=24.0, priority=1)
    saddles = run("R2", segments_m=(12.0,), branch_saddles=20, priority=2)
    _, plan = planned(job(strings, saddles, own_rest_min=100.0, **NO_TESTS))
    (tied,) = [line.date for line in plan.lines if line.tie_in_joints]
    days = {line.date for line in plan.lines if line.other_joints}
    assert len(days) > 1
    assert tied == max(days)


def test_when_a_crew_is_called_away_to_tie_ins():
    """Sixteen joints of 31.22 min fit in 505: who has as many left, or less, stays. Tie-ins that
    rest for 100 min more and are 30 away: it leaves in 70. At the beginning of a shift it goes to
    rested tie-ins though the way takes 500, and with 400 min left it does not."""
    planner = planner_of(job(**NO_TESTS))
    (crew,), (sized,) = planner.crews, planner.sized.values()

    def called_in(count, rests=0.0, there=0.0, left=505.0):
        crew.minutes_left = left
        planner._resting = lambda crew: task(planner.job.runs[0], ready_at=crew.now + rests)
        planner._minutes_to = lambda crew, run: there
        batch = Batch("plain", "joints", count, lambda cycle: cycle.plain)
        return planner._called_in(crew, sized, batch)

    assert [called_in(count) for count in (16, 17)] == [math.inf, 0.0]
    assert called_in(99, rests=100.0, there=30.0) == pytest.approx(70.0)
    assert called_in(99, there=500.0) == 0.0
    assert called_in(99, there=500.0, left=400.0) == math.inf
    assert called_in(99, left=sized.cycle.tie_in.cycle_min) == 0.0


def test_only_tie_ins_of_own_strings_that_rest_call_a_crew_away():
    """Not what waits for another run, what another crew strung, what is held, nor what needs
    another machine; of two, the first by rank."""
    names = "WAITS", "OTHERS", "HELD", "CLASS", "LATER", "FIRST"
    held = Hold(run="HELD", from_date=MONDAY, to_date=MONDAY, cause="permit")
    made = job(*(run(name) for name in names), crews=2, **NO_TESTS)
    planner = planner_of(made.model_copy(update={"holds": (held,)}))
    planner.left_by.update(dict.fromkeys(names, 1), OTHERS=2)
    planner.sized["CLASS"] = SimpleNamespace(machine=machine("other"))
    crew = planner.crews[0]
    crew.machine = "M3"
    tasks = [Task((LEFT, 0.0, place), run(name), OUTSIDE_TIE_INS, 0.0, 1,
                  WAIT if name == "WAITS" else REST)
             for place, name in ((0, "WAITS"), (1, "OTHERS"), (2, "HELD"), (3, "CLASS"),
                                 (5, "LATER"), (4, "FIRST"))]  # fmt: skip
    planner.queue.left_for = lambda number: iter(tasks)
    assert planner._resting(crew).run.run_id == "FIRST"
    del tasks[4:]
    assert planner._resting(crew) is None


def test_a_crew_whose_stay_ends_with_its_tie_ins_does_not_come_back():
    """Its stay ends on Monday, and the tie-ins take it to Thursday, its next one; within a stay it
    returns to the run."""
    stays = [CrewDates(crew=1, from_date=MONDAY + n * DAY, to_date=MONDAY + n * DAY)
             for n in (0, 3)]  # fmt: skip
    for rows, returns in ((tuple(stays), False), ((), True)):
        planner = planner_of(job(**NO_TESTS).model_copy(update={"crew_dates": rows}))
        (crew,), (sized,) = planner.crews, planner.sized.values()
        left = next(iter(planner.queue.all_ready()))
        planner._resting = lambda crew, left=left: left
        planner._do = lambda crew, task: crew.go_to(crew.roster.after(crew.shift))
        if returns:
            planner._tie_in_and_return(crew, sized)
            assert crew.run_id == "R1"
        else:
            with pytest.raises(StoppedError) as stopped:
                planner._tie_in_and_return(crew, sized)
            assert stopped.value.has_left
        assert crew.shift.date > MONDAY


def test_a_daily_trial_fusion_may_take_the_rest_of_a_shift():
    """It takes the minutes of a joint and 30 more; with a minute less it waits for Tuesday."""
    planner = planner_of(job(test_joint_rule="each day"))
    (crew,), (sized,) = planner.crews, planner.sized.values()
    trial = sized.cycle.plain.cycle_min + 30.0
    for short, days in ((0.0, 0), (1.0, 1)):
        crew.minutes_left = trial - short
        planner._daily_test(crew, sized)
        assert crew.shift.date == MONDAY + days * DAY
    assert crew.minutes_left == 505.0


def test_a_crew_makes_the_joints_that_end_when_it_is_called_away():
    """Joints of half an hour: called away in 60 min it makes two of five, not a third."""
    planner = planner_of(job(**NO_TESTS))
    (crew,), (sized,) = planner.crews, planner.sized.values()
    made, calls = [], iter((60.0, math.inf))
    planner.queue.has_left = lambda number: True
    planner._called_in = lambda *_: next(calls)
    planner._make = lambda crew, run, work, field, time: made.append(work.number)
    planner._work(crew, sized, [Batch("plain", "joints", 5, lambda cycle: alone(30.0))])
    assert made == [2, 3]


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


def test_hours_without_a_change_of_machine_are_those_of_the_days():
    """10 h of one run; nothing is shared out, also of a class that was brought and not used."""
    days = (CrewDay(date=MONDAY, crew=1, kind="work", heads=(2.0,), straight_hours=10.0,
                    overtime_hours=0.0, run_minutes=(("R2", 300.0),)),)  # fmt: skip
    worked = PlanLine(MONDAY, 1, "R2", "L", joints=2, minutes=300.0)
    brought = PlanLine(MONDAY, 1, "R2", "L", minutes=300.0, moves=(CHANGE_OUT,), moved_min=(300.0,))
    for line in (worked, brought):
        recorder = Recorder()
        with recorder.on():
            assert HoursByRun.crew(Plan((line,), days)).all() == {"R2": 10.0}
        assert "with_change_outs" not in {step.key for step in recorder.steps}


def test_a_change_out_before_a_run_without_work_of_its_own_is_that_of_the_class():
    """A shift of 10 h goes into bringing L to R2, and R3 alone works on it: its hours are R3's."""
    days = tuple(CrewDay(date=MONDAY + n * DAY, crew=1, kind="work", heads=(2.0,),
                         straight_hours=10.0, overtime_hours=0.0, run_minutes=((name, 300.0),))
                 for n, name in enumerate(("R2", "R3")))  # fmt: skip
    lines = (PlanLine(MONDAY, 1, "R2", "L", minutes=300.0, moves=(CHANGE_OUT,), moved_min=(300.0,)),
             PlanLine(MONDAY + DAY, 1, "R3", "L", joints=10, minutes=300.0))  # fmt: skip
    assert HoursByRun.crew(Plan(lines, days)).all() == {"R2": 0.0, "R3": 20.0}


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


LABORER = Role(
    role="Laborer",
    heads_a=2,
    heads_b=4,
    heads_c=6,
    heads_d=6,
    heads_e=6,
    wage=money(27, "h"),
    burden=0.4,
    overtime_multiple=1.5,
)


def test_people_of_a_crew_with_further_machines_between_two_bands():
    """Half way from 2 to 4 people, 3, and half a person for each further machine; at a band 2."""
    some = LABORER.model_copy(update={"further_heads": 0.5})
    assert [people_between(some, "A", "B", 0.5, n) for n in (1, 2, 3)] == [3.0, 3.5, 4.0]
    places = BandShare("A", "B", 0.5), BandShare.inside("A")
    assert [people_at(some, place, 1) for place in places] == [3.0, 2.0]


def test_a_shift_on_two_sizes_has_the_people_of_the_harder():
    """2 people on the small pipe and 6 on the large, whichever comes first."""
    made = job().model_copy(update={"crew": (LABORER,)})
    sized = {
        name: SimpleNamespace(
            timing=SimpleNamespace(cycle=SimpleNamespace(at=BandShare.inside(band)))
        )
        for name, band in (("R1", "A"), ("R2", "C"))
    }
    payroll = Payroll(made, sized)
    assert payroll._heads_of(("R1", "R2"), 1) == payroll._heads_of(("R2", "R1"), 1) == (6.0,)


def test_a_run_that_took_no_minutes_of_a_shift_has_none_of_its_hours():
    """Runs share a shift by their minutes, and alike where none took any."""
    made = job(run("A"), run("B"), **NO_TESTS)
    sizer = Sizer(made, Places())
    payroll = Payroll(made, {one.run_id: one for one in sizer.size_all()})
    crew = crew_with(0.0)
    for minutes, shares in ((300.0, (("A", 0.0), ("B", 300.0))), (0.0, (("A", 1.0), ("B", 1.0)))):
        done = {name: ShiftTally("M3") for name in "AB"}
        done["B"].move("move", minutes)
        day = payroll._crew_day(crew, (crew.shift, done), PaidHours(made.shift))
        assert day.run_minutes == shares


def test_a_crew_is_held_by_the_one_run_behind_it():
    held = Hold(run="A", from_date=MONDAY + DAY, to_date=MONDAY + DAY, cause="permit")
    made = job(run("A"), run("C")).model_copy(update={"holds": (held,)})
    roster = Roster.of(made, 1)
    monday = roster.first_on(MONDAY)
    wednesday = roster.after(roster.after(monday))
    crew = SimpleNamespace(roster=roster)
    (lost,) = Payroll(made, {})._lost_between(crew, (monday, {"A": 1}), (wednesday, {"C": 2}))
    assert (lost.date, lost.kind) == (MONDAY + DAY, "hold")


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
        (MONDAY, ("setup",), 4.0),
        (MONDAY + DAY, ("setup", "filling", "bleeding"), 10.0),
        (MONDAY + 2 * DAY, ("bleeding", "at pressure", "drain and restore"), 7.0),
    ]
    assert pressure_date == MONDAY + 2 * DAY
    none_left = CrewClock(1, 10.0, calendar, MONDAY, used_hours=7.0)
    days, pressure_date = _work_days(none_left, "S1", hours.model_copy(update={"setup": 2.0,
                                     "fill": 0.5, "bleed": 0.4}))  # fmt: skip
    assert [day.hours for day in days] == [pytest.approx(2.9), 6.0]
    assert pressure_date == MONDAY + DAY


def test_emptying_that_goes_on_the_next_day_is_not_at_pressure():
    """At pressure for 4 of ten hours on Monday; emptying takes 7: 6 and 1."""
    crew = CrewClock(1, 10.0, WorkingCalendar.of(job()), MONDAY)
    hours = HydroHours(setup=0.0, fill=0.0, bleed=0.0, raising=1.0, expansion=1.0, hold=2.0,
                       drain=7.0)  # fmt: skip
    days, pressure_date = _work_days(crew, "S1", hours)
    assert [(day.date, day.hours) for day in days] == [(MONDAY, 10.0), (MONDAY + DAY, 1.0)]
    assert pressure_date == MONDAY


def test_a_section_shows_its_thinnest_wall():
    runs = run("R1", test_section="S1", dr=11.0), run("R2", test_section="S1", dr=17.0)
    (test,) = estimate(job(*runs, **NO_TESTS)).tests
    assert test.highest_dr == 17.0


def test_pipe_of_less_than_a_meter_and_of_none_holds_its_bore():
    """Half a meter of a bore of 1 m: pi / 8 of a cubic meter."""
    assert pipe_volume_l(1000.0, 0.5) == pytest.approx(1000 * math.pi / 8)
    assert pipe_volume_l(1000.0, 0.0) == 0.0


def test_time_at_pressure_that_fills_what_is_left_of_a_shift_is_done_in_it():
    """Three hours after seven of ten; 3.01 go on the next day."""
    for hours, date in ((3.0, MONDAY), (3.01, MONDAY + DAY)):
        clock = CrewClock(1, 10.0, WorkingCalendar.of(job()), MONDAY, used_hours=7.0)
        assert clock.work(hours, in_one_go=True) == [(date, hours)]


def test_time_at_pressure_may_fill_a_shift_but_not_more():
    """1 h of raising, 4 of expansion and 5 of hold are a shift of ten; a hundredth more is not."""
    tested = run(test_section="S1")
    phases = {"hydro_raise_hours": 1.0, "hydro_expansion_hours": 4.0}
    assert estimate(job(tested, hydro_hold_hours=5.0, **phases)).tests
    with pytest.raises(InputError, match="too short for a hydrotest"):
        estimate(job(tested, hydro_hold_hours=5.01, **phases))


def test_the_section_that_is_ready_first_is_tested_first():
    """S2 is of the first run, and one crew tests both."""
    runs = run("R1", test_section="S2"), run("R2", test_section="S1", after="R1")
    tests = estimate(job(*runs, hydro_crews=1, **NO_TESTS)).tests
    assert [test.section for test in tests] == ["S2", "S1"]
    assert tests[0].start <= tests[1].ready


def test_strings_to_which_nothing_is_tied_hold_up_nothing():
    """A names B and has no tie-in. B ends a day later: A has one day of float, B none."""
    made = job(run("A", joins="B"), run("B", crew=2), crews=2)
    lines = tuple(PlanLine(MONDAY + n * DAY, n + 1, name, "M3", joints=2)
                  for n, name in enumerate("AB"))  # fmt: skip
    spans = run_spans(made, Plan(lines, ()))
    assert {name: span.float_days for name, span in spans.items()} == {"A": 1, "B": 0}


def test_a_run_that_begins_on_the_day_on_which_the_one_before_it_ends_holds_it():
    """A ends on Monday, B after it works on Monday and Tuesday: A has no float, C on Monday one."""
    made = job(run("A"), run("B", after="A"), run("C"), crews=3)
    worked = ((0, 1, "A"), (0, 2, "B"), (1, 2, "B"), (0, 3, "C"))
    lines = tuple(PlanLine(MONDAY + n * DAY, crew, name, "M3", joints=2)
                  for n, crew, name in worked)  # fmt: skip
    spans = run_spans(made, Plan(lines, ()))
    assert {name: span.float_days for name, span in spans.items()} == {"A": 0, "B": 0, "C": 1}


STRINGS_DAY, TIE_IN_DAY, WITH_REWORK = (2, 0, 0), (1, 0, 1), (1, 1, 1)
"""Joints, rework among them, and tie-ins of a line of the plan."""


@pytest.mark.parametrize(("of_a", "of_r", "days"), [
    pytest.param({0: STRINGS_DAY, 1: STRINGS_DAY},
                 {0: STRINGS_DAY, 1: TIE_IN_DAY, 2: STRINGS_DAY, 3: TIE_IN_DAY}, 0,
                 id="the first tie-in not before the strings is on their last day"),
    pytest.param({0: STRINGS_DAY, 1: STRINGS_DAY},
                 {1: TIE_IN_DAY, 2: STRINGS_DAY, 3: STRINGS_DAY}, 0,
                 id="it is the first work on its run"),
    pytest.param({0: STRINGS_DAY, 2: TIE_IN_DAY},
                 {1: TIE_IN_DAY, 2: STRINGS_DAY, 3: STRINGS_DAY}, 0,
                 id="a day of tie-ins alone adds no string"),
    pytest.param({0: STRINGS_DAY, 1: WITH_REWORK},
                 {0: TIE_IN_DAY, 1: STRINGS_DAY, 2: STRINGS_DAY, 3: TIE_IN_DAY}, 1,
                 id="a joint made again is one of a string: Wednesday is free"),
])  # fmt: skip
def test_strings_are_held_by_the_first_tie_in_to_them(of_a, of_r, days):
    """R of crew 2 is tied to A of crew 1 and ends on Thursday."""
    lines = tuple(
        PlanLine(MONDAY + n * DAY, crew, name, "M3", joints=joints, rework_joints=again,
                 tie_in_joints=tied)
        for crew, name, worked in ((1, "A", of_a), (2, "R", of_r))
        for n, (joints, again, tied) in worked.items()
    )  # fmt: skip
    spans = run_spans(job(run("A"), run("R", joins="A"), crews=2), Plan(lines, ()))
    assert (spans["A"].float_days, spans["R"].float_days) == (days, 0)


def test_joints_of_a_night_that_ends_at_midnight_are_tested_the_day_after():
    """16 h of day and 8 of night; with 30 min of rest it is the day after that."""
    made = job(run("R1"), shift_hours=16.0, night_hours=8.0, start=MONDAY)
    plan = Plan((PlanLine(MONDAY, 1, "R1", "M3", joints=2, shift="night"),), ())
    for rest_s, ready in ((None, 1), (0.0, 1), (1800.0, 2)):
        known = {"R1": SimpleNamespace(fusion=SimpleNamespace(rest_s=rest_s))}
        assert _ready_dates(made, known, plan) == {"R1": MONDAY + ready * DAY}


@pytest.mark.parametrize(("begin", "end", "most", "minutes"), [
    (100.0, 600.0, 9e9, 400.0), (600.0, 1440.0, 9e9, 0.0), (100.0, 2000.0, 400.0, 900.0),
    (100.0, 2000.0, 399.0, 400.0), (100.0, 1500.0, 9e9, 460.0),
])  # fmt: skip
def test_working_minutes_between_two_moments(begin, end, most, minutes):
    """Shifts of 500 min that begin each day: 400 of the first, 60 of the next; one more is looked
    at until they are more than some."""
    days = [SimpleNamespace(start=1440.0 * day, working_min=500.0) for day in range(9)]
    crew = object.__new__(CrewState)
    crew.shift = days[0]
    crew.roster = SimpleNamespace(holding=lambda moment, shift: days[0],
                                  after=lambda shift: days[days.index(shift) + 1])  # fmt: skip
    assert crew.works_between(begin, end, most) == minutes


def test_a_run_takes_its_minutes_share_of_the_labor_hours():
    """120 of 480 min of a shift of 40 labor-hours."""
    assert labor_hours_of(SimpleNamespace(labor_hours=40.0), 120.0, 480.0) == 10.0


@pytest.mark.parametrize(("pay", "longest"), [(NO_WAITING_PAY, 0), ("full shift", 5)])
def test_a_crew_that_is_paid_no_waiting_waits_for_no_day(pay, longest):
    made = job(waiting_pay=pay, waiting_days=5)
    assert Payroll._longest_wait.fget(SimpleNamespace(job=made)) == longest
