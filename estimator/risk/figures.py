"""Ranges of finish and price: every trial draws the job-wide factors once, for all lines.

Needs numpy, so it is imported only when figures are asked for.
"""

import math
from collections.abc import Mapping, Sequence
from itertools import pairwise
from typing import cast

import numpy as np

from estimator.cost import ByType
from estimator.cost.markup import ALL_TYPES, Loads, Percents, priced, unmarked, with_markups
from estimator.cost.materials import item_price
from estimator.data_class import dataclass
from estimator.errors import EstimatorError
from estimator.joint.shared import Shared
from estimator.models.estimate import Estimate, PricedJob
from estimator.models.kinds import CONSUMABLES, RISK_FACTORS, RiskFactor
from estimator.models.risk import Bin, FinishShare, NoRisk, PLine, Risk, Swing
from estimator.risk.draws import Floats, draw_chunks
from estimator.risk.surface import Dates, Level, Outcome, Plans, Surface, cost_by_type
from estimator.steps.marks import cents

SHARES = (0.1, 0.5, 0.8, 0.9)
DATES_SHOWN = 20
"""Steps of the dates by which trials have finished."""
PRICE_CLASSES = 12
"""Classes of prices at most, but for the ends: a label each has room below half a page."""
LEVEL_FIELDS: dict[RiskFactor, str] = {
    "productivity": "productivity",
    "cycle handling": "handling",
    "rework": "rework",
    "weather": "weather",
}


@dataclass(frozen=True)
class Trials:
    """Working days to the finish, job cost and price of every trial, each sorted."""

    days: Floats
    job_cost: Floats
    price: Floats

    def at(self, share: float) -> int:
        """Return the place of the value that this share of the trials does not exceed."""
        return max(0, math.ceil(round(share * len(self.price), 6)) - 1)


def assess_ranges(estimate: Estimate, shared: Shared) -> Risk | NoRisk:
    """Return the figures over all trials of the job's ranges.

    Parameters
    ----------
    estimate : Estimate
        The estimate as planned, its job with ranges and one trial or more.
    shared : Shared
        What the plans of the study have in common.
    """
    job = estimate.job
    plans = Plans(estimate, shared)
    try:
        surface = Surface(plans, job.risk_ranges, rework_cost(estimate))
        swings = tuple(all_swings(estimate, plans))
    except EstimatorError as error:
        text = str(error).partition("\n")[0]
        return NoRisk(reason=f"no plan is possible at the end of the ranges ({text})")
    return figures(estimate, plans, run_trials(estimate, surface), swings)


def rework_cost(estimate: PricedJob) -> float:
    """Return the consumables of the rework joints as planned."""
    return sum(
        run.counts.rework_joints * item_price(estimate.job, CONSUMABLES, run.cycle.band).value
        for run in estimate.runs
    )


def run_trials(estimate: Estimate, surface: Surface) -> Trials:
    """Return every trial's days, job cost and price."""
    days, costs, prices = [], [], []
    risk = estimate.job.risk
    for drawn in draw_chunks(estimate.job.risk_ranges, risk.risk_trials, risk.risk_seed):
        some_days, some_costs, some_damages = surface.at(drawn)
        by_type, damages = cast("ByType", some_costs), cast("float", some_damages)
        days.append(some_days)
        costs.append(cast("Floats", whole_cost(by_type)))
        prices.append(cast("Floats", price_of(by_type, cents(damages), estimate)))
    return Trials(*(np.sort(np.concatenate(found)) for found in (days, costs, prices)))


def whole_cost(by_type: ByType) -> float:
    """Return the job cost of its types, or the array of them, in whole cents."""
    return cents(sum(by_type.values()))


def price_of(by_type: ByType, damages: float, estimate: Estimate) -> float:
    """Return the price of a job cost by type, or of each in an array, that needs no contingency.

    A trial's cost already holds what the contingency is for, so none comes on top; the office
    overhead is that of the bid. So, with one profit for all types of cost, a price is at or below
    the bid price where the cost is at or below the planned one with the contingency of the bid.
    """
    rates, job_cost = estimate.job.rates, whole_cost(by_type)
    costs = by_type if rates.marks_up_by_type else {ALL_TYPES: job_cost}
    outside = unmarked(damages, rates)
    loads = Loads(
        float(estimate.bid.office_overhead),
        0.0 * job_cost,
        Percents.of(costs, rates).without_contingency(),
    )
    base = with_markups(costs, job_cost, outside)
    return priced(base, job_cost, outside, loads, rates).price


def all_swings(estimate: Estimate, plans: Plans) -> list[Swing]:
    """Return price and finish with each factor alone at its ends, the widest price first.

    Factors on the work and the weather are planned anew at each end, not interpolated.
    """
    swings = []
    for span in estimate.job.risk_ranges:
        ends = [_end(estimate, plans, span.factor, value) for value in (span.low, span.high)]
        (low_price, low_days), (high_price, high_days) = ends
        swings.append(
            Swing(
                factor=span.factor,
                low=span.low,
                high=span.high,
                low_price=low_price,
                high_price=high_price,
                low_finish=plans.dates.date(low_days),
                high_finish=plans.dates.date(high_days),
            )
        )
    return sorted(swings, key=lambda swing: -abs(swing.high_price - swing.low_price))


def _end(estimate: Estimate, plans: Plans, factor: RiskFactor, value: float) -> tuple[float, int]:
    level = Level(**{LEVEL_FIELDS[factor]: value}) if factor in LEVEL_FIELDS else Level()
    at = plans.at(level)
    return _price_at(estimate, at, {factor: value}), at.days


def _price_at(estimate: Estimate, at: Outcome, changed: Mapping[RiskFactor, float]) -> float:
    """Return the price of a plan with some factors on prices changed."""
    by_type = cost_by_type(at.costs, {**dict.fromkeys(RISK_FACTORS, 1.0), **changed})
    return price_of(cast("ByType", by_type), cents(at.damages), estimate)


def figures(estimate: Estimate, plans: Plans, trials: Trials, swings: tuple[Swing, ...]) -> Risk:
    """Return the figures of all trials."""
    bid, dates = estimate.bid, plans.dates
    base = float(bid.job_cost)
    needed = max(0.0, float(trials.job_cost[trials.at(estimate.job.risk.risk_share)]) - base)
    shares = sorted({*SHARES, estimate.job.risk.risk_share})
    return Risk(
        trials=len(trials.price),
        seed=estimate.job.risk.risk_seed,
        plans=len(plans),
        base_price=float(bid.price),
        bare_price=_price_at(estimate, plans.at(Level()), {}),
        base_finish=estimate.finish,
        average_price=cents(float(np.mean(trials.price))),
        average_finish=dates.date(float(np.mean(trials.days))),
        lines=tuple(p_line(trials, dates, share) for share in shares),
        chosen_share=estimate.job.risk.risk_share,
        needed_contingency=round(needed, 2),
        needed_contingency_share=needed / base if base else 0.0,
        bid_contingency=float(bid.contingency),
        covered_share=share_up_to(trials.price, float(bid.price)),
        deadline_share=None
        if estimate.job.dates.deadline is None
        else share_up_to(trials.days, dates.number(estimate.job.dates.deadline)),
        swings=swings,
        price_bins=price_bins(trials.price),
        finish_shares=finish_shares(trials.days, dates),
    )


def share_up_to(values: Floats, limit: float) -> float:
    """Return the share of sorted values that do not exceed a limit."""
    return float(np.searchsorted(values, limit + 1e-6, side="right") / len(values))


def p_line(trials: Trials, dates: Dates, share: float) -> PLine:
    """Return what a share of the trials does not exceed."""
    at = trials.at(share)
    return PLine(
        share=share,
        finish=dates.date(float(trials.days[at])),
        finish_error_days=standard_error(trials.days, share),
        job_cost=float(trials.job_cost[at]),
        price=float(trials.price[at]),
        price_error=standard_error(trials.price, share),
    )


def standard_error(values: Floats, share: float) -> float:
    """Return the standard error of a quantile from sorted values.

    The rank of the quantile among n values has the standard deviation
    ``sqrt(n share (1 - share))``; a quarter of what lies between two of it either side is the
    error.
    """
    count = len(values)
    rank, spread = share * count, 2 * math.sqrt(count * share * (1 - share))
    low, high = (min(count - 1, max(0, math.ceil(rank + s) - 1)) for s in (-spread, spread))
    return float(values[high] - values[low]) / 4


def price_bins(price: Floats) -> tuple[Bin, ...]:
    """Return the sorted prices counted in equal steps of a round width."""
    low, high = float(price[0]), float(price[-1])
    if low == high:
        return (Bin(low=low, high=high, trials=len(price), share_so_far=1.0),)
    step = round_step((high - low) / PRICE_CLASSES)
    edges = step * np.arange(math.floor(low / step), math.floor(high / step) + 2)
    counts, _ = np.histogram(price, edges)
    so_far = np.cumsum(counts) / len(price)
    return tuple(
        Bin(low=float(a), high=float(b), trials=int(n), share_so_far=float(share))
        for (a, b), n, share in zip(pairwise(edges), counts, so_far, strict=True)
    )


def round_step(least: float) -> float:
    """Return the least of 1, 2 and 5 times a power of ten that is not below a width.

    >>> round_step(19_800), round_step(0.3)
    (20000.0, 0.5)
    """
    power = 10.0 ** math.floor(math.log10(least))
    return next(power * digit for digit in (1, 2, 5, 10) if power * digit >= least)


def finish_shares(days: Floats, dates: Dates) -> tuple[FinishShare, ...]:
    """Return the share of trials that have finished, at some dates from the first to the last."""
    whole = np.ceil(np.round(days, 6))
    ends = np.linspace(whole[0], whole[-1], DATES_SHOWN + 1)
    steps: Sequence[float] = np.unique(np.ceil(ends)).tolist()
    return tuple(
        FinishShare(date=dates.date(step), share_so_far=share_up_to(whole, step)) for step in steps
    )
