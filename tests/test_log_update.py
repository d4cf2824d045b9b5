"""A joint log that was begun gets the rows that the job has by now, and no row is touched."""

import datetime as dt

import pytest

from estimator import api
from estimator.after_award import log_rows_to_add, records_of
from estimator.cli import main
from estimator.inputs.dictionary import fields
from estimator.models.site_records import CoolingByAir, LoggedJoint, SiteRecords
from estimator.progress.log_update import LIMITS, log_update
from estimator.workbook.book import parse_workbook
from estimator.workbook.package.package import Package
from estimator.workbook.read.file_source import FileSource
from tests import office
from tests.excel_rules import faults
from tests.one_page import sheet_of
from tests.site_book import GOOD, filled, place
from tests.small_book import small_book
from tests.test_claim import type_rows
from tests.workbook_factory import WorkbookFactory

METHOD = next(one.cell_name for one in fields("job") if one.key == "method")
OTHER = "dvs2207"


def joint(number, kind="stick", run_id="R1", pipe="P", **values):
    return LoggedJoint(
        joint_no=f"{run_id}-{number:04d}", run_id=run_id, kind=kind, pipe=pipe, **values
    )


def records(*joints):
    return SiteRecords(joint_log=joints)


MADE = {"date": dt.date(2027, 3, 1), "visual": "pass"}


# Three sticks and two rows for rework were begun; the job has five sticks now.
def test_new_joints_go_on_from_the_highest_number():
    begun = (joint(1), joint(2), joint(3), joint(4, "rework"), joint(5, "rework"))
    now = (*(joint(n) for n in range(1, 6)), joint(6, "rework"), joint(7, "rework"))
    found = log_update(records(*begun), records(*now))
    assert [(x.joint_no, x.kind) for x in found.joints] == [("R1-0006", "stick"),
                                                            ("R1-0007", "stick")]  # fmt: skip
    assert not found.too_many


# Both rows for rework are made: two more, so that the next cut-out has a number at once.
def test_two_rows_for_rework_are_always_free():
    begun = (joint(1, **MADE), joint(2, "rework", **MADE), joint(3, "rework", **MADE))
    now = (joint(1), joint(2, "rework"), joint(3, "rework"))
    found = log_update(records(*begun), records(*now))
    assert [(x.joint_no, x.kind) for x in found.joints] == [("R1-0004", "rework"),
                                                            ("R1-0005", "rework")]  # fmt: skip


def test_a_new_run_gets_its_rows_and_one_that_shrank_is_named():
    begun = (joint(1, **MADE), joint(2), joint(3), joint(4, "rework"), joint(5, "rework"))
    now = (joint(1), joint(2, "rework"), joint(3, "rework"), joint(1, run_id="R2"))
    found = log_update(records(*begun), records(*now))
    assert [x.joint_no for x in found.joints] == ["R2-0001"]
    assert found.too_many == {"R1": 2}


def test_rows_for_rework_that_the_log_lacks_are_free_ones_too():
    """Two rows of rework are two free ones, one lacks another; sticks are none."""
    for now, numbers in (
        ((joint(1), joint(2, "rework"), joint(3, "rework")), (2, 3)),
        ((joint(1), joint(2), joint(3, "rework")), (2, 3, 4)),
    ):
        found = log_update(records(joint(1)), records(*now))
        assert [x.joint_no for x in found.joints] == [f"R1-{number:04d}" for number in numbers]


def test_a_number_that_is_none_begins_at_one():
    begun = records(LoggedJoint(joint_no="tie-in", run_id="R1", kind="tie-in", pipe="P"))
    (found,) = log_update(begun, records(joint(1))).joints
    assert found.joint_no == "R1-0001"


def test_bands_of_cooling_are_those_of_today_by_pipe():
    old, new, other = (CoolingByAir(pipe=pipe, from_c=0.0, to_c=40.0, low_s=low, high_s=low)
                       for pipe, low in (("P", 600.0), ("P", 700.0), ("Q", 800.0)))  # fmt: skip
    begun, now = (SiteRecords(cooling_by_air=bands) for bands in ((old,), (new, other)))
    found = log_update(begun, now)
    assert (found.bands, found.cooling) == ({"P": (new,)}, (other,))


def test_a_log_that_is_up_to_date_stays():
    begun = (joint(1), joint(2, "rework"), joint(3, "rework"))
    assert not log_update(records(*begun), records(*begun)).joints


@pytest.fixture
def path(tmp_path):
    found = tmp_path / "job.xlsx"
    found.write_bytes(filled({("joint_log", 1): GOOD}))
    return found


def test_the_command_adds_rows_that_work_like_the_others(path, capsys):
    """Two tees more in R01 are some joints more: numbered, with limits, formulas and choices."""
    before = records_of(parse_workbook(path.read_bytes())).records
    type_rows(path, "Pipe schedule", "Run", [{"Tees": 2}])
    wanted = api.estimate_workbook(api.read_workbook(str(path)), ranges=False)
    assert main(["log", str(path), "--update"]) == 0
    assert "rows added" in capsys.readouterr().out
    data = path.read_bytes()
    workbook = parse_workbook(data)
    after = records_of(workbook).records
    assert after.joint_log[: len(before.joint_log)] == before.joint_log
    new = after.joint_log[len(before.joint_log) :]
    sized = next(run for run in wanted.runs if run.run_id == "R01")
    fitting = sum(x.run_id == "R01" and x.kind == "fitting" for x in after.joint_log)
    assert fitting == sized.counts.fitting_joints
    assert {x.run_id for x in new} == {"R01"}
    old = next(x for x in before.joint_log if x.run_id == "R01" and x.kind == "fitting")
    assert new[0].model_copy(update={"joint_no": old.joint_no}) == old
    planned = next(x for x in after.planned_runs if x.run_id == "R01")
    assert planned.fitting_joints == fitting
    assert all(one.table != "Joint_log" for one in log_rows_to_add(workbook).tables)
    assert faults(data) == []

    row = len(before.joint_log)
    sheet, address = place("joint_log", "verdict", row)
    again = path.with_name("filled.xlsx")
    again.write_bytes(filled({("joint_log", row): GOOD}, data))
    assert office.recalculate(again, sheets=(sheet,))[sheet][address] == "accepted"
    formulas = sheet_of(path, sheet)
    assert formulas[address].value.startswith("=")


def test_without_a_log_the_command_says_so(tmp_path, capsys):
    path = tmp_path / "job.xlsx"
    path.write_bytes(small_book())
    assert main(["log", str(path), "--update"]) == 1
    assert "There is no Joint log" in capsys.readouterr().err
    assert path.read_bytes() == small_book()


# The soak of the job is longer and its bead larger by now. Row 1 is made: it keeps what it was
# made under. A blank row gets the new limits; only a row of its own run and pipe counts as like it.
def test_every_row_stands_beside_one_like_it_of_today():
    begun = (joint(1, soak_min_s=60.0, **MADE), joint(2, soak_min_s=60.0), joint(3, pipe="Q"))
    now = (joint(1, soak_min_s=90.0), joint(2, soak_min_s=90.0))
    found = log_update(records(*begun), records(*now))
    assert [(a.joint_no, a.soak_min_s, b.soak_min_s) for a, b in found.limits] == [
        ("R1-0001", 60.0, 90.0), ("R1-0002", 60.0, 90.0)
    ]  # fmt: skip


def limits_of(book, number):
    found = next(x for x in book.joint_log if x.joint_no == f"R1-{number:04d}")
    return tuple(getattr(found, key) for key in LIMITS)


def test_rows_not_made_get_the_limits_of_the_job_as_it_is_now(tmp_path, capsys):
    """Another method asks for other limits: row 1, made, keeps its own and is named."""
    path = tmp_path / "job.xlsx"
    begun = api.with_site_records(parse_workbook(WorkbookFactory().build()))
    path.write_bytes(filled({("joint_log", 0): GOOD}, begun))
    assert main(["log", str(path), "--update"]) == 0
    assert "limits" not in capsys.readouterr().out
    before = records_of(parse_workbook(path.read_bytes())).records

    path.write_bytes(by_other_method(path.read_bytes()))
    assert main(["log", str(path), "--update"]) == 0
    out = capsys.readouterr().out
    assert "R1: 1 joint made under other limits than the job has now, left as they are: R1-" in out
    assert "R1: new limits in " in out
    after = records_of(parse_workbook(path.read_bytes())).records
    plain = parse_workbook(by_other_method(WorkbookFactory().build()))
    wanted = records_of(parse_workbook(api.with_site_records(plain))).records
    assert limits_of(after, 1) == limits_of(before, 1)
    assert limits_of(after, 2) == limits_of(wanted, 2) != limits_of(before, 2)
    assert len(after.joint_log) == len(before.joint_log)
    assert main(["log", str(path), "--update"]) == 0
    assert "new limits" not in capsys.readouterr().out


def by_other_method(data):
    cell = FileSource(data).named_cell(METHOD)
    return Package.open(data).fill_cells({cell.sheet: {cell.where.partition("!")[2]: OTHER}})
