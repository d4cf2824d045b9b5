"""Cost lines of the crews: wage, burden, overtime premium and small tools."""

from collections.abc import Iterator
from decimal import Decimal

from estimator.cost_rates import DIRECT, rate_input
from estimator.models.estimate import CostLine, Quantity
from estimator.models.job import Job, Role
from estimator.models.plan import Plan
from estimator.money import Expr, round_quantity


def role_hours(job: Job, plan: Plan) -> list[tuple[Role, float, float]]:
    """Return each role with its straight and overtime hours, to 0.01 h."""
    hours = []
    for i, role in enumerate(job.crew):
        straight = sum(day.heads[i] * day.straight_hours for day in plan.crew_days)
        overtime = sum(day.heads[i] * day.overtime_hours for day in plan.crew_days)
        hours.append((role, round_quantity(straight, 2), round_quantity(overtime, 2)))
    return hours


def labour_lines(job: Job, plan: Plan) -> Iterator[CostLine]:
    """Straight time of every role, then overtime, then small tools as a share of the first.

    Burden is paid on straight pay for all hours; overtime hours cost wage x (multiple + burden).
    """
    hours = role_hours(job, plan)
    straight = [
        _labour_line(role, "straight", worked, Expr.one(), "paid hours x wage with burden")
        for role, worked, _ in hours
        if worked
    ]
    yield from straight
    for role, _, worked in hours:
        if worked:
            multiple = Expr.of("crew", role.role, "overtime_multiple", role.overtime_multiple)
            yield _labour_line(role, "overtime", worked, multiple, "hours beyond straight time")
    labour = float(sum((line.amount for line in straight), Decimal(0)))
    yield CostLine(
        key="labour.small_tools",
        section=DIRECT,
        cost_type="Labour",
        item="Small tools",
        basis="share of straight-time labour",
        quantity=Quantity(labour, tuple((1, f"cost.{line.key}") for line in straight)),
        unit=job.facts.currency,
        rate=rate_input(job, "small_tools"),
    )


def _labour_line(role: Role, kind: str, hours: float, multiple: Expr, basis: str) -> CostLine:
    wage = Expr.of("crew", role.role, "wage", role.wage.amount)
    burden = Expr.of("crew", role.role, "burden", role.burden)
    return CostLine(
        key=f"labour.{kind}.{role.role}",
        section=DIRECT,
        cost_type="Labour",
        item=f"{role.role}, {kind} time",
        basis=basis,
        quantity=Quantity(hours, ((1, f"plan.{kind}.{role.role}"),)),
        unit="h",
        rate=wage * (multiple + burden),
    )
