"""The job cost shared out over the runs, and the price with it."""

from collections.abc import Mapping, Sequence
from decimal import Decimal
from functools import cached_property
from typing import Literal, NamedTuple, get_args

from estimator.data_class import dataclass
from estimator.models.kinds import WITH_PIPE, AllocationBasis, cost_type
from estimator.money import round_money
from estimator.steps.kinds import Amount, Money
from estimator.steps.marks import cents, number, total
from estimator.steps.recorder import step


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


class BeforeBond(NamedTuple):
    """Cost of a run with overhead, contingency and profit of its types, to the cent.

    ``own_item`` is that of the run's own item of the bid.
    """

    run: Decimal
    tie_ins: Decimal
    own_item: Decimal


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
    before_bond: BeforeBond
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
    before_bond: Decimal
    own_before_bond: Decimal
    price: Decimal


@step("Amount of an item", "quantity x unit price")
def item_amount(quantity: float, unit_price: Amount) -> Money:
    """Return the amount of a line of the bid schedule, to the cent."""
    return cents(quantity * number(unit_price))


@step("Left over", "the whole - its parts")
def left_over(whole: Amount, parts: Sequence[Amount]) -> Money:
    """Return what is left of an amount: by rounding, or for the item that balances the others."""
    return cents(number(whole) - number(total(parts, Decimal(0))))


PartKind = Literal[
    "lines", "size", "run", "furnished size", "pipe of size", "pipe of run", "tie-ins"
]
ItemGroup = Literal["Mobilization", "Pipe", "Connections and tests", "Other work"]
ITEM_GROUPS: tuple[ItemGroup, ...] = get_args(ItemGroup)


class ItemPart(NamedTuple):
    """A part of the job cost that an item carries, or with ``sign`` -1 leaves to another item.

    ``name`` is that of the item that cost lines name, of the size or of the run.
    """

    kind: PartKind
    name: str = ""
    sign: int = 1


class PipeWork(NamedTuple):
    """What is done with pipe, in the words before and after its name, and of all pipe."""

    before: str
    after: str
    of_all: str

    def of(self, pipe: str) -> str:
        """Return what is done with one pipe."""
        return f"{self.before}{pipe}{self.after}"


@dataclass(frozen=True)
class BidItem:
    """One line of the bid schedule.

    ``key`` is our own name of it, that of its first item where the owner has several in one.
    ``number`` is the owner's, ``parts`` are what it carries of the job cost, ``cost`` is their
    sum and ``before_bond`` the same with the markups of their types. The item that ``balances``
    takes what rounding leaves of the bid price; ``fixed_price`` says that its unit price was typed
    in. ``amount`` is quantity x unit price.
    """

    key: str
    description: str
    quantity: float
    unit: str
    cost: Decimal
    before_bond: Decimal
    unit_price: Decimal
    group: ItemGroup = "Pipe"
    number: str = ""
    parts: tuple[ItemPart, ...] = ()
    keys: tuple[str, ...] = ()
    """Our names of all that is in it."""
    lump_sum: bool = False
    own_unit: str = ""
    """Our wording of the unit, where the owner has another."""
    balances: bool = False
    fixed_price: bool = False
    work: PipeWork | None = None
    pipe: str = ""
    """What is done with which pipe, where the description is in our words."""

    @property
    def amount(self) -> Decimal:
        """Amount in the job's currency, rounded to cents."""
        return round_money(item_amount(self.quantity, self.unit_price))


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
        return round_money(
            left_over(self.amount(allocation), [run.amounts[i] for run in self.runs])
        )

    @cached_property
    def by_run(self) -> Mapping[str, RunCost]:
        """The runs by their names."""
        return {run.run_id: run for run in self.runs}
