"""Cost lines: every amount a quantity times a rate that the user gave."""

import datetime as dt
from collections.abc import Iterator, Sequence

from estimator.cost.hydrotest import hydrotest_lines, hydrotest_site_lines
from estimator.cost.labour import labour_lines
from estimator.cost.materials import piece_lines, pipe_lines
from estimator.cost.rates import DIRECT, INDIRECT, rate_input
from estimator.cost.rental import all_rental_lines
from estimator.models.estimate import CostLine, Quantity
from estimator.models.hydrotest import HydroTest
from estimator.models.job import Job
from estimator.models.plan import Fleet, Plan, SizedRun
from estimator.money import Expr, round_quantity
from estimator.units import from_si


def fuel_volume(job: Job, litres: float) -> float:
    """Return a fuel volume in the unit that fuel is priced in, to 0.1."""
    return round_quantity(from_si(litres, job.rates.fuel_price.per), 1)


def indirect_lines(job: Job, plan: Plan) -> Iterator[CostLine]:
    """Mobilisation, subsistence and site overhead."""
    count = (
        ("mobilisation", "Mobilisation", "Mobilisation", "lump sum", "to site", 1.0, ()),
        ("demobilisation", "Mobilisation", "Demobilisation", "lump sum", "from site", 1.0, ()),
        ("subsistence", "Subsistence", "Subsistence", "person-day", "people x paid days",
         person_days(plan), ((1, "plan.person_days"),)),
        ("site_overhead", "Site overhead", "Site overhead", "work day",
         "worked and weather days", float(site_days(plan)), ((1, "plan.site_days"),)),
    )  # fmt: skip
    for key, cost_type, item, unit, basis, number, terms in count:
        yield CostLine(
            key=f"indirect.{key}",
            section=INDIRECT,
            cost_type=cost_type,
            item=item,
            basis=basis,
            quantity=Quantity(number, terms),
            unit=unit,
            rate=rate_input(job, key),
        )


def late_lines(job: Job, finish: dt.date) -> Iterator[CostLine]:
    """Charge for finishing late, where there is one and the deadline is missed."""
    late = days_late(job, finish)
    if late and job.dates.late_charge.amount:
        yield CostLine(
            key="indirect.late_charge",
            section=INDIRECT,
            cost_type="Late finish",
            item="Charge for finishing late",
            basis="calendar days after the deadline",
            quantity=Quantity(float(late), ((1, "plan.days_late"),)),
            unit="day",
            rate=Expr.of("job", "", "late_charge", job.dates.late_charge.amount),
        )


def days_late(job: Job, finish: dt.date) -> int:
    """Return the calendar days from the deadline to the finish, 0 in time or without one."""
    deadline = job.dates.deadline
    return 0 if deadline is None else max(0, (finish - deadline).days)


def person_days(plan: Plan) -> float:
    """Return people x paid days, to 0.01."""
    return round_quantity(sum(sum(day.heads) for day in plan.crew_days), 2)


def site_days(plan: Plan) -> int:
    """Return the dates on which a crew is paid, worked or lost to weather."""
    return len({day.date for day in plan.crew_days})


def cost_lines(
    job: Job,
    sized: Sequence[SizedRun],
    plan: Plan,
    fleet: Fleet,
    tests: Sequence[HydroTest] = (),
) -> tuple[CostLine, ...]:
    """Return every cost line, direct before indirect, in the order of the Cost sheet."""
    volume = sum(fuel_volume(job, span.fuel_l) for span in fleet.spans)
    fuel = CostLine(
        key="fuel",
        section=DIRECT,
        cost_type="Fuel",
        item="Diesel fuel",
        basis="own engines, generators at their mean load, lifting gear at work",
        quantity=Quantity(round_quantity(volume, 1), ((1, "equipment.fuel"),)),
        unit=job.rates.fuel_price.per,
        rate=rate_input(job, "fuel_price"),
    )
    return (
        *labour_lines(job, plan),
        *all_rental_lines(job, plan, fleet),
        fuel,
        *piece_lines(job, sized, plan),
        *pipe_lines(job, sized),
        *hydrotest_lines(job, tests),
        *indirect_lines(job, plan),
        *hydrotest_site_lines(job, plan, tests),
        *late_lines(job, max([plan.finish, *(test.finish for test in tests)])),
    )
