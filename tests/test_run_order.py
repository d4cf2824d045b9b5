"""Runs that start after other runs: what the reader refuses."""

import pytest

from estimator.errors import InputError
from estimator.workbook.read.file_source import FileSource
from estimator.workbook.read.parse import parse_job
from tests.workbook_factory import WorkbookFactory


def with_order(*after):
    factory = WorkbookFactory()
    first = factory.tables["schedule"][0]
    factory.tables["schedule"] = [
        {**first, "run_id": f"R{i}", "after": names} for i, names in enumerate(after, 1)
    ]
    return factory


def problems(factory):
    with pytest.raises(InputError, match="Start after") as raised:
        parse_job(FileSource(factory.build()))
    return [str(problem) for problem in raised.value.problems]


def test_names_are_read_with_semicolons():
    job = parse_job(FileSource(with_order(None, "R1", " R1 ;R2; ").build())).job
    assert [run.followed_runs for run in job.runs] == [(), ("R1",), ("R1", "R2")]


def test_test_section_is_read_and_may_be_blank():
    factory = with_order(None, None).set("schedule", "test_section", "TS-1", 1)
    job = parse_job(FileSource(factory.build())).job
    assert [run.test_section for run in job.runs] == [None, "TS-1"]


def test_workbook_without_the_columns_is_read():
    factory = with_order(None, None)
    new = ("after", "test_section")
    factory.columns["schedule"] = [k for k in factory.keys("schedule") if k not in new]
    job = parse_job(FileSource(factory.build())).job
    assert [(run.followed_runs, run.test_section) for run in job.runs] == [((), None)] * 2


def test_unknown_runs_are_named_at_their_cell():
    factory = with_order(None, "R1; R9; X")
    where = factory.where("schedule", "after", 1)
    assert problems(factory) == [
        f"{where}: Start after: R9, X: no such run in this schedule. "
        "Enter run names separated by semicolons"
    ]


def test_run_after_itself_is_refused():
    factory = with_order(None, "R1; R2")
    where = factory.where("schedule", "after", 1)
    assert problems(factory) == [f"{where}: Start after: R2 is this run. Enter other runs"]


def test_circle_names_its_runs_and_no_other():
    factory = with_order("R2", "R3; R4", "R5", None, "R2")
    where = factory.where("schedule", "after", 1)
    assert problems(factory) == [
        f"{where}: Start after: These runs wait for each other: R2 after R3 after R5 after R2. "
        "Clear one of their Start after cells"
    ]


def test_two_circles_are_reported_at_once():
    found = problems(with_order("R2", "R1", "R4", "R3"))
    assert [p.partition("other: ")[2].partition(".")[0] for p in found] == [
        "R1 after R2 after R1",
        "R3 after R4 after R3",
    ]


def test_runs_that_meet_again_are_no_circle():
    job = parse_job(FileSource(with_order(None, "R1", "R1", "R2; R3").build())).job
    assert job.runs[3].followed_runs == ("R2", "R3")
