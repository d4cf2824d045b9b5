"""Cost lines of the hydrotests: people, equipment, water, and the days on site they add."""

import datetime as dt
from collections.abc import Callable, Iterable, Iterator, Sequence

from estimator.cost.counted import CountedLine
from estimator.cost.rates import DIRECT, INDIRECT, amount_of, rate_input
from estimator.display import unit_of
from estimator.models.estimate import CostLine, Quantity
from estimator.models.hydrotest import HydroTest
from estimator.models.job import Job
from estimator.models.job_inputs import HydrotestInputs
from estimator.models.kinds import HYDROTESTS, TESTED_LENGTH
from estimator.models.plan import Plan
from estimator.models.planned_job import PlannedJob
from estimator.models.rates import MoneyRate, Rates
from estimator.money import round_quantity
from estimator.steps.kinds import Hours, Money
from estimator.steps.marks import rounded
from estimator.steps.recorder import step
from estimator.units import from_si

WATER_DIGITS = 1


@step("Wage of a repeat", "wage x probability of a repeat")
def repeat_wage(rates: Rates, tests: HydrotestInputs) -> Money:
    """Return what an hour of a repeat costs, by its chance."""
    return amount_of(rates, "hydro_wage") * tests.hydro_repeat_share


@step("Hours at hydrotests", "all test sections")
def hours_of_tests(tests: Sequence[HydroTest], key: str) -> Hours:
    """Return the hours of one sort over all tests, to 0.01."""
    return rounded(sum(getattr(test, key) for test in tests), 2)


def crew_lines(planned: PlannedJob) -> Iterator[CostLine]:
    """Yield the people of the tests, and those of the repeats by their chance."""
    job, wage = planned.job, planned.job.rates.hydro_wage
    if wage is None or not planned.tests:
        return
    each = rate_input(job.rates, "hydro_wage")
    by_chance = repeat_wage.worked(job.rates, job.hydrotest)
    for key, item, basis, rate in (
        ("labor_hours", "Hydrotest labor", "setup through restoration, people x hours", each),
        ("repeat_labor_hours", "Hydrotest labor, expected repeats",
         "people x hours of one repeat each; rate x probability of a repeat", by_chance),
    ):  # fmt: skip
        yield CostLine(
            key=f"hydrotest.{key}",
            section=DIRECT,
            cost_type=HYDROTESTS,
            item=item,
            basis=basis,
            quantity=Quantity.of(
                hours_of_tests.worked(planned.tests, key), terms=((1, f"tests.{key}"),)
            ),
            unit=wage.per,
            rate=rate,
            allocated_by=TESTED_LENGTH,
        )


def sections(planned: PlannedJob) -> Quantity | None:
    """Return the number of test sections, None without any."""
    number = len(planned.tests)
    return Quantity(float(number), ((1, "tests.sections"),)) if number else None


def water_unit(job: Job) -> str:
    """Return the unit of the water on the Tests sheet: that of its price, if it has one."""
    price = job.rates.hydro_water or job.rates.hydro_disposal
    return unit_of("volume", job.cover.unit_system) if price is None else price.per


def water_volume(test: HydroTest, unit: str) -> float:
    """Return the water that fills one section, to 0.1 of a unit of volume."""
    return round_quantity(from_si(test.volume_l, unit), WATER_DIGITS)


def filled(planned: PlannedJob) -> Quantity | None:
    """Return the water of all sections in the unit of its price, None without tests."""
    return _water(planned, planned.job.rates.hydro_water)


def drained(planned: PlannedJob) -> Quantity | None:
    """Return the water that is disposed of in the unit of that price, None without tests."""
    return _water(planned, planned.job.rates.hydro_disposal)


def _water(planned: PlannedJob, price: MoneyRate | None) -> Quantity | None:
    if price is None or not planned.tests:
        return None
    volume = sum(water_volume(test, price.per) for test in planned.tests)
    shown = water_unit(planned.job) == price.per
    return Quantity(round_quantity(volume, WATER_DIGITS), ((1, "tests.water"),) if shown else ())


def person_days(tests: Sequence[HydroTest]) -> int:
    """Return people x days on which they attend hydrotests."""
    people = {(day.date, day.crew): test.people for test in tests for day in test.days}
    return sum(people.values())


def added_site_days(plan: Plan, tests: Sequence[HydroTest]) -> int:
    """Return the dates with hydrotests on which no joining crew is paid."""
    paid = {day.date for day in plan.crew_days}
    dates: set[dt.date] = {day.date for test in tests for day in test.days}
    return len(dates - paid)


def people_days(planned: PlannedJob) -> Quantity | None:
    """Return people x days of the tests, None without any."""
    number = person_days(planned.tests)
    return Quantity(float(number), ((1, "tests.person_days"),)) if number else None


def days_alone(planned: PlannedJob) -> Quantity | None:
    """Return the days on which only the test crews are on site, None without any."""
    number = added_site_days(planned.plan, planned.tests)
    return Quantity(float(number), ((1, "tests.added_days"),)) if number else None


HYDROTEST_LINES: tuple[Callable[[PlannedJob], Iterable[CostLine]], ...] = (
    crew_lines,
    CountedLine(
        "hydrotest.equipment", DIRECT, HYDROTESTS, "Hydrotest equipment",
        "pump, test heads and gauges, per test section", "hydro_equipment", sections, TESTED_LENGTH,
    ),
    CountedLine(
        "hydrotest.hydro_water", DIRECT, HYDROTESTS, "Test water",
        "one fill per test section", "hydro_water", filled, TESTED_LENGTH,
    ),
    CountedLine(
        "hydrotest.hydro_disposal", DIRECT, HYDROTESTS, "Test water disposal",
        "one drain per test section", "hydro_disposal", drained, TESTED_LENGTH,
    ),
)  # fmt: skip
"""Direct lines of the hydrotests. What has no price is left out."""

HYDROTEST_SITE_LINES = (
    CountedLine(
        "hydrotest.subsistence", INDIRECT, HYDROTESTS, "Per diem, hydrotest crews",
        "people x test days", "subsistence", people_days, TESTED_LENGTH,
    ),
    CountedLine(
        "hydrotest.site_overhead", INDIRECT, HYDROTESTS, "Jobsite overhead, hydrotest days",
        "test days with no fusion crew on site", "site_overhead", days_alone, TESTED_LENGTH,
    ),
)  # fmt: skip
"""Indirect lines of the test crews, and of the days that only they work."""
