"""The bid price shared out over sizes and walls, in proportion to their cost."""

import math
from collections.abc import Sequence
from decimal import Decimal

from estimator.models.estimate import Bid, PricedJob
from estimator.models.run_costs import RunCost, SizeCost
from estimator.money import round_money
from estimator.steps.kinds import Amount, Money
from estimator.steps.marks import cents, number
from estimator.steps.recorder import step


def pipe_label(od_system: str, size: str, dr: float) -> str:
    """Return what one size and wall is called, such as ``IPS 24 DR 17``."""
    return f"{od_system} {size} DR {dr:g}"


def price_by_size(priced: PricedJob, runs: Sequence[RunCost]) -> tuple[SizeCost, ...]:
    """Add up the cost of the runs of each size and wall, and give it its part of the price.

    Each size carries the markup of the job: ``price x cost / job cost``. The parts may miss the
    price by some cents; the sheet shows the difference on a line.
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
            cost=(cost := sum((runs[i].cost for i in members), Decimal(0))),
            own_item=sum((runs[i].own_item for i in members), Decimal(0)),
            price=price_of(priced.bid, cost),
        )
        for label, members in groups.items()
    )


def part_of_price(bid: Bid, cost: Decimal) -> float:
    """Return the part of the bid price that a part of the job cost carries, not rounded."""
    return number(bid.price) * number(cost) / number(bid.job_cost)


@step("Run price", "bid price x run cost / job cost")
def price_of_part(bid: Bid, cost: Amount) -> Money:
    """Return the part of the bid price that a part of the job cost carries."""
    return cents(part_of_price(bid, cost))


def price_of(bid: Bid, cost: Decimal) -> Decimal:
    """Return the part of the bid price that a part of the job cost carries, to the cent."""
    return round_money(price_of_part(bid, cost) if bid.job_cost else 0.0)


@step("Run price per butt joint")
def price_per_joint(price: Amount, butt_joints: int) -> Money:
    """Return what a butt joint of a run costs the client."""
    return number(price) / butt_joints
