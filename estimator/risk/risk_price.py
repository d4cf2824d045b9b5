"""The markup chain over many job costs at once, to the cent."""

import numpy as np

from estimator.models.rates import Rates
from estimator.risk.draws import Floats

CENTS, NOISE_DIGITS = 100, 5


def cents(amounts: Floats) -> Floats:
    """Round amounts that are not negative to cents, half up, as ``round_money`` does."""
    found: Floats = np.floor(np.round(amounts * CENTS, NOISE_DIGITS) + 0.5) / CENTS
    return found


def prices(job_cost: Floats, rates: Rates) -> Floats:
    """Return the bid price of each job cost, by the same steps as ``bid_price.make_bid``.

    Parameters
    ----------
    job_cost : array
        Direct and indirect cost, in cents.
    rates : Rates
        The markups of the Rates sheet.
    """
    overhead = cents(job_cost * rates.office_overhead)
    before_profit = job_cost + overhead + cents(job_cost * rates.contingency)
    profit = cents(before_profit * rates.profit)
    if rates.profit_basis == "margin on price":
        profit = cents(before_profit * rates.profit / (1 - rates.profit))
    before_bond = before_profit + profit
    price = cents(before_bond + cents(before_bond / (1 - rates.bond) - before_bond))
    step = rates.bid_step
    return cents(np.floor(np.round(price / step, NOISE_DIGITS) + 0.5) * step) if step else price
