"""The markup chain from job cost to bid price: the only place that knows it.

It runs on one job cost, or on an array of them, in whole cents.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from decimal import Decimal

from estimator.cost.rates import DIRECT, INDIRECT
from estimator.models.estimate import Bid, CostLine, Section
from estimator.models.job import Job
from estimator.models.kinds import LIQUIDATED_DAMAGES
from estimator.models.rates import Rates
from estimator.money import round_money
from estimator.steps.kinds import Money
from estimator.steps.marks import cents, either, exactly, or_zero, to_step
from estimator.steps.recorder import step


@step("{section}", "{types}")
def section_cost(section: Section, amounts: Sequence[Money], types: str) -> Money:
    """Return the cost of a section, type by type."""
    del section, types
    return exactly(sum(amounts))


@step("Job cost", "direct + indirect cost")
def job_cost(direct: Money, indirect: Money) -> Money:
    """Return what the job costs."""
    return exactly(direct + indirect)


@step("Liquidated damages", "for each day after the deadline")
def damages(amounts: Sequence[Money]) -> Money:
    """Return the liquidated damages, a part of the indirect cost."""
    return exactly(sum(amounts))


@step("Liquidated damages without markup", "{rates.damages_carry}")
def unmarked(damages: Money, rates: Rates) -> Money:
    """Return the part of the job cost that carries no markup."""
    return either(rates.damages_carry == "no markup", lambda: exactly(damages), lambda: 0.0)


@step("Job cost with markups", "job cost - what carries none")
def marked(job_cost: Money, unmarked: Money) -> Money:
    """Return the part of the job cost that carries the markups."""
    return exactly(job_cost - unmarked)


@step("Home office overhead", "job cost with markups x percent")
def office_overhead(marked: Money, rates: Rates) -> Money:
    """Return the office's part of job cost."""
    return cents(marked * rates.office_overhead)


@step("Contingency", "job cost with markups x percent")
def contingency(marked: Money, rates: Rates) -> Money:
    """Return what is held back for the unforeseen."""
    return cents(marked * rates.contingency)


@step("Cost before profit", "job cost + overhead + contingency")
def cost(job: Money, office_overhead: Money, contingency: Money) -> Money:
    """Return what the job costs with the office's part and the contingency."""
    return exactly(job + office_overhead + contingency)


@step("Profit", "{rates.profit_basis}")
def profit(cost: Money, unmarked: Money, rates: Rates) -> Money:
    """Return ``c p`` as a markup, ``c p / (1 - p)`` as a margin; c is cost without ``unmarked``."""
    return either(
        rates.profit_basis == "margin on price",
        lambda: cents((cost - unmarked) * rates.profit / (1 - rates.profit)),
        lambda: cents((cost - unmarked) * rates.profit),
    )


@step("Price before bond", "cost + profit")
def before_bond(cost: Money, profit: Money) -> Money:
    """Return cost and profit."""
    return exactly(cost + profit)


@step("Bond", "share as a percent of the price including the bond")
def bond(before_bond: Money, rates: Rates) -> Money:
    """Return the bond: ``price = price before bond / (1 - bond)``."""
    return cents(before_bond / (1 - rates.bond) - before_bond)


@step("Price before rounding", "with bond")
def exact(before_bond: Money, bond: Money) -> Money:
    """Return the price as it comes out."""
    return exactly(before_bond + bond)


@step("Rounding", "to its step, if there is one")
def rounding(exact: Money, rates: Rates) -> Money:
    """Return what rounding to the step of the bid price adds or takes."""
    size = or_zero(rates.bid_step)
    return either(size > 0, lambda: cents(to_step(exact, size) - exact), lambda: 0.0)


@step("Bid price", "price before rounding + rounding")
def price(exact: Money, rounding: Money) -> Money:
    """Return the price that is bid."""
    return exactly(exact + rounding)


@step("Tax", "bid price x share")
def tax(price: Money, rates: Rates) -> Money:
    """Return the tax that comes on the price."""
    return cents(price * rates.tax)


@step("Total including tax", "bid price + tax")
def total(price: Money, tax: Money) -> Money:
    """Return what the client pays."""
    return exactly(price + tax)


@dataclass(frozen=True)
class Markup:
    """Every step of the chain on one job cost or on many."""

    unmarked: float
    office_overhead: float
    contingency: float
    cost: float
    profit: float
    before_bond: float
    bond: float
    rounding: float
    price: float
    tax: float
    total: float


def markup(job: float, late: float, rates: Rates) -> Markup:
    """Return the chain from a job cost, or an array of them, to the price with tax.

    Parameters
    ----------
    job : float or array
        Direct and indirect cost, in whole cents.
    late : float or array
        The liquidated damages in it.
    rates : Rates
        The markups of the Rates sheet.
    """
    outside = unmarked(late, rates)
    base = marked(job, outside)
    return priced(job, outside, office_overhead(base, rates), contingency(base, rates), rates)


def priced(job: float, outside: float, overhead: float, reserve: float, rates: Rates) -> Markup:
    """Return the chain from a job cost with an overhead and a contingency that are known."""
    before = cost(job, overhead, reserve)
    gain = profit(before, outside, rates)
    net = before_bond(before, gain)
    bonded = bond(net, rates)
    plain = exact(net, bonded)
    left = rounding(plain, rates)
    bid = price(plain, left)
    due = tax(bid, rates)
    return Markup(
        outside, overhead, reserve, before, gain, net, bonded, left, bid, due, total(bid, due)
    )


def make_bid(job: Job, lines: Sequence[CostLine]) -> Bid:
    """Return the price from the cost lines and the markups of the Rates sheet."""
    direct, indirect = (_section(lines, section) for section in (DIRECT, INDIRECT))
    whole = job_cost(direct, indirect)
    chain = markup(whole, damages(_late_amounts(lines)), job.rates)
    return Bid(
        direct_cost=round_money(direct),
        indirect_cost=round_money(indirect),
        job_cost=round_money(whole),
        unmarked=round_money(chain.unmarked),
        office_overhead=round_money(chain.office_overhead),
        contingency=round_money(chain.contingency),
        cost_before_profit=round_money(chain.cost),
        profit=round_money(chain.profit),
        price_before_bond=round_money(chain.before_bond),
        bond=round_money(chain.bond),
        rounding=round_money(chain.rounding),
        price=round_money(chain.price),
        tax=round_money(chain.tax),
        total=round_money(chain.total),
    )


def _section(lines: Sequence[CostLine], section: Section) -> float:
    types: dict[str, Decimal] = {}
    for line in lines:
        if line.section == section:
            types[line.cost_type] = types.get(line.cost_type, Decimal(0)) + line.amount
    return section_cost(section, [float(amount) for amount in types.values()], " + ".join(types))


def _late_amounts(lines: Sequence[CostLine]) -> list[float]:
    return [float(line.amount) for line in lines if line.cost_type == LIQUIDATED_DAMAGES]
