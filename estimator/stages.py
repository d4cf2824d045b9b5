"""The stages of one estimate, by name; whoever asks "what if" calls them with a changed job."""

from estimator.cost import cost_lines, make_bid
from estimator.equipment.fleet import equip
from estimator.joint.left import left_of
from estimator.joint.shared import Shared
from estimator.models.estimate import PricedJob
from estimator.models.job import Job
from estimator.models.planned_job import PlannedJob
from estimator.plan import Progress, lay_out, plan_tests


def plan_job(job: Job, shared: Shared, progress: Progress | None = None) -> PlannedJob:
    """Size, count and time the runs, lay them out by day, equip the crews, plan the hydrotests.

    Of a job that is under way only what is not done yet.

    Parameters
    ----------
    job : Job
        The checked job, in SI.
    shared : Shared
        What plans of the same study have in common.
    progress : callable, optional
        Called with (runs planned, all runs).

    Raises
    ------
    InputError
        With one problem for every run that cannot be estimated, and why.
    """
    sizer, places = shared.sizer(job), shared.places
    counted = left_of(sizer.size_all(), job.done)
    plan = lay_out(job, counted, sizer.cycle_on, progress, places)
    runs = tuple(sizer.retime_at_start(counted, plan))
    return PlannedJob(
        job=job,
        runs=runs,
        plan=plan,
        fleet=equip(job, runs, plan, places),
        tests=plan_tests(job, runs, plan, places),
    )


def price_job(planned: PlannedJob) -> PricedJob:
    """Price a planned job: its cost lines, and the bid that they come to."""
    lines = cost_lines(planned)
    return planned.grown(PricedJob, cost_lines=lines, bid=make_bid(planned.job, lines))
