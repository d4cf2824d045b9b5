"""Pieces that pipe comes in: straight sticks, and coils of small pipe."""

from estimator.data_class import dataclass
from estimator.standards import tables
from estimator.units import at_least, at_most

TABLE = "plausible"


@dataclass(frozen=True)
class StickLengths:
    """Lengths that sticks come in, and the outside diameter up to which pipe comes in coils."""

    low_m: float
    high_m: float
    coil_od_mm: float

    def is_stick(self, length_m: float) -> bool:
        """Return whether sticks come in a length."""
        return at_least(length_m, self.low_m) and at_most(length_m, self.high_m)

    def is_coil(self, length_m: float, od_mm: float) -> bool:
        """Return whether a piece longer than sticks are is a coil: of small pipe."""
        return (
            at_least(length_m, self.high_m)
            and not self.is_stick(length_m)
            and at_most(od_mm, self.coil_od_mm)
        )


def stick_lengths() -> StickLengths:
    """Return the lengths of the table of what is plausible."""
    stick = tables.find_row(TABLE, "quantity", "stick length")
    coil = tables.find_row(TABLE, "quantity", "coil diameter")
    low, high = (tables.number(stick, end) for end in ("low", "high"))
    return StickLengths(low, high, tables.number(coil, "high"))
