"""Steps that are no rule of the trade: a difference, a share, a ratio, a weighted average."""

from collections.abc import Sequence
from decimal import Decimal
from typing import TypeVar

from estimator.steps.kinds import Share
from estimator.steps.marks import share_of, total_of_products, unless_zero
from estimator.steps.recorder import step

N = TypeVar("N", float, Decimal)


@step("Difference", "one - other")
def difference(one: N, other: N) -> N:
    """Return what one number is above another."""
    return one - other


@step("Share", "part / whole")
def share(part: float, whole: float) -> Share:
    """Return a part of a whole, 0 of nothing."""
    return share_of(part, whole)


@step("Ratio", "amount / divisor")
def ratio(amount: float, divisor: float) -> float | None:
    """Return an amount over another; None where the other is 0, and there is no ratio."""
    return unless_zero(divisor, lambda: amount / divisor)


@step("Average", "numbers x weights / sum of weights")
def weighted_average(weights: Sequence[Decimal], numbers: Sequence[float], whole: float) -> float:
    """Return the average of some numbers; ``whole`` is the sum of the weights."""
    return share_of(total_of_products(weights, numbers), whole)
