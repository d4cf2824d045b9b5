"""The items of the bid schedule: lump sums and unit prices that add up to the bid price."""

from collections.abc import Iterator, Sequence
from decimal import Decimal

from estimator.cost.by_size import exact_price_of
from estimator.display import convert, unit_of
from estimator.models.estimate import CostLine, PricedJob
from estimator.models.job import Job
from estimator.models.kinds import cost_type
from estimator.models.run_costs import BidItem, CostByRun
from estimator.money import round_quantity, round_to_step

LUMP_SUM = "lump sum"
LENGTH_DIGITS = 1

Costed = tuple[str, str, float, str, Decimal]


def bid_items(priced: PricedJob, by_run: CostByRun) -> tuple[BidItem, ...]:
    """Return the priced items of the bid schedule.

    Cost lines that name an item of their own make that item, tie-ins make another; all other cost
    goes to the length of each size, or of each run. An item's unit price is its part of the bid
    price, in proportion to cost, for one unit, rounded by the step of the Rates sheet. The items
    add up to the bid price but for the rounding that the schedule shows.

    Parameters
    ----------
    priced : PricedJob
        The job, whose ``bid_items`` say whether pipe is priced by size or by run; its runs, cost
        lines and price.
    by_run : CostByRun
        What each run and size carries of the cost.
    """
    return tuple(
        BidItem(key, text, quantity, unit, cost, _unit_price(priced, cost, quantity))
        for key, text, quantity, unit, cost in _costed(priced, by_run)
    )


def _costed(priced: PricedJob, by_run: CostByRun) -> Iterator[Costed]:
    yield from _own_items(priced.cost_lines, before_pipe=True)
    yield from _pipe_items(priced.job, by_run)
    tie_ins = sum(run.counts.tie_in_joints for run in priced.runs)
    if tie_ins:
        cost = sum((run.tie_ins for run in by_run.runs), Decimal(0))
        yield "tie_ins", "Tie-in joints", float(tie_ins), "tie-in", cost
    yield from _own_items(priced.cost_lines, before_pipe=False)


def _own_items(lines: Sequence[CostLine], *, before_pipe: bool) -> Iterator[Costed]:
    """Yield the items that cost lines name, each with the cost of all lines that name it."""
    costs: dict[str, Decimal] = {}
    for line in lines:
        if line.bid_item and cost_type(line.cost_type).before_pipe == before_pipe:
            costs[line.bid_item] = costs.get(line.bid_item, Decimal(0)) + line.amount
    for item, cost in costs.items():
        yield f"lines.{item}", item, 1.0, LUMP_SUM, cost


def _pipe_items(job: Job, by_run: CostByRun) -> Iterator[Costed]:
    system = job.cover.unit_system
    unit = unit_of("length", system)
    if job.bid.bid_items == "by size":
        for size in by_run.sizes:
            length = round_quantity(convert(size.length_m, "length", system), LENGTH_DIGITS)
            yield f"size.{size.label}", f"Joining {size.label}", length, unit, size.own_item
        return
    for run, cost in zip(job.runs, by_run.runs, strict=True):
        length = round_quantity(convert(run.length_m, "length", system), LENGTH_DIGITS)
        named = f", {run.description}" if run.description else ""
        text = f"Run {run.run_id}, {cost.label}{named}"
        yield f"run.{run.run_id}", text, length, unit, cost.own_item


def _unit_price(priced: PricedJob, cost: Decimal, quantity: float) -> Decimal:
    if not quantity:
        return Decimal(0)
    each = exact_price_of(priced.bid, cost) / quantity
    return round_to_step(each, priced.job.rates.unit_price_step)
