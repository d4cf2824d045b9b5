"""Where crews share runs: whether a joint more would let them share the runs at less cost."""

from collections.abc import Mapping, Sequence, Set
from typing import NamedTuple

from estimator.display import RUNS_TO_MOVE, money_text, name_runs
from estimator.equipment.fleet import equip
from estimator.errors import EstimatorError, Problem
from estimator.joint.left import left_of
from estimator.joint.shared import Shared
from estimator.models.estimate import Estimate
from estimator.models.job import Job
from estimator.models.plan import Plan
from estimator.models.planned_job import PlannedJob
from estimator.models.sized_run import SizedRun
from estimator.plan import lay_out, plan_tests
from estimator.stages import price_job, total_of

MOST_RUN_PLANS = 4000
"""Runs times plans up to which this is asked."""
TELLING = 0.001
"""Share of the price below which a difference is not named."""

CrewOf = Mapping[str, int]


class Fall(NamedTuple):
    """A run, how much less the job costs with a joint more in it, and the plan that it then has."""

    run_id: str
    by: float
    plan: Plan


def cheaper_with_a_joint_more(estimate: Estimate, shared: Shared) -> Sequence[Problem]:
    """Return the run in which a joint more lowers the price most, none where that is nowhere.

    A crew that is free takes the next run, so that a joint more may give a run to another crew,
    which may change its machine less often. That plan is to be had without the joint: the crews
    of it can be entered in the pipe schedule.

    Parameters
    ----------
    estimate : Estimate
        The job as it stands.
    shared : Shared
        What the plans of one study have in common.
    """
    job = estimate.job
    free = [run for run in job.runs if run.crew is None]
    asked = len(free) * len(job.runs)
    if job.resources.crews == 1 or len(free) == 1 or asked > MOST_RUN_PLANS:
        return ()
    try:
        falls = [_fall(estimate, shared, run.run_id) for run in free]
    except EstimatorError:
        return ()
    worst = max(falls, key=lambda fall: fall.by, default=None)
    if worst is None or worst.by < TELLING * float(estimate.bid.price):
        return ()
    return (_named(estimate, shared, worst),)


def _fall(estimate: Estimate, shared: Shared, run_id: str) -> Fall:
    job = estimate.job
    sizer = shared.sizer(job)
    counted = [
        with_a_joint_more(run) if run.run_id == run_id and run.counts.plain_joints else run
        for run in left_of(sizer.size_all(), job.done)
    ]
    plan = lay_out(job, counted, sizer.cycle_on, None, shared.places)
    if shares_of(plan) == shares_of(estimate.plan):
        return Fall(run_id, 0.0, plan)
    runs = tuple(sizer.retime_at_start(counted, plan))
    priced = price_job(
        PlannedJob(
            job=job,
            runs=runs,
            plan=plan,
            fleet=equip(job, runs, plan, shared.places, reasons=False),
            tests=plan_tests(job, runs, plan, shared.places),
        )
    )
    return Fall(run_id, float(estimate.bid.price - priced.bid.price), plan)


def with_a_joint_more(run: SizedRun) -> SizedRun:
    """Return a run with one more joint between two sticks, in its last segment."""
    counts = run.counts
    *others, last = counts.by_segment
    more = counts._replace(
        by_segment=(*others, last._replace(plain=last.plain + 1)),
        stick_joints=counts.stick_joints + 1,
        butt_joints=counts.butt_joints + 1,
    )
    return run._replace(counts=more)


def shares_of(plan: Plan) -> Set[tuple[str, int]]:
    """Return which crews work on which runs; on the segments of one there may be several."""
    return {(line.run_id, line.crew) for line in plan.lines}


def crews_of(plan: Plan) -> CrewOf:
    """Return by run the crew that begins it."""
    found: dict[str, int] = {}
    for line in plan.lines:
        found.setdefault(line.run_id, line.crew)
    return found


def _named(estimate: Estimate, shared: Shared, fall: Fall) -> Problem:
    then, now = shares_of(fall.plan), shares_of(estimate.plan)
    moved = sorted(then - now)
    crews = "; ".join(
        f"crew {crew}: {name_runs([run for run, of in moved if of == crew], RUNS_TO_MOVE)}"
        for crew in sorted({crew for _, crew in moved})
    )
    moves = f" ({crews})" if crews else ""
    saved = _saved(estimate, shared, crews_of(fall.plan))
    currency = estimate.job.cover.currency
    way_out = (
        f"With all runs so, entered under Crew, this job costs {money_text(currency, saved)} less"
        if saved > 0
        else "Try these under Crew"
    )
    return Problem(
        shared.places.where("schedule", fall.run_id, "segments_m"),
        f"One more joint in run {fall.run_id} would lower the price by "
        f"{money_text(currency, fall.by)}, because the crews would share the runs otherwise{moves}"
        f". {way_out}",
    )


def _saved(estimate: Estimate, shared: Shared, crew_of: CrewOf) -> float:
    """Return what the job saves if each run is given to the crew that a plan gives it to."""
    try:
        priced = total_of(with_crews(estimate.job, crew_of), shared)
    except EstimatorError:
        return 0.0
    return float(estimate.bid.price - priced.bid.price)


def with_crews(job: Job, crew_of: CrewOf) -> Job:
    """Return a job whose runs are given to crews."""
    runs = tuple(
        run.model_copy(update={"crew": crew_of.get(run.run_id, run.crew)}) for run in job.runs
    )
    return job.model_copy(update={"runs": runs})
