"""Cost lines: every amount a quantity times a rate that the user gave."""

import datetime as dt
from collections.abc import Callable, Iterable, Iterator, Sequence

from estimator.cost.counted import CountedLine
from estimator.cost.crews import CREW_LINES
from estimator.cost.fittings import fitting_lines
from estimator.cost.hydrotest import HYDROTEST_LINES, HYDROTEST_SITE_LINES
from estimator.cost.labor import labor_lines
from estimator.cost.materials import item_lines, pipe_lines
from estimator.cost.other_costs import other_lines
from estimator.cost.rates import DIRECT, INDIRECT, given_price
from estimator.cost.rental_lines import all_rental_lines
from estimator.models.estimate import CostLine, Quantity
from estimator.models.job_inputs import DateInputs
from estimator.models.kinds import LIQUIDATED_DAMAGES
from estimator.models.plan import Plan
from estimator.models.planned_job import PlannedJob
from estimator.models.rates import Rates
from estimator.money import round_quantity
from estimator.steps.marks import rounded
from estimator.steps.recorder import step
from estimator.units import from_si


def fuel_volume(rates: Rates, liters: float) -> float:
    """Return a fuel volume in the unit that fuel is priced in, to 0.1."""
    return round_quantity(from_si(liters, rates.fuel_price.per), 1)


@step("Fuel of all on rent", "span by span")
def all_fuel(volumes: Sequence[float]) -> float:
    """Return the fuel of all spans in the unit of its price, to 0.1."""
    return rounded(sum(volumes), 1)


def fuel_used(planned: PlannedJob) -> Quantity:
    """Return the fuel of everything on rent."""
    volumes = [fuel_volume(planned.job.rates, span.fuel_l) for span in planned.fleet.spans]
    return Quantity.of(all_fuel.worked(volumes), terms=((1, "equipment.fuel"),))


def lump_sum(planned: PlannedJob) -> Quantity:
    """Return the one of a lump sum."""
    return Quantity(1.0)


def paid_person_days(planned: PlannedJob) -> Quantity:
    """Return people x paid days of the joining crews."""
    return Quantity(person_days(planned.plan), ((1, "plan.person_days"),))


def paid_site_days(planned: PlannedJob) -> Quantity:
    """Return the dates on which a joining crew is paid."""
    return Quantity(float(site_days(planned.plan)), ((1, "plan.site_days"),))


def late_lines(planned: PlannedJob) -> Iterator[CostLine]:
    """Liquidated damages, where there is one and the deadline is missed."""
    charge = planned.job.dates.liquidated_damages
    late = days_late(planned.job.dates, planned.finish)
    if late and charge.amount:
        yield CostLine(
            key="indirect.liquidated_damages",
            section=INDIRECT,
            cost_type=LIQUIDATED_DAMAGES,
            item=LIQUIDATED_DAMAGES,
            basis="calendar days after the deadline",
            quantity=Quantity(float(late), ((1, "plan.days_late"),)),
            unit="day",
            rate=given_price.worked(planned.job.dates, "liquidated_damages"),
        )


def days_late(dates: DateInputs, finish: dt.date) -> int:
    """Return the calendar days from the deadline to the finish, 0 in time or without one."""
    deadline = dates.deadline
    return 0 if deadline is None else max(0, (finish - deadline).days)


def person_days(plan: Plan) -> float:
    """Return people x paid days, to 0.01."""
    return round_quantity(sum(sum(day.heads) for day in plan.crew_days), 2)


def site_days(plan: Plan) -> int:
    """Return the dates on which a crew is paid, worked or lost to weather."""
    return len({day.date for day in plan.crew_days})


LINES: tuple[Callable[[PlannedJob], Iterable[CostLine]], ...] = (
    labor_lines,
    all_rental_lines,
    CountedLine(
        "fuel", DIRECT, "Fuel", "Diesel fuel",
        "engines, generators at average load, lifting equipment at work",
        "fuel_price", fuel_used,
    ),
    item_lines,
    fitting_lines,
    pipe_lines,
    other_lines,
    *HYDROTEST_LINES,
    CountedLine(
        "indirect.mobilization", INDIRECT, "Mobilization", "Mobilization", "to site",
        "mobilization", lump_sum,
    ),
    CountedLine(
        "indirect.demobilization", INDIRECT, "Mobilization", "Demobilization", "from site",
        "demobilization", lump_sum,
    ),
    *CREW_LINES,
    CountedLine(
        "indirect.subsistence", INDIRECT, "Per diem", "Per diem", "people x paid days",
        "subsistence", paid_person_days,
    ),
    CountedLine(
        "indirect.site_overhead", INDIRECT, "Jobsite overhead", "Jobsite overhead",
        "worked and weather days", "site_overhead", paid_site_days,
    ),
    *HYDROTEST_SITE_LINES,
    late_lines,
)  # fmt: skip
"""What makes the cost lines, in the order of the Cost sheet; direct cost stands first."""
COUNTED_LINES = tuple(make for make in LINES if isinstance(make, CountedLine))
"""Those that are a number of something times a rate."""


def cost_lines(planned: PlannedJob) -> tuple[CostLine, ...]:
    """Return every cost line of a planned job, direct before indirect."""
    return tuple(line for make in LINES for line in make(planned))
