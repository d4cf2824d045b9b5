"""Explained: the choice of the machine, the run's share of cost, and of the price."""

from collections.abc import Iterator

from estimator.cost.markup import make_bid
from estimator.display import describe
from estimator.explain.chain import Chain, worked
from estimator.explain.page import labels, record
from estimator.explain.sums import num, to_cents, total
from estimator.models.estimate import CostLine, line_amount
from estimator.models.explanation import Step
from estimator.models.kinds import OWN_RUN
from estimator.models.run_costs import Allocation

AFTER_PRICE = ("tax", "total")
"""Steps of the markup that come on the price, which the parts of the runs end on."""


def machine_steps(chain: Chain) -> Iterator[Step]:
    """Yield the class chosen, and why each other one was not."""
    choice, system = chain.sized.machine, chain.job.cover.unit_system
    machines = {machine.class_id: machine for machine in chain.job.machines}
    rate = machines[choice.class_id].four_week_rate.amount
    where = chain.cell("machines", choice.class_id, "four_week_rate")
    how = f"{choice.why}: {chain.job.cover.currency} {rate:,.2f} for 4 weeks"
    yield Step("Class taken", choice.class_id, how=how, where=where)
    for rejected in choice.rejected:
        yield Step(f"Class {rejected.class_id}", "not taken", how=describe(rejected, system))


def cost_steps(chain: Chain) -> Iterator[Step]:
    """Yield the cost of the run: its part of every allocation, as the sheet Cost by run has it."""
    currency, by_run = chain.job.cover.currency, chain.found.by_run
    mine = by_run.by_run[chain.run.run_id]
    for allocation, amount in zip(by_run.allocations, mine.amounts, strict=True):
        if not amount:
            continue
        if allocation.allocated_by == OWN_RUN:
            yield from _own_steps(chain, allocation)
        else:
            yield _allocation_step(chain, allocation)
    amounts = [num(float(amount)) for amount in mine.amounts if amount]
    yield worked("Cost of the run", total(amounts), currency, "own cost and shares")


def _allocation_step(chain: Chain, allocation: Allocation) -> Step:
    found = chain.found
    band = chain.sized.cycle.band if allocation.by_band else ""
    pools = found.by_run.pools
    pool = next(pool for pool in pools if pool.allocation == allocation and pool.band == band)
    held = chain.context.units[allocation.allocated_by][chain.run.run_id]
    amount = num(float(pool.amount)) * num(held) / num(pool.units)
    runs = f"all runs of size band {band}" if band else "all runs"
    how = f"amount x {allocation.allocated_by} of this run / of {runs}; counted to the cent"
    return worked(allocation.name, amount, chain.job.cover.currency, how)


def _own_steps(chain: Chain, allocation: Allocation) -> Iterator[Step]:
    for line in chain.context.own_lines.get(chain.run.run_id, ()):
        if line.cost_type == allocation.cost_type:
            yield from _line_steps(chain, line, line.cost_type)


def _line_steps(chain: Chain, line: CostLine, name: str) -> Iterator[Step]:
    """Yield quantity and rate of a cost line, where they are worked out, and its amount."""
    page, rate = chain.page, line.rate.recorded(labels)
    quantity = line.quantity.worked and line.quantity.worked.recorded(labels)
    if quantity and not quantity.mark.is_times_one:
        yield page.show(quantity)
    if not rate.mark.is_given:
        yield page.show(rate)
    amount = line_amount.worked(line.quantity.value, line.rate.value).recorded(labels)
    yield page.show(amount, name, line.basis, page.where(rate))


def line_steps(chain: Chain) -> Iterator[Step]:
    """Yield every cost line of the job but those that belong to one run alone."""
    for line in chain.found.cost_lines:
        if line.allocated_by != OWN_RUN:
            yield from _line_steps(chain, line, line.item)


def price_steps(chain: Chain) -> Iterator[Step]:
    """Yield job cost and markups; without a step to round to, the exact price is what is bid."""
    job, lines = chain.job, chain.found.cost_lines
    steps = record(lambda: make_bid(job, lines))
    (price,) = (found.name for found in steps if found.key == "price")
    names = {} if job.rates.bid_step else {"exact": price}
    left_out = AFTER_PRICE if job.rates.bid_step else (*AFTER_PRICE, "rounding", "price")
    for found in steps:
        if found.key not in left_out:
            yield chain.page.show(found, names.get(found.key, ""))


def share_steps(chain: Chain) -> Iterator[Step]:
    """Yield the run's part of the price."""
    found, currency = chain.found, chain.job.cover.currency
    if not found.bid.job_cost:
        return
    cost = num(float(found.by_run.by_run[chain.run.run_id].cost))
    share = to_cents(num(float(found.bid.price)) * cost / num(float(found.bid.job_cost)))
    how = "bid price x cost of the run / job cost"
    yield worked("Price of the run", share, currency, how)
    if chain.sized.counts.butt_joints:
        each = num(share.value) / num(chain.sized.counts.butt_joints)
        yield worked("Price of the run per butt joint", each, currency)
