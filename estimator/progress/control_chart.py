"""Rejects in groups of joints against limits of chance: a p-chart with 3-sigma limits.

Source: the usual Shewhart chart for a share, ``p +- 3 sqrt(p (1 - p) / n)`` (NIST/SEMATECH
e-Handbook of Statistical Methods, 6.3.3.2).
"""

import math
from collections.abc import Sequence

from estimator.data_class import dataclass

GROUP = 50


@dataclass(frozen=True)
class ChartPoint:
    """One group of joints in the order in which they were made."""

    first: int
    last: int
    rejects: int
    share: float
    lower: float
    upper: float

    @property
    def out_of_control(self) -> bool:
        """Whether the share is beyond what chance explains."""
        return not self.lower <= self.share <= self.upper


def p_chart(rejected: Sequence[bool], group: int = GROUP) -> tuple[ChartPoint, ...]:
    """Return a point for each full group of joints, and for a rest of at least half a group.

    Parameters
    ----------
    rejected : sequence of bool
        Every joint in the order made; true where it was rejected.
    group : int
        Joints in a point.
    """
    if group < 1:
        raise ValueError("a group needs at least one joint")
    if not rejected:
        return ()
    mean = sum(rejected) / len(rejected)
    points = []
    for start in range(0, len(rejected), group):
        part = rejected[start : start + group]
        if 2 * len(part) < group:
            break
        reach = 3 * math.sqrt(mean * (1 - mean) / len(part))
        points.append(
            ChartPoint(
                first=start + 1,
                last=start + len(part),
                rejects=sum(part),
                share=sum(part) / len(part),
                lower=max(0.0, mean - reach),
                upper=min(1.0, mean + reach),
            )
        )
    return tuple(points)
