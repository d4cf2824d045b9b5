"""Explained: the electrical load of the run's machine, and the hydrotest of its section."""

from collections.abc import Iterator
from functools import partial

from estimator.explain.chain import Chain
from estimator.explain.page import record
from estimator.models.explanation import Step
from estimator.models.hydrotest import HydroHours, HydroTest
from estimator.plan.hydrotest import hydro_hours, volume_of_section
from estimator.power.load import (
    heater_duty,
    mean_load_kw,
    motors_kw,
    running_kw,
    starting_kw,
    warm_up_s,
)

OF_MACHINE = (motors_kw, running_kw, starting_kw, warm_up_s, heater_duty, mean_load_kw)


def power_steps(chain: Chain) -> Iterator[Step]:
    """Yield the load of one machine of the run's class, by the hardest joint of that class."""
    keys = {made.key for made in OF_MACHINE}
    for found in chain.context.power_steps.get(chain.sized.machine.class_id, ()):
        if found.key in keys:
            yield chain.page.show(found)


def hydrotest_steps(chain: Chain) -> Iterator[Step]:
    """Yield water and hours of the test section of the run, if it is tested."""
    name = chain.run.run_id
    for test in (test for test in chain.estimate.tests if name in test.run_ids):
        page = chain.page
        yield Step("Test section", test.section, where=chain.run_cell("test_section"))
        yield from map(page.show, record(partial(_hours, chain, test)))
        yield from map(page.show, record(partial(_labor_hours, test)))


def _labor_hours(test: HydroTest) -> float:
    return test.labor_hours


def _hours(chain: Chain, test: HydroTest) -> HydroHours:
    runs = [run for run in chain.job.runs if run.run_id in test.run_ids]
    return hydro_hours(volume_of_section(runs, chain.context.sized), chain.job.hydrotest)
