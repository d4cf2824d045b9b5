"""The finished estimate: cost lines, the bid and everything they rest on."""

import datetime as dt
from collections.abc import Mapping
from dataclasses import dataclass, field
from decimal import Decimal
from functools import cached_property
from typing import Literal

from estimator.errors import Problem
from estimator.models.comparison import Comparison
from estimator.models.fleet_outcome import FleetOutcome
from estimator.models.hydrotest import HydroTest
from estimator.models.job import Job
from estimator.models.kinds import BY_HOURS, EACH_LINE, AllocationBasis, cost_type
from estimator.models.options import NoOptions, OptionTable
from estimator.models.plan import Fleet, Plan, SizedRun
from estimator.models.risk import NoRisk, Risk
from estimator.models.run_costs import BidItem, CostByRun
from estimator.money import round_money
from estimator.steps.kinds import Money
from estimator.steps.marks import cents
from estimator.steps.recorder import Worked, step

Section = Literal["Direct cost", "Indirect cost"]
NOT_ASKED = NoRisk(reason="none were asked for")
NO_OPTIONS = NoOptions(reason="none were asked for")


@dataclass(frozen=True)
class Quantity:
    """A quantity, and the result cells it is the sum of.

    ``terms`` are (factor, anchor) pairs; an anchor names a result cell such as
    ``joints.butt_joints``. Without terms the quantity is a plain number. ``worked`` is how it
    came about, where that is more than the sum of a result column.
    """

    value: float
    terms: tuple[tuple[int, str], ...] = ()
    worked: Worked[float] | None = None

    @classmethod
    def of(cls, worked: Worked[float], terms: tuple[tuple[int, str], ...] = ()) -> "Quantity":
        """Return the quantity that a step gave."""
        return cls(worked.value, terms, worked)


@step("Amount", "quantity x rate")
def line_amount(quantity: float, rate: float) -> Money:
    """Return the amount of a cost line, to the cent."""
    return cents(quantity * rate)


@dataclass(frozen=True)
class CostLine:
    """One line of the Cost sheet: a quantity times a rate, which tells how it came about.

    ``allocated_by`` says how it is shared out over the runs, and ``belongs_to`` to which: a run
    (own run), those of a size band (pieces), or all where it is empty.
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
    belongs_to: str = ""

    @cached_property
    def amount(self) -> Decimal:
        """Amount in the job's currency, rounded to cents."""
        return round_money(line_amount(self.quantity.value, self.rate.value))

    @property
    def bid_item(self) -> str:
        """Item of its own in which the client pays for it, empty where pipe and tie-ins do."""
        named = cost_type(self.cost_type).bid_item
        return self.item if named == EACH_LINE else named


@dataclass(frozen=True)
class Bid:
    """The markup chain from job cost to price, each step rounded to cents."""

    direct_cost: Decimal
    indirect_cost: Decimal
    job_cost: Decimal
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
        return float(self.profit / self.cost_before_profit) if self.cost_before_profit else 0.0

    @property
    def margin(self) -> float:
        """Profit as a share of the price."""
        return float(self.profit / self.price) if self.price else 0.0


@dataclass(frozen=True)
class Estimate:
    """Everything that one run of the estimator found."""

    job: Job
    runs: tuple[SizedRun, ...]
    plan: Plan
    fleet: Fleet
    cost_lines: tuple[CostLine, ...]
    bid: Bid
    by_run: CostByRun
    items: tuple[BidItem, ...]
    labor_hours: Mapping[str, float]
    """Paid hours of all people by run."""
    crew_hours: Mapping[str, float]
    """Paid hours of crews on the clock by run: a crew of four for an hour is one."""
    method_notes: Mapping[str, tuple[str, ...]]
    """What the fusion method says of the runs on their days: note and run ids."""
    warnings: tuple[Problem, ...] = field(default=())
    comparison: Comparison | None = None
    """The job's scenarios beside this estimate; None where they were not asked for."""
    risk: Risk | NoRisk = NOT_ASKED
    options: OptionTable | NoOptions = NO_OPTIONS
    fleet_outcome: FleetOutcome | None = None
    """How classes and crews were chosen over the job; None where they were not."""
    tests: tuple[HydroTest, ...] = ()
    """Hydrotests of the runs with a test section, in the order in which they begin."""

    @property
    def finish(self) -> dt.date:
        """Last day of work, hydrotests included."""
        return max([self.plan.finish, *(test.finish for test in self.tests)])

    @property
    def asked_job(self) -> Job:
        """The job as it was given, without the classes and crews chosen over it."""
        return self.job if self.fleet_outcome is None else self.fleet_outcome.asked

    @property
    def total_labor_hours(self) -> float:
        """Paid hours of all people on the crews."""
        return sum(day.labor_hours for day in self.plan.crew_days)

    @property
    def total_crew_hours(self) -> float:
        """Paid hours of the crews on the clock."""
        return sum(day.crew_hours for day in self.plan.crew_days)

    @property
    def butt_joints(self) -> int:
        """Butt joints of the job, tie-ins and fittings included, remade joints not."""
        return sum(run.counts.butt_joints for run in self.runs)
