"""The stages of one estimate, by name; whoever asks "what if" calls them with a changed job."""

import datetime as dt
from typing import NamedTuple

from estimator.cost import cost_lines, make_bid
from estimator.equipment.fleet import equip
from estimator.joint.left import left_of
from estimator.joint.shared import Shared
from estimator.models.estimate import PricedJob
from estimator.models.hydrotest import HydroTest
from estimator.models.job import Job
from estimator.models.plan import Plan
from estimator.models.planned_job import PlannedJob, last_day
from estimator.models.sized_run import SizedRun
from estimator.plan import Progress, lay_out, plan_tests


def plan_job(
    job: Job, shared: Shared, progress: Progress | None = None, *, reasons: bool = True
) -> PlannedJob:
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
    reasons : bool
        Whether the fleet says why each class was taken; see ``equip``.

    Raises
    ------
    InputError
        With one problem for every run that cannot be estimated, and why.
    """
    laid = lay_out_job(job, shared, progress)
    return PlannedJob(
        job=job,
        runs=laid.runs,
        plan=laid.plan,
        fleet=equip(job, laid.runs, laid.plan, shared.places, reasons=reasons),
        tests=laid.tests,
    )


class LaidOut(NamedTuple):
    """When a job is made: its runs as timed, its plan, its hydrotests."""

    job: Job
    runs: tuple[SizedRun, ...]
    plan: Plan
    tests: tuple[HydroTest, ...]

    @property
    def finish(self) -> dt.date:
        """Last day of work, hydrotests included."""
        return last_day(self.plan, self.tests)


def lay_out_job(
    job: Job, shared: Shared, progress: Progress | None = None, *, paid: bool = True
) -> LaidOut:
    """Return the dates of a job without its equipment, for who asks for nothing else.

    Without ``paid`` its plan has no paid shifts. Other parameters and what is raised are those of
    ``plan_job``.
    """
    sizer, places = shared.sizer(job), shared.places
    counted = left_of(sizer.size_all(), job.done)
    plan = lay_out(job, counted, sizer.cycle_on, progress, places, paid=paid)
    runs = tuple(sizer.retime_at_start(counted, plan))
    return LaidOut(job, runs, plan, plan_tests(job, runs, plan, places))


def price_job(planned: PlannedJob) -> PricedJob:
    """Price a planned job: its cost lines, and the bid that they come to."""
    lines = cost_lines(planned)
    return planned.grown(PricedJob, cost_lines=lines, bid=make_bid(planned.job.rates, lines))


def total_of(job: Job, shared: Shared) -> PricedJob:
    """Plan and price a job of which only its days and amounts are read, not why they are so."""
    return price_job(plan_job(job, shared, reasons=False))
