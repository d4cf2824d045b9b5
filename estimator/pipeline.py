"""The estimate from end to end: read this first, then ``stages``.

Each stage is a module of its own, pure, and knows nothing of spreadsheets.
"""

from estimator.cost import price_items, share_cost
from estimator.input_errors.of_job import must_hold
from estimator.joint.shared import Shared
from estimator.models.estimate import Estimate, PricedJob
from estimator.models.job import Job
from estimator.models.job_inputs import RUN_BY_RUN
from estimator.models.places import NO_PLACES, Places
from estimator.plan import Progress, crew_hours_by_run, labor_hours_by_run
from estimator.stages import plan_job, price_job
from estimator.warnings import with_warnings


def estimate(
    job: Job,
    places: Places = NO_PLACES,
    progress: Progress | None = None,
    shared: Shared | None = None,
) -> Estimate:
    """Estimate a job: size, count, fuse, time, equip, plan and price it.

    Where the job asks for it, machine classes and crews are chosen over the whole job.

    Parameters
    ----------
    job : Job
        The job, in SI.
    places : Places, optional
        Where each input stands in the workbook, so that messages name the cell.
    progress : callable, optional
        Called with (runs planned, all runs).
    shared : Shared, optional
        What the plans of one study have in common; it has its own places.

    Returns
    -------
    Estimate
        Every stage's result, with warnings.

    Raises
    ------
    InputError
        With every rule that the job breaks, or else with one problem for every run that cannot be
        estimated, and why.
    """
    shared = shared or Shared(places)
    return complete(price(job, shared, progress), shared)


def price(
    job: Job, shared: Shared, progress: Progress | None = None, *, reasons: bool = True
) -> PricedJob:
    """Plan and price a job that keeps every rule, with the classes and crews that it asks for.

    Where they are chosen over the job, the choice reads the reasons of its first plan.

    Raises
    ------
    InputError
        With every rule that the job breaks.
    """
    must_hold(job, shared.places, shared.sound)
    as_asked = job.equipment.fleet_choice == RUN_BY_RUN
    priced = price_job(plan_job(job, shared, progress, reasons=reasons or not as_asked))
    if as_asked:
        return priced
    from estimator.optimize import cheapest

    return cheapest(priced, shared)


def complete(priced: PricedJob, shared: Shared) -> Estimate:
    """Share cost and price out over runs and bid items, and review the whole."""
    labor_hours = labor_hours_by_run(priced.plan)
    by_run = share_cost(priced, labor_hours)
    found = priced.grown(
        Estimate,
        labor_hours=labor_hours,
        crew_hours=crew_hours_by_run(priced.plan),
        by_run=by_run,
        items=price_items(priced, by_run),
        method_notes=shared.sizer(priced.job).notes(priced.plan),
    )
    return with_warnings(found, shared.places)
