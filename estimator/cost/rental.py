"""Cost lines of what is on rent: tiers, hours beyond them, deliveries and damage waiver."""

from collections.abc import Iterator, Mapping, Sequence
from decimal import Decimal
from types import MappingProxyType

from estimator.equipment.kinds import FLEET_TABLES, KIND_WORDS, rental_items
from estimator.models.estimate import CostLine, Quantity
from estimator.models.job import Job
from estimator.models.plan import Fleet, Plan, RentalSpan
from estimator.models.planned_job import PlannedJob
from estimator.models.rates import MoneyRate
from estimator.money import Expr, round_quantity

TIER_HOURS: Mapping[str, tuple[str, str]] = MappingProxyType(
    {
        "four_week_rate": ("four_weeks", "rental_four_week_hours"),
        "week_rate": ("weeks", "rental_week_hours"),
        "day_rate": ("days", "rental_day_hours"),
    }
)
"""For each rate: the periods of a tier mix that it bills, and the input with their hours."""


def rental_lines(fleet: Fleet) -> Iterator[tuple[int, RentalSpan, str, int, str]]:
    """Yield (span number, span, rate key, periods or trips, unit) for all that is billed."""
    for i, span in enumerate(fleet.spans):
        yield i, span, "four_week_rate", span.tiers.four_weeks, "4 weeks"
        yield i, span, "week_rate", span.tiers.weeks, "week"
        yield i, span, "day_rate", span.tiers.days, "day"
        yield i, span, "delivery", 2, "trip"


def equipment_lines(job: Job, fleet: Fleet) -> Iterator[CostLine]:
    """Rental by tier and delivery both ways of every span."""
    items = rental_items(job)
    for i, span, key, periods, unit in rental_lines(fleet):
        if not periods:
            continue
        rate: MoneyRate = getattr(items[span.kind, span.class_id], key)
        if not rate.amount:
            continue
        what = "delivery and return" if key == "delivery" else f"{unit} rate"
        yield CostLine(
            key=f"equipment.{i}.{key}",
            section="Direct cost",
            cost_type="Equipment",
            item=f"{KIND_WORDS[span.kind]} {span.class_id}, {what}",
            basis=f"crew {span.crew}, {span.on_rent:%d %b %Y} to {span.off_rent:%d %b %Y}, "
            f"{span.quantity} on rent",
            quantity=Quantity(float(periods * span.quantity), ((1, f"equipment.{i}.{key}"),)),
            unit=unit,
            rate=Expr.of(FLEET_TABLES[span.kind], span.class_id, key, rate.amount),
        )


def rental_total(fleet: Fleet) -> float:
    """Return the rental of all spans at their tiers, without delivery."""
    return sum(span.tiers.cost * span.quantity for span in fleet.spans)


def hours_beyond(span: RentalSpan) -> float:
    """Return the hours that a span works beyond its rental days, to 0.01; 0 if not charged."""
    return round_quantity(span.beyond_h * span.quantity, 2)


def hours_by_tier(job: Job, span: RentalSpan) -> dict[str, float]:
    """Return the hours beyond by the rate that bills them, to 0.01.

    They are spread over the tiers of the span by the hours that each tier covers, so that an
    hour costs ``rate / hours of the tier``.
    """
    covered = {
        rate: getattr(span.tiers, periods) * (getattr(job.rates, hours) or 0.0)
        for rate, (periods, hours) in TIER_HOURS.items()
    }
    beyond, total = hours_beyond(span), sum(covered.values())
    if not beyond or not total:
        return {}
    return {
        rate: round_quantity(beyond * hours / total, 2) for rate, hours in covered.items() if hours
    }


def hour_rate(job: Job, span: RentalSpan, key: str) -> Expr:
    """Return what an hour beyond costs at a tier: its rate by the hours it covers."""
    item = rental_items(job)[span.kind, span.class_id]
    rate = Expr.of(FLEET_TABLES[span.kind], span.class_id, key, getattr(item, key).amount)
    hours_key = TIER_HOURS[key][1]
    return rate / Expr.of("rates", "", hours_key, getattr(job.rates, hours_key))


def hours_lines(job: Job, fleet: Fleet) -> Iterator[CostLine]:
    """Hours beyond the rental days, by the tier that bills them."""
    for i, span in enumerate(fleet.spans):
        for key, hours in hours_by_tier(job, span).items():
            rate = hour_rate(job, span, key)
            if rate.value:
                yield CostLine(
                    key=f"equipment.{i}.{key}_hours",
                    section="Direct cost",
                    cost_type="Equipment",
                    item=f"{KIND_WORDS[span.kind]} {span.class_id}, hours beyond the rental day",
                    basis=f"crew {span.crew}, {span.work_days} days of use, {span.quantity} on "
                    f"rent, at the {key.removesuffix('_rate').replace('_', '-')} rate",
                    quantity=Quantity(hours, ((1, f"equipment.{i}.{key}_hours"),)),
                    unit="h",
                    rate=rate,
                )


def hours_total(job: Job, fleet: Fleet) -> float:
    """Return the money for all hours beyond the rental days, before rounding by line."""
    return sum(
        hours * hour_rate(job, span, key).value
        for span in fleet.spans
        for key, hours in hours_by_tier(job, span).items()
    )


def waiver_lines(job: Job, fleet: Fleet, both: Sequence[CostLine]) -> Iterator[CostLine]:
    """Damage waiver: a share of all rental, with that of two shifts and of hours beyond.

    ``both`` is the line of ``two_shift_line``, where there is one.
    """
    share = job.rates.damage_waiver
    if not share:
        return
    beyond = hours_total(job, fleet)
    terms = (
        (1, "equipment.rental"),
        *((1, f"cost.{line.key}") for line in both),
        *(((1, "beyond.cost"),) if beyond else ()),
    )
    rental = rental_total(fleet) + sum(float(line.amount) for line in both)
    yield CostLine(
        key="equipment.damage_waiver",
        section="Direct cost",
        cost_type="Equipment",
        item="Damage waiver",
        basis="share of rental with two shifts and hours beyond, without delivery",
        quantity=Quantity(rental + beyond, terms),
        unit=job.cover.currency,
        rate=Expr.of("rates", "", "damage_waiver", share),
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
    multiple = Expr.of("job", "", "night_rental", job.shift.night_rental)
    yield CostLine(
        key="equipment.two_shifts",
        section="Direct cost",
        cost_type="Equipment",
        item="Rental for day and night shifts",
        basis="rental of gear that works both, by the multiple less one",
        quantity=Quantity(
            float(sum((line.amount for line in both), Decimal(0))),
            tuple((1, f"cost.{line.key}") for line in both),
        ),
        unit=job.cover.currency,
        rate=multiple - Expr.one(),
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
