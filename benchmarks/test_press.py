"""A press of the button, and what starting Python for it costs.

The press runs over a live LibreOffice, because no Excel is at hand; what Excel itself would take
is not in it.
"""

import os
import subprocess
import sys

import pytest

from benchmarks.workbooks import job_of
from estimator import api
from estimator.excel import live
from estimator.workbook.book import parse_workbook, with_results
from tests.lo_engine import open_app

RUNS, ROUNDS, STARTS = 200, 5, 15
PRESS, START = f"press, {RUNS} runs", "start of Python"


def whole(data):
    """Return the file with its results, as the command makes it."""
    workbook = parse_workbook(data)
    return with_results(workbook, api.estimate_workbook(workbook))


@pytest.fixture(scope="module")
def compiled(tmp_path_factory):
    """Return an environment in which modules are compiled once and kept, as installed ones are."""
    kept = {k: v for k, v in os.environ.items() if k != "PYTHONDONTWRITEBYTECODE"}
    return kept | {"PYTHONPYCACHEPREFIX": str(tmp_path_factory.mktemp("compiled"))}


@pytest.mark.benchmark(group=PRESS)
def test_press_to_written(benchmark, tmp_path):
    path = tmp_path / "job.xlsx"
    path.write_bytes(job_of(RUNS))
    with open_app() as app:
        book = app.books.open(path)
        assert benchmark.pedantic(live.estimate_book, args=(book,), rounds=ROUNDS)


@pytest.mark.benchmark(group=PRESS)
def test_baseline_the_same_job_as_a_file(benchmark):
    benchmark.pedantic(whole, args=(job_of(RUNS),), rounds=ROUNDS)


@pytest.mark.benchmark(group=START)
@pytest.mark.parametrize(
    "code",
    [
        "pass",
        "import xlwings",
        "import xlwings, estimator.excel.live",
        "import xlwings, estimator.excel.live\nfrom estimator.garbage import few_collections\n"
        "with few_collections():\n    import estimator.excel.work",
    ],
    ids=[
        "baseline Python alone",
        "xlwings alone",
        "xlwings and what answers the button",
        "xlwings and all that a press loads",
    ],
)
def test_start(benchmark, compiled, code):
    def start():
        subprocess.run([sys.executable, "-c", code], env=compiled, check=True)

    benchmark.pedantic(start, rounds=STARTS, warmup_rounds=1)
