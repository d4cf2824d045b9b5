"""Size bands: outside diameters that share task times, crew and prices of pieces."""

from collections.abc import Mapping
from types import MappingProxyType
from typing import ClassVar, Literal, NamedTuple

from estimator.models.base import RenamedModel

Band = Literal["A", "B", "C", "D", "E"]
BANDS: tuple[Band, ...] = ("A", "B", "C", "D", "E")


BandTimes = Literal["steps", "between centers"]
"""How a figure by size band is read for a diameter: that of its band, or between two bands."""
STEPS: BandTimes = "steps"


class BandShare(NamedTuple):
    """Where a diameter lies among the bands: ``share`` of the way from one to the next."""

    low: Band
    high: Band
    share: float

    @classmethod
    def inside(cls, band: Band) -> "BandShare":
        """Return the place of a diameter that takes the figures of one band."""
        return cls(band, band, 0.0)

    def of(self, figures: Mapping[Band, float]) -> float:
        """Return a figure by band at this place."""
        return between(figures[self.low], figures[self.high], self.share)


def between(low: float, high: float, share: float) -> float:
    """Return what lies a share of the way from one figure to another.

    >>> between(20.0, 30.0, 0.25)
    22.5
    """
    return low * (1 - share) + high * share


class SizeBand(RenamedModel):
    """Outside diameters that share task times and crew."""

    TABLE: ClassVar[str] = "size_bands"
    ROW: ClassVar[str] = "band"
    OLD_NAMES: ClassVar[Mapping[str, str]] = MappingProxyType({"od_to": "od_to_mm"})

    band: Band
    od_to_mm: float
    size_change_min: float
    basis: str | None = None
