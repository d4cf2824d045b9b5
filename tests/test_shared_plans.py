"""Plans of random jobs whose crews share runs: all is made, and no crew stands by."""

import datetime as dt
import random

import pytest

from estimator.errors import InputError
from estimator.joint.sizing import Sizer
from estimator.models.calendar import CrewDates, Hold
from estimator.models.places import Places
from estimator.plan import lay_out
from estimator.plan.planner import Planner
from estimator.plan.tasks import TaskQueue
from estimator.working_time.on_site import Holds
from estimator.working_time.roster import Roster
from tests import jobs
from tests.each import each

START = dt.date(2027, 3, 1)
NOWHERE = Places()
CLASSES = (("S", 60.0, 130.0), ("M", 130.0, 250.0), ("L", 250.0, 1300.0))
IDLE_MIN = 360.0
"""A change of the machine, 240 min, and half of one: so long a run may wait for another crew."""


def shared_job(seed):
    """Return a job of 6 to 14 runs for 2 to 4 crews, some of which come late or leave."""
    chance = random.Random(seed)
    pick, crews = chance.choice, chance.randint(2, 4)
    each_crew = pick((1, 1, 2))
    fleet = tuple(jobs.machine(name, od_min_mm=low, od_max_mm=high, stock=each_crew)
                  for name, low, high in CLASSES)  # fmt: skip
    stays = chance.randint(1, crews)
    names = [f"R{n}" for n in range(1, chance.randint(7, 15))]
    runs = tuple(
        jobs.run(
            name, size=pick(("4", "8", "8", "12")), stick_length_m=12.0,
            segments_m=(pick((36.0, 120.0, 240.0, 480.0)),),
            string_length_m=pick((None, 120.0)), tie_ins=pick((0, 0, 1)),
            priority=pick((None, 1, 1, 2)), crew=pick((None,) * 5 + (stays,)),
            after=pick((None, None, None, f"R{n}")) if n else None,
            earliest_start=pick((None, None, None, day(chance, 15))),
        )
        for n, name in enumerate(names)
    )  # fmt: skip
    made = jobs.job(
        *runs, machines=fleet, crews=crews, start=START, shift_hours=pick((9.0, 10.0)),
        machine_swap_min=pick((60.0, 240.0)), machines_per_crew=each_crew,
        own_rest_min=pick((None, 120.0, 500.0)), test_joint_rule=pick(("none", "each size")),
        deadline=pick((None, day(chance, 60))),
    )  # fmt: skip
    return made.model_copy(update={
        "crew_dates": pick(((), tuple(some_dates(chance, crews, stays)))),
        "holds": pick(((), (), tuple(some_holds(chance, names)))),
    })  # fmt: skip


def day(chance, most):
    return START + dt.timedelta(chance.randint(0, most))


def some_dates(chance, crews, stays):
    """Yield when crews come and leave; one stays, or leaves last."""
    for crew in range(1, crews + 1):
        first = day(chance, 10)
        last = first + dt.timedelta(chance.randint(1, 15))
        if crew == stays:
            last = chance.choice((None, START + dt.timedelta(chance.randint(12, 40))))
        yield CrewDates(crew=crew, from_date=first, to_date=last)


def some_holds(chance, names):
    for _ in range(chance.randint(1, 3)):
        first = day(chance, 15)
        run = chance.choice((None, *names))
        yield Hold(run=run, from_date=first, to_date=first + dt.timedelta(3), cause="other")


def plan_of(job):
    sizer = Sizer(job, NOWHERE)
    sized = sizer.size_all()
    return sized, lay_out(job, sized, sizer.cycle_on, paid=False)


def pinned(job, crew):
    """Return the job with each run named for a crew, where the schedule names none."""
    runs = tuple(run.model_copy(update={"crew": run.crew or crew(n)})
                 for n, run in enumerate(job.runs))  # fmt: skip
    return job.model_copy(update={"runs": runs})


def pinnings(job):
    """Yield the job with its runs named for one crew, for each, and for the crews in turn."""
    crews = job.resources.crews
    for only in range(1, crews + 1):
        yield pinned(job, lambda _, only=only: only)
    yield pinned(job, lambda n: n % crews + 1)


def planned(job):
    """Return the plan of a job, None where its crews leave before all is done."""
    try:
        return plan_of(job)[1]
    except InputError:
        return None


def joints_by_run(plan):
    made = {}
    for line in plan.lines:
        made[line.run_id] = made.get(line.run_id, 0) + line.joints + line.rework_joints
    return made


@each("seed", [*range(200), 523])
def test_all_joints_are_planned_where_they_are_with_crews_named(seed):
    job = shared_job(seed)
    if planned(job) is None:
        assert [other for other in pinnings(job) if planned(other)] == []
        return
    sized, plan = plan_of(job)
    wanted = {one.run_id: one.counts.butt_joints + one.counts.rework_joints for one in sized}
    assert joints_by_run(plan).items() ^ wanted.items() == set()


@each("seed", range(200))
def test_no_crew_stands_by_for_a_shift_while_a_shared_run_may_begin(seed):
    job = shared_job(seed)
    plan = planned(job)
    if plan is None:
        return
    begun, ended = {}, {}
    for line in plan.lines:
        begun[line.run_id] = min(line.date, begun.get(line.run_id, line.date))
        ended[line.run_id] = max(line.date, ended.get(line.run_id, line.date))
    for crew in range(1, job.resources.crews + 1):
        worked = {line.date for line in plan.lines if line.crew == crew}
        for shift in shifts_of(job, crew, plan.finish):
            if shift.date in worked or shift.working_min <= IDLE_MIN:
                continue
            waiting = [run.run_id for run in job.runs
                       if run.crew is None and begun[run.run_id] > shift.date
                       and may_begin(job, run, shift.date, ended)]  # fmt: skip
            assert waiting == [], (crew, shift.date)


def shifts_of(job, crew, last):
    roster = Roster.of(job, crew)
    shift = roster.first_on(START)
    while shift.date <= last:
        yield shift
        shift = roster.after(shift)


def may_begin(job, run, date, ended):
    """Return whether a run may begin on the first minute of a date."""
    follows = all(ended[name] < date for name in run.followed_runs)
    started = run.earliest_start is None or run.earliest_start <= date
    return follows and started and Holds.of(job).on(run.run_id, date) is None


@each("seed", range(200))
def test_the_order_of_the_rows_does_not_matter(seed):
    job = shared_job(seed)
    rows = random.Random(seed).sample(job.runs, len(job.runs))
    mixed = job.model_copy(update={"runs": tuple(rows)})
    plans = [planned(one) for one in (mixed, job)]
    first, second = [plan and set(plan.lines) for plan in plans]
    assert first == second or first ^ second == set()


def test_nearly_all_of_these_jobs_can_be_planned():
    """So that those tests say something; in some jobs all crews leave early."""
    assert 0 < sum(planned(shared_job(seed)) is None for seed in range(200)) < 20


@each("seed", range(100))
def test_runs_that_all_crews_may_begin_are_chosen_as_if_looked_at_one_by_one(seed):
    job = shared_job(seed)
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(TaskQueue, "ripen", lambda queue, moment: None)
        one_by_one = planned(job)
    assert planned(job) == one_by_one


def test_runs_that_all_crews_may_begin_are_not_looked_at_one_by_one():
    names = [f"R{n}" for n in range(1, 9)]
    job = jobs.job(*map(jobs.run, names), crews=2)
    sizer = Sizer(job, NOWHERE)
    queue = Planner(job, sizer.size_all(), sizer.cycle_on).queue
    assert [task.run.run_id for task in queue.ready_for(1)] == names
    queue.ripen(0.0)
    assert [*queue.ready_for(1)] == []
    assert [task.run.run_id for task in queue.all_ready()] == names
