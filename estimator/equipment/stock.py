"""How many of a class are on rent at once, and when that is more than there are."""

import datetime as dt
from collections.abc import Iterator, Sequence
from itertools import pairwise

from estimator.data_class import dataclass
from estimator.models.rental import RentalSpan
from estimator.steps.marks import greatest
from estimator.steps.recorder import step

ONE_DAY = dt.timedelta(days=1)


@dataclass(frozen=True)
class Period:
    """Days in a row, both ends counted, and the most that is on rent at once in them."""

    first: dt.date
    last: dt.date
    quantity: int


def periods(spans: Sequence[RentalSpan]) -> list[Period]:
    """Return the days on which something is on rent, cut where the quantity changes."""
    changes: dict[dt.date, int] = {}
    for span in spans:
        changes[span.on_rent] = changes.get(span.on_rent, 0) + span.quantity
        after = span.off_rent + ONE_DAY
        changes[after] = changes.get(after, 0) - span.quantity
    held, found = 0, []
    dates = sorted(changes)
    for date, following in pairwise(dates):
        held += changes[date]
        if held:
            found.append(Period(date, following - ONE_DAY, held))
    return found


@step("Short", "peak on rent - in stock, not below 0")
def short_of_stock(peak: int, stock: int) -> float:
    """Return how many of a class are missing when most are on rent."""
    return greatest(peak - stock, 0)


@step("Weight of all", "weight of one x peak on rent")
def peak_weight_kg(mass_kg: float, peak: int) -> float:
    """Return the shipping weight of all of a class that are on rent at once."""
    return mass_kg * peak


def peak(spans: Sequence[RentalSpan]) -> int:
    """Return the most of these that is on rent on any one date."""
    return max((period.quantity for period in periods(spans)), default=0)


def held_between(spans: Sequence[RentalSpan], first: dt.date, last: dt.date) -> int:
    """Return the most of these that is on rent at once between two dates, both counted."""
    return max(
        (p.quantity for p in periods(spans) if p.first <= last and p.last >= first), default=0
    )


def short_periods(spans: Sequence[RentalSpan], stock: int) -> Iterator[Period]:
    """Yield the times during which more is on rent than is in stock, days in a row together."""
    short: Period | None = None
    for period in (p for p in periods(spans) if p.quantity > stock):
        if short and short.last + ONE_DAY == period.first:
            short = Period(short.first, period.last, max(short.quantity, period.quantity))
            continue
        if short:
            yield short
        short = period
    if short:
        yield short
