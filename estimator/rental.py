"""Cheapest billing of a rental span in days, weeks and four-weeks."""

from decimal import Decimal

from estimator.models.job import RentalItem
from estimator.models.plan import TierMix
from estimator.money import to_decimal

WEEK_DAYS = 7
FOUR_WEEK_DAYS = 28


def cheapest_tiers(calendar_days: int, item: RentalItem) -> TierMix:
    """Return the cheapest mix of day, week and four-week periods that covers a span.

    A period covers 1, 7 or 28 calendar days. The cheapest cover of n days is the cheapest of
    its three last periods added to the cheapest cover of what is left, so the mix is the
    cheapest there is; of equal ones the longer tier is taken.

    Parameters
    ----------
    calendar_days : int
        Days from on-rent to off-rent, both counted, 1 or more.
    item : RentalItem
        The class with its three rates.
    """
    if calendar_days < 1:
        message = f"calendar_days must be 1 or more, got {calendar_days}"
        raise ValueError(message)
    periods = (
        (FOUR_WEEK_DAYS, to_decimal(item.four_week_rate.amount), (1, 0, 0)),
        (WEEK_DAYS, to_decimal(item.week_rate.amount), (0, 1, 0)),
        (1, to_decimal(item.day_rate.amount), (0, 0, 1)),
    )
    cheapest = [(Decimal(0), (0, 0, 0))]
    for covered in range(1, calendar_days + 1):
        options = []
        for length, rate, taken in periods:
            cost, (f, w, d) = cheapest[max(0, covered - length)]
            options.append((cost + rate, (f + taken[0], w + taken[1], d + taken[2])))
        cheapest.append(min(options, key=lambda option: option[0]))
    cost, (four_weeks, weeks, days) = cheapest[-1]
    return TierMix(days=days, weeks=weeks, four_weeks=four_weeks, cost=float(cost))
