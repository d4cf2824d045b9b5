"""The bid price shared out over sizes and walls, in proportion to their price before bond."""

import math
from collections.abc import Sequence
from decimal import Decimal

from estimator.models.estimate import Bid, PricedJob
from estimator.models.run_costs import RunCost, SizeCost
from estimator.money import round_money
from estimator.steps.kinds import Amount, Money
from estimator.steps.marks import cents, number, share_of
from estimator.steps.recorder import step


def price_by_size(priced: PricedJob, runs: Sequence[RunCost]) -> tuple[SizeCost, ...]:
    """Add up the cost of the runs of each size and wall, and give it its part of the price.

    Each cost carries the markups of its type, and the rest of the price in proportion. The parts
    may miss the price by some cents; the sheet shows the difference on a line.
    """
    job, sized = priced.job, priced.runs
    groups: dict[str, list[int]] = {}
    for i, run in enumerate(runs):
        groups.setdefault(run.label, []).append(i)
    return tuple(
        SizeCost(
            label=label,
            length_m=math.fsum(job.runs[i].length_m for i in members),
            butt_joints=sum(sized[i].counts.butt_joints for i in members),
            labor_hours=math.fsum(runs[i].labor_hours for i in members),
            cost=sum((runs[i].cost for i in members), Decimal(0)),
            own_item=sum((runs[i].own_item for i in members), Decimal(0)),
            before_bond=(net := sum((runs[i].before_bond.run for i in members), Decimal(0))),
            own_before_bond=sum((runs[i].before_bond.own_item for i in members), Decimal(0)),
            price=price_of(priced.bid, net),
        )
        for label, members in groups.items()
    )


def part_of_price(bid: Bid, before_bond: Amount) -> float:
    """Return the part of the bid price that belongs to a part before bond, not rounded."""
    return share_of(number(bid.price) * number(before_bond), number(bid.price_before_bond))


@step("Run price", "bid price x its part before bond / price before bond")
def price_of_part(bid: Bid, run_before_bond: Amount) -> Money:
    """Return the part of the bid price that belongs to a part before bond."""
    return cents(part_of_price(bid, run_before_bond))


def price_of(bid: Bid, before_bond: Decimal) -> Decimal:
    """Return the part of the bid price that belongs to a part before bond, to the cent."""
    return round_money(price_of_part(bid, before_bond))


@step("Run price per butt joint")
def price_per_joint(price: Amount, butt_joints: int) -> Money:
    """Return what a butt joint of a run costs the client."""
    return share_of(number(price), butt_joints)


@step("Run price per unit of length")
def price_per_length(price: Amount, length: float) -> Money:
    """Return what a unit of length of a run costs the client."""
    return share_of(number(price), length)
