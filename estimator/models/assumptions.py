"""Own assumptions still at their defaults, each with what it moves the price by."""

from collections.abc import Sequence
from decimal import Decimal

from estimator.data_class import dataclass


@dataclass(frozen=True)
class Assumption:
    """One input, or some columns of a table, that still hold what the workbook came with.

    ``row`` is the first row of the table that is marked, empty for a named cell, and ``rows`` is
    how many there are; ``where`` is its cell. ``change`` is what the bid price moves by; None
    where the move is not possible, and ``why_not`` says why.
    """

    table: str
    row: str
    key: str
    name: str
    value: str
    move: str
    rows: int = 1
    change: Decimal | None = None
    why_not: str = ""
    where: str = ""


@dataclass(frozen=True)
class AssumptionTable:
    """Every own assumption at its default, that which moves the price most first."""

    assumptions: tuple[Assumption, ...]

    @property
    def weighed(self) -> Sequence[Assumption]:
        """Those that move the price, the heaviest first."""
        return [one for one in self.assumptions if one.change]


@dataclass(frozen=True)
class NoAssumptions:
    """Why the assumptions were not weighed."""

    reason: str
