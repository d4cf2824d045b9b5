"""The items of the bid schedule: lump sums and unit prices that add up to the bid price."""

from collections.abc import Iterator, Sequence
from decimal import Decimal

from estimator.cost.by_size import part_of_price
from estimator.display import convert, unit_of
from estimator.models.estimate import Bid, CostLine, PricedJob
from estimator.models.job import Job
from estimator.models.kinds import cost_type
from estimator.models.rates import Rates
from estimator.models.run_costs import BidItem, CostByRun, RunCost
from estimator.money import round_money, round_quantity
from estimator.steps.kinds import Amount, Money
from estimator.steps.marks import cents, either, or_zero, to_step
from estimator.steps.recorder import step

LUMP_SUM = "LS"
LENGTH_DIGITS = 1

Costed = tuple[str, str, float, str, Decimal]


def price_items(priced: PricedJob, by_run: CostByRun) -> tuple[BidItem, ...]:
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
    first: set[str] = set()
    for line in lines:
        if line.bid_item:
            costs[line.bid_item] = costs.get(line.bid_item, Decimal(0)) + line.amount
            first |= {line.bid_item} if cost_type(line.cost_type).before_pipe else set()
    for item, cost in costs.items():
        if (item in first) == before_pipe:
            yield f"lines.{item}", item, 1.0, LUMP_SUM, cost


def item_keys(run: RunCost) -> tuple[str, str]:
    """Return the keys of the items that may hold the pipe of a run: of its size, of itself."""
    return f"size.{run.label}", f"run.{run.run_id}"


def _pipe_items(job: Job, by_run: CostByRun) -> Iterator[Costed]:
    system = job.cover.unit_system
    unit = unit_of("length", system)
    if job.bid.bid_items == "by size":
        for size in by_run.sizes:
            length = round_quantity(convert(size.length_m, "length", system), LENGTH_DIGITS)
            yield f"size.{size.label}", f"Butt fusion, {size.label}", length, unit, size.own_item
        return
    for run, cost in zip(job.runs, by_run.runs, strict=True):
        length = round_quantity(convert(run.length_m, "length", system), LENGTH_DIGITS)
        named = f", {run.description}" if run.description else ""
        text = f"Run {run.run_id}, {cost.label}{named}"
        yield f"run.{run.run_id}", text, length, unit, cost.own_item


@step("Unit price of its bid item", "bid price x cost in the item / job cost / quantity")
def unit_price(bid: Bid, cost: Amount, quantity: float, rates: Rates) -> Money:
    """Return the price of one unit of an item, rounded by the step of the Rates sheet."""
    each, size = part_of_price(bid, cost) / quantity, or_zero(rates.unit_price_step)
    return either(size > 0, lambda: to_step(each, size), lambda: cents(each))


def _unit_price(priced: PricedJob, cost: Decimal, quantity: float) -> Decimal:
    if not quantity or not priced.bid.job_cost:
        return Decimal(0)
    return round_money(unit_price(priced.bid, cost, quantity, priced.job.rates))
