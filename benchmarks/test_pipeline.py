"""A file read, estimated and written, beside openpyxl moving the same cells without any work.

The table of a group shows every line as a multiple of the fastest.
"""

import datetime as dt
import io

import openpyxl
import pytest

from benchmarks.workbooks import job_of
from estimator import api
from estimator.workbook.book import parse_workbook, with_results
from estimator.workbook.results.sheets import RESULT_SHEETS

pytestmark = pytest.mark.parametrize("runs", [1_000, 10_000])
ROUNDS = 3


@pytest.fixture(autouse=True)
def group(benchmark, runs):
    benchmark.group = f"file of {runs:,} runs"


def whole(data, *, ranges=True):
    workbook = parse_workbook(data)
    return with_results(workbook, api.estimate_workbook(workbook, ranges=ranges))


def read_and_write(data, estimate):
    return with_results(parse_workbook(data), estimate)


def openpyxl_same_cells(data, results):
    """Read all cells with openpyxl's read-only mode, write the results with its write-only one."""
    for sheet in openpyxl.load_workbook(io.BytesIO(data), read_only=True):
        for _ in sheet.iter_rows(values_only=True):
            pass
    book = openpyxl.Workbook(write_only=True)
    for name, rows in results.items():
        sheet = book.create_sheet(name)
        for row in rows:
            sheet.append(row)
    book.save(io.BytesIO())


def result_cells(data):
    """Return formulas and values of the result sheets, by sheet."""
    book = openpyxl.load_workbook(io.BytesIO(whole(data, ranges=False)), read_only=True)
    return {
        name: [
            [value.isoformat() if isinstance(value, dt.date) else value for value in row]
            for row in book[name].iter_rows(values_only=True)
        ]
        for name in RESULT_SHEETS
    }


def test_read_estimate_write(benchmark, runs):
    benchmark.pedantic(whole, args=(job_of(runs),), kwargs={"ranges": False}, rounds=ROUNDS)


def test_the_same_with_ranges(benchmark, runs):
    benchmark.pedantic(whole, args=(job_of(runs),), rounds=1)


def test_read_and_write_without_the_estimate(benchmark, runs):
    estimate = api.estimate_workbook(parse_workbook(job_of(runs)), ranges=False)
    benchmark.pedantic(read_and_write, args=(job_of(runs), estimate), rounds=ROUNDS)


def test_baseline_openpyxl_moves_the_same_cells(benchmark, runs):
    results = result_cells(job_of(runs))
    benchmark.pedantic(openpyxl_same_cells, args=(job_of(runs), results), rounds=ROUNDS)
