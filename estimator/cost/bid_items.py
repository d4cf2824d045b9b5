"""The items of the bid schedule: lump sums and unit prices that add up to the bid price."""

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import replace
from decimal import Decimal
from typing import NamedTuple

from estimator.cost.by_run import apart_before_bond
from estimator.cost.by_size import part_of_price
from estimator.cost.markup import cost_by_type, factor_of, price_factors
from estimator.cost.owner_items import as_owner_asks, of_one_name
from estimator.data_class import dataclass
from estimator.display import EACH, LUMP_SUM, PAY_LENGTH, convert
from estimator.models.estimate import Bid, CostLine, PricedJob
from estimator.models.job import Job, Run
from estimator.models.kinds import PIPE, cost_type
from estimator.models.rates import Rates
from estimator.models.run_costs import (
    BidItem,
    CostByRun,
    ItemGroup,
    ItemPart,
    PartKind,
    PipeWork,
    RunCost,
    left_over,
)
from estimator.money import round_money, round_quantity
from estimator.steps.kinds import Amount, Money
from estimator.steps.marks import cents, either, or_zero, share_of, to_step
from estimator.steps.recorder import step

LENGTH_DIGITS = 1
NOTHING = Decimal(0)
TIE_INS, FURNISHED, PIPE_ITEM = "Tie-in joints", "furnished", "pipe"
"""Our name of the tie-in item, and what stands after the name of a size or run whose pipe is
furnished and joined in one item, or furnished in an item of its own."""
MOBILIZATION = "Mobilization"
OF_OTHERS = PipeWork(
    "Butt fusion, ", ", pipe by others", "Butt fusion of polyethylene pipe by others"
)
FURNISH_AND_FUSE = PipeWork("Furnish and butt fuse ", "", "Furnish and butt fuse polyethylene pipe")
FURNISH = PipeWork("Furnish ", "", "Furnish polyethylene pipe")
FUSE = PipeWork("Butt fusion, ", "", "Butt fusion of polyethylene pipe")
RUN = "run "


def price_items(priced: PricedJob, by_run: CostByRun) -> tuple[BidItem, ...]:
    """Return the priced items of the bid schedule, which add up to the bid price.

    Cost lines that name an item make that item, or go to the item of pipe or of tie-ins of that
    name; tie-ins make another; all other cost goes to the length of each size, or of each run. An
    item's unit price is its part of the bid price for one unit, in proportion to its cost with the
    markups of its types, rounded by the step of the Rates sheet, unless a price was typed in for
    it. Mobilization, or the first other lump sum, takes what is left.

    Parameters
    ----------
    priced : PricedJob
        The job, whose bid inputs say whether pipe is priced by size or by run, and how the owner
        numbers the items; its runs, cost lines and price.
    by_run : CostByRun
        What each run and size carries of the cost.
    """
    named = as_owner_asks(of_one_name(own_items(priced, by_run)), priced.job.owner_items)
    items = [_priced(item, priced) for item in named if item.cost or not item.lump_sum]
    return tuple(_balanced(items, priced.bid.price))


def own_items(priced: PricedJob, by_run: CostByRun) -> Iterator[BidItem]:
    """Yield the items by our own names, with their cost and not yet priced."""
    yield from _items_of_lines(priced, before_pipe=True)
    yield from _pipe_items(priced.job, by_run)
    tie_ins = sum(run.counts.tie_in_joints for run in priced.runs)
    if tie_ins:
        cost = _Carried.of((run.tie_ins, run.before_bond.tie_ins) for run in by_run.runs)
        text, parts = "Tie-in joints between strings and to other pipe", (ItemPart("tie-ins"),)
        yield _item(TIE_INS, text, cost, parts, "Connections and tests", float(tie_ins), EACH)
    yield from _items_of_lines(priced, before_pipe=False)


class _Carried(NamedTuple):
    """What an item carries of the job cost, and the same with the markups of its types."""

    cost: Decimal
    before_bond: Decimal

    @classmethod
    def of(cls, parts: Iterable[tuple[Decimal, Decimal]]) -> "_Carried":
        """Return the sum of some parts."""
        costs, nets = zip((NOTHING, NOTHING), *parts, strict=True)
        return cls(sum(costs, NOTHING), sum(nets, NOTHING))

    def less(self, other: "_Carried") -> "_Carried":
        """Return what is left without a part."""
        return _Carried(self.cost - other.cost, self.before_bond - other.before_bond)


NO_COST = _Carried(NOTHING, NOTHING)


def _item(
    key: str,
    text: str,
    carried: _Carried,
    parts: tuple[ItemPart, ...],
    group: ItemGroup = "Pipe",
    quantity: float = 1.0,
    unit: str = LUMP_SUM,
) -> BidItem:
    lump = unit == LUMP_SUM
    return BidItem(
        key, text, quantity, unit, *carried, NOTHING, group, parts=parts, keys=(key,), lump_sum=lump
    )


def _items_of_lines(priced: PricedJob, *, before_pipe: bool) -> Iterator[BidItem]:
    """Yield the items that cost lines name, each with the cost of all lines that name it."""
    by_item: dict[str, list[CostLine]] = {}
    for line in priced.cost_lines:
        if line.bid_item:
            by_item.setdefault(line.bid_item, []).append(line)
    for item, lines in by_item.items():
        first = any(cost_type(line.cost_type).before_pipe for line in lines)
        if first == before_pipe:
            group = "Mobilization" if before_pipe else _group_of(lines[0])
            parts = (ItemPart("lines", item),)
            yield _item(item, item, _carried_by(lines, priced.job.rates), parts, group)


def _carried_by(lines: Sequence[CostLine], rates: Rates) -> _Carried:
    factors = price_factors(cost_by_type(lines), rates)
    nets = (float(line.amount) * factor_of(line.cost_type, factors, rates) for line in lines)
    return _Carried(sum((line.amount for line in lines), NOTHING), round_money(sum(nets)))


def _group_of(line: CostLine) -> ItemGroup:
    if cost_type(line.cost_type).before_pipe:
        return "Mobilization"
    return "Connections and tests" if cost_type(line.cost_type).of_tests else "Other work"


@dataclass()
class _Pipe:
    """The runs of one item of pipe."""

    name: str
    text: str
    kind: PartKind
    length_m: float = 0.0
    carried: _Carried = NO_COST
    pipe: Decimal = NOTHING
    furnished: bool = False
    mixed: bool = False


def _pipe_items(job: Job, by_run: CostByRun) -> Iterator[BidItem]:
    """Yield the items of pipe; runs whose pipe is furnished are kept apart from the others."""
    by_size = job.bid.bid_items == "by size"
    found: dict[tuple[str, bool], _Pipe] = {}
    for run, costed in zip(job.runs, by_run.runs, strict=True):
        supply = _pipe_cost(by_run, costed)
        name = costed.label if by_size else run.run_id
        text = costed.label if by_size else _run_text(run, costed.label)
        kind: PartKind = "size" if by_size else "run"
        one = found.setdefault((name, bool(supply)), _Pipe(name, text, kind))
        one.length_m += run.length_m
        own = (costed.own_item, costed.before_bond.own_item)
        one.carried = _Carried.of((one.carried, own))
        one.pipe += supply
        one.furnished = bool(supply)
    for (name, furnished), one in found.items():
        one.mixed = (name, not furnished) in found
        yield from _items_of_pipe(one, job)


def _items_of_pipe(one: _Pipe, job: Job) -> Iterator[BidItem]:
    """Yield the item of joining, and where it is asked for that of furnishing before it."""
    system, kind = job.cover.unit_system, one.kind
    length = round_quantity(convert(one.length_m, "length", system), LENGTH_DIGITS)
    unit = PAY_LENGTH[system]
    supply = ItemPart("pipe of size" if kind == "size" else "pipe of run", one.name)
    parts: tuple[ItemPart, ...] = (ItemPart(kind, one.name),)
    if one.mixed:
        apart = ItemPart("furnished size", one.name)
        parts = (apart,) if one.furnished else (*parts, apart._replace(sign=-1))

    def item(
        work: PipeWork, tail: str, carried: _Carried, parts: tuple[ItemPart, ...] = parts
    ) -> BidItem:
        text = work.of(f"{one.text} polyethylene pipe")
        made = _item(f"{one.name}{tail}", text, carried, parts, "Pipe", length, unit)
        return replace(made, work=work, pipe=one.text.removeprefix(RUN))

    if not one.furnished:
        yield item(OF_OTHERS, "", one.carried)
    elif job.bid.pipe_items == "with fusion":
        yield item(FURNISH_AND_FUSE, f" {FURNISHED}", one.carried)
    else:
        supplied = _of_pipe(one.pipe, job.rates)
        yield item(FURNISH, f" {PIPE_ITEM}", supplied, (supply,))
        without = (*parts, supply._replace(sign=-1))
        yield item(FUSE, f" {FURNISHED}", one.carried.less(supplied), without)


def _of_pipe(cost: Decimal, rates: Rates) -> _Carried:
    factor = factor_of(PIPE, price_factors([cost_type(PIPE).markup], rates), rates)
    return _Carried(cost, round_money(apart_before_bond(cost, factor)))


def _pipe_cost(by_run: CostByRun, run: RunCost) -> Decimal:
    pairs = zip(by_run.allocations, run.amounts, strict=True)
    return sum((amount for each, amount in pairs if each.cost_type == PIPE), NOTHING)


def _run_text(run: Run, pipe: str) -> str:
    named = f", {run.description}" if run.description else ""
    return f"{RUN}{run.run_id}{named}: {pipe}"


def item_of_run(items: Sequence[BidItem], by_run: CostByRun, run: RunCost) -> BidItem:
    """Return the item that holds the joining of a run's pipe."""
    tail = f" {FURNISHED}" if _pipe_cost(by_run, run) else ""
    names = {f"{run.run_id}{tail}", f"{run.label}{tail}"}
    return next(item for item in items if not names.isdisjoint(item.keys))


@step(
    "Unit price of its bid item", "bid price x its part before bond / price before bond / quantity"
)
def unit_price(bid: Bid, item_before_bond: Amount, quantity: float, rates: Rates) -> Money:
    """Return the price of one unit of an item, rounded by the step of the Rates sheet."""
    size = or_zero(rates.unit_price_step)
    each = share_of(part_of_price(bid, item_before_bond), quantity)
    return either(size > 0, lambda: to_step(each, size), lambda: cents(each))


def _priced(item: BidItem, priced: PricedJob) -> BidItem:
    if item.fixed_price:
        return item
    price = unit_price(priced.bid, item.before_bond, item.quantity, priced.job.rates)
    return replace(item, unit_price=round_money(price))


def _balanced(items: Sequence[BidItem], price: Decimal) -> Sequence[BidItem]:
    """Return the items with what is left of the price in mobilization.

    Without mobilization the first other lump sum takes it; without any, mobilization is added.
    """
    lumps = [i for i, item in enumerate(items) if item.lump_sum and not item.fixed_price]
    lumps.sort(key=lambda i: items[i].group != "Mobilization")
    if not lumps:
        added = _item(MOBILIZATION, MOBILIZATION, NO_COST, (), "Mobilization")
        items, lumps = (added, *items), [0]
    others = [item.amount for i, item in enumerate(items) if i != lumps[0]]
    left = round_money(left_over(price, others))
    return [
        replace(item, unit_price=left, balances=True) if i == lumps[0] else item
        for i, item in enumerate(items)
    ]
