"""Generators on rent: the class of each crew by day, for the least rental, delivery and fuel."""

import datetime as dt
from collections.abc import Mapping, Sequence

from estimator.equipment.class_by_day import DayLevel, Terms, choose_by_level
from estimator.equipment.crew_power import CrewPower, Fed
from estimator.equipment.haulage import Haulage
from estimator.equipment.spans import Chosen, Use, rent, stays
from estimator.models.equipment import Generator
from estimator.models.job import Job
from estimator.models.rental import RentalSpan
from estimator.units import from_si


def choose_sets(job: Job, supply: CrewPower) -> dict[str, tuple[dt.date, ...]] | None:
    """Return the dates on which a crew has each generator class, None where none is enough.

    On every date a class that passes every check of the loads of that date: of all plans that
    change class where the machines change or the work pauses, the cheapest in rental, delivery
    and fuel. One class for all dates is among them.

    Parameters
    ----------
    job : Job
        The job as the crew finds it.
    supply : CrewPower
        The loads of the crew by date.
    """
    fit = [item for item in job.generators if item.stock >= supply.at_once]
    ranked = sorted(fit, key=lambda item: (item.rated_kw, item.four_week_rate.amount))
    levels: dict[tuple[Fed, ...], int] = {}
    days = []
    for date, used in supply.fed.items():
        if used not in levels:
            levels[used] = _level(supply, ranked, date)
        if levels[used] == len(ranked):
            return None
        days.append(DayLevel(date, levels[used]))
    items = {item.class_id: item for item in ranked}
    price = job.rates.fuel_price

    def fuel_on(class_id: str, date: dt.date) -> float:
        liters = supply.fuel_l(items[class_id], date) / supply.quantity
        return from_si(liters, price.per) * price.amount

    return choose_by_level(days, ranked, Terms(Haulage.of(job), fuel_on=fuel_on))


def _level(supply: CrewPower, ranked: Sequence[Generator], date: dt.date) -> int:
    """Return the place of the smallest class that passes on a date with all larger ones."""
    level = len(ranked)
    while level and not supply.trial(ranked[level - 1], [date]).fails:
        level -= 1
    return level


def generator_spans(
    job: Job, supply: CrewPower, chosen: Mapping[str, Sequence[dt.date]], *, reasons: bool = True
) -> list[RentalSpan]:
    """Return the rental spans of the generators of a crew, each with its fuel."""
    items = {item.class_id: item for item in job.generators}
    spans: list[RentalSpan] = []
    for class_id, dates in chosen.items():
        item = items[class_id]
        for stay in stays(job, item, Use(supply.crew, tuple(dates), supply.quantity)):
            why = (supply.why if reasons else supply.need)(item, stay.dates)
            rejected = supply.rejected(stay.dates) if reasons else ()
            span = rent(job, Chosen("generator", item, why, rejected), stay)
            fuel = {"fuel_l": supply.fuel_of(item, span.used)}
            spans.append(span.model_copy(update=fuel))
    return spans
