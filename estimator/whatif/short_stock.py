"""Plans that hold more than is in stock: by another class that fits, or by gear from elsewhere."""

from collections.abc import Callable, Iterator, Sequence
from dataclasses import replace
from typing import NamedTuple

from estimator.cost import DIRECT, make_bid
from estimator.display import UnitSystem, show_date
from estimator.equipment.rental_tiers import cheapest_tiers
from estimator.equipment.stock import Period, short_periods
from estimator.errors import EstimatorError
from estimator.joint.machines import holds
from estimator.models.equipment import Generator, Lifter, Machine, RentalItem
from estimator.models.estimate import CostLine, PricedJob, Quantity
from estimator.models.job import Job
from estimator.models.kinds import EQUIPMENT
from estimator.models.plan import Plan
from estimator.models.rental import Fleet, RentalSpan
from estimator.models.rental_kinds import KIND_WORDS, rental_items, spans_by_class
from estimator.models.sized_run import SizedRun
from estimator.steps.kinds import Money
from estimator.steps.recorder import step
from estimator.units import at_most
from estimator.warnings import free_classes

MOST_TRIES = 4
"""Times that runs are moved to another class before the rest comes from elsewhere."""
MOST_SAID = 2
"""Shortages up to which each is said with its days; more are said in one sentence."""

PriceAgain = Callable[[Job], PricedJob]


class Short(NamedTuple):
    """Days on which a plan holds more of a class than is in stock."""

    kind: str
    item: RentalItem
    period: Period
    spans: tuple[RentalSpan, ...]

    @property
    def quantity(self) -> int:
        """How many are missing."""
        return self.period.quantity - self.item.stock


def shortages(fleet: Fleet, job: Job) -> Iterator[Short]:
    """Yield what a plan holds beyond the stock of a job, class by class."""
    items = rental_items(job)
    for (kind, class_id), spans in spans_by_class(job, fleet.spans).items():
        item = items[kind, class_id]
        for period in short_periods(spans, item.stock):
            yield Short(kind, item, period, tuple(spans))


def within_stock(priced: PricedJob, job: Job, again: PriceAgain) -> tuple[PricedJob, str]:
    """Return the cheaper of two ways to do with the stock of a job, and what it is.

    Either runs of a machine class that is short go to the next class that fits and is free, or
    what is missing is rented from elsewhere at the multiple of the Job sheet.

    Parameters
    ----------
    priced : PricedJob
        The job with as many of each class as its crews hold.
    job : Job
        The job with its stock.
    again : callable
        Prices the job with other classes for its runs.
    """
    if not any(shortages(priced.fleet, job)):
        return priced, ""
    ways = [_from_elsewhere(priced, job), _by_next_class(priced, job, again)]
    done = [way for way in ways if way is not None]
    return min(done, key=lambda way: way[0].bid.job_cost)


def passed_over(priced: PricedJob, job: Job) -> Sequence[str]:
    """Return the classes at a lower rate that one crew cannot have only because of their stock.

    Of a machine class it is asked whether it takes the diameters, of the others whether they carry
    the need: the plan with plenty of each decides whether one of them would be taken.
    """
    items, resources = rental_items(job), job.resources
    at_once = {
        "machine": resources.machines_per_crew,
        "lifting": resources.lifters_per_crew,
        "generator": 1 if resources.shares_generator else resources.machines_per_crew,
    }
    found: dict[str, None] = {}
    for (kind, class_id), spans in spans_by_class(job, priced.fleet.spans).items():
        taken = items[kind, class_id]
        for (other_kind, name), other in items.items():
            cheaper = other.four_week_rate.amount < taken.four_week_rate.amount
            if other_kind == kind and cheaper and other.stock < at_once[kind]:
                found |= {name: None} if _could_serve(priced.runs, other, class_id, spans) else {}
    return list(found)


def _could_serve(
    runs: Sequence[SizedRun], other: RentalItem, class_id: str, spans: Sequence[RentalSpan]
) -> bool:
    """Return whether a class could do some of the work that another one does."""
    if isinstance(other, Machine):
        served = (run for run in runs if run.machine.class_id == class_id)
        return any(holds(other, run.geometry.od_mm) for run in served)
    if isinstance(other, Generator | Lifter):
        carries = other.rated_kw if isinstance(other, Generator) else other.capacity_kg
        return any(at_most(span.why.need, carries) for span in spans)
    return False


def with_plenty(job: Job) -> Job:
    """Return a job with enough of every class for all its crews at once."""
    resources = job.resources
    most = resources.crews * max(resources.machines_per_crew, resources.lifters_per_crew)
    return job.model_copy(
        update={
            table: tuple(
                item.model_copy(update={"stock": max(item.stock, most)})
                for item in getattr(job, table)
            )
            for table in ("machines", "generators", "lifting")
        }
    )


@step("Rental from elsewhere", "missing x rental of their days x (multiple - 1)")
def premium(quantity: int, rental: Money, multiple: float) -> Money:
    """Return what gear from elsewhere costs above the rental of the same class of our own."""
    return quantity * rental * (multiple - 1)


def _from_elsewhere(priced: PricedJob, job: Job) -> tuple[PricedJob, str]:
    """Return a plan whose missing gear is rented from elsewhere, dearer by the multiple."""
    lines = []
    multiple, system = job.options.outside_rental, job.cover.unit_system
    found = tuple(shortages(priced.fleet, job))
    for i, short in enumerate(found):
        period, class_id = short.period, short.item.class_id
        days = (period.last - period.first).days + 1
        rental = cheapest_tiers(days, short.item).cost
        lines.append(
            CostLine(
                key=f"equipment.elsewhere.{i}",
                section=DIRECT,
                cost_type=EQUIPMENT,
                item=f"{KIND_WORDS[short.kind]} {class_id}, from elsewhere",
                basis=rented([short], multiple, system),
                quantity=Quantity(1.0),
                unit=job.cover.currency,
                rate=premium.worked(short.quantity, rental, multiple),
            )
        )
    every = (*priced.cost_lines, *lines)
    dearer = replace(priced, cost_lines=every, bid=make_bid(priced.job.rates, every))
    return dearer, rented(found, multiple, system)


def rented(shorts: Sequence[Short], multiple: float, system: UnitSystem) -> str:
    """Return what is rented from elsewhere: each shortage with its days, many in one sentence.

    Of a class that is short more than once, the sentence says the most at once.
    """
    if len(shorts) <= MOST_SAID:
        return "; ".join(
            f"{short.quantity} more of class {short.item.class_id} rented from elsewhere at "
            f"{multiple:g} x its rate, {_days(short.period, short.period, system)}"
            for short in shorts
        )
    most: dict[str, int] = {}
    for short in shorts:
        name = short.item.class_id
        most[name] = max(most.get(name, 0), short.quantity)
    first = min((short.period for short in shorts), key=lambda period: period.first)
    last = max((short.period for short in shorts), key=lambda period: period.last)
    counts = ", ".join(f"{count} of class {name}" for name, count in most.items())
    return (
        f"rented from elsewhere at {multiple:g} x their rates, at times from "
        f"{_days(first, last, system)}: up to {counts}"
    )


def _days(first: Period, last: Period, system: UnitSystem) -> str:
    return f"{show_date(first.first, system)} to {show_date(last.last, system)}"


def _by_next_class(priced: PricedJob, job: Job, again: PriceAgain) -> tuple[PricedJob, str] | None:
    """Return the job with runs on the next class that fits, None where that does not do."""
    found, moved = priced, job
    texts: dict[str, None] = {}
    for _ in range(MOST_TRIES):
        short = next(shortages(found.fleet, job), None)
        if short is None:
            return found, "; ".join(texts)
        free = free_classes(found, short.kind, short.item, short.spans, short.period)
        if short.kind != "machine" or not free:
            return None
        taken = min(free, key=lambda item: item.four_week_rate.amount)
        runs = _runs_to_move(found.plan, short)
        moved = _with_class(moved, runs, taken.class_id)
        missing = f"{short.quantity} short of class {short.item.class_id}"
        texts[f"class {taken.class_id} in place of {missing}"] = None
        try:
            found = again(moved)
        except EstimatorError:
            return None
    return None


def _runs_to_move(plan: Plan, short: Short) -> set[str]:
    """Return the runs on a class of the crews that work least with it while it is short."""
    period = short.period
    held = [
        span
        for span in short.spans
        if span.on_rent <= period.last and span.off_rent >= period.first
    ]
    held.sort(key=lambda span: (span.work_days, -span.crew))
    runs: set[str] = set()
    missing = short.quantity
    for span in held:
        if missing <= 0:
            break
        missing -= span.quantity
        runs |= {
            line.run_id
            for line in plan.by_crew[span.crew]
            if line.machine == span.class_id and line.date in span.used
        }
    return runs


def _with_class(job: Job, run_ids: set[str], class_id: str) -> Job:
    """Return a job whose runs take a class where the schedule names none."""
    changed = {"fleet_class": class_id}
    return job.model_copy(
        update={
            "runs": tuple(
                run.model_copy(update=changed) if run.run_id in run_ids else run for run in job.runs
            )
        }
    )
