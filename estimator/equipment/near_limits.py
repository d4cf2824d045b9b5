"""Where a choice works but comes close to what a class can do."""

import math
from collections.abc import Iterator
from typing import Literal

from estimator.joint.machines import SMALL, GaugeRange
from estimator.models.choice import Reason
from estimator.models.equipment import Machine

SAME_DIAMETER = 1e-3
"""Share within which a pipe counts as the largest or smallest of a class: rounding of units."""
Near = Literal["gauge high", "gauge low", "diameter"]


def near_limits(
    machine: Machine, od_mm: float, gauge: GaugeRange | None, share: float
) -> Iterator[tuple[Near, Reason]]:
    """Yield each limit of a machine class that a joint on it comes close to.

    Parameters
    ----------
    machine : Machine
        A class that can make the joint.
    od_mm : float
        Outside diameter of the pipe. [mm]
    gauge : tuple of float, optional
        Gauge pressure at low, nominal and high interfacial pressure; None for a hand lever. [MPa]
    share : float
        Share of a limit that counts as close, 0 to 0.5; an assumption that the user sets.
    """
    if gauge is not None:
        low, _, high = gauge
        if machine.max_gauge_mpa is not None and high > (1 - share) * machine.max_gauge_mpa:
            text = "gauge up to {need} is close to the limit {limit}"
            yield "gauge high", _pressure(text, high, machine.max_gauge_mpa)
        if machine.min_gauge_mpa is not None and low < (1 + share) * machine.min_gauge_mpa:
            text = "gauge down to {need} is close to the lowest readable {limit}"
            yield "gauge low", _pressure(text, low, machine.min_gauge_mpa)
    for limit, word in ((machine.od_max_mm, "largest"), (machine.od_min_mm, "smallest")):
        if math.isclose(od_mm, limit, rel_tol=SAME_DIAMETER):
            text = f"{{need}} is the {word} pipe this class takes"
            yield "diameter", Reason(text=text, kind=SMALL, need=od_mm, limit=limit)


def _pressure(text: str, need: float, limit: float) -> Reason:
    return Reason(text=text, kind="pressure", need=need, limit=limit)


def near_capacity(need: float, capacity: float, share: float) -> bool:
    """Return whether a load, its reserve included, is close to what a class carries."""
    return need > (1 - share) * capacity
