"""Clock times of one day, in minutes after midnight, and the time between two of them."""

from estimator.units import DAY_MIN, MIN_S

LONGEST_MIN = DAY_MIN / 2
"""A pair of clock times further apart than this is taken as running backwards."""


def elapsed_s(start_min: float | None, end_min: float | None) -> float | None:
    """Return the seconds between two clock times, over midnight where need be.

    Raises
    ------
    ValueError
        Where the clock runs backwards: more than half a day would have passed.

    Examples
    --------
    >>> elapsed_s(1435.0, 5.0)
    600.0
    """
    if start_min is None or end_min is None:
        return None
    minutes = (end_min - start_min) % DAY_MIN
    if minutes > LONGEST_MIN:
        raise ValueError("the clock runs backwards")
    return MIN_S * minutes
