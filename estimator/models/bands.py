"""Size bands: outside diameters that share task times, crew and prices of pieces."""

from typing import ClassVar, Literal

from estimator.models.base import Model

Band = Literal["A", "B", "C", "D", "E"]
BANDS: tuple[Band, ...] = ("A", "B", "C", "D", "E")


class SizeBand(Model):
    """Outside diameters that share task times and crew."""

    TABLE: ClassVar[str] = "size_bands"
    ROW: ClassVar[str] = "band"

    band: Band
    od_to: float
    size_change_min: float
    basis: str | None = None
