"""The markup chain from job cost to bid price: the only place that knows it.

It runs on one job cost, or on an array of them, in whole cents.
"""

from collections.abc import Iterable, Mapping, Sequence
from decimal import Decimal
from typing import cast

from estimator.cost.rates import DIRECT, INDIRECT
from estimator.data_class import dataclass
from estimator.models.estimate import Bid, CostLine, PricedJob, Section
from estimator.models.kinds import (
    DAMAGES_TYPE,
    LIQUIDATED_DAMAGES,
    MARKUP_TYPES,
    MarkupType,
    cost_type,
)
from estimator.models.rates import Rates
from estimator.money import round_money
from estimator.steps.kinds import Money, Share
from estimator.steps.marks import blank, cents, either, exactly, or_zero, share_of, to_step
from estimator.steps.recorder import step

ByType = Mapping[str, float]
"""An amount or a share of each type of cost."""
CARRIES_MARKUPS = "Cost that carries markups"
"""What the part of the job cost is called that overhead, contingency and profit come on."""
CARRIED = f"{CARRIES_MARKUPS[0].lower()}{CARRIES_MARKUPS[1:]}"


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


@step(CARRIES_MARKUPS, "job cost - what carries none")
def marked(job_cost: Money, unmarked: Money) -> Money:
    """Return the part of the job cost that carries the markups."""
    return exactly(job_cost - unmarked)


@step(f"{CARRIES_MARKUPS}, {{of_type}}", "cost - liquidated damages without markup")
def marked_type(of_type: str, cost: Money, unmarked: Money) -> Money:
    """Return what carries the markups of the type that the liquidated damages belong to."""
    del of_type
    return exactly(cost - unmarked)


@step("Overhead percent, {of_type}")
def overhead_share(of_type: str, rates: Rates) -> Share:
    """Return the percent of a type, that of all types where it has none of its own."""
    own = getattr(rates, f"overhead_{of_type}", None)
    return either(blank(own), lambda: rates.office_overhead, lambda: cast("float", own))


@step("Contingency percent, {of_type}")
def contingency_share(of_type: str, rates: Rates) -> Share:
    """Return the percent of a type, that of all types where it has none of its own."""
    own = getattr(rates, f"contingency_{of_type}", None)
    return either(blank(own), lambda: rates.contingency, lambda: cast("float", own))


@step("Profit percent, {of_type}")
def profit_share(of_type: str, rates: Rates) -> Share:
    """Return the percent of a type, that of all types where it has none of its own."""
    own = getattr(rates, f"profit_{of_type}", None)
    return either(blank(own), lambda: rates.profit, lambda: cast("float", own))


@step("Home office overhead", f"{CARRIED} x percent, type by type")
def office_overhead(marked_by_type: ByType, overhead_by_type: ByType) -> Money:
    """Return the office's part of job cost."""
    return cents(sum(cost * overhead_by_type[of] for of, cost in marked_by_type.items()))


@step("Contingency", f"{CARRIED} x percent, type by type")
def contingency(marked_by_type: ByType, contingency_by_type: ByType) -> Money:
    """Return what is held back for the unforeseen."""
    return cents(sum(cost * contingency_by_type[of] for of, cost in marked_by_type.items()))


@step("Cost before profit, {of_type}", f"{CARRIED} x (1 + overhead + contingency)")
def loaded(of_type: str, marked: Money, overhead: Share, contingency: Share) -> Money:
    """Return what a type brings into the cost before profit, not rounded."""
    del of_type
    return marked * (1 + overhead + contingency)


@step("Cost before profit", "job cost + overhead + contingency")
def cost(job: Money, office_overhead: Money, contingency: Money) -> Money:
    """Return what the job costs with the office's part and the contingency."""
    return exactly(job + office_overhead + contingency)


@step("Profit on cost, {of_type}", "{rates.profit_basis}")
def on_cost(of_type: str, profit_share: Share, rates: Rates) -> Share:
    """Return profit as a share of cost: ``p`` as a markup, ``p / (1 - p)`` as a margin."""
    del of_type
    return either(
        rates.profit_basis == "margin on price",
        lambda: profit_share / (1 - profit_share),
        lambda: profit_share,
    )


@step("Price factor, {of_type}", "(1 + overhead + contingency) x (1 + profit on cost)")
def price_factor(of_type: str, overhead: Share, contingency: Share, on_cost: Share) -> float:
    """Return what one of cost of a type comes to before bond."""
    del of_type
    return (1 + overhead + contingency) * (1 + on_cost)


@step("Profit on cost", "average of the types by their cost before profit")
def profit_on_cost(loaded_by_type: ByType, on_cost_by_type: ByType) -> Share:
    """Return profit as a share of the cost of all types."""
    return share_of(
        sum(cost * on_cost_by_type[of] for of, cost in loaded_by_type.items()),
        sum(loaded_by_type.values()),
    )


@step("Profit", "cost before profit, without what carries no markup, x profit on cost")
def profit(cost: Money, unmarked: Money, profit_on_cost: Share) -> Money:
    """Return the profit."""
    return cents((cost - unmarked) * profit_on_cost)


@step("Price before bond", "cost + profit")
def before_bond(cost: Money, profit: Money) -> Money:
    """Return cost and profit."""
    return exactly(cost + profit)


@step("Bond", "as a percent of the price including the bond")
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


@step("Tax", "bid price x percent")
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


ALL_TYPES = "all types"
"""The one group of a job whose types of cost all carry the same markups."""


@dataclass(frozen=True)
class Percents:
    """Overhead, contingency and profit of each type of cost."""

    overhead: ByType
    contingency: ByType
    profit: ByType

    @classmethod
    def of(cls, types: Iterable[str], rates: Rates) -> "Percents":
        """Return those of some types."""
        known = tuple(types)
        return cls(
            {of_type: overhead_share(of_type, rates) for of_type in known},
            {of_type: contingency_share(of_type, rates) for of_type in known},
            {of_type: profit_share(of_type, rates) for of_type in known},
        )

    def without_contingency(self) -> "Percents":
        """Return the same with no contingency."""
        return Percents(self.overhead, dict.fromkeys(self.contingency, 0.0), self.profit)


def price_factors(types: Iterable[str], rates: Rates) -> ByType:
    """Return what one of cost comes to before bond, by its type."""
    percents = Percents.of(types, rates)
    return {
        of: price_factor(
            of, percents.overhead[of], percents.contingency[of],
            on_cost(of, percents.profit[of], rates),
        )
        for of in percents.overhead
    }  # fmt: skip


def factor_of(name: str, factors: ByType, rates: Rates) -> float:
    """Return the price factor of a cost type: 1 for damages that carry no markup."""
    if name == LIQUIDATED_DAMAGES and rates.damages_carry == "no markup":
        return 1.0
    return factors[cost_type(name).markup]


def with_markups(costs: ByType, job: float, outside: float) -> ByType:
    """Return the part of each type of the job cost that carries the markups."""
    carried = marked(job, outside)
    if ALL_TYPES in costs:
        return {ALL_TYPES: carried}
    if DAMAGES_TYPE not in costs:
        return costs
    return {**costs, DAMAGES_TYPE: marked_type(DAMAGES_TYPE, costs[DAMAGES_TYPE], outside)}


def markup(costs: ByType, job: float, late: float, rates: Rates) -> Markup:
    """Return the chain from a job cost, or an array of them, to the price with tax.

    Parameters
    ----------
    costs : mapping of str to float or array
        The job cost by its types, or as one under ``ALL_TYPES``.
    job : float or array
        Direct and indirect cost, in whole cents: the sum of ``costs``.
    late : float or array
        The liquidated damages in it.
    rates : Rates
        The markups of the Rates sheet.
    """
    outside = unmarked(late, rates)
    base, percents = with_markups(costs, job, outside), Percents.of(costs, rates)
    overhead = office_overhead(base, percents.overhead)
    reserve = contingency(base, percents.contingency)
    return priced(base, job, outside, Loads(overhead, reserve, percents), rates)


@dataclass(frozen=True)
class Loads:
    """What comes on the job cost before profit, and the percents of each type."""

    overhead: float
    contingency: float
    percents: Percents


def priced(base: ByType, job: float, outside: float, loads: Loads, rates: Rates) -> Markup:
    """Return the chain from a job cost with an overhead and a contingency that are known.

    ``base`` is the part of each type of cost that carries markups.
    """
    before = cost(job, loads.overhead, loads.contingency)
    gain = profit(before, outside, average_profit(base, loads.percents, rates))
    net = before_bond(before, gain)
    bonded = bond(net, rates)
    plain = exact(net, bonded)
    left = rounding(plain, rates)
    bid = price(plain, left)
    due = tax(bid, rates)
    return Markup(
        outside, loads.overhead, loads.contingency, before, gain, net, bonded, left, bid, due,
        total(bid, due),
    )  # fmt: skip


def average_profit(base: ByType, percents: Percents, rates: Rates) -> float:
    """Return profit as a share of cost, over all types."""
    shares = {of: on_cost(of, percents.profit[of], rates) for of in base}
    if ALL_TYPES in base:
        return shares[ALL_TYPES]
    each = {
        of: loaded(of, cost, percents.overhead[of], percents.contingency[of])
        for of, cost in base.items()
    }
    return profit_on_cost(each, shares)


def cost_by_type(lines: Iterable[CostLine]) -> dict[MarkupType, Decimal]:
    """Return the cost of each type that a line of the job belongs to, in the order of the types."""
    found: dict[MarkupType, Decimal] = {}
    for line in lines:
        of_type = cost_type(line.cost_type).markup
        found[of_type] = found.get(of_type, Decimal(0)) + line.amount
    return {of_type: found[of_type] for of_type in MARKUP_TYPES if of_type in found}


def marked_up(lines: Sequence[CostLine], rates: Rates) -> ByType:
    """Return the cost by what carries the same markups: one group, unless a type has its own."""
    if rates.marks_up_by_type:
        return {of_type: float(amount) for of_type, amount in cost_by_type(lines).items()}
    return {ALL_TYPES: float(sum((line.amount for line in lines), Decimal(0)))}


def make_bid(rates: Rates, lines: Sequence[CostLine]) -> Bid:
    """Return the price from the cost lines and the markups of the Rates sheet."""
    direct, indirect = (_section(lines, section) for section in (DIRECT, INDIRECT))
    whole = job_cost(direct, indirect)
    late = damages(_late_amounts(lines))
    chain = markup(marked_up(lines, rates), whole, late, rates)
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


@dataclass(frozen=True)
class TypeMarkup:
    """A type of cost with the percents that it carries; ``marked`` is the cost that does.

    ``factor`` is what one of it comes to before bond.
    """

    of_type: MarkupType
    cost: Decimal
    marked: Decimal
    overhead: float
    contingency: float
    profit: float
    factor: float


def markup_by_type(priced: PricedJob) -> tuple[TypeMarkup, ...]:
    """Return the types of cost of a job, each with its percents."""
    costs, outside = cost_by_type(priced.cost_lines), priced.bid.unmarked
    rates = priced.job.rates
    percents, factors = Percents.of(costs, rates), price_factors(costs, rates)
    return tuple(
        TypeMarkup(
            of_type=of_type,
            cost=cost,
            marked=cost - outside if of_type == DAMAGES_TYPE else cost,
            overhead=percents.overhead[of_type],
            contingency=percents.contingency[of_type],
            profit=percents.profit[of_type],
            factor=factors[of_type],
        )
        for of_type, cost in costs.items()
    )


def _section(lines: Sequence[CostLine], section: Section) -> float:
    types: dict[str, Decimal] = {}
    for line in lines:
        if line.section == section:
            types[line.cost_type] = types.get(line.cost_type, Decimal(0)) + line.amount
    return section_cost(section, [float(amount) for amount in types.values()], " + ".join(types))


def _late_amounts(lines: Sequence[CostLine]) -> list[float]:
    return [float(line.amount) for line in lines if line.cost_type == LIQUIDATED_DAMAGES]
