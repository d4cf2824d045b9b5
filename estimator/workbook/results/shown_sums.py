"""Sums that hold on the numbers as a page shows them: a line names what rounding leaves."""

from collections.abc import Iterable
from itertools import accumulate, pairwise

from estimator.money import round_quantity

SUM_DIGITS = 9
"""Decimals of a total: what binary fractions leave beyond them could turn the digit shown."""


def clean_sum(numbers: Iterable[float]) -> float:
    """Return the sum of some numbers, the same in whichever order they are added.

    >>> clean_sum([0.1, 0.2, 0.3, 0.65]), clean_sum([2, 3])
    (1.25, 5)
    """
    return round(sum(numbers), SUM_DIGITS)


def add_up_as_shown(numbers: Iterable[float], digits: int) -> list[float]:
    """Return numbers rounded to the decimals shown, each with what the ones before it leave.

    Their sum is that of the numbers, rounded: every sum so far is.

    >>> add_up_as_shown([26.5077] * 3, 1), sum(add_up_as_shown([26.5077] * 13, 1))
    ([26.5, 26.5, 26.5], 344.6)
    >>> add_up_as_shown([331.05, 0.0, 331.05, 331.4], 0)
    [331.0, 0.0, 331.0, 332.0]
    """
    so_far = (round_quantity(one, digits) for one in accumulate(numbers, initial=0.0))
    return [round_quantity(after - before, digits) for before, after in pairwise(so_far)]


def left_as_shown(whole: float, parts: Iterable[float], digits: int) -> float:
    """Return what the parts of a total leave of it, all rounded to the decimals shown.

    >>> left_as_shown(10.0, [3.4, 3.4, 3.2], 0), left_as_shown(0.3, [0.14, 0.16], 1)
    (1.0, 0.0)
    """
    shown = sum(round_quantity(part, digits) for part in parts)
    return round_quantity(round_quantity(whole, digits) - shown, digits) + 0.0


def left_formula(whole: str, parts: str, digits: int) -> str:
    """Return the formula of what ``left_as_shown`` returns, over a cell and a range.

    >>> left_formula("B9", "B2:B7", 0)
    'ROUND(ROUND(B9,0)-SUMPRODUCT(ROUND(B2:B7,0)),0)'
    """
    return f"ROUND(ROUND({whole},{digits})-SUMPRODUCT(ROUND({parts},{digits})),{digits})"
