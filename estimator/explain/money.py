"""Explained: the choice of the machine, the run's share of cost, and of the price."""

from collections.abc import Iterable, Iterator, Sequence
from decimal import Decimal

from estimator.cost import (
    cost_by_type,
    cost_in_item,
    cost_of_run,
    cost_of_tie_ins,
    item_of_run,
    make_bid,
    price_factor,
    price_factors,
    price_of_part,
    price_per_joint,
    run_before_bond,
    unit_price,
)
from estimator.cost.by_run import tie_in_time
from estimator.display import describe_alike, money_text
from estimator.explain.chain import Chain
from estimator.explain.page import labels, record
from estimator.models.choice import Rejection
from estimator.models.estimate import CostLine, line_amount
from estimator.models.explanation import Step
from estimator.models.kinds import OWN_RUN
from estimator.models.run_costs import Allocation, left_over
from estimator.steps.marks import total

AFTER_PRICE = ("tax", "total")
"""Steps of the markup that come on the price, which the parts of the runs end on."""


LEFT_BY_RUNS = "Rounding of all run prices"


def machine_steps(chain: Chain) -> Iterator[Step]:
    """Yield the class chosen, and why the others were not; those alike share a step."""
    choice, system = chain.sized.machine, chain.job.cover.unit_system
    machines = {machine.class_id: machine for machine in chain.job.machines}
    rate = machines[choice.class_id].four_week_rate.amount
    where = chain.cell("machines", choice.class_id, "four_week_rate")
    how = f"{choice.why}: {money_text(chain.job.cover.currency, rate, 2)} per 4 weeks"
    yield Step("Class selected", choice.class_id, how=how, where=where)
    for some in _alike(choice.rejected):
        classes = ", ".join(rejected.class_id for rejected in some)
        name = "Class" if len(some) == 1 else "Classes"
        yield Step(f"{name} {classes}", "not selected", how=describe_alike(some, system))


def _alike(rejected: Iterable[Rejection]) -> Iterable[Sequence[Rejection]]:
    """Return the reasons that differ in nothing but their limits together."""
    found: dict[tuple[str, float], list[Rejection]] = {}
    for one in rejected:
        found.setdefault((one.text, one.need), []).append(one)
    return found.values()


def cost_steps(chain: Chain) -> Iterator[Step]:
    """Yield the cost of the run: its part of every allocation, as the sheet Cost by run has it."""
    steps = {found.given["allocation"]: found for found in chain.costed if found.key == "allocated"}
    for allocation in chain.estimate.by_run.allocations:
        if allocation.allocated_by == OWN_RUN:
            yield from _own_steps(chain, allocation)
        elif allocation in steps:
            band = f", size band {chain.sized.cycle.band}" if allocation.by_band else ""
            found = steps[allocation]
            yield chain.page.show(found, how=f"{found.how}{band}")
    yield from (chain.page.show(found) for found in chain.costed if found.key == cost_of_run.key)


def _own_steps(chain: Chain, allocation: Allocation) -> Iterator[Step]:
    for line in chain.context.own_lines.get(chain.run.run_id, ()):
        if line.allocation == allocation:
            yield from _line_steps(chain, line, line.cost_type)


def _line_steps(chain: Chain, line: CostLine, name: str) -> Iterator[Step]:
    """Yield quantity and rate of a cost line, where they are worked out, and its amount."""
    page, rate = chain.page, line.rate.recorded(labels)
    for working in line.quantity.working:
        quantity = working.recorded(labels)
        if not quantity.mark.is_times_one:
            yield page.show(quantity)
    if not rate.mark.is_given:
        yield page.show(rate)
    amount = line_amount.worked(line.quantity.value, line.rate.value).recorded(labels)
    yield page.show(amount, name, line.basis, page.where(rate))


def line_steps(chain: Chain) -> Iterator[Step]:
    """Yield every cost line of the job but those that belong to one run alone."""
    for line in chain.estimate.cost_lines:
        if line.allocated_by != OWN_RUN:
            yield from _line_steps(chain, line, line.item)


def price_steps(chain: Chain) -> Iterator[Step]:
    """Yield job cost and markups; without a step to round to, the exact price is what is bid."""
    job, lines = chain.job, chain.estimate.cost_lines
    steps = record(lambda: make_bid(job.rates, lines))
    (price,) = (found.name for found in steps if found.key == "price")
    names = {} if job.rates.bid_step else {"exact": price}
    left_out = AFTER_PRICE if job.rates.bid_step else (*AFTER_PRICE, "rounding", "price")
    for found in steps:
        if found.key not in left_out:
            yield chain.page.show(found, names.get(found.key, ""))
    for found in record(lambda: price_factors(cost_by_type(lines), job.rates)):
        if found.key == price_factor.key:
            yield chain.page.show(found)


def _rounding_steps(chain: Chain) -> Iterator[Step]:
    """Yield what the prices of all runs, each to the cent, leave of the bid price, if anything."""
    estimate = chain.estimate
    priced = total([run.price for run in estimate.by_run.runs], Decimal(0))
    for found in record(lambda: left_over(estimate.bid.price, [priced])):
        if found.value:
            yield chain.page.show(found, LEFT_BY_RUNS, "bid price - prices of all runs")


def share_steps(chain: Chain) -> Iterator[Step]:
    """Yield the run's part of the price, and the unit price of the item that holds its pipe."""
    estimate, page = chain.estimate, chain.page
    if not estimate.bid.price_before_bond:
        return
    for step in chain.costed:
        if step.key in (run_before_bond.key, price_of_part.key):
            yield page.show(step)
    yield from _rounding_steps(chain)
    run = estimate.by_run.by_run[chain.run.run_id]
    if joints := chain.sized.counts.butt_joints:
        yield from map(page.show, record(lambda: price_per_joint(run.price, joints)))
    for step in chain.costed:
        if step.key in (tie_in_time.key, cost_of_tie_ins.key, cost_in_item.key):
            yield page.show(step)
    item = item_of_run(estimate.items, estimate.by_run, run)
    if item.fixed_price:
        where = chain.cell("owner_items", item.key, "price")
        shown = money_text(chain.job.cover.currency, item.unit_price, 2)
        yield Step(f"{item.description}, per {item.unit}", shown, how="typed in", where=where)
    elif item.quantity:
        part, rates = item.before_bond, estimate.job.rates
        priced = record(lambda: unit_price(estimate.bid, part, item.quantity, rates))
        for step in priced:
            yield page.show(step, f"{item.description}, per {item.unit}")
