"""Foreign tables read without a workbook, and what is said where they cannot be, by hand."""

import functools

from estimator.inputs.dictionary import fields
from estimator.takeoff.answers import Answers
from estimator.takeoff.columns import find_layout
from estimator.takeoff.foreign import read_foreign
from estimator.takeoff.rows import RowReader
from estimator.takeoff.runs import make_runs
from estimator.takeoff.schedule import cells_of, defaults_of, open_target
from tests.each import each
from tests.takeoffs import FOLDER, blank_book
from tests.test_takeoff import TABLES

HEADERS = {field.key: field.header for field in fields("schedule")}


@functools.cache
def target(units):
    return open_target(blank_book(units), "job.xlsx")


def taken(table, answers, units="US"):
    """Return the rows, runs and problems of a table."""
    into = target(units)
    layout = find_layout(table, answers, into.length_unit)
    found = RowReader(table, layout, answers).read()
    runs, problems = make_runs(found, answers, defaults_of(into), frozenset())
    return found, runs, [*found.problems, *problems]


def before_faults():
    """Write the blank workbooks, which is slow; every case is ready then."""
    for units in ("US", "SI"):
        target(units)
    return ("test_",)


@each("name", TABLES)
def test_each_table_gives_the_runs_that_are_written_out(name):
    answers, units = Answers(), "SI" if "_si" in name else "US"
    table = read_foreign(str(FOLDER / name), "", answers)
    _, runs, problems = taken(table, answers, units)
    assert problems == []
    rows = [{HEADERS[key]: value for key, value in cells_of(run, target(units))} for run in runs]
    assert rows == TABLES[name]
