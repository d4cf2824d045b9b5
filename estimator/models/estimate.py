"""The finished estimate: cost lines, the bid and everything they rest on."""

from collections.abc import Mapping
from decimal import Decimal
from functools import cached_property
from typing import Literal

from estimator.data_class import dataclass
from estimator.errors import Problem
from estimator.models.fleet_outcome import FleetOutcome
from estimator.models.job import Job
from estimator.models.kinds import BY_HOURS, EACH_LINE, AllocationBasis, cost_type
from estimator.models.planned_job import PlannedJob
from estimator.models.run_costs import Allocation, BidItem, CostByRun
from estimator.money import round_money
from estimator.steps.kinds import Money
from estimator.steps.marks import cents
from estimator.steps.plain import share
from estimator.steps.recorder import Worked, step

Section = Literal["Direct cost", "Indirect cost"]


@dataclass(frozen=True)
class Quantity:
    """A quantity, and the result cells it is the sum of.

    ``terms`` are (factor, anchor) pairs; an anchor names a result cell such as
    ``joints.butt_joints``. Without terms the quantity is a plain number. ``working`` is how it
    came about step by step, where that is more than the sum of a result column.
    """

    value: float
    terms: tuple[tuple[int, str], ...] = ()
    working: tuple[Worked[float], ...] = ()

    @classmethod
    def of(cls, *working: Worked[float], terms: tuple[tuple[int, str], ...] = ()) -> "Quantity":
        """Return the quantity that the last of some steps gave."""
        return cls(working[-1].value, terms, working)


@step("Amount", "quantity x rate")
def line_amount(quantity: float, rate: float) -> Money:
    """Return the amount of a cost line, to the cent."""
    return cents(quantity * rate)


@dataclass(frozen=True)
class CostLine:
    """One line of the Cost sheet: a quantity times a rate, which says how it came about.

    ``allocated_by`` says how it is shared out over the runs, and ``charged_to`` to which: a run
    (own run), those of a size band (pieces), or all where it is empty. ``own_item`` names a bid
    item in which the client pays for it, in place of that of its type.
    """

    key: str
    section: Section
    cost_type: str
    item: str
    basis: str
    quantity: Quantity
    unit: str
    rate: Worked[float]
    allocated_by: AllocationBasis = BY_HOURS
    charged_to: str = ""
    own_item: str = ""

    @cached_property
    def amount(self) -> Decimal:
        """Amount in the job's currency, rounded to cents."""
        return round_money(line_amount(self.quantity.value, self.rate.value))

    @property
    def bid_item(self) -> str:
        """Item of its own in which the client pays for it, empty where pipe and tie-ins do."""
        named = self.own_item or cost_type(self.cost_type).bid_item
        return self.item if named == EACH_LINE else named

    @cached_property
    def allocation(self) -> Allocation:
        """How it is shared out over the runs, together with the lines that are shared alike."""
        return Allocation(
            self.cost_type, self.allocated_by, bool(self.charged_to), with_pipe=not self.bid_item
        )


@dataclass(frozen=True)
class Bid:
    """The markup chain from job cost to price, each step rounded to cents.

    ``unmarked`` is the part of the job cost that carries no overhead, contingency and profit.
    """

    direct_cost: Decimal
    indirect_cost: Decimal
    job_cost: Decimal
    unmarked: Decimal
    office_overhead: Decimal
    contingency: Decimal
    cost_before_profit: Decimal
    profit: Decimal
    price_before_bond: Decimal
    bond: Decimal
    rounding: Decimal
    price: Decimal
    tax: Decimal
    total: Decimal

    @property
    def markup(self) -> float:
        """Profit as a share of cost."""
        return share(float(self.profit), float(self.cost_before_profit))

    @property
    def margin(self) -> float:
        """Profit as a share of the price."""
        return share(float(self.profit), float(self.price))


@dataclass(frozen=True, kw_only=True)
class PricedJob(PlannedJob):
    """A planned job with its cost lines and the bid that they come to.

    ``fleet_outcome`` says how classes and crews were chosen over the job; None where they were not.
    """

    cost_lines: tuple[CostLine, ...]
    bid: Bid
    fleet_outcome: FleetOutcome | None = None

    @property
    def asked_job(self) -> Job:
        """The job as it was given, without the classes and crews chosen over it."""
        return self.job if self.fleet_outcome is None else self.fleet_outcome.asked


@dataclass(frozen=True, kw_only=True)
class Estimate(PricedJob):
    """A priced job shared out over runs, sizes and bid items, and reviewed.

    ``method_notes`` are what the fusion method says of the runs on their days: note and run ids.
    """

    by_run: CostByRun
    items: tuple[BidItem, ...]
    labor_hours: Mapping[str, float]
    """Paid hours of all people by run."""
    crew_hours: Mapping[str, float]
    """Paid hours of crews on the clock by run: a crew of four for an hour is one."""
    method_notes: Mapping[str, tuple[str, ...]]
    warnings: tuple[Problem, ...] = ()
