"""Cost lines of what is on rent: tiers and deliveries of every span."""

from collections.abc import Iterator

from estimator.fleet_tables import FLEET_TABLES, KIND_WORDS, rental_items
from estimator.models.estimate import CostLine, Quantity
from estimator.models.job import Job, MoneyRate
from estimator.models.plan import Fleet, RentalSpan
from estimator.money import Expr


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
