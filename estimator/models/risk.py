"""What the trials of the job's ranges gave: planning ranges, never a promise."""

import datetime as dt

from estimator.models.base import Model


class NoRisk(Model):
    """Why there are no risk figures."""

    reason: str


class PLine(Model):
    """What is not exceeded in a share of the trials.

    The errors are standard errors of sampling alone: of the price in money, of the finish in
    working days. They say nothing of how good the ranges are.
    """

    share: float
    finish: dt.date
    finish_error_days: float
    job_cost: float
    price: float
    price_error: float


class Swing(Model):
    """Price and finish with one factor at its low and high end, all others as planned."""

    factor: str
    low: float
    high: float
    low_price: float
    high_price: float
    low_finish: dt.date
    high_finish: dt.date


class Bin(Model):
    """Trials whose price falls between two amounts, and the share up to the upper one."""

    low: float
    high: float
    trials: int
    share_so_far: float


class FinishShare(Model):
    """Share of the trials that have finished by a date."""

    date: dt.date
    share_so_far: float


class Risk(Model):
    """Figures over all trials.

    ``needed_contingency`` is what must come on the planned job cost so that it covers the job
    cost of a share ``chosen_share`` of the trials. ``base_price`` is the bid price;
    ``covered_share`` is the share of the trials whose price, which needs no contingency, is at or
    below it: whose job cost the planned one covers with the contingency of the bid.
    ``bare_price`` is the price of the planned cost without a contingency.
    """

    trials: int
    seed: int
    plans: int
    base_price: float
    bare_price: float
    base_finish: dt.date
    average_price: float
    average_finish: dt.date
    lines: tuple[PLine, ...]
    chosen_share: float
    needed_contingency: float
    needed_contingency_share: float
    bid_contingency: float
    covered_share: float
    deadline_share: float | None
    swings: tuple[Swing, ...]
    price_bins: tuple[Bin, ...]
    finish_shares: tuple[FinishShare, ...]
