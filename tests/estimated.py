"""The examples with their results: estimated, written and opened once for all tests of a worker.

No test may change what it gets here; one that does builds its own.
"""

import atexit
import functools
import io
import shutil
import tempfile
from pathlib import Path

import openpyxl

from estimator import api
from estimator.workbook.book import parse_workbook, with_results
from tests.small_book import small_book

EXAMPLES = ("raw_water_main", "tailings_line", "plant_piping")
FOLDER = Path(__file__).parent.parent / "examples"


@functools.cache
def example(name):
    """Return the workbook of an example as it was read, and its estimate."""
    workbook = parse_workbook((FOLDER / f"{name}.xlsx").read_bytes())
    return workbook, api.estimate_workbook(workbook)


@functools.cache
def written(name):
    """Return the bytes of an example with its results."""
    return with_results(*example(name))


@functools.cache
def small_example(name="raw_water_main", runs=None):
    """Return the workbook of the first runs of an example, and its estimate."""
    workbook = parse_workbook(small_book(name, runs=runs))
    return workbook, api.estimate_workbook(workbook)


@functools.cache
def small(name="raw_water_main", runs=None):
    """Return the bytes of the first runs of an example with their results."""
    return with_results(*small_example(name, runs))


@functools.cache
def opened(name, *, values=False):
    """Return an example with its results as a second reader has it: formulas, or saved values."""
    return openpyxl.load_workbook(io.BytesIO(written(name)), data_only=values)


@functools.cache
def saved(name):
    """Return the path of an example with its results."""
    path = _folder() / f"{name}.xlsx"
    path.write_bytes(written(name))
    return path


@functools.cache
def _folder():
    folder = tempfile.mkdtemp(prefix="estimator-examples-")
    atexit.register(shutil.rmtree, folder, ignore_errors=True)
    return Path(folder)
