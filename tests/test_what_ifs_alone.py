"""What-ifs of one study share what they have in common; each has the figures of its job alone."""

from functools import cache

import pytest

from estimator.joint.shared import Shared
from estimator.models.estimate import PricedJob
from estimator.models.places import NO_PLACES
from estimator.pipeline import estimate, price
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
