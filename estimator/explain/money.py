"""Explained: the choice of the machine, the run's share of cost, and of the price."""

from collections.abc import Iterator
from decimal import Decimal

from estimator.cost.markup import markup
from estimator.display import describe
from estimator.explain.chain import Chain, worked
from estimator.explain.page import record
from estimator.explain.sums import num, to_cents, total
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
    run, currency = chain.run, chain.job.cover.currency
    for line in chain.context.own_lines.get(run.run_id, ()):
        if line.cost_type == allocation.cost_type:
            amount = to_cents(num(line.quantity.value) * num(line.rate.value))
            where = chain.run_cell("pipe_price") if line.key == f"pipe.{run.run_id}" else ""
            yield worked(line.cost_type, amount, currency, line.basis, where)


def price_steps(chain: Chain) -> Iterator[Step]:
    """Yield the job cost by type, and the markups up to the price of the job."""
    currency = chain.job.cover.currency
    types: dict[str, Decimal] = {}
    for line in chain.found.cost_lines:
        types[line.cost_type] = types.get(line.cost_type, Decimal(0)) + line.amount
    job_cost = total([num(float(amount)) for amount in types.values()])
    yield worked("Job cost", job_cost, currency, " + ".join(types))
    yield from _markup_steps(chain)


def _markup_steps(chain: Chain) -> Iterator[Step]:
    """Yield the markup chain; without a step to round to, the exact price is what is bid."""
    bid, rates = chain.found.bid, chain.job.rates
    steps = {found.key: found for found in record(lambda: markup(float(bid.job_cost), rates))}
    names = {} if rates.bid_step else {"exact": steps["price"].name}
    left_out = AFTER_PRICE if rates.bid_step else (*AFTER_PRICE, "rounding", "price")
    for key, found in steps.items():
        if key not in left_out:
            yield chain.page.show(found, names.get(key, ""))


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
