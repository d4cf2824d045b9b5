"""What equipment has cost that really is on rent, from the day it came to the day it went."""

import datetime as dt
from collections.abc import Sequence
from decimal import Decimal

from estimator.equipment.rental_tiers import cheapest_tiers
from estimator.models.equipment import RentalItem
from estimator.models.job import Job
from estimator.models.rates import Rates
from estimator.models.rental import TierMix
from estimator.models.rental_kinds import rental_items
from estimator.models.site_records import OnRent
from estimator.money import round_money


def rent_to_date(job: Job, rented: Sequence[OnRent], date: dt.date) -> Decimal:
    """Return the rent up to a date at the rates of the classes, as the estimate prices it.

    Cheapest periods, excess hours and the damage waiver on both, and the trips. A piece that is
    still there is priced as if it went on that day, without its way back.

    Parameters
    ----------
    job : Job
        Its classes have the rates.
    rented : sequence of OnRent
        What came and went; a class that the job does not have costs nothing.
    date : date
        The last day that counts.
    """
    items = {class_id.casefold(): item for (_, class_id), item in rental_items(job).items()}
    total = Decimal(0)
    for row in rented:
        item = items.get(row.class_id.casefold())
        if item is None or row.on_rent > date:
            continue
        gone = row.off_rent is not None and row.off_rent <= date
        last = row.off_rent if gone and row.off_rent is not None else date
        tiers, pieces = cheapest_tiers((last - row.on_rent).days + 1, item), row.quantity or 1
        beyond = (row.excess_h or 0.0) * price_of_excess_hour(tiers, item, job.rates)
        trips = (2 if gone else 1) * pieces * item.delivery.amount
        waiver = job.rates.damage_waiver or 0.0
        total += round_money((pieces * tiers.cost + beyond) * (1 + waiver) + trips)
    return total


def price_of_excess_hour(tiers: TierMix, item: RentalItem, rates: Rates) -> float:
    """Return what an hour beyond costs: its share of each tier, at rate / hours of the tier.

    As in the estimate the hours beyond are spread over the tiers by the hours that each covers; a
    tier without hours on Rates bills none.
    """
    billed = [
        (tiers.days, item.day_rate.amount, rates.rental_day_hours),
        (tiers.weeks, item.week_rate.amount, rates.rental_week_hours),
        (tiers.four_weeks, item.four_week_rate.amount, rates.rental_four_week_hours),
    ]
    known = [(periods, rate, hours) for periods, rate, hours in billed if hours]
    covered = sum(periods * hours for periods, _, hours in known)
    return sum(periods * rate for periods, rate, _ in known) / covered if covered else 0.0


def still_there(rented: Sequence[OnRent], date: dt.date) -> tuple[str, ...]:
    """Return the classes of which a piece is on rent on a date."""
    open_rows = (
        row.class_id
        for row in rented
        if row.on_rent <= date and (row.off_rent is None or row.off_rent > date)
    )
    return tuple(dict.fromkeys(open_rows))
