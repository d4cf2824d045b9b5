"""Cost lines of the crews: wage, burden, overtime premium and small tools."""

from collections.abc import Iterator, Sequence
from decimal import Decimal
from typing import NamedTuple

from estimator.cost.rates import DIRECT, given_price, rate_input
from estimator.models.crew import Role
from estimator.models.estimate import CostLine, Quantity
from estimator.models.job import Job
from estimator.models.job_inputs import ShiftInputs
from estimator.models.kinds import LABOR
from estimator.models.plan import CrewDay, Plan
from estimator.models.planned_job import PlannedJob
from estimator.money import round_quantity
from estimator.steps.kinds import Money
from estimator.steps.recorder import Worked, step

ALL_HOURS = ("straight", "overtime", "saturday", "sunday")
"""Classes of paid hours; each hour is in one of them."""
SATURDAY, SUNDAY = 5, 6


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


@step("Premium on a Saturday hour of {role.role}")
def saturday_premium(role: Role, shift: ShiftInputs) -> Money:
    """Return what an hour worked on a Saturday earns on top."""
    return role.wage.amount * (shift.saturday_multiple - 1)


@step("Premium on a Sunday or holiday hour of {role.role}")
def sunday_premium(role: Role, shift: ShiftInputs) -> Money:
    """Return what an hour worked on a Sunday or a holiday earns on top."""
    return role.wage.amount * (shift.sunday_multiple - 1)


class RoleHours(NamedTuple):
    """The paid hours of a role, each in the class that pays most, to 0.01 h."""

    role: Role
    straight: float
    overtime: float
    saturday: float
    sunday: float

    @property
    def total(self) -> float:
        """All paid hours."""
        return round_quantity(self.straight + self.overtime + self.saturday + self.sunday, 2)


def role_hours(job: Job, plan: Plan) -> list[RoleHours]:
    """Return the hours of each role by the class in which they are paid.

    Hours of a Saturday, a Sunday or a worked holiday that has a multiplier are in its class; those
    beyond straight time stay overtime where that pays as much or more. So no hour earns two
    premiums.
    """
    special = [(day, _special(job, day)) for day in plan.crew_days]
    return [_hours_of(role, place, special) for place, role in enumerate(job.crew)]


def _special(job: Job, day: CrewDay) -> tuple[str, float]:
    """Return the class and the multiplier of a date that has one, else straight time."""
    shift, weekday = job.shift, day.date.weekday()
    if day.kind == "work":
        if shift.sunday_multiple > 1 and (
            weekday == SUNDAY or any(row.date == day.date for row in job.holidays)
        ):
            return "sunday", shift.sunday_multiple
        if shift.saturday_multiple > 1 and weekday == SATURDAY:
            return "saturday", shift.saturday_multiple
    return "straight", 1.0


def _hours_of(
    role: Role, place: int, days: Sequence[tuple[CrewDay, tuple[str, float]]]
) -> RoleHours:
    found = dict.fromkeys(ALL_HOURS, 0.0)
    usual = role.overtime_multiple
    for day, (kind, multiple) in days:
        heads = day.heads[place]
        found[kind] += heads * day.straight_hours
        found[kind if multiple > usual else "overtime"] += heads * day.overtime_hours
    return RoleHours(role, *(round_quantity(found[kind], 2) for kind in ALL_HOURS))


def night_hours(crew: Sequence[Role], plan: Plan) -> list[tuple[Role, float]]:
    """Return each role with its hours in night shifts, to 0.01 h."""
    nights = [day for day in plan.crew_days if day.shift == "night"]
    return [
        (
            role,
            round_quantity(
                sum(day.heads[i] * (day.straight_hours + day.overtime_hours) for day in nights), 2
            ),
        )
        for i, role in enumerate(crew)
    ]


def labor_lines(planned: PlannedJob) -> Iterator[CostLine]:
    """Straight pay for all hours, burden, premiums, small tools.

    Burden is a share of straight pay; overtime hours, and those of Saturdays, Sundays and worked
    holidays with a multiplier, earn ``wage x (multiple - 1)`` on top, hours of night shifts their
    share of the wage.
    Small tools are a share of straight pay with burden.
    """
    job, plan = planned.job, planned.plan
    hours = [entry for entry in role_hours(job, plan) if entry.total]
    straight = [line for entry in hours for line in _pay_lines(entry.role, entry.total)]
    yield from straight
    for entry in hours:
        if entry.overtime:
            yield _premium_line(entry.role, entry.overtime)
    yield from _day_lines(job.shift, hours)
    yield from _night_lines(job, plan)
    labor = float(sum((line.amount for line in straight), Decimal(0)))
    yield CostLine(
        key="labor.small_tools",
        section=DIRECT,
        cost_type=LABOR,
        item="Small tools",
        basis="percent of wages and burden above",
        quantity=Quantity(labor, tuple((1, f"cost.{line.key}") for line in straight)),
        unit=job.cover.currency,
        rate=rate_input(job.rates, "small_tools"),
    )


def _pay_lines(role: Role, hours: float) -> Iterator[CostLine]:
    wage = given_price.worked(role, "wage")
    anchors = tuple((1, f"plan.{kind}.{role.role}") for kind in ALL_HOURS)
    quantity = Quantity(hours, anchors)
    yield _line(role, "wage", quantity, wage, "all paid hours at straight time")
    burden = burden_rate.worked(role)
    yield _line(role, "burden", quantity, burden, "payroll tax, insurance and benefits")


def _premium_line(role: Role, hours: float) -> CostLine:
    quantity = Quantity(hours, ((1, f"plan.overtime.{role.role}"),))
    basis = "premium portion past straight time"
    return _line(role, "overtime premium", quantity, overtime_premium.worked(role), basis)


def _day_lines(shift: ShiftInputs, hours: Sequence[RoleHours]) -> Iterator[CostLine]:
    """Yield the premiums of Saturdays, and of Sundays and worked holidays."""
    for entry in hours:
        role = entry.role
        if entry.saturday:
            quantity = Quantity(entry.saturday, ((1, f"plan.saturday.{role.role}"),))
            rate = saturday_premium.worked(role, shift)
            yield _line(role, "Saturday premium", quantity, rate, "premium portion of the hours")
        if entry.sunday:
            quantity = Quantity(entry.sunday, ((1, f"plan.sunday.{role.role}"),))
            rate = sunday_premium.worked(role, shift)
            basis = "premium portion of the hours"
            yield _line(role, "Sunday and holiday premium", quantity, rate, basis)


def _night_lines(job: Job, plan: Plan) -> Iterator[CostLine]:
    for role, worked in night_hours(job.crew, plan):
        if worked and job.shift.night_premium:
            quantity = Quantity(worked, ((1, f"plan.night.{role.role}"),))
            basis = "night-shift hours x percent of wage"
            rate = night_premium.worked(role, job.shift)
            yield _line(role, "night differential", quantity, rate, basis)


def _line(role: Role, what: str, quantity: Quantity, rate: Worked[float], basis: str) -> CostLine:
    return CostLine(
        key=f"labor.{what.lower().replace(' ', '_')}.{role.role}",
        section=DIRECT,
        cost_type=LABOR,
        item=f"{role.role}, {what}",
        basis=basis,
        quantity=quantity,
        unit="h",
        rate=rate,
    )
