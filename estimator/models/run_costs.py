"""The job cost shared out over the runs, and the price with it."""

from collections.abc import Mapping
from dataclasses import dataclass
from decimal import Decimal
from functools import cached_property

from estimator.models.kinds import WITH_PIPE, AllocationBasis, cost_type
from estimator.money import round_money


@dataclass(frozen=True)
class Allocation:
    """Cost lines of one type that are shared out in the same way: a column of the run table."""

    cost_type: str
    allocated_by: AllocationBasis
    by_band: bool
    with_pipe: bool
    """Whether the client pays for it in the prices of pipe and tie-ins."""

    @property
    def name(self) -> str:
        """What the share is called, such as ``Materials, by closures``."""
        usual = cost_type(self.cost_type).bid_item == WITH_PIPE
        apart = ", in an item of its own" if usual and not self.with_pipe else ""
        return f"{self.cost_type}, by {self.allocated_by}{apart}"


@dataclass(frozen=True)
class Pool:
    """What one share hands out to the runs of one size band, or to all (``band`` empty).

    ``units`` are what it is shared by, over all runs that carry it.
    """

    allocation: Allocation
    band: str
    amount: Decimal
    units: float

    @property
    def per_unit(self) -> float:
        """Amount for each unit, 0 where there are none."""
        return float(self.amount) / self.units if self.units else 0.0


@dataclass(frozen=True)
class RunCost:
    """One run's part of the job cost, each share to the cent.

    ``tie_in_share`` is the part of its working minutes that tie-ins take.
    """

    run_id: str
    label: str
    band: str
    labor_hours: float
    tie_in_share: float
    amounts: tuple[Decimal, ...]
    tie_ins: Decimal
    own_item: Decimal
    """What the run's own item of the bid carries: all but tie-ins and lump sums."""
    price: Decimal

    @property
    def cost(self) -> Decimal:
        """Cost of the run."""
        return sum(self.amounts, Decimal(0))


@dataclass(frozen=True)
class SizeCost:
    """One size and wall: the sums of its runs, and its part of the bid price."""

    label: str
    length_m: float
    butt_joints: int
    labor_hours: float
    cost: Decimal
    own_item: Decimal
    price: Decimal


@dataclass(frozen=True)
class BidItem:
    """One line of the bid schedule; ``key`` names what it prices, as the sheets find it.

    ``cost`` is the job cost that it carries; ``amount`` is quantity x rounded unit price.
    """

    key: str
    description: str
    quantity: float
    unit: str
    cost: Decimal
    unit_price: Decimal

    @property
    def amount(self) -> Decimal:
        """Amount in the job's currency, rounded to cents."""
        return round_money(self.quantity * float(self.unit_price))


@dataclass(frozen=True)
class CostByRun:
    """The job cost by run, by share and by size."""

    allocations: tuple[Allocation, ...]
    pools: tuple[Pool, ...]
    runs: tuple[RunCost, ...]
    sizes: tuple[SizeCost, ...]

    def amount(self, allocation: Allocation) -> Decimal:
        """Return the amount of an allocation before it is handed out."""
        return sum(
            (pool.amount for pool in self.pools if pool.allocation == allocation), Decimal(0)
        )

    def rounding(self, allocation: Allocation) -> Decimal:
        """Return what rounding to cents leaves of an allocation."""
        i = self.allocations.index(allocation)
        return self.amount(allocation) - sum((run.amounts[i] for run in self.runs), Decimal(0))

    @cached_property
    def by_run(self) -> Mapping[str, RunCost]:
        """The runs by their names."""
        return {run.run_id: run for run in self.runs}
