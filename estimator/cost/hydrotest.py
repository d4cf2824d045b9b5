"""Cost lines of the hydrotests: people, equipment, water, and the days on site they add."""

import datetime as dt
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import replace
from types import MappingProxyType

from estimator.cost.rates import DIRECT, INDIRECT, rate_input
from estimator.display import unit_of
from estimator.models.estimate import CostLine, Quantity
from estimator.models.hydrotest import HydroTest
from estimator.models.job import Job
from estimator.models.plan import Plan
from estimator.models.rates import MoneyRate
from estimator.models.run_costs import Driver
from estimator.money import Expr, round_quantity
from estimator.units import from_si

COST_TYPE = "Tests"
TESTED_LENGTH: Driver = "tested length"
WATER_DIGITS = 1
TEXTS: Mapping[str, tuple[str, str]] = MappingProxyType(
    {
        "crew_hours": ("Hydrotests, attended hours", "set-up to restoring, people x hours"),
        "repeat_crew_hours": (
            "Hydrotests, repeats expected",
            "people x hours of one repeat each; rate x chance of a repeat",
        ),
        "equipment": ("Hydrotest equipment", "pump, test heads and gauges by test section"),
        "hydro_water": ("Test water", "one filling of each test section"),
        "hydro_disposal": ("Disposal of test water", "one draining of each test section"),
        "subsistence": ("Subsistence at hydrotests", "people x days of the tests"),
        "site_overhead": ("Site overhead at hydrotests", "test days without a joining crew"),
    }
)
"""Item and basis of each line."""


def hydrotest_lines(job: Job, tests: Sequence[HydroTest]) -> Iterator[CostLine]:
    """Yield the direct lines of the hydrotests; none without tests.

    A repeat costs its crew-hours times its chance. What has no price is left out.
    """
    if tests:
        yield from _labour(job, tests)
        yield from _equipment(job, tests)
        yield from _water(job, tests)


def _labour(job: Job, tests: Sequence[HydroTest]) -> Iterator[CostLine]:
    wage = job.rates.hydro_wage
    if wage is None:
        return
    each = rate_input(job, "hydro_wage")
    chance = Expr.of("job", "", "hydro_repeat_share", job.hydrotest.hydro_repeat_share)
    for key, rate in (("crew_hours", each), ("repeat_crew_hours", each * chance)):
        hours = sum(getattr(test, key) for test in tests)
        quantity = Quantity(round_quantity(hours, 2), ((1, f"tests.{key}"),))
        yield _line(key, quantity, wage.per, rate)


def _equipment(job: Job, tests: Sequence[HydroTest]) -> Iterator[CostLine]:
    price = job.rates.hydro_equipment
    if price is not None:
        quantity = Quantity(float(len(tests)), ((1, "tests.sections"),))
        yield _line("equipment", quantity, price.per, rate_input(job, "hydro_equipment"))


def water_unit(job: Job) -> str:
    """Return the unit of the water on the Tests sheet: that of its price, if it has one."""
    price = job.rates.hydro_water or job.rates.hydro_disposal
    return unit_of("volume", job.cover.unit_system) if price is None else price.per


def water_volume(test: HydroTest, unit: str) -> float:
    """Return the water that fills one section, to 0.1 of a unit of volume."""
    return round_quantity(from_si(test.volume_l, unit), WATER_DIGITS)


def _water(job: Job, tests: Sequence[HydroTest]) -> Iterator[CostLine]:
    for key in ("hydro_water", "hydro_disposal"):
        price: MoneyRate | None = getattr(job.rates, key)
        if price is None:
            continue
        volume = sum(water_volume(test, price.per) for test in tests)
        shown = water_unit(job) == price.per
        quantity = Quantity(
            round_quantity(volume, WATER_DIGITS), ((1, "tests.water"),) if shown else ()
        )
        yield _line(key, quantity, price.per, rate_input(job, key))


def person_days(tests: Sequence[HydroTest]) -> int:
    """Return people x days on which they attend hydrotests."""
    people = {(day.date, day.crew): test.people for test in tests for day in test.days}
    return sum(people.values())


def added_site_days(plan: Plan, tests: Sequence[HydroTest]) -> int:
    """Return the dates with hydrotests on which no joining crew is paid."""
    paid = {day.date for day in plan.crew_days}
    dates: set[dt.date] = {day.date for test in tests for day in test.days}
    return len(dates - paid)


def hydrotest_site_lines(job: Job, plan: Plan, tests: Sequence[HydroTest]) -> Iterator[CostLine]:
    """Yield subsistence of the test crews, and site overhead of the days that only they work."""
    added = (
        ("subsistence", person_days(tests), "tests.person_days"),
        ("site_overhead", added_site_days(plan, tests), "tests.added_days"),
    )
    for key, number, anchor in added:
        if number:
            price: MoneyRate = getattr(job.rates, key)
            quantity = Quantity(float(number), ((1, anchor),))
            line = _line(key, quantity, price.per, rate_input(job, key))
            yield replace(line, section=INDIRECT)


def _line(key: str, quantity: Quantity, unit: str, rate: Expr) -> CostLine:
    item, basis = TEXTS[key]
    return CostLine(
        key=f"hydrotest.{key}",
        section=DIRECT,
        cost_type=COST_TYPE,
        item=item,
        basis=basis,
        quantity=quantity,
        unit=unit,
        rate=rate,
        shared_by=TESTED_LENGTH,
    )
