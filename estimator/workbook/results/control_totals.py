"""Totals that must agree, each reached in two ways, with the live formulas of both."""

from collections.abc import Iterator
from dataclasses import dataclass

from estimator import cost
from estimator.workbook.results.builder import Context

JOINT_PARTS = ("stick_joints", "fitting_joints", "outside_tie_ins")
WHOLE, HOURS, CENTS = 0.5, 0.1, 0.005


@dataclass(frozen=True)
class ControlTotal:
    """One total, two ways: values as estimated, formulas over result cells."""

    label: str
    one: float
    one_formula: str
    other: float
    other_formula: str
    tolerance: float


def control_totals(context: Context) -> Iterator[ControlTotal]:
    """Yield the control totals of joints, hours and money."""
    yield from _joint_totals(context)
    yield from _hour_totals(context)
    yield from _money_totals(context)


def _joint_totals(context: Context) -> Iterator[ControlTotal]:
    at, runs, lines = context.anchors, context.estimate.runs, context.estimate.plan.lines
    butt, butt_at = context.estimate.butt_joints, at["joints.butt_joints"]
    by_crew = {line.crew: 0 for line in lines}
    for line in lines:
        by_crew[line.crew] += line.joints
    yield ControlTotal(
        "Butt joints: by run, by day",
        butt, butt_at, sum(line.joints for line in lines), at["plan.joints"], WHOLE,
    )  # fmt: skip
    crews, joints = at["plan.column.crew"], at["plan.column.joints"]
    yield ControlTotal(
        "Butt joints: by run, by crew",
        butt, butt_at, sum(by_crew.values()),
        "+".join(f"SUMIF({crews},{crew},{joints})" for crew in sorted(by_crew)), WHOLE,
    )  # fmt: skip
    yield ControlTotal(
        "Butt joints: total, sticks + fittings + tie-ins",
        butt, butt_at, sum(getattr(run.count, part) for run in runs for part in JOINT_PARTS),
        "+".join(at[f"joints.{part}"] for part in JOINT_PARTS), WHOLE,
    )  # fmt: skip
    yield ControlTotal(
        "Remade joints: by run, by day",
        sum(run.count.remade_joints for run in runs), at["joints.remade_joints"],
        sum(line.remade_joints for line in lines), at["plan.remade_joints"], WHOLE,
    )  # fmt: skip


def _hour_totals(context: Context) -> Iterator[ControlTotal]:
    estimate = context.estimate
    by_role = cost.role_hours(estimate.job, estimate.plan)
    roles = [
        reference
        for name, reference in context.anchors.items()
        if name.startswith(("plan.straight.", "plan.overtime."))
    ]
    yield ControlTotal(
        "Crew-hours: by run, by role",
        sum(estimate.crew_hours.values()), context.anchors["joints.crew_hours"],
        sum(straight + overtime for _, straight, overtime in by_role), "+".join(roles), HOURS,
    )  # fmt: skip


def _money_totals(context: Context) -> Iterator[ControlTotal]:
    at, bid = context.anchors, context.estimate.bid
    by_type: dict[str, float] = {}
    for line in context.estimate.cost_lines:
        by_type[line.cost_type] = by_type.get(line.cost_type, 0.0) + float(line.amount)
    job_cost, job_cost_at = float(bid.job_cost), at["cost.job"]
    yield ControlTotal(
        "Job cost: by line, by type",
        job_cost, job_cost_at, sum(by_type.values()), at["cost.by_type"], CENTS,
    )  # fmt: skip
    yield ControlTotal(
        "Job cost: Cost sheet, Bid sheet",
        job_cost, job_cost_at, float(bid.direct_cost + bid.indirect_cost), at["bid.job"], CENTS,
    )  # fmt: skip
    yield ControlTotal(
        "Bid price: by steps, by size",
        float(bid.price), at["bid.price"], float(bid.price), at["bid.by_size"], CENTS,
    )  # fmt: skip
