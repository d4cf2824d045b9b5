"""Order of work: runs after runs, tie-ins after strings, rest before pulling."""

import datetime as dt
from collections import Counter

import pytest
from hypothesis import given
from hypothesis import strategies as st

from estimator.joint.sizing import Sizer
from estimator.models.calendar import OvertimeSpan
from estimator.models.places import Places
from estimator.plan import lay_out
from estimator.plan.planner import Planner
from tests.jobs import job, run
from tests.random_jobs import TRIAL_RULES

START = dt.date(2027, 3, 1)
LONG_HOURS = 13.0
NO_TESTS = {"test_joint_rule": "none", "rework_share": 0.0}


def planned(job_):
    sizer = Sizer(job_, Places())
    sized = sizer.size_all()
    return {s.run_id: s for s in sized}, lay_out(job_, sized, sizer.cycle_on)


def days_of(plan, run_id, kind="minutes"):
    return [line.date for line in plan.lines if line.run_id == run_id and getattr(line, kind)]


def moves_of(plan, run_id):
    return [move for line in plan.lines if line.run_id == run_id for move in line.moves]


@st.composite
def jobs_with_order(draw):
    """Runs that follow some of the runs before them and join any others, over crews and shifts."""
    n = draw(st.integers(2, 7))
    names = [f"R{i}" for i in range(n)]
    runs = []
    for i, name in enumerate(names):
        after = draw(st.lists(st.sampled_from(names[:i]), max_size=2, unique=True)) if i else []
        joins = draw(st.lists(st.sampled_from(names), max_size=2, unique=True))
        runs.append(
            run(
                name,
                segments_m=(float(draw(st.integers(1, 500))),),
                size=draw(st.sampled_from(["4", "8"])),
                placement=draw(st.sampled_from(["trench", "pullback"])),
                string_length_m=draw(st.sampled_from([None, 120.0])),
                after="; ".join(after) or None,
                joins="; ".join(joins) or None,
                tie_ins=draw(st.integers(0, 2)),
                ef_closures=draw(st.integers(0, 1)),
                priority=draw(st.sampled_from([None, 1, 2])),
                earliest_start=draw(st.sampled_from([None, START + dt.timedelta(days=15)])),
            )
        )
    draw(st.randoms()).shuffle(runs)
    long_days = OvertimeSpan(
        from_date=START + dt.timedelta(days=1),
        to_date=START + dt.timedelta(days=draw(st.integers(1, 5))),
        shift_hours=LONG_HOURS,
    )
    made = job(
        *runs,
        run("always", segments_m=(100.0,)),
        crews=draw(st.integers(1, 3)),
        machines_per_crew=draw(st.integers(1, 3)),
        relax_hours=draw(st.sampled_from([0.0, 3.0, 24.0])),
        night_hours=draw(st.sampled_from([0.0, 8.0])),
        test_joint_rule=draw(st.sampled_from(TRIAL_RULES)),
        overtime_loss=draw(st.sampled_from([0.0, 0.5])),
    )
    return made.model_copy(update={"overtime": (long_days,)})


@given(jobs_with_order())
def test_every_joint_is_made_once_in_shifts_that_are_not_too_long(job_):
    sized, plan = planned(job_)
    made = Counter()
    minutes = Counter()
    for line in plan.lines:
        made[line.run_id, "butt"] += line.joints
        made[line.run_id, "tie-in"] += line.tie_in_joints
        made[line.run_id, "other"] += line.other_joints
        minutes[line.date, line.shift, line.crew] += line.minutes
    for run_id, known in sized.items():
        assert made[run_id, "butt"] == known.counts.butt_joints
        assert made[run_id, "tie-in"] == known.counts.tie_in_joints
        assert made[run_id, "other"] == known.counts.other_joints
    long_days = job_.overtime[0]
    for (date, shift, _), worked in minutes.items():
        day = LONG_HOURS if long_days.from_date <= date <= long_days.to_date else 10.0
        hours = job_.shift.night_hours if shift == "night" else day
        assert worked <= hours * 60 - 45 - 20 - 30 + 1e-6


@given(jobs_with_order())
def test_no_run_starts_before_those_it_follows_have_their_strings(job_):
    """Dates of the plan; tie-ins that wait for a later run hold up nobody."""
    _, plan = planned(job_)
    for later in job_.runs:
        first = min(days_of(plan, later.run_id), default=None)
        for name in later.followed_runs:
            before = next(r for r in job_.runs if r.run_id == name)
            kind = "joints" if before.joins and before.tie_ins else "minutes"
            done = [
                line.date
                for line in plan.lines
                if line.run_id == name
                and getattr(line, kind) > (line.tie_in_joints if kind == "joints" else 0)
            ]
            assert first is None or all(first >= day for day in done)  # fmt: skip


@given(jobs_with_order())
def test_moments_keep_the_order(job_):
    """To the minute: the planner's own clock of each run, beside the rules."""
    sizer = Sizer(job_, Places())
    planner = Watched(job_, sizer.size_all(), sizer.cycle_on)
    planner.plan()
    for run_id, began in planner.began.items():
        followed = planner.queue_run(run_id).followed_runs
        strings = [planner.queue.strings_at[name] for name in followed]
        assert all(began >= moment - 1e-6 for moment in strings)
    for run_id, tied in planner.tied.items():
        joined = set(planner.queue_run(run_id).joined_runs) - {run_id}
        assert all(tied >= planner.queue.strings_at[name] - 1e-6 for name in joined)


class Watched(Planner):
    """The planner with a note of when each run was begun and tied in to other pipe."""

    def __init__(self, *given_):
        super().__init__(*given_)
        self.began, self.tied = {}, {}

    def queue_run(self, run_id):
        return next(r for r in self.job.runs if r.run_id == run_id)

    def _do_stage(self, crew, run, stage):
        if stage == 0:
            self.began[run.run_id] = crew.now
        if stage == 2 and run.counts.outside_tie_ins:
            self.tied[run.run_id] = crew.now
        super()._do_stage(crew, run, stage)


def test_run_waits_for_the_run_it_follows_on_another_crew():
    job_ = job(run("long", segments_m=(900.0,), crew=1), run("next", crew=2, after="long"), crews=2)
    _, plan = planned(job_)
    assert min(days_of(plan, "next")) == max(days_of(plan, "long"))
    assert moves_of(plan, "next") == ["waiting on long"]


def test_waiting_crew_is_taken_by_other_work_first():
    job_ = job(run("long", segments_m=(900.0,), crew=1), run("next", crew=2, after="long",
    priority=1),
               run("other", segments_m=(100.0,), crew=2, priority=2), crews=2)  # fmt: skip
    _, plan = planned(job_)
    assert max(days_of(plan, "other")) < min(days_of(plan, "next"))


def test_run_waits_for_several_runs():
    job_ = job(run("last", after="a; b", priority=1), run("a", priority=3), run("b", priority=2))
    _, plan = planned(job_)
    assert list(dict.fromkeys(line.run_id for line in plan.lines)) == ["b", "a", "last"]


def test_tie_ins_come_later_with_a_move_when_the_joined_run_is_there():
    job_ = job(run("a", joins="b", tie_ins=1, priority=1), run("b", priority=2), run("c"), **NO_TESTS)  # noqa: E501  # fmt: skip
    _, plan = planned(job_)
    (tie_in_day,) = days_of(plan, "a", "tie_in_joints")
    assert tie_in_day >= max(days_of(plan, "b"))
    assert tie_in_day <= min(days_of(plan, "c"))
    assert moves_of(plan, "a") == ["move"]


def test_circle_of_joins_does_not_lock():
    job_ = job(run("a", joins="b", tie_ins=1), run("b", joins="a", tie_ins=1))
    sized, plan = planned(job_)
    made = sum(line.joints for line in plan.lines)
    assert made == sum(s.counts.butt_joints for s in sized.values())
    assert max(days_of(plan, "b", "tie_in_joints")) >= max(days_of(plan, "a", "joints")[:1])


def test_run_follows_a_run_whose_tie_ins_wait_for_it():
    """B follows A, whose tie-in is to B: B starts when the strings of A are there."""
    job_ = job(run("a", joins="b", tie_ins=1), run("b", after="a"))
    _, plan = planned(job_)
    assert days_of(plan, "a", "tie_in_joints") >= [max(days_of(plan, "b"))]


@pytest.mark.parametrize("after", [("b", "a"), ("a", None)])
def test_circle_that_no_reader_refused_is_an_error(after):
    job_ = job(run("a", after=after[0]), run("b", after=after[1]))
    with pytest.raises(ValueError, match="wait for each other: a"):
        planned(job_)


def test_unknown_run_is_an_error():
    with pytest.raises(ValueError, match="Run R1 starts after runs that do not exist: X"):
        planned(job(run(after="X")))


def test_strings_rest_before_they_are_tied_in():
    """ASTM F2620: 30 min before pulling. Two strings of 60 m, four joints each: by hand the day
    holds eight joints, 30 min of rest and one tie-in."""
    job_ = job(run(segments_m=(120.0,), string_length_m=60.0, dr=17.0), **NO_TESTS)
    sized, plan = planned(job_)
    times, count = sized["R1"].cycle, sized["R1"].counts
    assert (count.plain_joints, count.tie_in_joints) == (8, 1)
    whole = 8 * times.plain.cycle_min + 30 + times.tie_in.cycle_min
    assert whole < job_.shift.working_min
    (line,) = plan.lines
    assert line.moves == ("cooling rest",)
    assert line.minutes == pytest.approx(whole)


def test_rest_falls_away_over_night():
    """The last string joint of the day rests until the morning without any idle minutes."""
    sized, _ = planned(job(run(segments_m=(12.0 * 200,)), **NO_TESTS))
    a_day = sized["R1"].cycle.joints_per_shift
    left = job().shift.working_min - a_day * sized["R1"].cycle.plain.cycle_min
    assert left < 30
    strings = run(segments_m=(12.0 * (a_day + 1) / 2,) * 2, tie_ins=1)
    _, plan = planned(
        job(strings.model_copy(update={"segments_m": (12.0 * (a_day + 1),)}), **NO_TESTS)
    )
    assert [line.moves for line in plan.lines] == [(), ()]
    assert [line.tie_in_joints for line in plan.lines] == [0, 1]


def test_saddles_and_bolt_ups_fill_the_rest():
    """A saddle of 60 min / 0.83 is longer than the 30 min of rest."""
    job_ = job(run(segments_m=(60.0,), tie_ins=1, branch_saddles=1), **NO_TESTS)
    _, plan = planned(job_)
    assert moves_of(plan, "R1") == []


def test_pulled_string_relaxes_while_the_crew_does_other_work():
    pulled = run("pull", placement="pullback", segments_m=(60.0,), tie_ins=1, priority=1)
    job_ = job(pulled, run("other", segments_m=(900.0,)), relax_hours=24.0, **NO_TESTS)
    _, plan = planned(job_)
    assert days_of(plan, "pull", "tie_in_joints")[0] > START
    assert moves_of(plan, "pull") == ["move"]
    assert days_of(plan, "other")[0] == START


def test_string_in_the_open_trench_does_not_relax():
    laid = run("laid", placement="trench", segments_m=(60.0,), tie_ins=1)
    _, plan = planned(job(laid, relax_hours=24.0, **NO_TESTS))
    assert days_of(plan, "laid", "tie_in_joints") == [START]


def test_crew_with_nothing_else_waits_for_the_relaxed_string():
    """Joined by minute m of the first day, 30 min of rest and 24 h: minute m + 30 of the next."""
    pulled = run(placement="pullback", segments_m=(60.0,), tie_ins=1)
    job_ = job(pulled, relax_hours=24.0, **NO_TESTS)
    sized, plan = planned(job_)
    times = sized["R1"].cycle
    assert [line.date for line in plan.lines] == [START, START + dt.timedelta(days=1)]
    assert plan.lines[1].moves == ("cooling rest",)
    joined = sized["R1"].counts.plain_joints * times.plain.cycle_min
    assert plan.lines[1].minutes == pytest.approx(joined + 30 + times.tie_in.cycle_min)
