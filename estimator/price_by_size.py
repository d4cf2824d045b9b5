"""The bid price shared out over sizes and walls."""

from collections.abc import Mapping, Sequence
from decimal import Decimal

from estimator.cost_rates import rate_input
from estimator.models.estimate import Bid, CostLine, OwnCost, SizeLine
from estimator.models.job import Job
from estimator.models.plan import SizedRun
from estimator.money import round_money, round_quantity

PIECE_RATES = {
    "ef_closures": "ef_closure_cost",
    "bolt_ups": "bolt_up_cost",
    "saddles": "saddle_cost",
}


def pipe_label(od_system: str, size: str, dr: float) -> str:
    """Return what one size and wall is called, such as ``IPS 24 DR 17``."""
    return f"{od_system} {size} DR {dr:g}"


def price_by_size(
    job: Job,
    sized: Sequence[SizedRun],
    crew_hours: Mapping[str, float],
    lines: Sequence[CostLine],
    bid: Bid,
) -> tuple[SizeLine, ...]:
    """Share the price out over sizes and walls, each share to the cent.

    Pipe, closures, bolt-ups and saddles go to their own size; the rest of the job cost is
    shared by crew-hours. Each size carries the markup of the job:
    ``price x (own + shared x hours / all hours) / job cost``. The shares may miss the price by
    some cents; the Bid sheet shows the difference on a line.
    """
    groups: dict[str, list[int]] = {}
    for i, run in enumerate(job.runs):
        groups.setdefault(pipe_label(run.od_system, run.size, run.dr), []).append(i)
    hours = {
        label: round_quantity(sum(crew_hours.get(job.runs[i].run_id, 0.0) for i in members), 2)
        for label, members in groups.items()
    }
    own = {
        label: own_cost(job, [sized[i] for i in members], lines)
        for label, members in groups.items()
    }
    shared = float(bid.job_cost) - sum(cost.value for cost in own.values())
    total = sum(hours.values())
    return tuple(
        SizeLine(
            label=label,
            length_m=sum(job.runs[i].length_m for i in members),
            butt_joints=sum(sized[i].count.butt_joints for i in members),
            crew_hours=hours[label],
            own_cost=own[label],
            amount=_share(bid, own[label].value + shared * hours[label] / total),
        )
        for label, members in groups.items()
    )


def own_cost(job: Job, members: Sequence[SizedRun], lines: Sequence[CostLine]) -> OwnCost:
    """Return the cost that belongs to the runs of one size alone."""
    keys = {f"pipe.{run.run_id}" for run in members}
    counts = {
        rate: sum(getattr(run.count, counted) for run in members)
        for counted, rate in PIECE_RATES.items()
    }
    return OwnCost(
        pipe_lines=tuple(line for line in lines if line.key in keys),
        pieces=tuple((count, rate_input(job, rate)) for rate, count in counts.items() if count),
    )


def _share(bid: Bid, cost: float) -> Decimal:
    if not bid.job_cost:
        return Decimal(0)
    return round_money(float(bid.price) * cost / float(bid.job_cost))
