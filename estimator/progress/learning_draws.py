"""Random draws of what was learned: pace by size, rework share, weather days."""

import math
from collections.abc import Mapping, Sequence

import numpy as np
from numpy.typing import NDArray

from estimator.progress.learning import Learned

Floats = NDArray[np.float64]


def draw_paces(
    rng: np.random.Generator, learned: Learned, sizes: Sequence[str], draws: int
) -> Mapping[str, Floats]:
    """Return draws of the pace of each size, drawn together with that of the job.

    The spread is widened from normal to Student t by the shifts that it was learned from.

    Returns
    -------
    mapping of str to array
        ``draws`` multiples of the planned crew-paced time for each size.
    """
    wider = np.sqrt(learned.freedom / rng.chisquare(learned.freedom, draws))
    job = learned.job_sd * rng.standard_normal(draws)
    paces: dict[str, Floats] = {}
    for name in sizes:
        pace = learned.size(name)
        shared = 1.0 - pace.weight
        own_sd = math.sqrt(max(0.0, pace.sd**2 - (shared * learned.job_sd) ** 2))
        own = own_sd * rng.standard_normal(draws)
        paces[name] = np.exp(pace.mean + wider * (shared * job + own))
    return paces


def draw_shares(
    rng: np.random.Generator, planned: float, worth: float, seen: int, out_of: int, draws: int
) -> Floats:
    """Return draws of a share (rework, weather days) after some of it was seen.

    Parameters
    ----------
    planned : float
        Share in the baseline, 0 to 1; at 0 or 1 it stays there until something else is seen.
    worth : float
        How many joints or days the planned share counts for.
    seen, out_of : int
        Rejected joints out of all, or lost days out of all.
    draws : int
        How many.

    Raises
    ------
    ValueError
        Where the counts do not fit each other.
    """
    if not 0 <= seen <= out_of:
        raise ValueError(f"{seen} out of {out_of} is not possible")
    hits = planned * worth + seen
    misses = (1 - planned) * worth + out_of - seen
    if hits <= 0:
        return np.zeros(draws)
    if misses <= 0:
        return np.ones(draws)
    return rng.beta(hits, misses, draws)
