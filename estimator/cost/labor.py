"""Cost lines of the crews: wage, burden, overtime premium and small tools."""

from collections.abc import Iterator
from decimal import Decimal

from estimator.cost.rates import DIRECT, rate_input
from estimator.models.crew import Role
from estimator.models.estimate import CostLine, Quantity
from estimator.models.job import Job
from estimator.models.plan import Plan
from estimator.models.planned_job import PlannedJob
from estimator.money import Expr, round_quantity

ALL_HOURS = ("straight", "overtime")


def role_hours(job: Job, plan: Plan) -> list[tuple[Role, float, float]]:
    """Return each role with its straight and overtime hours, to 0.01 h."""
    hours = []
    for i, role in enumerate(job.crew):
        straight = sum(day.heads[i] * day.straight_hours for day in plan.crew_days)
        overtime = sum(day.heads[i] * day.overtime_hours for day in plan.crew_days)
        hours.append((role, round_quantity(straight, 2), round_quantity(overtime, 2)))
    return hours


def night_hours(job: Job, plan: Plan) -> list[tuple[Role, float]]:
    """Return each role with its hours in night shifts, to 0.01 h."""
    nights = [day for day in plan.crew_days if day.shift == "night"]
    return [
        (
            role,
            round_quantity(
                sum(day.heads[i] * (day.straight_hours + day.overtime_hours) for day in nights), 2
            ),
        )
        for i, role in enumerate(job.crew)
    ]


def labor_lines(planned: PlannedJob) -> Iterator[CostLine]:
    """Straight pay for all hours, burden, premiums for overtime and night, small tools.

    Burden is a share of straight pay; overtime hours earn ``wage x (multiple - 1)`` on top,
    hours of night shifts their share of the wage.
    Small tools are a share of straight pay with burden.
    """
    job, plan = planned.job, planned.plan
    hours = [entry for entry in role_hours(job, plan) if entry[1] + entry[2]]
    straight = [line for role, *parts in hours for line in _pay_lines(role, sum(parts))]
    yield from straight
    for role, _, overtime in hours:
        if overtime:
            yield _premium_line(role, overtime)
    yield from _night_lines(job, plan)
    labor = float(sum((line.amount for line in straight), Decimal(0)))
    yield CostLine(
        key="labor.small_tools",
        section=DIRECT,
        cost_type="Labor",
        item="Small tools",
        basis="share of wages and burden above",
        quantity=Quantity(labor, tuple((1, f"cost.{line.key}") for line in straight)),
        unit=job.cover.currency,
        rate=rate_input(job, "small_tools"),
    )


def _pay_lines(role: Role, hours: float) -> Iterator[CostLine]:
    wage = Expr.of("crew", role.role, "wage", role.wage.amount)
    burden = Expr.of("crew", role.role, "burden", role.burden)
    anchors = tuple((1, f"plan.{kind}.{role.role}") for kind in ALL_HOURS)
    quantity = Quantity(round_quantity(hours, 2), anchors)
    yield _line(role, "wage", quantity, wage, "all paid hours at the straight rate")
    yield _line(role, "burden", quantity, wage * burden, "payroll tax, insurance and benefits")


def _premium_line(role: Role, hours: float) -> CostLine:
    wage = Expr.of("crew", role.role, "wage", role.wage.amount)
    multiple = Expr.of("crew", role.role, "overtime_multiple", role.overtime_multiple)
    quantity = Quantity(hours, ((1, f"plan.overtime.{role.role}"),))
    basis = "what hours beyond straight time earn on top"
    return _line(role, "overtime premium", quantity, wage * (multiple - Expr.one()), basis)


def _night_lines(job: Job, plan: Plan) -> Iterator[CostLine]:
    premium = Expr.of("job", "", "night_premium", job.shift.night_premium)
    for role, worked in night_hours(job, plan):
        if worked and job.shift.night_premium:
            wage = Expr.of("crew", role.role, "wage", role.wage.amount)
            quantity = Quantity(worked, ((1, f"plan.night.{role.role}"),))
            basis = "hours of night shifts x share of the wage"
            yield _line(role, "night premium", quantity, wage * premium, basis)


def _line(role: Role, what: str, quantity: Quantity, rate: Expr, basis: str) -> CostLine:
    return CostLine(
        key=f"labor.{what.replace(' ', '_')}.{role.role}",
        section=DIRECT,
        cost_type="Labor",
        item=f"{role.role}, {what}",
        basis=basis,
        quantity=quantity,
        unit="h",
        rate=rate,
    )
