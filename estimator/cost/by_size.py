"""The bid price shared out over sizes and walls, in proportion to their cost."""

import math
from collections.abc import Sequence
from decimal import Decimal

from estimator.models.estimate import Bid, PricedJob
from estimator.models.run_costs import RunCost, SizeCost
from estimator.money import round_money


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


def price_of(bid: Bid, cost: Decimal) -> Decimal:
    """Return the part of the bid price that a part of the job cost carries, to the cent."""
    return round_money(exact_price_of(bid, cost))


def exact_price_of(bid: Bid, cost: Decimal) -> float:
    """Return the part of the bid price that a part of the job cost carries, not rounded."""
    if not bid.job_cost:
        return 0.0
    return float(bid.price) * float(cost) / float(bid.job_cost)
