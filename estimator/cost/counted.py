"""Rows of the table of cost lines: a number of something times a rate of the Rates sheet."""

from collections.abc import Callable, Iterator

from estimator.cost.rates import rate_input
from estimator.data_class import dataclass
from estimator.errors import UnknownNameError
from estimator.models.estimate import CostLine, Quantity, Section
from estimator.models.kinds import ALLOCATION_BASES, BY_HOURS, AllocationBasis, cost_type
from estimator.models.planned_job import PlannedJob


@dataclass(frozen=True)
class CountedLine:
    """One cost line: what it is, its rate, and the function that counts what is paid for.

    There is no line where nothing is counted or the rate is left blank. The unit is that of the
    rate.
    """

    key: str
    section: Section
    cost_type: str
    item: str
    basis: str
    rate: str
    count: Callable[[PlannedJob], Quantity | None]
    allocated_by: AllocationBasis = BY_HOURS
    own_item: str = ""

    def __post_init__(self) -> None:
        """Refuse a row that names a cost type or a basis of allocation of no table."""
        cost_type(self.cost_type)
        if self.allocated_by not in ALLOCATION_BASES:
            raise UnknownNameError("basis of allocation", self.allocated_by, ALLOCATION_BASES)

    def __call__(self, planned: PlannedJob) -> Iterator[CostLine]:
        """Yield the line of a planned job, if it has one."""
        price = planned.job.rates.price(self.rate)
        quantity = None if price is None else self.count(planned)
        if price is None or quantity is None:
            return
        yield CostLine(
            key=self.key,
            section=self.section,
            cost_type=self.cost_type,
            item=self.item,
            basis=self.basis,
            quantity=quantity,
            unit=price.per,
            rate=rate_input(planned.job.rates, self.rate),
            allocated_by=self.allocated_by,
            own_item=self.own_item,
        )
