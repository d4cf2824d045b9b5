"""What equipment has cost that really is on rent, from the day it came to the day it went."""

import datetime as dt
from collections.abc import Sequence
from decimal import Decimal

from estimator.equipment.kinds import rental_items
from estimator.equipment.tiers import cheapest_tiers
from estimator.models.job import Job
from estimator.models.site_records import OnRent
from estimator.money import round_money


def rent_to_date(job: Job, rented: Sequence[OnRent], date: dt.date) -> Decimal:
    """Return the rent up to a date at the rates of the classes: cheapest periods, and the trips.

    A piece that is still there is priced as if it went on that day, without its way back. Excess
    hours and damage waiver are not in it.

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
        rent = cheapest_tiers((last - row.on_rent).days + 1, item).cost
        trips = (2 if gone else 1) * item.delivery.amount
        total += round_money((row.quantity or 1) * (rent + trips))
    return total


def still_there(rented: Sequence[OnRent], date: dt.date) -> tuple[str, ...]:
    """Return the classes of which a piece is on rent on a date."""
    open_rows = (
        row.class_id
        for row in rented
        if row.on_rent <= date and (row.off_rent is None or row.off_rent > date)
    )
    return tuple(dict.fromkeys(open_rows))
