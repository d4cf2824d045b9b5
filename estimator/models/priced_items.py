"""What is bought or hired besides the crew's work: other costs, and fittings by size and DR."""

from typing import ClassVar, Literal

from estimator.models.base import Model, joined
from estimator.models.kinds import FittingKind
from estimator.models.rates import MoneyRate

Counted = Literal["lump sum", "by run", "by length", "by joint"]
LUMP_SUM: Counted = "lump sum"
OtherType = Literal["labor", "equipment", "materials", "other"]
FittingMake = Literal["molded", "fabricated"]


class OtherCost(Model):
    """A row of the table of other costs: a quantity, once or for each run, length or joint.

    ``counted`` says what the quantity is for: the whole, one run, one unit of length as the
    results show it, or one butt joint. With a ``run`` it is for that run alone.
    """

    TABLE: ClassVar[str] = "other_costs"
    ROW: ClassVar[str] = "row_name"
    KEYS: ClassVar[tuple[str, ...]] = ("item", "run")

    item: str
    quantity: float
    unit: str
    unit_price: MoneyRate
    counted: Counted = LUMP_SUM
    run: str | None = None
    cost_type: OtherType = "other"
    subcontract: bool = False
    bid_item: str | None = None
    basis: str | None = None

    @property
    def row_name(self) -> str:
        """What sets the row apart from the others."""
        return joined(getattr(self, key) for key in self.KEYS)


class FittingPrice(Model):
    """Price of one fitting of a kind, size and DR; ``to_size`` is the smaller end where it has one.

    Without ``made`` it is for molded and fabricated ones alike; without a price it is still to be
    asked for.
    """

    TABLE: ClassVar[str] = "fitting_prices"
    ROW: ClassVar[str] = "row_name"
    KEYS: ClassVar[tuple[str, ...]] = ("kind", "od_system", "size", "to_size", "dr", "made")

    kind: FittingKind
    od_system: str
    size: str
    to_size: str | None = None
    dr: float
    made: FittingMake | None = None
    price: MoneyRate | None = None
    basis: str | None = None

    @property
    def row_name(self) -> str:
        """What sets the row apart from the others."""
        return joined(getattr(self, key) for key in self.KEYS)
