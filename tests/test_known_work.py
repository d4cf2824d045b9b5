"""Work laid out once for what-ifs that differ in nothing that laying out asks for."""

from functools import cache

import pytest

from estimator.joint.shared import Shared
from estimator.models.estimate import PricedJob
from estimator.models.places import NO_PLACES
from estimator.pipeline import estimate, price
from estimator.plan import known_work, planner
from estimator.risk.surface import Dates, Level, Plans, job_at, outcome_of
from estimator.stages import plan_job, price_job
from estimator.whatif import assess
from estimator.whatif.options import changed_job, freed_runs
from estimator.whatif.scenarios import figures
from estimator.workbook.book import parse_workbook
from tests.estimated import EXAMPLES
from tests.small_book import small_book

LEVELS = [Level(slow, hand, rework, wet) for slow, hand, rework, wet in (
    (1.2, 1.0, 1.0, 1.0), (1.0, 0.8, 1.0, 1.0), (1.0, 1.0, 2.0, 1.0), (1.0, 1.0, 1.0, 1.5),
    (0.9, 1.0, 1.0, 0.5),
)]  # fmt: skip


@cache
def few_runs(name):
    """The first runs of an example, estimated."""
    given = parse_workbook(small_book(name)).job.changed(fleet_choice="run by run")
    return estimate(given)


def laid_out_anew(monkeypatch, *jobs):
    """Return how many of some jobs of one study are laid out, the first among them."""
    shared, counted = Shared(NO_PLACES), []
    work = planner.Planner.work
    monkeypatch.setattr(planner.Planner, "work", lambda self: counted.append(self) or work(self))
    for one in jobs:
        plan_job(one, shared)
    return len(counted)


@pytest.mark.parametrize("name", EXAMPLES)
def test_every_option_has_the_figures_of_its_job_alone(name):
    base = few_runs(name)
    free, same = freed_runs(base), 0
    for option in assess(base, always=True).options:
        if option.figures is None or option.stock:
            continue
        choice = option.crews, option.machines_per_crew, option.shift_hours
        alone = price(changed_job(base, choice, free), Shared(NO_PLACES))
        assert option.figures == figures(alone), option.name
        same += 1
    assert same > 1


@pytest.mark.parametrize("name", EXAMPLES)
def test_every_level_of_the_ranges_has_the_figures_of_its_job_alone(name):
    base, shared = few_runs(name), Shared(NO_PLACES)
    plans = Plans(base, shared)
    assess(base, shared=shared, always=True)
    for level in LEVELS:
        alone: PricedJob = price_job(plan_job(job_at(base.job, level), Shared(NO_PLACES)))
        assert plans.at(level) == outcome_of(Dates(base.job), alone), level


def test_what_laying_out_does_not_ask_for_lays_nothing_out(monkeypatch):
    """There are no night shifts, no holds, and no run begins in the cold."""
    base = few_runs(EXAMPLES[0]).job
    rates = base.rates.model_copy(update={"small_tools": 0.5})
    slow_nights = base.changed(night_slowing=0.4)
    dearer = base.model_copy(update={"rates": rates})
    assert laid_out_anew(monkeypatch, base, slow_nights, dearer) == 1


def test_what_laying_out_asks_for_lays_out_anew(monkeypatch):
    base = few_runs(EXAMPLES[0]).job
    others = (
        base.changed(machine_move_min=base.moves.machine_move_min + 1),
        base.changed(efficiency=base.shift.efficiency * 0.9),
        base.changed(crews=base.resources.crews + 1),
        base.changed(workdays="Mon-Sun"),
        base.model_copy(update={"runs": tuple(base.runs)[::-1]}),
    )
    assert laid_out_anew(monkeypatch, base, *others) == 1 + len(others)


def test_work_of_a_large_job_is_not_kept(monkeypatch):
    base = few_runs(EXAMPLES[0]).job
    monkeypatch.setattr(known_work, "MOST_RUNS", 1)
    assert laid_out_anew(monkeypatch, base, base) == 2
