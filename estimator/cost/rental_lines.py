"""Cost lines of what is on rent: tiers, hours beyond them, deliveries and damage waiver."""

from collections.abc import Iterator, Mapping, Sequence
from decimal import Decimal
from types import MappingProxyType

from estimator.cost.rates import DIRECT, amount_of, given_price, rate_input
from estimator.display import show_date, show_span
from estimator.models.equipment import RentalItem
from estimator.models.estimate import CostLine, Quantity
from estimator.models.job import Job
from estimator.models.job_inputs import ShiftInputs
from estimator.models.kinds import EQUIPMENT
from estimator.models.plan import Plan
from estimator.models.planned_job import PlannedJob
from estimator.models.rates import MoneyRate, Rates
from estimator.models.rental import Fleet, RentalSpan
from estimator.models.rental_kinds import KIND_WORDS, rental_item, rental_items
from estimator.steps.kinds import Hours, Money
from estimator.steps.marks import cents, or_zero, rounded
from estimator.steps.recorder import Worked, step

TIER_HOURS: Mapping[str, tuple[str, str]] = MappingProxyType(
    {
        "four_week_rate": ("four_weeks", "rental_four_week_hours"),
        "week_rate": ("weeks", "rental_week_hours"),
        "day_rate": ("days", "rental_day_hours"),
    }
)
"""For each rate: the periods of a tier mix that it bills, and the input with their hours."""


WORDS: Mapping[str, str] = MappingProxyType(
    {
        "four_week_rate": "4-week rate",
        "week_rate": "week rate",
        "day_rate": "day rate",
        "delivery": "delivery trips",
    }
)
"""What a line of rental is called, by its rate."""
PAID_BY: Mapping[str, str] = MappingProxyType(
    {"four_week_rate": "4 weeks", "week_rate": "week", "day_rate": "day", "delivery": "trip"}
)
"""What is counted at each rate, always whole."""


def rental_lines(fleet: Fleet) -> Iterator[tuple[int, RentalSpan, str, int, str]]:
    """Yield (span number, span, rate key, periods or trips, unit) for all that is billed."""
    for i, span in enumerate(fleet.spans):
        periods = span.rate_periods
        numbers = (periods.four_weeks, periods.weeks, periods.days, 2)
        for (key, unit), number in zip(PAID_BY.items(), numbers, strict=True):
            yield i, span, key, number, unit


@step("Periods billed", "periods x number on rent")
def periods_billed(periods: int, span: RentalSpan) -> float:
    """Return the periods or trips that are paid for all pieces of a span."""
    return periods * span.quantity


def equipment_lines(job: Job, fleet: Fleet) -> Iterator[CostLine]:
    """Rental by tier and delivery both ways of every span."""
    items, system = rental_items(job), job.cover.unit_system
    for i, span, key, periods, unit in rental_lines(fleet):
        if not periods:
            continue
        rate: MoneyRate = getattr(items[span.kind, span.class_id], key)
        if not rate.amount:
            continue
        yield CostLine(
            key=f"equipment.{i}.{key}",
            section=DIRECT,
            cost_type=EQUIPMENT,
            item=f"{KIND_WORDS[span.kind]} {span.class_id}, {WORDS[key]}",
            basis=f"crew {span.crew}, {show_span(span.on_rent, span.off_rent, system)}"
            f"{_more_than_one(span)}",
            quantity=Quantity.of(
                periods_billed.worked(periods, span), terms=((1, f"equipment.{i}.{key}"),)
            ),
            unit=unit,
            rate=given_price.worked(items[span.kind, span.class_id], key),
        )


@step("Rental of a line", "periods billed x rate")
def line_rental(item: RentalItem, four_weeks: float, weeks: float, days: float) -> Money:
    """Return the rental of a line at its tiers, without delivery."""
    return (
        four_weeks * amount_of(item, "four_week_rate")
        + weeks * amount_of(item, "week_rate")
        + days * amount_of(item, "day_rate")
    )


@step("Delivery of a line", "trips x price of a trip")
def line_delivery(item: RentalItem, trips: float) -> Money:
    """Return what delivery and return of a line cost."""
    return trips * amount_of(item, "delivery")


@step("Rental of all", "without delivery")
def rental_total(spans: Sequence[RentalSpan]) -> Money:
    """Return the rental of all spans at their tiers, without delivery."""
    return sum(span.rate_periods.cost * span.quantity for span in spans)


@step("Excess hours", "of one x number on rent")
def hours_beyond(span: RentalSpan) -> Hours:
    """Return the hours that a span works beyond its rental days, to 0.01; 0 if not charged."""
    return rounded(span.excess_h * span.quantity, 2)


@step("Hours that a rate period covers", "periods x hours of one")
def hours_covered(span: RentalSpan, periods: str, rates: Rates, hours: str) -> Hours:
    """Return the hours of use that the periods of one tier of a span cover."""
    billed: int = getattr(span.rate_periods, periods)
    each: float | None = getattr(rates, hours)
    return billed * or_zero(each)


@step("Excess hours at a rate period", "excess hours x hours it covers / hours of all periods")
def hours_at_tier(hours_beyond: Hours, hours_covered: Hours, all_covered: Hours) -> Hours:
    """Return the hours beyond that one tier of a span bills, to 0.01."""
    return rounded(hours_beyond * hours_covered / all_covered, 2)


@step("Rate of an excess hour", "rate / hours that it covers")
def rate_beyond(item: RentalItem, rate: str, rates: Rates, hours: str) -> Money:
    """Return what an hour beyond costs at a tier."""
    covered: float = getattr(rates, hours)
    return amount_of(item, rate) / covered


@step("Cost of excess hours", "hours x rate of an excess hour, to the cent")
def cost_beyond(hours: Hours, rate_beyond: Money) -> Money:
    """Return what the hours beyond cost at a tier, to the cent as their cost line."""
    return cents(hours * rate_beyond)


def hours_by_tier(rates: Rates, span: RentalSpan) -> dict[str, Worked[float]]:
    """Return the hours beyond by the rate that bills them, to 0.01.

    They are spread over the tiers of the span by the hours that each tier covers, so that an
    hour costs ``rate / hours of the tier``.
    """
    if not span.excess_h:
        return {}
    covered = {
        rate: hours_covered(span, periods, rates, hours)
        for rate, (periods, hours) in TIER_HOURS.items()
    }
    beyond, total = hours_beyond(span), sum(covered.values())
    if not beyond or not total:
        return {}
    return {
        rate: hours_at_tier.worked(beyond, hours, total) for rate, hours in covered.items() if hours
    }


def hour_rate(job: Job, span: RentalSpan, key: str) -> Worked[float]:
    """Return what an hour beyond costs at a tier: its rate by the hours it covers."""
    return rate_beyond.worked(rental_item(job, span), key, job.rates, TIER_HOURS[key][1])


def hours_lines(job: Job, fleet: Fleet) -> Iterator[CostLine]:
    """Hours beyond the rental days, by the tier that bills them, with the first day on rent."""
    system = job.cover.unit_system
    for i, span in enumerate(fleet.spans):
        for key, hours in hours_by_tier(job.rates, span).items():
            rate = hour_rate(job, span, key)
            if rate.value:
                yield CostLine(
                    key=f"equipment.{i}.{key}_hours",
                    section=DIRECT,
                    cost_type=EQUIPMENT,
                    item=f"{KIND_WORDS[span.kind]} {span.class_id}, excess hours",
                    basis=f"crew {span.crew}, from {show_date(span.on_rent, system)}"
                    f"{_more_than_one(span)}, {WORDS[key]}",
                    quantity=Quantity.of(
                        hours_beyond.worked(span),
                        hours,
                        terms=((1, f"equipment.{i}.{key}_hours"),),
                    ),
                    unit="h",
                    rate=rate,
                )


def _more_than_one(span: RentalSpan) -> str:
    """Return how many pieces a line is for, where they are more than one."""
    return f", {span.quantity} on rent" if span.quantity > 1 else ""


def hours_total(job: Job, fleet: Fleet) -> float:
    """Return the money for all hours beyond the rental days, as their cost lines have it."""
    return sum(
        cost_beyond(hours.value, hour_rate(job, span, key).value)
        for span in fleet.spans
        for key, hours in hours_by_tier(job.rates, span).items()
    )


@step("Rental under the damage waiver", "rental + two shifts + excess hours")
def waiver_base(rental_total: Money, two_shifts: Sequence[Money], beyond: Money) -> Money:
    """Return the rental of which the damage waiver is a share."""
    return rental_total + sum(two_shifts) + beyond


@step("Two shifts above one", "rental multiple - 1")
def two_shift_share(shift: ShiftInputs) -> float:
    """Return what gear that works day and night costs above its rental, as a share of it."""
    return shift.night_rental - 1


def waiver_lines(job: Job, fleet: Fleet, both: Sequence[CostLine]) -> Iterator[CostLine]:
    """Damage waiver: a share of all rental, with that of two shifts and of hours beyond.

    ``both`` is the line of ``two_shift_line``, where there is one.
    """
    if not job.rates.damage_waiver:
        return
    beyond = hours_total(job, fleet)
    terms = (
        (1, "equipment.rental"),
        *((1, f"cost.{line.key}") for line in both),
        *(((1, "beyond.cost"),) if beyond else ()),
    )
    base = waiver_base.worked(
        rental_total(fleet.spans), [float(line.amount) for line in both], beyond
    )
    yield CostLine(
        key="equipment.damage_waiver",
        section=DIRECT,
        cost_type=EQUIPMENT,
        item="Damage waiver",
        basis="percent of rental, two-shift and excess-hour charges included",
        quantity=Quantity.of(base, terms=terms),
        unit=job.cover.currency,
        rate=rate_input(job.rates, "damage_waiver"),
    )


def two_shift_line(
    job: Job, plan: Plan, fleet: Fleet, rented: Sequence[CostLine]
) -> Iterator[CostLine]:
    """Yield what gear that works day and night costs above its rental, delivery aside.

    ``rented`` are the lines of ``equipment_lines``; a span counts if its crew works at night.
    """
    crews = {day.crew for day in plan.crew_days if day.shift == "night"}
    keys = {
        f"equipment.{i}.{key}"
        for i, span, key, _, _ in rental_lines(fleet)
        if span.crew in crews and key != "delivery"
    }
    both = [line for line in rented if line.key in keys]
    if not both or job.shift.night_rental <= 1:
        return
    yield CostLine(
        key="equipment.two_shifts",
        section=DIRECT,
        cost_type=EQUIPMENT,
        item="Two-shift rental",
        basis="rental of equipment on both shifts x (multiplier - 1)",
        quantity=Quantity(
            float(sum((line.amount for line in both), Decimal(0))),
            tuple((1, f"cost.{line.key}") for line in both),
        ),
        unit=job.cover.currency,
        rate=two_shift_share.worked(job.shift),
    )


def all_rental_lines(planned: PlannedJob) -> Iterator[CostLine]:
    """Every cost line of what is on rent."""
    job, fleet = planned.job, planned.fleet
    rented = tuple(equipment_lines(job, fleet))
    yield from rented
    both = tuple(two_shift_line(job, planned.plan, fleet, rented))
    yield from both
    yield from hours_lines(job, fleet)
    yield from waiver_lines(job, fleet, both)
