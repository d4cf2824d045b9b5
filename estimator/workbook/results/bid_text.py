"""What the client's pages say in words: what the price covers, conditions, exclusions, payment."""

import csv
import re
from collections.abc import Iterable, Iterator, Mapping, Sequence
from importlib import resources
from types import MappingProxyType

from estimator.cost.fittings import fittings
from estimator.display import (
    EACH,
    METHOD_NAMES,
    PAY_LENGTH,
    UnitSystem,
    convert,
    counted,
    phrase,
    sentence,
    show_date,
)
from estimator.models.bid_inputs import TermPlace
from estimator.models.estimate import Estimate
from estimator.models.job import Job
from estimator.models.job_inputs import BidInputs
from estimator.models.kinds import COUNTED_ITEMS
from estimator.models.rates import MoneyRate
from estimator.models.run_costs import BidItem
from estimator.money import round_quantity
from estimator.workbook.results.builder import Context

TESTING, TRIALS = "Hydrostatic testing", "Trial fusions"
"""Our names of two items."""
TRIAL_RULES: Mapping[str, str] = MappingProxyType(
    {
        "job start": "at job start",
        "each size": "each size",
        "each size and wall": "each size and wall",
        "each day": "each day",
    }
)
"""When trial fusions are made, by the choice on the Job sheet."""
TESTS_PRICED = (
    ("hydro_wage", "labor"),
    ("hydro_equipment", "test equipment"),
    ("hydro_water", "test water"),
    ("hydro_disposal", "test water disposal"),
)
NOT_TESTED = f"{TESTING}, disinfection, and test water disposal"
GOVERNED = (
    "The instructions of the pipe and machine makers, the qualified written procedure, the "
    "specification and local code govern."
)
UNIT_NAMES = {"LS": "lump sum", "LF": "linear foot", "EA": "each"}
LENGTH_DIGITS = 1
"""Decimals of a length on the client's pages, where it is no whole number."""
Excluded = tuple[str, re.Pattern[str]]
"""A work of others, and the words by which an item of Other costs is known to price it."""


def _by_words(phrase: str, words: str) -> Excluded:
    return phrase, re.compile(rf"\b(?:{words})", re.IGNORECASE)


TRENCH = (
    _by_words("trenching", "trench|excavat|digging"),
    _by_words("bedding", "bedding"),
    _by_words("backfill", "backfill"),
    _by_words("dewatering", "dewater|well ?point|pumping of ground"),
    _by_words("surface restoration", "restor|paving|reseed|seeding|landscap"),
)
TRAFFIC = (_by_words("traffic control", "traffic|flagg"),)
PULLING = (_by_words("pullback or insertion of pipe", "pull|insert|drill|hdd|slip ?lin"),)
PERMITS = (
    _by_words("permits", "permit"),
    _by_words("surveying", "survey"),
    _by_words("engineering", "engineer"),
    _by_words("third-party inspection", "inspect"),
)
SHELTERS = (
    _by_words("shelters, tents, and heat for cold, wet or windy weather", "shelter|tent|heat"),
)
MOST_NAMED = 6
"""Of runs by name in one line of the Bid."""
MOST_BARE = 2
"""Parts of a list that need no comma before its *and*."""


def with_own_terms(usual: Sequence[str], job: Job, place: TermPlace) -> tuple[str, ...]:
    """Return the usual lines of a place, if they are wanted, and then our own."""
    own = tuple(term.text for term in job.bid_terms if term.place == place)
    return (*(usual if job.bid.usual_terms else ()), *own)


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
        _not_furnished(estimate),
        *_not_priced(estimate, TRENCH),
        *_not_priced(estimate, (*TRAFFIC, *(PULLING if pulled else ()))),
        _not_tested(estimate),
        *_not_priced(estimate, PERMITS),
        *_not_priced(estimate, SHELTERS),
        f"{phrase(rental)} on rented equipment" if rental else "",
        f"{phrase(money)}" if money else "",
        "Standby ordered by others; work outside these shifts",
    )
    return tuple(sentence(text) for text in found if text)


def _not_priced(estimate: Estimate, phrases: Sequence[Excluded]) -> Iterator[str]:
    """Yield works of others without those that Other costs price, in one line.

    A work with a bid item of its own is left out but for what is listed.
    """
    costs = [cost for cost in estimate.job.other_costs if cost.quantity * cost.unit_price.amount]
    left, listed = [], []
    for name, words in phrases:
        mine = [cost for cost in costs if words.search(f"{cost.item} {cost.bid_item or ''}")]
        if not mine:
            left.append(name)
        elif any(cost.bid_item for cost in mine):
            listed.append(f"{name}, except as listed")
    if left or listed:
        yield "; ".join([*([_listed(left)] if left else []), *listed])


def _not_furnished(estimate: Estimate) -> str:
    """Return which pipe and fittings others furnish."""
    furnished = furnished_length_m(estimate)
    every = furnished >= sum(run.length_m for run in estimate.job.runs)
    missing = phrase([*([] if every else ["pipe"]), *_fittings_of_others(estimate, every=every)])
    length = length_text(furnished, estimate.job.cover.unit_system)
    supplied = [*([f"{length} of pipe"] if furnished and not every else []), *_pieces(estimate)]
    but = f", except {phrase(supplied)}" if missing and supplied else ""
    return f"{missing}{but}"


def _fittings_of_others(estimate: Estimate, *, every: bool) -> Sequence[str]:
    """Return what others furnish of the fittings: all of them, or the kinds without a price."""
    bought = [each for each in fittings(estimate.job) if each.is_bought]
    free = [each for each in bought if each.price is None]
    if len(free) == len(bought):
        return [] if every and not bought else ["fittings"]
    return list(dict.fromkeys(each.label.replace(", ", " ") for each in free))


def _pieces(estimate: Estimate) -> Iterator[str]:
    """Yield what is bought by the piece besides fittings, and used on this job."""
    used = {line.key.split(".")[1] for line in estimate.cost_lines if line.key.startswith("item.")}
    for item in COUNTED_ITEMS:
        if item.supplied and item.rate_key in used:
            yield item.supplied


def furnished_length_m(estimate: Estimate) -> float:
    """Return the length of the runs whose pipe is in the price."""
    return sum(
        run.length_m
        for run in estimate.job.runs
        if run.pipe_price is not None and run.pipe_price.amount
    )


def length_text(length_m: float, system: UnitSystem) -> str:
    """Return a length of pipe as the client reads it, to the digit of the Bid schedule.

    >>> length_text(54.864, "SI"), length_text(11_794.8456, "US")
    ('54.9 m', '38,697 LF')
    """
    length = round_quantity(convert(length_m, "length", system), LENGTH_DIGITS)
    return f"{length:,.{LENGTH_DIGITS if length % 1 else 0}f} {PAY_LENGTH[system]}"


def _not_tested(estimate: Estimate) -> str:
    """Return what of the hydrotests is not in the price."""
    if not estimate.tests:
        return NOT_TESTED
    rates = estimate.job.rates
    free = [text for key, text in TESTS_PRICED if not _is_priced(getattr(rates, key))]
    untested = [run.run_id for run in estimate.job.runs if not run.test_section]
    parts = (
        f"hydrostatic testing of {_runs(untested)}, with no test section" if untested else "",
        f"{phrase(free)} for hydrostatic tests" if free else "",
        "disinfection",
    )
    return "; ".join(part for part in parts if part)


def _runs(names: Sequence[str]) -> str:
    """Return runs by name, or how many they are."""
    if len(names) > MOST_NAMED:
        return counted(len(names), "run")
    return f"run{'s' if len(names) > 1 else ''} {phrase(names)}"


def _is_priced(rate: MoneyRate | None) -> bool:
    return rate is not None and bool(rate.amount)


def _listed(parts: Sequence[str]) -> str:
    """Return works of others as the client reads them: ``a, b, and c``."""
    return f"{', '.join(parts[:-1])}, and {parts[-1]}" if len(parts) > MOST_BARE else phrase(parts)


def covered(context: Context, item: BidItem) -> str:
    """Return what a line of the price covers, beside its name."""
    estimate = context.estimate
    if item.group == "Mobilization":
        return "Crew, machines, power and lifting to the site and back"
    if item.key == TESTING:
        return f"{counted(len(estimate.tests), 'section')}, per the test sections of the schedule"
    if item.key == TRIALS:
        return "Proof of crew, machine and settings before production"
    if EACH in (item.unit, item.own_unit):
        return counted(round(item.quantity), "joint")
    return ""


def with_scope(estimate: Estimate, item: BidItem) -> str:
    """Return a lump sum in our words with how much it is for, any other item as it is worded."""
    if item.keys != (item.description,):
        return item.description
    scope = ""
    if item.key == TESTING and estimate.tests:
        scope = counted(len(estimate.tests), "section")
    elif item.key == TRIALS:
        scope = TRIAL_RULES.get(estimate.job.counting.test_joint_rule, "")
    return f"{item.description}, {scope}" if scope else item.description


def pipe_name(estimate: Estimate) -> str:
    """Return what the line of pipe is called."""
    furnished = furnished_length_m(estimate)
    if not furnished:
        return "Butt fusion of pipe"
    every = furnished >= sum(run.length_m for run in estimate.job.runs)
    return "Pipe, furnished and fused" if every else "Pipe, fused and partly furnished"


def pipe_covered(context: Context) -> str:
    """Return what the line of pipe covers."""
    estimate, system = context.estimate, context.system
    runs = estimate.job.runs
    length = length_text(sum(run.length_m for run in runs), system)
    furnished = furnished_length_m(estimate)
    part = 0 < furnished < sum(run.length_m for run in runs)
    supply = f"; pipe furnished for {length_text(furnished, system)}" if part else ""
    return f"{length} in {counted(len(runs), 'run')}{supply}"


def conditions(context: Context) -> tuple[str, ...]:
    """Return what the price holds for, one line each."""
    estimate, system = context.estimate, context.system
    job, plan = estimate.job, estimate.plan
    start, finish = (show_date(date, system) for date in (plan.start, plan.finish))
    lost = {day.date for day in plan.crew_days if day.kind == "weather"}
    return (
        f"Butt fusion {start} to {finish}",
        f"{job.dates.workdays}, {job.shift.shift_hours:g} paid hours per shift",
        *_other_shifts(context),
        *_furnished_fittings(job),
        *_tested(context),
        f"Butt fusion per {METHOD_NAMES[job.fusion.method]}",
        "Runs ready when and in the order planned",
        *([f"Weather allowance: {counted(len(lost), 'workday')}"] if lost else []),
        *_claims(job.bid),
    )


def _furnished_fittings(job: Job) -> Iterator[str]:
    """Yield how many fittings are in the price, nothing where they are furnished by others."""
    number = sum(each.number for each in fittings(job) if each.price is not None)
    if number:
        yield f"{counted(number, 'fitting')} furnished, of the kinds and sizes of the pipe schedule"


def _tested(context: Context) -> Iterator[str]:
    tests = context.estimate.tests
    if tests:
        last = max(test.finish for test in tests)
        yield f"Hydrostatic tests through {show_date(last, context.system)}"


def _other_shifts(context: Context) -> Iterator[str]:
    """Yield the hours of overtime dates and of a night shift, nothing where there are none."""
    job, system = context.estimate.job, context.system
    for row in job.overtime:
        dates = f"{show_date(row.from_date, system)} to {show_date(row.to_date, system)}"
        yield f"Other shift length: {row.shift_hours:g} paid hours, {dates}"
    if job.shift.night_hours:
        yield f"Night shift of {job.shift.night_hours:g} paid hours on the same machines"


def _claims(bid: BidInputs) -> Iterator[str]:
    """Yield how claims are paid, where the Job sheet says it."""
    days = f"{counted(bid.payment_days, 'day')} net" if bid.payment_days is not None else ""
    kept = f"{100 * bid.retention:g}% retention" if bid.retention else ""
    terms = ", ".join(filter(None, (days, kept)))
    if terms:
        yield f"Monthly claim by bid item, {terms}"


def _units(used: Iterable[str]) -> Iterator[str]:
    """Yield what the units in short stand for, those that are used."""
    there = set(used)
    named = [f"{unit}: {name}" for unit, name in UNIT_NAMES.items() if unit in there]
    if named:
        yield f"{'; '.join(named)}."


def payment(context: Context) -> tuple[str, ...]:
    """Return how the items of the schedule are paid, one line each."""
    job = context.estimate.job
    bid, items = job.bid, context.estimate.items
    addenda = f"; addenda {bid.addenda} are included" if bid.addenda else ""
    usual = (
        "Lengths are measured along the pipe axis between the limits on the drawings; joints in "
        "them are included.",
        "Joints are paid when accepted. A joint cut out and made again is not paid twice.",
        *_units(item.own_unit or item.unit for item in items),
        f"Prices hold for the quantities and the order of work in this bid{addenda}.",
    )
    return (*with_own_terms(usual, job, "how it is paid"), *_entered(bid))


def _entered(bid: BidInputs) -> Iterator[str]:
    """Yield the terms of payment that the Job sheet gives, whoever words the others."""
    if bid.mobilization_first is not None:
        yield _mobilization(bid.mobilization_first)
    if bid.quantity_change:
        yield (
            f"A change of more than {100 * bid.quantity_change:g}% in the length of an item opens "
            "its unit price."
        )
    yield from (f"{line}." for line in _claims(bid))


def _mobilization(first: float) -> str:
    rest = f", {100 * (1 - first):g}% at half of the joints" if first < 1 else ""
    return (
        f"Mobilization: {100 * first:g}% when the first crew is on site{rest}; demobilization "
        "when the site is clear."
    )


def cautions() -> tuple[str, ...]:
    """Return the cautions that every output carries."""
    text = resources.files(__package__).joinpath("cautions.csv").read_text("utf-8")
    return tuple(row["text"] for row in csv.DictReader(text.splitlines()))
