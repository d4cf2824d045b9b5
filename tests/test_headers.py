"""Headers that are mistyped must not leave out what stands below them."""

import pytest

from estimator import api
from estimator.errors import InputError
from estimator.workbook.book import parse_workbook
from estimator.workbook.read.file_source import FileSource
from estimator.workbook.read.headers import likeness
from estimator.workbook.read.parse import parse_job
from estimator.workbook.results.light import SERIOUS, light_if_totals_agree
from tests.workbook_factory import WorkbookFactory


def problems(factory):
    with pytest.raises(InputError) as caught:
        parse_job(FileSource(factory.build()))
    return [str(problem) for problem in caught.value.problems]


def warnings(factory):
    return parse_job(FileSource(factory.build())).warnings


def renamed(key, header, value=3):
    factory = WorkbookFactory(headers={key: header})
    return factory.set("schedule", key, value)


@pytest.mark.parametrize(
    ("key", "typed", "meant"),
    [("flange_adapters", "Flanges", "Flange adapters"), ("elbows", "Elbow", "Elbows"),
     ("elbows", "90s", "Elbows"), ("ef_closures", "Couplers", "EF closures"),
     ("tie_ins", "Tie ins", "Tie-ins"), ("pipe_price", "Price of pipe", "Pipe price")],
)  # fmt: skip
def test_unknown_header_beside_a_missing_column_is_refused(key, typed, meant):
    factory = renamed(key, typed)
    (problem,) = problems(factory)
    assert problem.startswith(f"{factory.where('schedule', key, -1)}: ")
    assert f"has no column {typed!r}, and the column {meant} is missing. Rename it to" in problem


def test_mistyped_required_header_is_reported_with_its_likely_name():
    found = problems(renamed("segments_m", "Lenght", 100))
    assert any("Length: the column is missing" in line for line in found)
    assert any("'Lenght'" in line and "Rename it to Length;" in line for line in found)


def test_likeliest_of_several_missing_columns_is_named_first():
    factory = renamed("reducers", "Reducer")
    factory.columns["schedule"] = [k for k in factory.keys("schedule") if k not in ("caps", "tees")]
    (problem,) = problems(factory)
    assert "and Reducers, Tees, Caps are missing. Rename it to Reducers, or" in problem


def test_missing_column_alone_is_a_serious_warning_that_turns_the_light():
    factory = WorkbookFactory()
    gone = ("flange_adapters", "tie_ins")
    factory.columns["schedule"] = [k for k in factory.keys("schedule") if k not in gone]
    (warning,) = warnings(factory)
    assert warning.serious
    assert warning.where == factory.where("schedule", "run_id", -1)
    assert warning.message.startswith(
        "Flange adapters, Tie-ins: the columns are missing and count as blank"
    )
    estimate = api.estimate_workbook(parse_workbook(factory.build()))
    assert light_if_totals_agree(estimate) == SERIOUS


def test_missing_column_on_which_no_result_rests_is_not_reported():
    factory = WorkbookFactory()
    factory.columns["schedule"] = [k for k in factory.keys("schedule") if k != "description"]
    assert warnings(factory) == ()


def test_column_of_the_users_own_that_cannot_be_the_missing_one_is_kept():
    """Words cannot be a number of elbows, and a column without any value leaves nothing out."""
    factory = WorkbookFactory()
    factory.columns["schedule"] = [
        *(k for k in factory.keys("schedule") if k != "elbows"), "Zone", "Later",
    ]  # fmt: skip
    factory.set("schedule", "Zone", "north side")
    extra, missing = sorted(warnings(factory), key=lambda found: found.serious)
    assert extra.message == "The estimate does not use these columns: Zone, Later"
    assert not extra.serious
    assert "Elbows: the column is missing and counts as blank" in missing.message


def test_own_column_is_accepted_once_the_missing_one_is_there():
    factory = WorkbookFactory()
    factory.columns["schedule"] = [*factory.keys("schedule"), "Flanges"]
    factory.set("schedule", "Flanges", 4)
    assert [found.serious for found in warnings(factory)] == [False]


def test_names_are_alike_by_letters_or_by_one_word():
    assert likeness("Flanges", "Flange adapters") > likeness("Flanges", "Tees")
    assert likeness("elbows", "Elbows") == 1
