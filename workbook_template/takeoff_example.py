"""Examples whose pipe schedule comes from a foreign takeoff, by the importer itself.

The takeoff and its confirmed readings lie beside the job: ``takeoff.csv``, ``takeoff.map.csv``.
"""

import csv

from estimator.errors import InputError, Problem
from estimator.takeoff.answers import load
from estimator.takeoff.foreign import ForeignTable
from estimator.takeoff.into import Import, read_takeoff
from estimator.takeoff.schedule import open_target
from workbook_template.content import job_files

TAKEOFF, MAP = "takeoff.csv", "takeoff.map.csv"


def with_takeoff(data: bytes, example: str) -> bytes:
    """Return the workbook of an example with its takeoff in the pipe schedule, if it has one.

    Raises
    ------
    InputError
        If a reading of the takeoff is not confirmed, or a row is wrong.
    """
    found = imported(data, example)
    return data if found is None else found.data


def imported(data: bytes, example: str) -> Import | None:
    """Return the import of an example's takeoff, None where it has none."""
    takeoff = next(iter(job_files(example, TAKEOFF)), None)
    if takeoff is None:
        return None
    rows = list(csv.reader(takeoff.read_text("utf-8").splitlines()))
    table = ForeignTable(TAKEOFF, [[cell or None for cell in row] for row in rows])
    answers = load(next(iter(job_files(example, MAP))).read_bytes(), MAP)
    found = read_takeoff(table, open_target(data, example), answers, "")
    unread = [
        Problem(f"{MAP}: {one.what} {one.found}", "is not confirmed") for one in found.answers.open
    ]
    if found.problems or unread:
        raise InputError([*found.problems, *unread])
    return found
