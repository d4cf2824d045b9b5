"""Explained: the choice of the machine, the run's share of cost, and of the price."""

from collections.abc import Iterator
from decimal import Decimal

from estimator.display import describe
from estimator.explain_chain import Chain, worked
from estimator.models.explanation import Step
from estimator.money import InputRef
from estimator.price_by_size import own_cost
from estimator.sums import num, to_cents, total

PIECE_NAMES = {
    "ef_closure_cost": "Electrofusion closures",
    "bolt_up_cost": "Bolt-ups",
    "saddle_cost": "Branch saddles",
}


def machine_steps(chain: Chain) -> Iterator[Step]:
    """Yield the class chosen, and why each other one was not."""
    choice, system = chain.sized.machine, chain.job.facts.unit_system
    machines = {machine.class_id: machine for machine in chain.job.machines}
    rate = machines[choice.class_id].four_week_rate.amount
    where = chain.cell("machines", choice.class_id, "four_week_rate")
    how = f"feasible, lowest 4-week rate: {chain.job.facts.currency} {rate:,.2f}"
    yield Step("Class taken", choice.class_id, how=how, where=where)
    for rejected in choice.rejected:
        yield Step(f"Class {rejected.class_id}", "not taken", how=describe(rejected, system))


def cost_steps(chain: Chain) -> Iterator[Step]:
    """Yield the cost of the run: its own, and its share of all other by crew-hours."""
    currency, found = chain.job.facts.currency, chain.found
    amounts = []
    for step in _own_steps(chain):
        amounts.append(num(float(step.value)) if isinstance(step.value, float) else num(0))
        yield step
    own = total(amounts)
    yield worked("Own cost", own, currency, "cost that belongs to this run alone")
    all_own = chain.whole.own_of_all
    yield worked("Own cost of all runs", num(all_own), currency)
    hours, every = found.crew_hours.get(chain.run.run_id, 0.0), chain.whole.crew_hours
    shared = (num(float(found.bid.job_cost)) - num(all_own)) * num(hours) / num(every)
    how = "(job cost - own cost of all runs) x crew-hours / crew-hours of the job"
    yield worked("Share of all other cost", shared, currency, how)
    cost = num(own.value) + num(shared.value)
    yield worked("Cost of the run", cost, currency, "own + share")


def _own_steps(chain: Chain) -> Iterator[Step]:
    currency = chain.job.facts.currency
    line = chain.whole.cost_lines.get(f"pipe.{chain.run.run_id}")
    own = own_cost(chain.job, [chain.sized], () if line is None else (line,))
    for line in own.pipe_lines:
        amount = num(line.quantity.value) * num(line.rate.value)
        yield worked("Pipe", to_cents(amount), currency, line.basis, chain.run_cell("pipe_price"))
    for count, rate in own.pieces:
        part = rate.parts[0]
        key = part.key if isinstance(part, InputRef) else ""
        where = chain.cell("rates", "", key)
        yield worked(PIECE_NAMES[key], num(count) * num(rate.value), currency, where=where)


def price_steps(chain: Chain) -> Iterator[Step]:
    """Yield the job cost by type, and the markups up to the price of the job."""
    currency = chain.job.facts.currency
    types: dict[str, Decimal] = {}
    for line in chain.found.cost_lines:
        types[line.cost_type] = types.get(line.cost_type, Decimal(0)) + line.amount
    job_cost = total([num(float(amount)) for amount in types.values()])
    yield worked("Job cost", job_cost, currency, " + ".join(types))
    yield from _markup_steps(chain)


def _markup_steps(chain: Chain) -> Iterator[Step]:
    currency, bid, rates = chain.job.facts.currency, chain.found.bid, chain.job.rates
    base = num(float(bid.job_cost))
    overhead = to_cents(base * num(rates.office_overhead))
    where = chain.cell("rates", "", "office_overhead")
    yield worked("Office overhead", overhead, currency, "job cost x share", where)
    contingency = to_cents(base * num(rates.contingency))
    where = chain.cell("rates", "", "contingency")
    yield worked("Contingency", contingency, currency, "job cost x share", where)
    cost = base + num(overhead.value) + num(contingency.value)
    yield worked("Cost before profit", cost, currency)
    profit = num(cost.value) * num(rates.profit)
    if rates.profit_basis == "margin on price":
        profit = profit / (num(1) - num(rates.profit))
    profit = to_cents(profit)
    yield worked("Profit", profit, currency, rates.profit_basis, chain.cell("rates", "", "profit"))
    before_bond = num(cost.value) + num(profit.value)
    yield worked("Price before bond", before_bond, currency)
    net = num(before_bond.value)
    bond = to_cents(net / (num(1) - num(rates.bond)) - net)
    yield worked(
        "Bond", bond, currency, "of the price that holds it", chain.cell("rates", "", "bond")
    )
    yield worked("Bid price", net + num(bond.value), currency)


def share_steps(chain: Chain) -> Iterator[Step]:
    """Yield the run's part of the price."""
    found, currency = chain.found, chain.job.facts.currency
    *_, last = cost_steps(chain)
    cost = float(last.value) if isinstance(last.value, float) else 0.0
    if not found.bid.job_cost:
        return
    share = num(float(found.bid.price)) * num(cost) / num(float(found.bid.job_cost))
    how = "bid price x cost of the run / job cost"
    yield worked("Price of the run", share, currency, how)
    if chain.sized.count.butt_joints:
        each = num(share.value) / num(chain.sized.count.butt_joints)
        yield worked("Price of the run per butt joint", each, currency)
