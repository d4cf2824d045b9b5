"""Machine classes and crews over the whole job: solved, estimated, kept only where it pays."""

import math
from collections.abc import Iterator, Sequence
from dataclasses import replace

from estimator.display import counted, money_text, show_date
from estimator.errors import EstimatorError
from estimator.joint.shared import Shared
from estimator.models.estimate import PricedJob
from estimator.models.fleet_outcome import AS_LISTED, Candidate, FleetOutcome
from estimator.models.job import Job, Run, by_name
from estimator.models.job_inputs import CoverInputs
from estimator.optimize.from_estimate import fleet_problem
from estimator.optimize.problem import Assignment, FleetProblem
from estimator.stages import plan_job, price_job
from estimator.warnings import stock_exceeded

HOW = (
    "The model uses whole shifts and average calendar days. Each job cost is from a full "
    "estimate; the cheapest is kept."
)

CLASSES = "least total cost, classes only"
CLASSES_AND_CREWS = "least total cost, classes and crews"
NOTHING = "no assignment that fits the stock was found"
ENOUGH_GAP = 0.001

Tried = tuple[Candidate, PricedJob | None]


def cheapest(priced: PricedJob, shared: Shared) -> PricedJob:
    """Return the cheapest of the job priced run by run and those of the choice over the job.

    Parameters
    ----------
    priced : PricedJob
        The job with each run's class chosen by itself.
    shared : Shared
        What the plans of the study have in common.

    Returns
    -------
    PricedJob
        With its ``fleet_outcome``. A plan that holds more machines than are in stock is kept
        only if no other is left; of equally dear ones the first, run by run, is kept.
    """
    from estimator.optimize.solver import solve

    problem = fleet_problem(priced)
    solution = solve(problem, gap=ENOUGH_GAP)
    outcome = FleetOutcome(
        asked=priced.job,
        kept=AS_LISTED,
        candidates=(),
        items=len(problem.items),
        runs=sum(len(item.run_ids) for item in problem.items),
        note=NOTHING,
    )
    tried: dict[str, Tried] = {}
    tried[AS_LISTED] = (_candidate(AS_LISTED, priced, shared), priced)
    if solution is not None:
        outcome = replace(
            outcome,
            model_cost=solution.cost,
            bound=solution.bound,
            finished=solution.finished,
            note="",
        )
        for name, job in assigned_jobs(priced.job, problem, solution.assignment):
            tried[name] = _tried(name, job, shared)
    return _kept(outcome, tried)


def _kept(outcome: FleetOutcome, tried: dict[str, Tried]) -> PricedJob:
    def order(name: str) -> tuple[bool, float]:
        candidate = tried[name][0]
        cost = math.inf if candidate.job_cost is None else float(candidate.job_cost)
        return candidate.short_of_stock, cost

    made = {name: priced for name, (_, priced) in tried.items() if priced is not None}
    best = min(made, key=order)
    candidates = tuple(candidate for candidate, _ in tried.values())
    return replace(made[best], fleet_outcome=replace(outcome, kept=best, candidates=candidates))


def _tried(name: str, job: Job, shared: Shared) -> Tried:
    try:
        priced = price_job(plan_job(job, shared))
    except EstimatorError as error:
        return Candidate(name, why_not=str(error).splitlines()[0]), None
    return _candidate(name, priced, shared), priced


def _candidate(name: str, priced: PricedJob, shared: Shared) -> Candidate:
    short = any(stock_exceeded(priced, shared.places))
    return Candidate(name, priced.bid.job_cost, priced.finish, short)


def assigned_jobs(
    job: Job, problem: FleetProblem, assignment: Assignment
) -> Iterator[tuple[str, Job]]:
    """Yield the job with the classes of an assignment, then with its crews and order too.

    In the second, runs of equal priority are put in order by class and then by size, so that a
    crew changes seldom. A crew that the schedule names stays.
    """
    classes, crews = {}, {}
    for item, (class_id, crew) in zip(problem.items, assignment, strict=True):
        classes.update(dict.fromkeys(item.run_ids, class_id))
        crews.update(dict.fromkeys(item.run_ids, crew))
    runs = [run.model_copy(update={"fleet_class": classes.get(run.run_id)}) for run in job.runs]
    yield CLASSES, job.model_copy(update={"runs": tuple(runs)})
    places = {run.run_id: place for place, run in enumerate(in_order(runs), 1)}
    placed = tuple(
        run.model_copy(
            update={"crew": crews.get(run.run_id, run.crew), "priority": places[run.run_id]}
        )
        for run in runs
    )
    yield CLASSES_AND_CREWS, job.model_copy(update={"runs": placed})


def in_order(runs: Sequence[Run]) -> list[Run]:
    """Return the runs by priority, then by class and by size, each by its first appearance."""
    first_of: dict[object, int] = {}
    named = sorted(runs, key=by_name)
    for place, run in enumerate(named):
        first_of.setdefault(run.fleet_class, place)
        first_of.setdefault((run.fleet_class, run.od_system, run.size), place)
    return sorted(
        named,
        key=lambda run: (
            run.priority or math.inf,
            first_of[run.fleet_class],
            first_of[run.fleet_class, run.od_system, run.size],
        ),
    )


def sentences(outcome: FleetOutcome, cover: CoverInputs) -> Iterator[str]:
    """Yield what was kept and saved, what the model says, and each estimate that was tried."""
    saving, currency = outcome.saving, cover.currency
    word = "saves" if saving >= 0 else "costs"
    more = "" if saving >= 0 else " more but stays within stock"
    yield (
        f"Kept: {outcome.kept}. It {word} {money_text(currency, abs(saving), 2)}{more} "
        "compared with run by run"
    )
    yield _model_text(outcome, currency)
    yield from (_candidate_text(one, cover) for one in outcome.candidates)
    yield HOW


def _model_text(outcome: FleetOutcome, currency: str) -> str:
    if outcome.model_cost is None or outcome.bound is None or outcome.gap is None:
        return f"Model: {outcome.note}"
    how = "solved" if outcome.finished else "best found before the search ended"
    alone = "" if outcome.items == outcome.runs else f" in {outcome.items} groups"
    return (
        f"Model of {counted(outcome.runs, 'run')}{alone}: cost "
        f"{money_text(currency, outcome.model_cost)}, "
        f"lower bound {money_text(currency, outcome.bound)}, gap {outcome.gap:.2%}; {how}"
    )


def _candidate_text(one: Candidate, cover: CoverInputs) -> str:
    if one.job_cost is None or one.finish is None:
        return f"Full estimate, {one.name}: not possible: {one.why_not}"
    stock = "; needs more than is in stock" if one.short_of_stock else ""
    return (
        f"Full estimate, {one.name}: job cost "
        f"{money_text(cover.currency, one.job_cost, 2)}, finish "
        f"{show_date(one.finish, cover.unit_system)}{stock}"
    )
