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

from estimator.study import study
from estimator.workbook.book import parse_workbook, with_results
from tests.small_book import small_book

EXAMPLES = ("raw_water_main", "tailings_line", "plant_piping")
FOLDER = Path(__file__).parent.parent / "examples"
_STUDIED = []
"""What was asked of the last studies and what each found."""
MOST_STUDIED = 6


def studied(job, places, watcher=None, *, warnings=(), ranges=True):
    """Return the study of a job, made once for all that ask the same; nobody hears how far it is.

    For tests of where the inputs come from and where the results go: see ``studied_once``.
    """
    del watcher
    asked = job, places, tuple(warnings), ranges
    for before, found in _STUDIED:
        if before == asked:
            return found
    found = study(job, places, warnings=warnings, ranges=ranges)
    _STUDIED.append((asked, found))
    del _STUDIED[:-MOST_STUDIED]
    return found


def studied_once(patch):
    """Have command and macro ask ``studied``, which leaves a second study of a job out."""
    for caller in ("estimator.api", "estimator.excel.work"):
        patch.setattr(f"{caller}.study", studied)


@functools.cache
def example(name):
    """Return the workbook of an example as it was read, and its estimate."""
    workbook = parse_workbook((FOLDER / f"{name}.xlsx").read_bytes())
    return workbook, studied(workbook.job, workbook.places, warnings=workbook.warnings)


@functools.cache
def written(name):
    """Return the bytes of an example with its results."""
    return with_results(*example(name))


@functools.cache
def small_example(name="raw_water_main", runs=None):
    """Return the workbook of the first runs of an example, and its estimate."""
    workbook = parse_workbook(small_book(name, runs=runs))
    return workbook, studied(workbook.job, workbook.places, warnings=workbook.warnings)


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
