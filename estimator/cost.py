"""Cost lines: every amount a quantity times a rate that the user gave."""

from collections.abc import Iterator, Sequence
from decimal import Decimal

from estimator.cost_hydrotest import hydrotest_lines, hydrotest_site_lines
from estimator.cost_labour import labour_lines
from estimator.cost_materials import piece_lines, pipe_lines
from estimator.cost_rates import DIRECT, INDIRECT, rate_input
from estimator.models.estimate import CostLine, Quantity
from estimator.models.hydrotest import HydroTest
from estimator.models.job import Job, MoneyRate
from estimator.models.plan import Fleet, Plan, RentalSpan, SizedRun
from estimator.money import Expr, round_quantity
from estimator.units import from_si

FLEET_TABLES = {"machine": "machines", "generator": "generators", "lifting": "lifting"}
KIND_WORDS = {"machine": "Fusion machine", "generator": "Generator", "lifting": "Lifting gear"}


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
    if not both or job.facts.night_rental <= 1:
        return
    multiple = Expr.of("job", "", "night_rental", job.facts.night_rental)
    yield CostLine(
        key="equipment.two_shifts",
        section=DIRECT,
        cost_type="Equipment",
        item="Rental for day and night shifts",
        basis="rental of gear that works both, by the multiple less one",
        quantity=Quantity(
            float(sum((line.amount for line in both), Decimal(0))),
            tuple((1, f"cost.{line.key}") for line in both),
        ),
        unit=job.facts.currency,
        rate=multiple - Expr.one(),
    )


def rental_lines(fleet: Fleet) -> Iterator[tuple[int, RentalSpan, str, int, str]]:
    """Yield (span number, span, rate key, periods or trips, unit) for all that is billed."""
    for i, span in enumerate(fleet.spans):
        yield i, span, "four_week_rate", span.tiers.four_weeks, "4 weeks"
        yield i, span, "week_rate", span.tiers.weeks, "week"
        yield i, span, "day_rate", span.tiers.days, "day"
        yield i, span, "delivery", 2, "trip"


def equipment_lines(job: Job, fleet: Fleet) -> Iterator[CostLine]:
    """Rental by tier and delivery both ways of every span."""
    items = {
        (kind, item.class_id): item
        for kind, table in FLEET_TABLES.items()
        for item in getattr(job, table)
    }
    for i, span, key, periods, unit in rental_lines(fleet):
        if not periods:
            continue
        rate: MoneyRate = getattr(items[span.kind, span.class_id], key)
        if not rate.amount:
            continue
        what = "delivery and return" if key == "delivery" else f"{unit} rate"
        yield CostLine(
            key=f"equipment.{i}.{key}",
            section=DIRECT,
            cost_type="Equipment",
            item=f"{KIND_WORDS[span.kind]} {span.class_id}, {what}",
            basis=f"crew {span.crew}, {span.on_rent:%d %b %Y} to {span.off_rent:%d %b %Y}, "
            f"{span.quantity} on rent",
            quantity=Quantity(float(periods * span.quantity), ((1, f"equipment.{i}.{key}"),)),
            unit=unit,
            rate=Expr.of(FLEET_TABLES[span.kind], span.class_id, key, rate.amount),
        )


def fuel_volume(job: Job, litres: float) -> float:
    """Return a fuel volume in the unit that fuel is priced in, to 0.1."""
    return round_quantity(from_si(litres, job.rates.fuel_price.per), 1)


def indirect_lines(job: Job, plan: Plan) -> Iterator[CostLine]:
    """Mobilisation, subsistence and site overhead."""
    count = (
        ("mobilisation", "Mobilisation", "Mobilisation", "lump sum", "to site", 1.0, ()),
        ("demobilisation", "Mobilisation", "Demobilisation", "lump sum", "from site", 1.0, ()),
        ("subsistence", "Subsistence", "Subsistence", "person-day", "people x paid days",
         person_days(plan), ((1, "plan.person_days"),)),
        ("site_overhead", "Site overhead", "Site overhead", "work day",
         "worked and weather days", float(site_days(plan)), ((1, "plan.site_days"),)),
    )  # fmt: skip
    for key, cost_type, item, unit, basis, number, terms in count:
        yield CostLine(
            key=f"indirect.{key}",
            section=INDIRECT,
            cost_type=cost_type,
            item=item,
            basis=basis,
            quantity=Quantity(number, terms),
            unit=unit,
            rate=rate_input(job, key),
        )


def person_days(plan: Plan) -> float:
    """Return people x paid days, to 0.01."""
    return round_quantity(sum(sum(day.heads) for day in plan.crew_days), 2)


def site_days(plan: Plan) -> int:
    """Return the dates on which a crew is paid, worked or lost to weather."""
    return len({day.date for day in plan.crew_days})


def cost_lines(
    job: Job,
    sized: Sequence[SizedRun],
    plan: Plan,
    fleet: Fleet,
    tests: Sequence[HydroTest] = (),
) -> tuple[CostLine, ...]:
    """Return every cost line, direct before indirect, in the order of the Cost sheet."""
    volume = sum(fuel_volume(job, span.fuel_l) for span in fleet.spans)
    fuel = CostLine(
        key="fuel",
        section=DIRECT,
        cost_type="Fuel",
        item="Diesel fuel",
        basis="own engines, generators at their mean load, lifting gear at work",
        quantity=Quantity(round_quantity(volume, 1), ((1, "equipment.fuel"),)),
        unit=job.rates.fuel_price.per,
        rate=rate_input(job, "fuel_price"),
    )
    rented = tuple(equipment_lines(job, fleet))
    return (
        *labour_lines(job, plan),
        *rented,
        *two_shift_line(job, plan, fleet, rented),
        fuel,
        *piece_lines(job, sized, plan),
        *pipe_lines(job, sized),
        *hydrotest_lines(job, tests),
        *indirect_lines(job, plan),
        *hydrotest_site_lines(job, plan, tests),
    )
