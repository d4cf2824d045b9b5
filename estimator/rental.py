"""Cheapest billing of a rental span in days, weeks and four-weeks."""

import math

from estimator.models.job import RentalItem
from estimator.models.plan import TierMix
from estimator.money import round_money

WEEK_DAYS = 7
FOUR_WEEK_DAYS = 28


def cheapest_tiers(calendar_days: int, item: RentalItem) -> TierMix:
    """Return the cheapest mix of day, week and four-week periods that covers a span.

    A period covers 1, 7 or 28 calendar days. Every number of four-weeks and weeks that can
    help is tried, so the mix is the cheapest there is; of equal ones the longest tier is taken.

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
    mixes = []
    for four_weeks in range(math.ceil(calendar_days / FOUR_WEEK_DAYS), -1, -1):
        rest = max(0, calendar_days - four_weeks * FOUR_WEEK_DAYS)
        for weeks in range(math.ceil(rest / WEEK_DAYS), -1, -1):
            days = max(0, rest - weeks * WEEK_DAYS)
            cost = (
                days * item.day_rate.amount
                + weeks * item.week_rate.amount
                + four_weeks * item.four_week_rate.amount
            )
            mixes.append(
                TierMix(
                    days=days,
                    weeks=weeks,
                    four_weeks=four_weeks,
                    cost=float(round_money(cost)),
                )
            )
    return min(mixes, key=lambda mix: mix.cost)
