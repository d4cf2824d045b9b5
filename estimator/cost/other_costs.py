"""Cost lines of the table of other costs: whatever a job takes besides fusing pipe."""

from collections.abc import Iterator, Mapping
from types import MappingProxyType

from estimator.cost.rates import DIRECT, given_price
from estimator.display import convert
from estimator.models.estimate import CostLine, Quantity
from estimator.models.kinds import (
    BY_HOURS,
    BY_JOINTS,
    BY_LENGTH,
    EQUIPMENT,
    LABOR,
    OWN_RUN,
    AllocationBasis,
)
from estimator.models.planned_job import PlannedJob
from estimator.models.priced_items import Counted, OtherCost, OtherType
from estimator.steps.marks import rounded
from estimator.steps.recorder import step

TYPE_OF: Mapping[OtherType, str] = MappingProxyType(
    {"labor": LABOR, "equipment": EQUIPMENT, "materials": "Materials", "other": "Other costs"}
)
"""Cost type of a row that is not a subcontract."""
SUBCONTRACT = "Subcontract"
SHARED_BY: Mapping[Counted, AllocationBasis] = MappingProxyType(
    {"lump sum": BY_HOURS, "by run": OWN_RUN, "by length": BY_LENGTH, "by joint": BY_JOINTS}
)
"""By what a row without a run is shared out."""
FOR_EACH: Mapping[Counted, str] = MappingProxyType(
    {"by length": "length of pipe", "by joint": "butt joint"}
)


@step("Quantity of {other.item}", "quantity x {of_what}")
def other_quantity(other: OtherCost, number: float, of_what: str) -> float:
    """Return the quantity of a row for a number of what it is counted by, to 0.01."""
    del of_what
    return rounded(other.quantity * number, 2)


def other_lines(planned: PlannedJob) -> Iterator[CostLine]:
    """Yield the lines of every row; one by the run has a line for each run."""
    runs = [run.run_id for run in planned.job.runs]
    for other in planned.job.other_costs:
        if other.run is not None:
            yield _line(planned, other, (other.run,), OWN_RUN)
        elif other.counted == "by run":
            yield from (_line(planned, other, (run,), OWN_RUN) for run in runs)
        else:
            yield _line(planned, other, tuple(runs), SHARED_BY[other.counted])


def _line(
    planned: PlannedJob, other: OtherCost, runs: tuple[str, ...], shared: AllocationBasis
) -> CostLine:
    owner = runs[0] if shared == OWN_RUN else ""
    each = FOR_EACH.get(other.counted, "")
    number = _number(planned, other.counted, frozenset(runs))
    quantity = other_quantity.worked(other, number, each or "1")
    return CostLine(
        key=f"other.{other.row_name}.{owner}",
        section=DIRECT,
        cost_type=SUBCONTRACT if other.subcontract else TYPE_OF[other.cost_type],
        item=f"{other.item}, run {owner}" if owner else other.item,
        basis=f"{other.quantity:g} {other.unit} for each {each}" if each else "Other costs",
        quantity=Quantity.of(quantity),
        unit=other.unit,
        rate=given_price.worked(other, "unit_price"),
        allocated_by=shared,
        charged_to=owner,
        own_item=other.bid_item or "",
    )


def _number(planned: PlannedJob, counted: Counted, runs: frozenset[str]) -> float:
    """Return how much there is of what a row is counted by, on some runs."""
    if counted == "by length":
        length_m = sum(run.length_m for run in planned.job.runs if run.run_id in runs)
        return convert(length_m, "length", planned.job.cover.unit_system)
    if counted == "by joint":
        return sum(run.counts.butt_joints for run in planned.runs if run.run_id in runs)
    return 1
