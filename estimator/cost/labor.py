"""Cost lines of the crews: wage, burden, overtime premium and small tools."""

from collections.abc import Iterator
from decimal import Decimal

from estimator.cost.rates import DIRECT, given_price, rate_input
from estimator.models.crew import Role
from estimator.models.estimate import CostLine, Quantity
from estimator.models.job import Job
from estimator.models.job_inputs import ShiftInputs
from estimator.models.plan import Plan
from estimator.models.planned_job import PlannedJob
from estimator.money import round_quantity
from estimator.steps.kinds import Money
from estimator.steps.recorder import Worked, step

ALL_HOURS = ("straight", "overtime")


@step("Burden on an hour of {role.role}")
def burden_rate(role: Role) -> Money:
    """Return what burden adds to an hour of straight pay."""
    return role.wage.amount * role.burden


@step("Premium on an overtime hour of {role.role}")
def overtime_premium(role: Role) -> Money:
    """Return what an hour beyond straight time earns on top."""
    return role.wage.amount * (role.overtime_multiple - 1)


@step("Premium on a night hour of {role.role}")
def night_premium(role: Role, shift: ShiftInputs) -> Money:
    """Return what an hour of a night shift earns on top."""
    return role.wage.amount * shift.night_premium


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
        basis="percent of wages and burden above",
        quantity=Quantity(labor, tuple((1, f"cost.{line.key}") for line in straight)),
        unit=job.cover.currency,
        rate=rate_input(job, "small_tools"),
    )


def _pay_lines(role: Role, hours: float) -> Iterator[CostLine]:
    wage = given_price.worked(role, "wage")
    anchors = tuple((1, f"plan.{kind}.{role.role}") for kind in ALL_HOURS)
    quantity = Quantity(round_quantity(hours, 2), anchors)
    yield _line(role, "wage", quantity, wage, "all paid hours at the straight-time rate")
    burden = burden_rate.worked(role)
    yield _line(role, "burden", quantity, burden, "payroll tax, insurance and benefits")


def _premium_line(role: Role, hours: float) -> CostLine:
    quantity = Quantity(hours, ((1, f"plan.overtime.{role.role}"),))
    basis = "premium portion of hours past straight time"
    return _line(role, "overtime premium", quantity, overtime_premium.worked(role), basis)


def _night_lines(job: Job, plan: Plan) -> Iterator[CostLine]:
    for role, worked in night_hours(job, plan):
        if worked and job.shift.night_premium:
            quantity = Quantity(worked, ((1, f"plan.night.{role.role}"),))
            basis = "night-shift hours x percent of wage"
            rate = night_premium.worked(role, job.shift)
            yield _line(role, "night differential", quantity, rate, basis)


def _line(role: Role, what: str, quantity: Quantity, rate: Worked[float], basis: str) -> CostLine:
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
