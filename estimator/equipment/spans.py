"""Rental spans of one class from the dates on which a crew uses it."""

import datetime as dt
from collections.abc import Iterable
from itertools import pairwise
from typing import NamedTuple

from estimator.equipment.excess_hours import hours_beyond
from estimator.equipment.haulage import Haulage
from estimator.equipment.rental_tiers import cheapest_stays, cheapest_tiers
from estimator.models.choice import Reason, Rejection
from estimator.models.equipment import RentalItem
from estimator.models.job import Job
from estimator.models.rental import RentalKind, RentalSpan
from estimator.steps.recorder import step
from estimator.working_time.on_site import machines_on
from estimator.working_time.shifts import Shifts


class Use(NamedTuple):
    """The dates on which a crew uses something, and how many of it at once."""

    crew: int
    dates: tuple[dt.date, ...]
    quantity: int


def uses(job: Job, crew: int, dates: Iterable[dt.date]) -> list[Use]:
    """Return how many of a class a crew uses, one for each machine, and on which dates.

    Where the crew runs more machines on some dates, the further ones are a use of their own, so
    that they come and go with these dates.

    Parameters
    ----------
    job : Job
        The job with its crew dates.
    crew : int
        Number of the crew.
    dates : iterable of datetime.date
        The dates of use.
    """
    machines = {date: machines_on(job, crew, date) for date in sorted(set(dates))}
    steps = sorted(set(machines.values()))
    return [
        Use(crew, tuple(date for date, number in machines.items() if number >= most), most - fewer)
        for fewer, most in pairwise([0, *steps])
    ]


def stays(job: Job, item: RentalItem, use: Use) -> list[Use]:
    """Return the use of a class cut into the stays on rent that cost least together."""
    return [
        Use(use.crew, dates, use.quantity)
        for dates in cheapest_stays(use.dates, item, Haulage.of(job))
    ]


class Chosen(NamedTuple):
    """A class chosen for some use, why it was and others were not, and what one of it burns.

    ``fuel_l_h`` is 0 where the fuel comes from elsewhere. [L/h]
    """

    kind: RentalKind
    item: RentalItem
    why: Reason
    rejected: tuple[Rejection, ...]
    fuel_l_h: float = 0.0


@step("Fuel", "consumption of one x engine hours x number on rent")
def burned_l(fuel_l_h: float, engine_h: float, quantity: int) -> float:
    """Return the fuel that the engines of a span burn."""
    return fuel_l_h * engine_h * quantity


def rent(job: Job, chosen: Chosen, stay: Use) -> RentalSpan:
    """Return the rental span of a chosen class over one of its ``stays``, haulage included."""
    item = chosen.item
    haulage, shifts = Haulage.of(job), Shifts.of(job)
    return RentalSpan(
        kind=chosen.kind,
        class_id=item.class_id,
        crew=stay.crew,
        quantity=stay.quantity,
        on_rent=haulage.delivered(stay.dates[0]),
        off_rent=haulage.collected(stay.dates[-1]),
        used=stay.dates,
        rate_periods=cheapest_tiers(haulage.on_rent(stay.dates[0], stay.dates[-1]), item),
        fuel_l=burned_l(chosen.fuel_l_h, shifts.engine_hours(stay.dates), stay.quantity),
        excess_h=hours_beyond(job, stay.dates),
        why=chosen.why,
        rejected=chosen.rejected,
    )


def rent_cost(job: Job, item: RentalItem, use: Use) -> float:
    """Return what a class costs over the dates it is used: rental at the cheapest tiers, trips.

    Parameters
    ----------
    job : Job
        The job, for its haulage.
    item : RentalItem
        The class with its rates.
    use : Use
        Dates of use and how many at once.

    Returns
    -------
    float
        Money, without fuel.
    """
    haulage = Haulage.of(job)
    each = sum(
        cheapest_tiers(haulage.on_rent(stay.dates[0], stay.dates[-1]), item).cost
        + 2 * item.delivery.amount
        for stay in stays(job, item, use)
    )
    return each * use.quantity
