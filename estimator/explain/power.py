"""Explained: the electrical load of the run's machine, and the hydrotest of its section."""

from collections.abc import Iterator, Sequence
from functools import partial

from estimator.explain.chain import Chain
from estimator.explain.page import record
from estimator.models.explanation import Step
from estimator.models.hydrotest import HydroHours, HydroTest
from estimator.models.job import Run
from estimator.plan.hydrotest import bore_l, hydro_hours, volume_of_section
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
    class_id = chain.sized.machine.class_id
    keys = {made.key for made in OF_MACHINE}
    for found in chain.context.power_steps.get(class_id, ()):
        if found.key in keys:
            air = f"; air of the coldest month with {class_id} at work"
            how = f"{found.how}{air}" if found.key == warm_up_s.key else ""
            yield chain.page.show(found, how=how)


def hydrotest_steps(chain: Chain) -> Iterator[Step]:
    """Yield water and hours of the test section of the run, if it is tested."""
    name = chain.run.run_id
    for test in (test for test in chain.estimate.tests if name in test.run_ids):
        page = chain.page
        yield Step("Test section", test.section, where=chain.run_cell("test_section"))
        runs = (f", {run.run_id}" for run in _runs(chain, test))
        for found in record(partial(_hours, chain, test)):
            of_run = next(runs) if found.key == bore_l.key else ""
            yield page.show(found, f"{found.name}{of_run}")
        yield from map(page.show, record(partial(_labor_hours, test)))


def _labor_hours(test: HydroTest) -> float:
    return test.labor_hours


def _hours(chain: Chain, test: HydroTest) -> HydroHours:
    volume = volume_of_section(_runs(chain, test), chain.context.sized)
    return hydro_hours(volume, chain.job.hydrotest)


def _runs(chain: Chain, test: HydroTest) -> Sequence[Run]:
    return [run for run in chain.job.runs if run.run_id in test.run_ids]
