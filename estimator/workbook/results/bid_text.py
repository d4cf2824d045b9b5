"""What the Bid sheet says in words: scope, assumptions, exclusions and cautions."""

import csv
from collections.abc import Iterator
from importlib import resources

from estimator.display import convert, show, unit_of
from estimator.models.estimate import Estimate
from estimator.models.job import Job
from estimator.workbook.results.builder import Context

MOST_SIZES = 6
EXCLUSIONS = (
    "Supply of pipe and fittings, except where the scope names them",
    "Trenching, bedding, backfill, dewatering, traffic control and reinstatement",
    "Permits, survey, engineering and third-party inspection",
    "Shelters, tents and heating for cold, wet or windy weather",
    "Extra-hour charges and damage waiver on rented equipment",
    "Standby by order of others and work outside the shift stated",
)
NOT_TESTED = "Hydrostatic testing, disinfection and disposal of test water"
NOT_ALL_TESTED = "Hydrostatic testing of runs without a test section; disinfection of any"


def exclusions(estimate: Estimate) -> tuple[str, ...]:
    """Return what the price leaves out; hydrotests only where none are planned."""
    tests = NOT_ALL_TESTED if estimate.tests else NOT_TESTED
    return (*EXCLUSIONS[:2], tests, *EXCLUSIONS[2:])


def scope(context: Context) -> tuple[str, ...]:
    """Return what the price covers, in sentences."""
    estimate, system = context.estimate, context.system
    runs, sizes = estimate.job.runs, estimate.by_run.sizes
    unit = unit_of("length", system)
    length = convert(sum(run.length_m for run in runs), "length", system)
    labels = [size.label for size in sizes]
    named = ", ".join(labels[:MOST_SIZES])
    more = f" and {len(labels) - MOST_SIZES} more" if len(labels) > MOST_SIZES else ""
    return (
        f"Butt fusion of {length:,.0f} {unit} of polyethylene pipe in "
        f"{_counted(len(runs), 'run')}: {named}{more}",
        f"{_counted(estimate.butt_joints, 'butt joint')}{_others(estimate)}; "
        "labour, fusion machines, power, lifting gear and consumables",
        _pipe_supply(estimate),
    )


def _counted(number: int, what: str) -> str:
    return f"{number:,} {what}{'s' * (number != 1)}"


def _others(estimate: Estimate) -> str:
    counts = [run.count for run in estimate.runs]
    found = (
        ("electrofusion closure", sum(count.ef_closures for count in counts)),
        ("bolt-up", sum(count.bolt_ups for count in counts)),
        ("branch saddle", sum(count.saddles for count in counts)),
    )
    told = [_counted(number, what) for what, number in found if number]
    return "".join(f", {text}" for text in told)


def _pipe_supply(estimate: Estimate) -> str:
    priced = [run.run_id for run in estimate.job.runs if run.pipe_price and run.pipe_price.amount]
    if not priced:
        return "Pipe and fittings are supplied by others"
    if len(priced) == len(estimate.job.runs):
        return "Pipe is supplied for all runs; fittings by others"
    runs = _counted(len(priced), "run")
    return f"Pipe is supplied for {runs}; all other pipe and fittings by others"


def assumptions(context: Context) -> tuple[str, ...]:
    """Return what the price rests on, in sentences."""
    estimate = context.estimate
    facts = estimate.job.facts
    crews = "One crew" if facts.crews == 1 else f"{facts.crews} crews"
    machines = f"{facts.machines_per_crew} machine" + "s" * (facts.machines_per_crew > 1)
    plan = estimate.plan
    return (
        f"Fusion method {facts.method}, {_ambient(context)}; fusion figures and their confidence "
        "are listed on the Checks sheet",
        f"{facts.workdays}, shift of {facts.shift_hours:g} paid hours, {facts.working_min:.0f} min "
        f"of it for joints; efficiency {facts.efficiency:.0%} on crew-paced time",
        *_other_shifts(estimate.job),
        f"{crews} with {machines} each; {_work_span(estimate)}",
        f"Fittings {facts.fitting_rule}; test joints: {facts.test_joint_rule}; "
        f"{facts.rework_share:.1%} of butt joints remade",
        f"Weather takes {sum(d.kind == 'weather' for d in plan.crew_days)} crew-days of the plan; "
        f"{facts.weather_paid_hours:g} h are paid on each",
        "Rental is billed on calendar days from delivery to return, in the cheapest mix of days, "
        "weeks and four-weeks",
    )


def _other_shifts(job: Job) -> Iterator[str]:
    """Yield what is assumed of overtime dates and a night shift, nothing where there are none."""
    facts = job.facts
    if job.overtime:
        dates = "; ".join(
            f"{row.from_date:%d %b %Y} to {row.to_date:%d %b %Y} {row.shift_hours:g} h"
            for row in job.overtime
        )
        yield f"Other paid shifts: {dates}"
    other_hours = [row.shift_hours for row in job.overtime]
    longest = max(facts.shift_hours, facts.night_hours, *other_hours)
    if facts.overtime_loss and longest > facts.straight_hours:
        yield f"{facts.overtime_loss:.0%} of the crew's pace is lost beyond straight time"
    if facts.night_hours:
        yield (
            f"Night shift of {facts.night_hours:g} paid hours with the same machines; crew-paced "
            f"time {facts.night_slowing:.0%} longer, wage {facts.night_premium:.0%} higher, rental "
            f"of gear that works both shifts x {facts.night_rental:g}"
        )


def _ambient(context: Context) -> str:
    job, system = context.estimate.job, context.system
    usual = f"ambient {show(job.facts.ambient, 'temperature', system)}"
    monthly = [row.ambient for row in job.weather if row.ambient is not None]
    if not monthly:
        return usual
    low, high = (show(limit(monthly), "temperature", system) for limit in (min, max))
    return f"ambient by month from {low} to {high}"


def _work_span(estimate: Estimate) -> str:
    plan = estimate.plan
    joined = f"{plan.start:%d %b %Y} to {plan.finish:%d %b %Y}, {plan.work_days} days worked"
    if not estimate.tests:
        return f"work from {joined}"
    last = max(test.finish for test in estimate.tests)
    return f"joining from {joined}; hydrotests until {last:%d %b %Y}"


def cautions() -> tuple[str, ...]:
    """Return the cautions that every output carries."""
    text = resources.files("estimator.workbook").joinpath("cautions.csv").read_text("utf-8")
    return tuple(row["text"] for row in csv.DictReader(text.splitlines()))
