"""What the Bid sheet says in words: scope, assumptions, exclusions and cautions."""

import csv
from collections.abc import Iterator, Sequence
from importlib import resources

from estimator.display import convert, counted, show, unit_of
from estimator.models.estimate import Estimate
from estimator.models.job import Job
from estimator.models.kinds import CONNECTIONS, COUNTED_ITEMS
from estimator.models.rates import MoneyRate
from estimator.workbook.results.builder import Context

MOST_SIZES = 6
METHOD_NAMES = {
    "f2620": "ASTM F2620",
    "iso21307-slp": "ISO 21307, single low pressure",
    "iso21307-dlp": "ISO 21307, dual low pressure",
    "iso21307-shp": "ISO 21307, single high pressure",
    "dvs2207": "DVS 2207-1",
    "dvs2207-2005": "DVS 2207-1:2005 (superseded)",
}
TESTS_PRICED = (
    ("hydro_wage", "labor"),
    ("hydro_equipment", "test equipment"),
    ("hydro_water", "test water"),
    ("hydro_disposal", "test water disposal"),
)
NOT_TESTED = "Hydrostatic testing, disinfection, and test water disposal"


def exclusions(estimate: Estimate) -> tuple[str, ...]:
    """Return what the price leaves out; nothing that the cost lines or the Rates hold."""
    rates = estimate.job.rates
    pulled = any(run.placement in ("pullback", "slipline") for run in estimate.job.runs)
    rental = [
        text
        for priced, text in (
            (rates.rental_day_hours, "excess-hour charges"),
            (rates.damage_waiver, "damage waiver"),
        )
        if not priced
    ]
    money = [text for priced, text in ((rates.bond, "bonds"), (rates.tax, "taxes")) if not priced]
    found = (
        "Supply of pipe and fittings, except as listed in the scope",
        f"Trenching, bedding, backfill, {'pullback or insertion of pipe, ' if pulled else ''}"
        "dewatering, traffic control and reinstatement",
        _not_tested(estimate),
        "Permits, surveying, engineering, and third-party inspection",
        "Shelters, tents, and heat for cold, wet or windy weather",
        f"{_and(rental)} on rented equipment" if rental else "",
        f"{_and(money)}" if money else "",
        "Standby ordered by others, and work outside the stated shifts",
    )
    return tuple(f"{text[0].upper()}{text[1:]}" for text in found if text)


def _not_tested(estimate: Estimate) -> str:
    """Return what of the hydrotests is not in the price."""
    if not estimate.tests:
        return NOT_TESTED
    rates = estimate.job.rates
    free = [text for key, text in TESTS_PRICED if not _is_priced(getattr(rates, key))]
    every = all(run.test_section for run in estimate.job.runs)
    parts = (
        "" if every else "hydrostatic testing of runs with no test section",
        f"{_and(free)} for hydrostatic tests" if free else "",
        "disinfection",
    )
    return "; ".join(part for part in parts if part)


def _is_priced(rate: MoneyRate | None) -> bool:
    return rate is not None and bool(rate.amount)


def _and(parts: Sequence[str]) -> str:
    """Return parts as a phrase: ``a, b and c``."""
    *most, last = parts
    return f"{', '.join(most)} and {last}" if most else last


def scope(context: Context) -> tuple[str, ...]:
    """Return what the price covers, in sentences."""
    estimate, system = context.estimate, context.system
    runs, sizes = estimate.job.runs, estimate.by_run.sizes
    unit = unit_of("length", system)
    length = convert(sum(run.length_m for run in runs), "length", system)
    labels = [size.label for size in sizes]
    named = ", ".join(labels[:MOST_SIZES])
    more = f" and {len(labels) - MOST_SIZES} more" if len(labels) > MOST_SIZES else ""
    tests = len(estimate.tests)
    return (
        f"Butt fusion of {length:,.0f} {unit} of polyethylene pipe in "
        f"{counted(len(runs), 'run')}: {named}{more}",
        f"{counted(estimate.butt_joints, 'butt joint')}{_others(estimate)}, including labor, "
        "fusion machines, power, lifting equipment, and consumables",
        *([f"Hydrostatic testing of {counted(tests, 'test section')}"] if tests else []),
        _supply(estimate),
    )


def _others(estimate: Estimate) -> str:
    counts = [run.counts for run in estimate.runs]
    found = [(kind.work, sum(count.others[kind.key] for count in counts)) for kind in CONNECTIONS]
    message = [counted(number, what) for what, number in found if number]
    return "".join(f", {text}" for text in message)


def _supply(estimate: Estimate) -> str:
    """Return which pipe and fittings are in the price."""
    priced = [run.run_id for run in estimate.job.runs if run.pipe_price and run.pipe_price.amount]
    lines = [line for line in estimate.cost_lines if line.amount]
    fittings = [
        item.supplied
        for item in COUNTED_ITEMS
        if item.supplied and any(line.key.startswith(f"item.{item.rate_key}.") for line in lines)
    ]
    pipe = "pipe"
    if len(priced) < len(estimate.job.runs):
        pipe = f"pipe for {counted(len(priced), 'run')}"
    supplied = [*([pipe] if priced else []), *fittings]
    if not supplied:
        return "Pipe and fittings furnished by others"
    rest = "fittings" if len(priced) == len(estimate.job.runs) else "pipe and fittings"
    return f"Furnished by the bidder: {_and(supplied)}. All other {rest} by others"


def assumptions(context: Context) -> tuple[str, ...]:
    """Return what the price rests on, in sentences."""
    estimate = context.estimate
    job, resources = estimate.job, estimate.job.resources
    shift, counting = job.shift, job.counting
    crews = "One crew" if resources.crews == 1 else f"{resources.crews} crews"
    machines = counted(resources.machines_per_crew, "fusion machine")
    each = " each" if resources.crews > 1 else ""
    lost = {(day.date, day.crew) for day in estimate.plan.crew_days if day.kind == "weather"}
    return (
        f"Butt fusion per {METHOD_NAMES[job.fusion.method]}; {_ambient(context)}",
        f"{job.dates.workdays}, {shift.shift_hours:g} paid hours per shift with "
        f"{shift.working_min:.0f} min available for joints; {shift.efficiency:.0%} efficiency on "
        "crew-paced work",
        *_other_shifts(job),
        *_on_site(estimate),
        f"{crews} with {machines}{each}; {_work_span(estimate)}",
        f"Fittings {counting.fitting_rule}; trial fusions: {counting.test_joint_rule}; rework "
        f"allowance {counting.rework_share:.1%} of butt joints",
        f"Weather allowance: {counted(len(lost), 'crew-day')}",
    )


def _other_shifts(job: Job) -> Iterator[str]:
    """Yield what is assumed of overtime dates and a night shift, nothing where there are none."""
    if job.overtime:
        dates = "; ".join(
            f"{row.from_date:%d %b %Y} to {row.to_date:%d %b %Y} {row.shift_hours:g} h"
            for row in job.overtime
        )
        yield f"Other shift lengths: {dates}"
    other_hours = [row.shift_hours for row in job.overtime]
    longest = max(job.shift.shift_hours, job.shift.night_hours, *other_hours)
    if job.shift.overtime_loss and longest > job.shift.straight_hours:
        yield f"Overtime productivity loss of {job.shift.overtime_loss:.0%} past straight time"
    if job.shift.night_hours:
        yield (
            f"Night shift of {job.shift.night_hours:g} paid hours on the same machines; "
            f"crew-paced time {job.shift.night_slowing:.0%} longer"
        )


def _on_site(estimate: Estimate) -> Iterator[str]:
    """Yield what is assumed of crew dates and holds, nothing where there are none."""
    rows = estimate.job.crew_dates
    if rows:
        told = (
            f"crew {row.crew} from {row.from_date:%d %b %Y}"
            + (f" to {row.to_date:%d %b %Y}" if row.to_date else "")
            for row in rows
        )
        yield f"On site: {'; '.join(told)}"
    lost = {(day.date, day.crew) for day in estimate.plan.crew_days if day.kind == "hold"}
    if lost:
        yield f"Holds entered take {counted(len(lost), 'paid crew-day')} of the plan"


def _ambient(context: Context) -> str:
    job, system = context.estimate.job, context.system
    usual = f"ambient temperature {show(job.site.ambient_c, 'temperature', system)}"
    monthly = [row.ambient_c for row in job.weather if row.ambient_c is not None]
    if not monthly:
        return usual
    low, high = (show(limit(monthly), "temperature", system) for limit in (min, max))
    return f"ambient temperature {low} to {high}, by month"


def _work_span(estimate: Estimate) -> str:
    plan = estimate.plan
    joined = f"{plan.start:%d %b %Y} to {plan.finish:%d %b %Y}, {plan.work_days} days worked"
    if not estimate.tests:
        return f"work {joined}"
    last = max(test.finish for test in estimate.tests)
    return f"fusion {joined}; hydrostatic tests through {last:%d %b %Y}"


def cautions() -> tuple[str, ...]:
    """Return the cautions that every output carries."""
    text = resources.files(__package__).joinpath("cautions.csv").read_text("utf-8")
    return tuple(row["text"] for row in csv.DictReader(text.splitlines()))
