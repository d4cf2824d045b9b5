"""Cheapest billing of a rental span in days, weeks and four-weeks."""

import datetime as dt
from collections.abc import Sequence
from decimal import Decimal
from functools import lru_cache
from itertools import pairwise

from estimator.equipment.haulage import Haulage
from estimator.models.equipment import RentalItem
from estimator.models.rental import TierMix
from estimator.money import to_decimal

WEEK_DAYS = 7
FOUR_WEEK_DAYS = 28


def cheapest_tiers(calendar_days: int, item: RentalItem) -> TierMix:
    """Return the cheapest billing of a rented class; see ``cheapest_mix``.

    Parameters
    ----------
    calendar_days : int
        Days from on-rent to off-rent, both counted, 1 or more.
    item : RentalItem
        The class with its three rates.
    """
    rates = (item.day_rate.amount, item.week_rate.amount, item.four_week_rate.amount)
    return cheapest_mix(calendar_days, *rates)


@lru_cache(maxsize=4096)
def cheapest_mix(
    calendar_days: int, day_rate: float, week_rate: float, four_week_rate: float
) -> TierMix:
    """Return the cheapest mix of day, week and four-week periods that covers a span.

    A period covers 1, 7 or 28 calendar days. The cheapest cover of n days is the cheapest of
    its three last periods added to the cheapest cover of what is left, so the mix is the
    cheapest there is; of equal ones the longer tier is taken.

    Parameters
    ----------
    calendar_days : int
        Days from on-rent to off-rent, both counted, 1 or more.
    day_rate, week_rate, four_week_rate : float
        Price of one period of each kind, in one currency.
    """
    if calendar_days < 1:
        message = f"calendar days on rent are {calendar_days}; enter 1 or more"
        raise ValueError(message)
    return _covers(day_rate, week_rate, four_week_rate).mix(calendar_days)


@lru_cache(maxsize=512)
def _covers(day_rate: float, week_rate: float, four_week_rate: float) -> "_Covers":
    return _Covers(day_rate, week_rate, four_week_rate)


class _Covers:
    """The cheapest covers at three rates, each worked out once and from the shorter ones."""

    def __init__(self, day_rate: float, week_rate: float, four_week_rate: float) -> None:
        self._periods = (
            (FOUR_WEEK_DAYS, to_decimal(four_week_rate), (1, 0, 0)),
            (WEEK_DAYS, to_decimal(week_rate), (0, 1, 0)),
            (1, to_decimal(day_rate), (0, 0, 1)),
        )
        self._known: list[tuple[Decimal, tuple[int, int, int]]] = [(Decimal(0), (0, 0, 0))]

    def mix(self, days: int) -> TierMix:
        """Return the cheapest cover of so many days."""
        while len(self._known) <= days:
            self._known.append(self._next())
        cost, (four_weeks, weeks, single) = self._known[days]
        return TierMix(days=single, weeks=weeks, four_weeks=four_weeks, cost=float(cost))

    def _next(self) -> tuple[Decimal, tuple[int, int, int]]:
        """Return the cheapest cover of one day more than the longest known."""
        covered, options = len(self._known), []
        for length, rate, taken in self._periods:
            cost, (f, w, d) = self._known[max(0, covered - length)]
            options.append((cost + rate, (f + taken[0], w + taken[1], d + taken[2])))
        return min(options, key=lambda option: option[0])


def cheapest_stays(
    dates: Sequence[dt.date], item: RentalItem, haulage: Haulage
) -> tuple[tuple[dt.date, ...], ...]:
    """Return the days of use grouped into the stays on rent that cost least together.

    Between two uses a class is kept, or returned and delivered again when the trips cost less
    than the days in between. Each stay is billed from its delivery before the first day to its
    collection after the last one, with both trips. Of equal ones fewer stays are taken.

    Parameters
    ----------
    dates : sequence of date
        Days of use, rising, one or more.
    item : RentalItem
        The class with its rates.
    haulage : Haulage
        When gear is delivered before and collected after its use.
    """
    rates = (item.day_rate.amount, item.week_rate.amount, item.four_week_rate.amount)
    return _cheapest_stays(tuple(dates), rates, item.delivery.amount, haulage)


@lru_cache(maxsize=1024)
def _cheapest_stays(
    dates: tuple[dt.date, ...],
    rates: tuple[float, float, float],
    delivery: float,
    haulage: Haulage,
) -> tuple[tuple[dt.date, ...], ...]:
    uses = _uses(dates, 2 * haulage.days + 1)
    begins = [haulage.delivered(use[0]).toordinal() for use in uses]
    price = _StayPrices(rates, delivery)
    best: list[tuple[Decimal, int, int]] = [(Decimal(0), 0, 0)]
    for last, use in enumerate(uses, 1):
        ends = haulage.collected(use[-1]).toordinal() + 1
        best.append(
            min(
                (cost + price[ends - begin], stays + 1, first)
                for first, ((cost, stays, _), begin) in enumerate(
                    zip(best, begins[:last], strict=True)
                )
            )
        )
    found: list[tuple[dt.date, ...]] = []
    end = len(uses)
    while end:
        first = best[end][2]
        found.append(tuple(day for use in uses[first:end] for day in use))
        end = first
    return tuple(found[::-1])


class _StayPrices(dict[int, Decimal]):
    """What a stay on rent of so many days costs, its trips included; each worked out once."""

    def __init__(self, rates: tuple[float, float, float], delivery: float) -> None:
        super().__init__()
        self.rates, self.trips = rates, 2 * to_decimal(delivery)

    def __missing__(self, days: int) -> Decimal:
        self[days] = to_decimal(cheapest_mix(days, *self.rates).cost) + self.trips
        return self[days]


def _uses(dates: Sequence[dt.date], longest_gap: int) -> list[list[dt.date]]:
    """Return the dates in groups between which more days lie than the gap."""
    groups: list[list[dt.date]] = [[dates[0]]]
    for before, date in pairwise(dates):
        if (date - before).days > longest_gap:
            groups.append([])
        groups[-1].append(date)
    return groups
