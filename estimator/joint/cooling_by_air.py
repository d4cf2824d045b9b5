"""How long a joint cools under pressure in each band of air temperature."""

from collections.abc import Callable, Sequence
from itertools import pairwise

from estimator.models.site_records import CoolingByAir
from estimator.standards import tables

TINY_C = 1e-6


def cooling_by_air(
    pipe: str, method: str, cool_s: Callable[[float], float]
) -> tuple[CoolingByAir, ...]:
    """Return the least cooling of a pipe in each band of air that its method knows.

    Within a band it is in proportion between the two ends; at an edge the warmer band holds.

    Parameters
    ----------
    pipe : str
        What the pipe is called.
    method : str
        Key of the fusion method.
    cool_s : callable
        Cooling of the joint [s] at an air temperature [C], own figures applied.
    """
    edges = _edges(method)
    bands = [
        CoolingByAir(
            pipe=pipe,
            from_c=low,
            to_c=high,
            low_s=cool_s(low),
            high_s=cool_s(high if high == edges[-1] else high - TINY_C),
        )
        for low, high in pairwise(edges)
    ]
    if len({end for band in bands for end in (band.low_s, band.high_s)}) == 1:
        return (bands[0].model_copy(update={"to_c": edges[-1]}),)
    return tuple(bands)


def _edges(method: str) -> Sequence[float]:
    """Return the air temperatures [C] between which cooling follows one line."""
    limits = tables.find_row("limits", "quantity", "ambient temperature")
    coldest, hottest = tables.number(limits, "low"), tables.number(limits, "high")
    if method == "dvs2207":
        tops = [tables.number(row, "ambient_to_c") for row in tables.load("dvs2207_ambient")]
        return [coldest, *tops]
    usual = [
        tables.number(row, "reference_c")
        for row in tables.load("iso21307_ambient")
        if row["method"] == method
    ]
    return [coldest, *usual, hottest]


def least_cooling_s(bands: Sequence[CoolingByAir], ambient_c: float | None) -> float | None:
    """Return the cooling that the air asks for, None where it lies outside the bands.

    Without a temperature the first band counts, which is all there is where air changes nothing.

    Examples
    --------
    >>> band = CoolingByAir(pipe="p", from_c=20.0, to_c=40.0, low_s=600.0, high_s=700.0)
    >>> least_cooling_s([band], 30.0), least_cooling_s([band], 10.0)
    (650.0, None)
    """
    if ambient_c is None:
        return bands[0].low_s if bands else None
    if not bands or ambient_c > bands[-1].to_c + TINY_C:
        return None
    reached = [band for band in bands if band.from_c <= ambient_c + TINY_C]
    if not reached:
        return None
    band = reached[-1]
    share = (ambient_c - band.from_c) / (band.to_c - band.from_c)
    return band.low_s + (band.high_s - band.low_s) * share
