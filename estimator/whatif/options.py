"""What would meet the deadline or finish sooner, and at what price: a grid of whole estimates.

Crews, machines per crew and the paid shift are changed; everything else is as the job stands.
"""

import math
from collections.abc import Callable, Iterator, Sequence
from dataclasses import replace
from decimal import Decimal
from itertools import product

from estimator.display import counted, money_text, sentence, show_date
from estimator.errors import EstimatorError, InputError
from estimator.input_errors.of_job import must_hold
from estimator.joint.shared import Shared
from estimator.models.estimate import Estimate, PricedJob
from estimator.models.job import Job, Run
from estimator.models.job_inputs import RUN_BY_RUN
from estimator.models.options import NoOptions, Option, OptionTable, option_name
from estimator.models.places import NO_PLACES, Places
from estimator.stages import total_of
from estimator.whatif.scenarios import CANNOT, figures
from estimator.whatif.short_stock import passed_over, shortages, with_plenty, within_stock

NO_DEADLINE = "No deadline is set on the Job sheet."

MOST_MACHINES = 3
MOST_RUN_ESTIMATES = 5000
"""Runs times options up to which the options are worked out without being asked for."""
REASON_LETTERS = 180
LIQUIDATED_DAMAGES = "indirect.liquidated_damages"
CREW_UNPRICED = "what a crew brings is not priced"
WOULD_HAVE_WORK = "would have work"
NOT_WANTED = "Crews to try, up to is 0 on the Job sheet"

Progress = Callable[[int, int], None]
Choice = tuple[int, int, float]


def assess(
    estimate: Estimate,
    places: Places = NO_PLACES,
    progress: Progress | None = None,
    *,
    always: bool = False,
    shared: Shared | None = None,
) -> OptionTable | NoOptions:
    """Estimate the job with other crews, machines and shifts, and set them beside it.

    Parameters
    ----------
    estimate : Estimate
        The job as it stands.
    places : Places, optional
        Where the inputs stand, for the reasons why an option is impossible.
    progress : callable, optional
        Called with (options done, all options).
    always : bool
        Whether to take the time that a large job needs.
    shared : Shared, optional
        What the plans of one study have in common; it has its own places.

    Returns
    -------
    OptionTable or NoOptions
        The job as it stands is one of the options, with its own figures.
    """
    choices = all_choices(estimate.asked_job)
    if not estimate.job.options.option_crews:
        return NoOptions(NOT_WANTED)
    weight = estimate.plan.weight(len(estimate.runs))
    if not always and len(choices) * weight > MOST_RUN_ESTIMATES:
        return NoOptions(
            f"{len(choices)} options for {counted(len(estimate.runs), 'run')} take a while. "
            "Run the command: estimator options"
        )
    shared = shared or Shared(places)
    options, free = [], freed_runs(estimate)
    for done, choice in enumerate(choices, 1):
        options.append(_option(estimate, shared, choice, free))
        if progress is not None:
            progress(done, len(choices))
    base = next(option for option in options if option.is_base)
    return OptionTable(
        base=base,
        options=tuple(_ranked(options)),
        deadline=estimate.job.dates.deadline,
        days_sooner=estimate.job.options.option_days_sooner,
        currency=estimate.job.cover.currency,
        system=estimate.job.cover.unit_system,
    )


def all_choices(job: Job) -> list[Choice]:
    """Return crews, machines per crew and shift of every option, those of the job among them."""
    crews = {*range(1, job.options.option_crews + 1), job.resources.crews}
    machines = {*range(1, MOST_MACHINES + 1), job.resources.machines_per_crew}
    return list(product(sorted(crews), sorted(machines), shifts(job)))


def shifts(job: Job) -> list[float]:
    """Return the paid shifts to try: straight time, as set, and longer ones step by step."""
    step = job.options.option_overtime_step_hours
    room = max(0.0, job.options.option_longest_shift_hours - job.shift.shift_hours)
    longer = (
        job.shift.shift_hours + n * step for n in range(1, math.floor(room / step + 1e-9) + 1)
    )
    return sorted({job.shift.straight_hours, job.shift.shift_hours, *longer})


def _option(estimate: Estimate, shared: Shared, choice: Choice, free: tuple[Run, ...]) -> Option:
    resources, shift = estimate.job.resources, estimate.job.shift
    if choice == (resources.crews, resources.machines_per_crew, shift.shift_hours):
        base = _priced(estimate, choice, is_base=True)
        idle = _idle(estimate).replace(WOULD_HAVE_WORK, "at work")
        return replace(base, stock=_beyond_stock(estimate), rests_on=idle)
    job = changed_job(estimate, choice, free)
    unheld = _crews_assigned_beyond(job)
    if unheld:
        return Option(*choice, None, why_not=_brief(unheld))
    try:
        other = _with_or_beyond_stock(job, shared)
        problem = _idle(other)
        if problem:
            return Option(*choice, None, why_not=_brief(problem))
        kept, stock = _least_of_stock(other, job, shared)
    except EstimatorError as error:
        return Option(*choice, None, why_not=_brief(_first_message(error)))
    return replace(_priced(kept, choice), stock=stock, rests_on=rests_on(estimate, kept))


def rests_on(base: PricedJob, other: PricedJob) -> str:
    """Return what an option needs beyond the base job: more crews, and longer shifts."""
    texts = []
    rates, shift = other.job.rates, other.job.shift
    more = other.job.resources.crews - base.job.resources.crews
    if more > 0:
        people = max(sum(day.heads) for day in other.plan.crew_days)
        texts.append(f"needs {counted(more, 'more crew')} of {round(people, 1):g} people")
        if not rates.price("crew_mobilization") and not rates.price("crew_overhead"):
            texts.append(f"{CREW_UNPRICED} (Mobilization per crew on Rates)")
    if shift.shift_hours > max(base.job.shift.shift_hours, shift.straight_hours):
        loss = f"{shift.overtime_loss:.0%} of its pace lost" if shift.overtime_loss else "no loss"
        hours = shift.shift_hours - shift.straight_hours
        texts.append(f"assumes {hours:g} hour{'s' * (hours != 1)} of overtime a shift with {loss}")
    return "; ".join(texts)


def _least_of_stock(other: PricedJob, job: Job, shared: Shared) -> tuple[PricedJob, str]:
    """Return the cheapest way to do with the stock, and what it takes in place of first choices."""

    def again(changed: Job) -> PricedJob:
        return total_of(changed, shared)

    kept, stock = within_stock(other, job, again)
    missed = passed_over(other, job)
    if not missed:
        return kept, stock
    plenty = again(with_plenty(job))
    taken = {span.class_id for span in plenty.fleet.spans}
    missed = [class_id for class_id in missed if class_id in taken]
    if not missed:
        return kept, stock
    beyond, way = within_stock(plenty, job, again)
    if beyond.bid.job_cost < kept.bid.job_cost:
        return beyond, way
    instead = f"does without class {', '.join(missed)}, of which too few are in stock for one crew"
    return kept, "; ".join(filter(None, (instead, stock)))


def _with_or_beyond_stock(job: Job, shared: Shared) -> PricedJob:
    """Return a job priced; with plenty of every class where its stock makes it fail.

    Other classes of its runs and a larger stock break no rule that the job itself keeps. What
    fails with plenty of each is the reason then, not the stock.
    """
    must_hold(job, shared.places, shared.sound)
    try:
        return total_of(job, shared)
    except InputError:
        return total_of(with_plenty(job), shared)


def _first_message(error: EstimatorError) -> str:
    return error.problems[0].message if isinstance(error, InputError) else str(error)


def _beyond_stock(estimate: Estimate) -> str:
    """Return how many of which class the job as it stands holds beyond its stock."""
    missing = (
        f"{short.quantity} more of class {short.item.class_id}"
        for short in shortages(estimate.fleet, estimate.job)
    )
    text = ", ".join(dict.fromkeys(missing))
    return f"holds {text} than in stock, at the class's own rate" if text else ""


def freed_runs(estimate: Estimate) -> tuple[Run, ...]:
    """Return the runs with the classes of the choice over the job, but not its crews and order."""
    if estimate.fleet_outcome is None:
        return estimate.job.runs
    classes = {run.run_id: run.fleet_class for run in estimate.job.runs}
    return tuple(
        run.model_copy(update={"fleet_class": classes[run.run_id]})
        for run in estimate.asked_job.runs
    )


def changed_job(estimate: Estimate, choice: Choice, free: tuple[Run, ...]) -> Job:
    """Return the job of an estimate with other crews, machines and shift.

    Each run keeps its machine class where that is still possible, and its crew where the crews
    stay as many; ``free`` are the runs without it. The choice over the job is not made anew.
    """
    crews, machines, shift_hours = choice
    same_crews = crews == estimate.job.resources.crews
    changed = estimate.asked_job.changed(
        crews=crews,
        machines_per_crew=machines,
        shift_hours=shift_hours,
        fleet_choice=RUN_BY_RUN,
    )
    usual = estimate.job.resources.machines_per_crew, estimate.job.shift.shift_hours
    crew_dates = changed.crew_dates
    if (machines, shift_hours) != usual:
        blank = {"machines": None, "shift_hours": None}
        crew_dates = tuple(row.model_copy(update=blank) for row in crew_dates)
    runs = estimate.job.runs if same_crews else free
    return changed.model_copy(update={"runs": runs, "scenarios": (), "crew_dates": crew_dates})


def _crews_assigned_beyond(job: Job) -> str:
    """Return what names crews that an option does not have: runs first, then dates on site."""
    crews, has = job.resources.crews, f"this option has {counted(job.resources.crews, 'crew')}"
    assigned = (
        ("the Pipe schedule assigns runs to", (run.crew for run in job.runs)),
        ("the Calendar has dates of", (row.crew for row in job.crew_dates)),
    )
    for what, numbers in assigned:
        beyond = sorted({number for number in numbers if number is not None and number > crews})
        if beyond:
            named = f"crew{'s' * (len(beyond) > 1)} {', '.join(map(str, beyond))}"
            return f"{what} {named}; {has}"
    return ""


def _idle(other: PricedJob) -> str:
    at_work, crews = len({line.crew for line in other.plan.lines}), other.job.resources.crews
    return f"only {at_work} of {crews} crews {WOULD_HAVE_WORK}" if at_work < crews else ""


def _brief(text: str) -> str:
    """Return a reason without what it gives in brackets, cut at a word where it is long."""
    first = text.splitlines()[0].partition(" (")[0]
    if len(first) <= REASON_LETTERS:
        return first
    return first[:REASON_LETTERS].rpartition(" ")[0].rstrip(",;:") + " ..."


def _priced(estimate: PricedJob, choice: Choice, *, is_base: bool = False) -> Option:
    charges = [line.amount for line in estimate.cost_lines if line.key == LIQUIDATED_DAMAGES]
    return Option(
        *choice, figures(estimate), liquidated_damages=sum(charges, Decimal(0)), is_base=is_base
    )


def _ranked(options: Sequence[Option]) -> Iterator[Option]:
    """Yield the options in order, each that another one beats with the name of the best of those.

    First those that none beats, then the others, both by finish and cost, then the impossible.
    """
    done = [(one.figures, one) for one in options if one.figures is not None]
    done.sort(key=lambda pair: (pair[0].finish, pair[0].job_cost, not pair[1].is_base))
    beaten: list[Option] = []
    best: Option | None = None
    least = Decimal("Infinity")
    for its, option in done:
        if best is not None and its.job_cost >= least:
            beaten.append(replace(option, better=best.name))
            continue
        best, least = option, its.job_cost
        yield option
    yield from beaten
    yield from (one for one in options if one.figures is None)


def sentences(table: OptionTable) -> Iterator[str]:
    """Yield what the table answers: the deadline, finishing sooner, and the cheapest of all."""
    yield " ".join(_of_deadline(table))
    yield _of_sooner(table)
    cheapest = table.cheapest
    if cheapest is not None and not cheapest.is_base and cheapest != table.in_time:
        yield f"Lowest cost overall: {described(table, cheapest)}."


def remark(table: OptionTable, option: Option) -> str:
    """Return what is to be said of an option that can be done."""
    lowest = "" if option == table.cheapest else "lowest cost that "
    marks = [
        (option.is_base, "the base job"),
        (bool(option.figures and option.figures.days_late), "misses the deadline"),
        (option == table.cheapest, "lowest cost"),
        (option == table.in_time, f"{lowest}meets the deadline"),
        (option == table.earliest, "earliest finish"),
        (option == table.sooner, f"{lowest}finishes {_days(table.days_sooner)} earlier"),
        (bool(option.better), f"{option.better} finishes no later and costs no more"),
        (bool(option.stock), option.stock),
        (bool(option.rests_on), option.rests_on),
    ]
    return sentence("; ".join(mark for holds, mark in marks if holds))


def impossible(table: OptionTable) -> Iterator[tuple[str, str]]:
    """Yield the options that cannot be done with the reason, alike ones under one name."""
    shifts: dict[tuple[int, int, str], list[float]] = {}
    for one in table.options:
        if one.figures is None:
            key = one.crews, one.machines_per_crew, one.why_not
            shifts.setdefault(key, []).append(one.shift_hours)
    machines: dict[tuple[int, str, tuple[float, ...]], list[int]] = {}
    for (number, count, why), hours in shifts.items():
        machines.setdefault((number, why, tuple(hours)), []).append(count)
    crews: dict[tuple[str, tuple[float, ...], tuple[int, ...]], list[int]] = {}
    for (number, why, together), counts in machines.items():
        crews.setdefault((why, together, tuple(counts)), []).append(number)
    for (why, together, alike), numbers in crews.items():
        yield option_name(numbers, alike, together), CANNOT + sentence(why)


def described(table: OptionTable, option: Option) -> str:
    """Return an option with its finish and what it costs beside the job as it stands."""
    if option.figures is None:
        return f"{option.name}: {option.why_not}"
    more = table.more_cost_shown(option)
    word = "more" if more >= 0 else "less"
    cost = f"costs {money_text(table.currency, abs(more))} {word}" if more else "costs the same"
    if option.is_base:
        cost = "the base job"
    if CREW_UNPRICED in option.rests_on:
        cost += f" ({CREW_UNPRICED})"
    return f"{option.name}, finishes {show_date(option.figures.finish, table.system)}, {cost}"


def _of_deadline(table: OptionTable) -> Iterator[str]:
    base, deadline = table.base.figures, table.deadline
    if deadline is None or base is None:
        yield NO_DEADLINE
        return
    name = f"The deadline of {show_date(deadline, table.system)}"
    best = table.in_time
    if base.days_late:
        yield f"{name} is missed by {_days(base.days_late)}."
    else:
        spare = (deadline - base.finish).days
        yield f"{name} is met with {_days(spare)} to spare."
    if best is not None and not best.is_base:
        yield f"Lowest cost that meets it: {described(table, best)}."
    elif best is None and table.earliest is not None and table.earliest.figures is not None:
        late = _days(table.earliest.figures.days_late)
        yield f"No option meets it. Closest ({late} late): {described(table, table.earliest)}."


def _of_sooner(table: OptionTable) -> str:
    best, earliest = table.sooner, table.earliest
    if best is not None:
        return f"To finish {_days(table.days_sooner)} earlier: {described(table, best)}."
    none = f"No option finishes {_days(table.days_sooner)} earlier."
    if earliest is None or table.days_before_base(earliest) <= 0:
        return f"{none} None finishes earlier than the base job."
    sooner = _days(table.days_before_base(earliest))
    return f"{none} Closest ({sooner} earlier): {described(table, earliest)}."


def _days(count: int) -> str:
    return f"{count} calendar day{'s' * (count != 1)}"
