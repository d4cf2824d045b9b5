"""The estimate from end to end: read this first.

Each stage is a module of its own, pure, and knows nothing of spreadsheets.
"""

from dataclasses import replace

from estimator.cost import bid_items
from estimator.cost import lines as cost
from estimator.cost import markup as bid_price
from estimator.cost.by_run import Sharing, share_cost
from estimator.equipment import fleet
from estimator.joint import sizing
from estimator.models.estimate import Estimate
from estimator.models.job import Job
from estimator.models.job_inputs import RUN_BY_RUN
from estimator.models.places import Places
from estimator.models.planned_job import PlannedJob
from estimator.models.risk import NoRisk
from estimator.models.run_costs import CostByRun
from estimator.plan import hydrotest
from estimator.plan import planner as planning
from estimator.review import checks as review

NO_PLACES = Places()
NOT_SHARED = CostByRun((), (), (), ())
NO_RANGES = NoRisk(reason="no ranges on Risk inputs, or no trials on the Job sheet")


def estimate(
    job: Job,
    places: Places = NO_PLACES,
    progress: planning.Progress | None = None,
    sizer: sizing.Sizer | None = None,
    *,
    brief: bool = False,
) -> Estimate:
    """Estimate a job: size, count, fuse, time, equip, plan and price it.

    Where the job asks for it, machine classes and crews are chosen over the whole job.

    Parameters
    ----------
    job : Job
        The checked job, in SI.
    places : Places, optional
        Where each input stands in the workbook, so that messages name the cell.
    progress : callable, optional
        Called with (runs planned, runs in all).
    sizer : Sizer, optional
        Sizer of a job that differs in nothing but crews, for a job whose machines are chosen
        run by run.
    brief : bool, optional
        Plan, cost and bid only: without shares of runs, items, notes and warnings. The choice
        over the whole job always gives all.

    Returns
    -------
    Estimate
        Every stage's result, with warnings.

    Raises
    ------
    InputError
        With one problem for every run that cannot be estimated, and why.
    """
    if job.equipment.fleet_choice == RUN_BY_RUN:
        return _estimate(job, places, progress, sizer, brief=brief)
    found = _estimate(job, places, progress)
    from estimator.optimize import pick as fleet_pick

    return fleet_pick.cheapest(found, lambda changed: _estimate(changed, places), places)


def _estimate(
    job: Job,
    places: Places,
    progress: planning.Progress | None = None,
    sizer: sizing.Sizer | None = None,
    *,
    brief: bool = False,
) -> Estimate:
    """Return the estimate with the classes and crews that the runs have, chosen run by run."""
    if sizer is None:
        sizer = sizing.Sizer(job, places)
    counted = sizer.size_all()
    plan = planning.lay_out(job, counted, sizer.cycle_on, progress, places)
    sized = sizer.retime_at_start(counted, plan)
    equipment = fleet.equip(job, sized, plan, places)
    tests = hydrotest.plan_tests(job, sized, plan, places)
    lines = cost.cost_lines(PlannedJob(job, tuple(sized), plan, equipment, tests))
    bid = bid_price.make_bid(job, lines)
    if brief:
        return Estimate(
            job=job,
            runs=tuple(sized),
            plan=plan,
            fleet=equipment,
            cost_lines=lines,
            bid=bid,
            by_run=NOT_SHARED,
            items=(),
            labor_hours={},
            crew_hours={},
            method_notes={},
            tests=tests,
        )
    labor_hours = planning.labor_hours_by_run(plan)
    by_run = share_cost(Sharing(job, sized, plan, labor_hours), lines, bid)
    found = Estimate(
        job=job,
        runs=tuple(sized),
        plan=plan,
        fleet=equipment,
        cost_lines=lines,
        bid=bid,
        by_run=by_run,
        items=bid_items.bid_items(job, sized, lines, by_run, bid),
        labor_hours=labor_hours,
        crew_hours=planning.crew_hours_by_run(plan),
        method_notes=sizer.notes(plan),
        tests=tests,
    )
    return review.with_warnings(found, places)


def add_ranges(estimate: Estimate, places: Places = NO_PLACES) -> Estimate:
    """Return the estimate with the ranges of finish and price that the job's risk table gives.

    Without ranges or trials, or where a plan at the end of a range cannot be made, it says why
    instead.
    """
    if not estimate.job.risk_ranges or not estimate.job.risk.risk_trials:
        return replace(estimate, risk=NO_RANGES)
    from estimator.risk import figures as risk

    return replace(estimate, risk=risk.assess(estimate, places))
