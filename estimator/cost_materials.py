"""Cost lines of what is used up or built in: by the piece, and pipe."""

from collections.abc import Iterator, Sequence

from estimator.cost_rates import DIRECT, rate_input
from estimator.models.estimate import CostLine, Quantity
from estimator.models.job import Job
from estimator.models.plan import Plan, SizedRun
from estimator.money import Expr, round_quantity
from estimator.units import from_si


def piece_lines(job: Job, sized: Sequence[SizedRun], plan: Plan) -> Iterator[CostLine]:
    """Consumables, tests and materials that are counted by the piece."""
    remade = sum(run.count.remade_joints for run in sized)
    tests = sum(line.test_joints for line in plan.lines)
    butt = sum(run.count.butt_joints for run in sized)
    count = (
        ("joint_consumables", "Consumables", "Butt fusion consumables", "butt joint",
         "butt, remade and test joints", butt + remade + tests,
         ("joints.butt_joints", "joints.remade_joints", "plan.test_joints")),
        ("test_joint_cost", "Tests", "Test joints", "test", "by the rule on the Job sheet",
         tests, ("plan.test_joints",)),
        ("ef_closure_cost", "Materials", "Electrofusion closures", "closure", "pipe schedule",
         sum(run.count.ef_closures for run in sized), ("joints.ef_closures",)),
        ("bolt_up_cost", "Materials", "Bolt-up sets", "bolt-up", "flange and MJ adapters",
         sum(run.count.bolt_ups for run in sized), ("joints.bolt_ups",)),
        ("saddle_cost", "Materials", "Branch saddles", "saddle", "pipe schedule",
         sum(run.count.saddles for run in sized), ("joints.saddles",)),
    )  # fmt: skip
    for key, cost_type, item, unit, basis, number, anchors in count:
        if number:
            yield CostLine(
                key=f"piece.{key}",
                section=DIRECT,
                cost_type=cost_type,
                item=item,
                basis=basis,
                quantity=Quantity(float(number), tuple((1, anchor) for anchor in anchors)),
                unit=unit,
                rate=rate_input(job, key),
            )


def pipe_lines(job: Job, sized: Sequence[SizedRun]) -> Iterator[CostLine]:
    """Pipe of the runs that carry a price: whole sticks, price with waste."""
    waste = Expr.one() + rate_input(job, "pipe_waste")
    for run, known in zip(job.runs, sized, strict=True):
        if run.pipe_price is None or not run.pipe_price.amount:
            continue
        per = run.pipe_price.per
        length = round_quantity(from_si(known.count.sticks * run.stick_length, per), 2)
        yield CostLine(
            key=f"pipe.{run.run_id}",
            section=DIRECT,
            cost_type="Pipe",
            item=f"Pipe of run {run.run_id}, {run.od_system} {run.size} DR {run.dr:g}",
            basis=f"{known.count.sticks} whole pieces; price with waste",
            quantity=Quantity(length),
            unit=per,
            rate=Expr.of("schedule", run.run_id, "pipe_price", run.pipe_price.amount) * waste,
        )
