"""What each own assumption that is still at its default moves the price by, one at a time."""

from collections.abc import Callable
from dataclasses import replace
from decimal import Decimal

from estimator.display import counted
from estimator.equipment.fleet import equip
from estimator.errors import EstimatorError, InputError
from estimator.joint.shared import Shared
from estimator.models.assumptions import Assumption, AssumptionTable, NoAssumptions
from estimator.models.estimate import Estimate
from estimator.models.job import Job
from estimator.models.job_inputs import RUN_BY_RUN
from estimator.models.planned_job import PlannedJob
from estimator.plan import Progress, paid_again, plan_tests
from estimator.stages import price_job, total_of
from estimator.whatif.default_inputs import Held, at_defaults

MOST_RUN_PLANS = 4000
"""Runs times plans up to which assumptions are weighed without being asked for."""


def weigh(
    estimate: Estimate, shared: Shared, progress: Progress | None = None
) -> AssumptionTable | NoAssumptions:
    """Return the weights of the assumptions of a job, or for a large one why not."""
    plans = sum(one.reach == "plan" for one in at_defaults(estimate.job))
    if plans * estimate.plan.weight(len(estimate.runs)) > MOST_RUN_PLANS:
        return NoAssumptions(
            f"{plans} plans of {counted(len(estimate.runs), 'run')} take a while. Run the command: "
            "estimator basis"
        )
    return weigh_all(estimate, shared, progress)


def weigh_all(
    estimate: Estimate, shared: Shared, progress: Progress | None = None
) -> AssumptionTable:
    """Return every own assumption at its default with what it moves the bid price by.

    Each is moved alone by a stated amount: a number by 10 % of itself, a count by 1, a temperature
    by 10 F or 5 C, a choice to the next one. Machine classes and crews chosen over the whole job
    stay as they are. Where no plan rests on it, only the equipment, the hydrotests, the paid shifts
    or the prices are made anew over the same plan.

    Parameters
    ----------
    estimate : Estimate
        The job as it stands.
    shared : Shared
        What the plans of one study have in common.
    progress : callable, optional
        Called with (assumptions weighed, all assumptions).
    """
    base = _with_fixed_choice(estimate.job)
    weighed, all_held = [], list(at_defaults(estimate.job))
    for done, one in enumerate(all_held, 1):
        weighed.append(_weighed(one, estimate, base, shared))
        if progress is not None:
            progress(done, len(all_held))
    weighed.sort(key=lambda one: -abs(one.change or Decimal(0)))
    return AssumptionTable(tuple(weighed))


def _with_fixed_choice(job: Job) -> Job:
    return job.changed(fleet_choice=RUN_BY_RUN).model_copy(update={"scenarios": ()})


def _weighed(held: Held, estimate: Estimate, base: Job, shared: Shared) -> Assumption:
    """Return an assumption with the change of price of the first of its moves that can be made."""
    why_not, first = held.why_not, held.moves[0][0] if held.moves else ""
    where = shared.places.where(held.table, held.row, held.key)
    one = Assumption(
        held.table, held.row, held.key, held.name, held.value, first, held.rows, where=where
    )
    for text, change in held.moves:
        try:
            price = _price(change, held, estimate, base, shared)
        except EstimatorError as error:
            why_not = why_not or _brief(error)
            continue
        return replace(one, move=text, change=price - estimate.bid.price)
    return replace(one, why_not=why_not)


def _brief(error: EstimatorError) -> str:
    text = error.problems[0].message if isinstance(error, InputError) else str(error)
    return text.splitlines()[0]


def _price(
    change: Callable[[Job], Job], held: Held, estimate: Estimate, base: Job, shared: Shared
) -> Decimal:
    job = change(base)
    if held.reach == "plan":
        return total_of(job, shared).bid.price
    runs, plan, fleet, tests = estimate.runs, estimate.plan, estimate.fleet, estimate.tests
    if held.reach == "pay":
        plan = paid_again(job, runs, plan)
    elif held.reach == "equipment":
        fleet = equip(job, runs, plan, shared.places, reasons=False)
    elif held.reach == "tests":
        tests = plan_tests(job, runs, plan, shared.places)
    made = PlannedJob(job=job, runs=runs, plan=plan, fleet=fleet, tests=tests)
    return price_job(made).bid.price
