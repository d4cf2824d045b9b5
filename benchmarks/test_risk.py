"""The ranges of finish and price: 10,000 trials of a job, beside one estimate of it."""

import tracemalloc

import pytest

from benchmarks.workbooks import job_of
from estimator.pipeline import estimate
from estimator.study import add_ranges
from estimator.workbook.book import parse_workbook

RUNS, TRIALS, ROUNDS, MEGABYTE = 1_000, 10_000, 3, 2**20

pytestmark = pytest.mark.benchmark(group=f"ranges, {RUNS:,} runs, {TRIALS:,} trials")


@pytest.fixture(scope="module")
def found():
    job = parse_workbook(job_of(RUNS)).job
    return estimate(job.changed(risk_trials=TRIALS))


def test_ranges(benchmark, found):
    risk = benchmark.pedantic(add_ranges, args=(found,), rounds=ROUNDS).risk
    benchmark.extra_info["plans"] = risk.plans


def test_baseline_one_estimate(benchmark, found):
    benchmark.pedantic(estimate, args=(found.job,), rounds=ROUNDS)


def test_memory_of_the_ranges(benchmark, found):
    """The largest memory in use beside the estimate, which more trials must not raise much."""
    job = found.job.changed(risk_trials=20 * TRIALS)

    def most():
        tracemalloc.start()
        add_ranges(estimate(job))
        peak = tracemalloc.get_traced_memory()[1]
        tracemalloc.stop()
        return peak

    benchmark.extra_info["megabytes"] = benchmark.pedantic(most, rounds=1) / MEGABYTE
