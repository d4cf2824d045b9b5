"""Random draws of three-point ranges: PERT and triangular, each factor from its own stream."""

from collections.abc import Iterator, Mapping, Sequence

import numpy as np
from numpy.typing import NDArray

from estimator.models.kinds import RISK_FACTORS, RiskFactor
from estimator.models.risk_ranges import RiskRange

Floats = NDArray[np.float64]
CHUNK = 20_000
PERT_WEIGHT = 4.0


def draw(rng: np.random.Generator, span: RiskRange, count: int) -> Floats:
    """Return draws of one range.

    PERT is the beta distribution over the range whose mode is the most likely value and whose
    mean is ``(low + 4 likely + high) / 6``; its variance is ``(mean - low)(high - mean) / 7``.
    Triangular has the mean ``(low + likely + high) / 3``.

    Parameters
    ----------
    rng : numpy.random.Generator
        Stream to draw from.
    span : RiskRange
        The range; with its ends equal every draw is that value.
    count : int
        How many.
    """
    width = span.high - span.low
    if width == 0:
        return np.full(count, span.low)
    if span.shape == "triangular":
        return rng.triangular(span.low, span.likely, span.high, count)
    rising = 1.0 + PERT_WEIGHT * (span.likely - span.low) / width
    falling = 1.0 + PERT_WEIGHT * (span.high - span.likely) / width
    return span.low + width * rng.beta(rising, falling, count)


def draw_chunks(
    ranges: Sequence[RiskRange], trials: int, seed: int
) -> Iterator[Mapping[RiskFactor, Floats]]:
    """Yield the draws of every factor, some trials at a time, so that memory stays bounded.

    A factor is drawn once for a trial and holds for the whole job; different factors are
    independent. Each has its own stream, so that a change of one range leaves the draws of the
    others as they were. A factor without a range is 1, as planned.
    """
    spans = {span.factor: span for span in ranges}
    streams = dict(
        zip(RISK_FACTORS, np.random.default_rng(seed).spawn(len(RISK_FACTORS)), strict=True)
    )
    for done in range(0, trials, CHUNK):
        count = min(CHUNK, trials - done)
        yield {
            factor: draw(streams[factor], spans[factor], count)
            if factor in spans
            else np.ones(count)
            for factor in RISK_FACTORS
        }
