"""Extreme values in every input, and what a sheet may hold that is no value."""

import contextlib
import datetime as dt
import io
import json
import random
import re
import zipfile
from itertools import islice

import pytest

from estimator import api
from estimator.errors import EstimatorError, InputError, WorkbookError
from estimator.export.as_json import estimate_json
from estimator.input_errors.values import LONGEST_TEXT
from estimator.inputs.dictionary import fields, input_tables
from estimator.workbook.book import parse_workbook, with_results
from tests.each import each
from tests.office import recalculate
from tests.workbook_factory import WorkbookFactory

LONGEST_CELL = 32_767
EXTREMES = (
    0, -1, 1e308, -1e308, 5e-324, 1e15, 2**53, 1e5, 0.1, True, False, " ", "=1+1", "@SUM(1)", "+1",
    "-1", "\t=1", "'quoted", "1e308", "9" * 4000, "0x10", "NaN", "inf", "-0", "_xD800_", "_x0000_a",
    "a\nb", "<b>&amp;", "\u202eabc", "\u65e5\u672c\U0001f600", "W" * LONGEST_CELL,
    "x" * LONGEST_TEXT,
    dt.date(1900, 3, 1), dt.date(2099, 12, 31), dt.date(9999, 12, 31), dt.datetime(2027, 1, 1, 12),
)  # fmt: skip
SAMPLE, RECALCULATED = 30, 4
FREE = ("description", "notes")
"""Texts of the Pipe schedule that name no entry elsewhere."""


def places():
    """Return every input of which the job of the factory has a value or a row."""
    filled = WorkbookFactory().tables
    return [
        (table.table, field)
        for table in input_tables()
        for field in fields(table.table)
        if table.form != "table" or filled.get(table.table)
    ]


def estimated(data):
    workbook = parse_workbook(data)
    study = api.estimate_workbook(workbook, ranges=False)
    json.dumps(estimate_json(study))
    return with_results(workbook, study)


def messages(data):
    with pytest.raises(InputError) as caught:
        estimated(data)
    return [str(problem) for problem in caught.value.problems]


@each("value", EXTREMES, ids=lambda value: repr(value)[:20])
def test_a_value_in_all_inputs_at_once_is_read_or_refused(value):
    factory = WorkbookFactory()
    for table, field in places():
        factory.set(table, field.key, value)
    assert all(len(line) < 1000 for line in messages(factory.build()))


ALL = [(*place, value) for place in places() for value in EXTREMES]
SOME = random.Random(15).sample(ALL, SAMPLE)


@each("case", SOME, ids=lambda case: f"{case[0]}.{case[1].key} {case[2]!r:.20}")
def test_a_value_in_one_input_is_estimated_or_refused(case):
    table, field, value = case
    data = WorkbookFactory().set(table, field.key, value).build()
    with contextlib.suppress(EstimatorError):
        estimated(data)


def taken():
    """Yield the workbooks of the sample that are estimated, with what was put into them."""
    for table, field, value in random.Random(16).sample(ALL, SAMPLE):
        with contextlib.suppress(EstimatorError):
            data = estimated(WorkbookFactory().set(table, field.key, value).build())
            yield f"{table}.{field.key} {value!r:.20}", data


def test_the_status_is_good_after_what_was_taken(tmp_path):
    """LibreOffice recalculates some of the estimates that an extreme value went into."""
    wrong, path = [], tmp_path / "job.xlsx"
    for name, data in islice(taken(), RECALCULATED):
        path.write_bytes(data)
        status = recalculate(path, sheets=("Checks",))["Checks"]["B3"]
        wrong += [] if status == "OK" else [f"{name}: {status}"]
    assert wrong == []


@pytest.mark.parametrize("number", [1e308, -1e308])
def test_a_number_that_converts_to_infinity_is_outside_its_range(number):
    factory = WorkbookFactory().set("machines", "od_max_mm", number)
    (line, *_) = messages(factory.build())
    assert line.startswith(factory.where("machines", "od_max_mm"))
    assert "outside the allowed range" in line


def test_a_number_too_long_for_a_name_is_refused():
    factory = WorkbookFactory().set("schedule", "run_id", 1e20)
    assert messages(factory.build())[0].endswith("is too long for a number. Enter it as text")


NAMES_A_RUN = "explain_run"


def test_texts_as_long_as_allowed_are_estimated_and_longer_ones_refused():
    factory = WorkbookFactory()
    texts = [(table, field.key) for table, field in places() if field.kind == "text"]
    for table, key in texts:
        if (table == "job" and key != NAMES_A_RUN) or key in FREE:
            factory.set(table, key, "W" * LONGEST_TEXT)
    assert estimated(factory.build())
    factory.set("schedule", "run_id", "W" * (LONGEST_TEXT + 1), row=1)
    (line,) = messages(factory.build())
    assert f"has {LONGEST_TEXT + 1:,} characters. Use {LONGEST_TEXT:,} or fewer" in line


def test_many_long_texts_that_meet_in_one_cell_end_with_what_is_left_out():
    factory = WorkbookFactory()
    tidy = factory.tables["schedule"][0]
    factory.tables["schedule"] += [
        {**tidy, "run_id": f"{i:02}{'W' * (LONGEST_TEXT - 2)}"} for i in range(20)
    ]
    assert estimated(factory.build())


def test_a_stray_value_in_a_spare_row_is_one_message_that_names_it():
    factory = WorkbookFactory()
    factory.tables["schedule"].append({"elbows": 3})
    (line,) = messages(factory.build())
    assert line.startswith(factory.where("schedule", "elbows", 2))
    assert "Elbows: '3' in a row that is otherwise blank" in line


def test_two_stray_values_in_a_spare_row_are_one_message():
    factory = WorkbookFactory()
    factory.tables["schedule"].append({"elbows": 3, "reducers": 1})
    (line,) = messages(factory.build())
    assert line.startswith(factory.where("schedule", "elbows", 2))
    assert "and 1 more in this row" in line


def with_cell(xml):
    """Return a workbook whose first length is a cell of this XML, and where it stands."""
    factory = WorkbookFactory()
    place = factory.where("schedule", "segments_m").partition("!")[2]
    found = io.BytesIO()
    with (
        zipfile.ZipFile(io.BytesIO(factory.build())) as before,
        zipfile.ZipFile(found, "w") as after,
    ):
        for name in before.namelist():
            text = before.read(name)
            if name == "xl/worksheets/sheet2.xml":
                text = re.sub(rf'<c r="{place}".*?</c>'.encode(), xml.format(place).encode(), text)
            after.writestr(name, text)
    return found.getvalue(), f"Pipe schedule!{place}: "


# Error values that came after the eight of the file format; all of current programs.
@pytest.mark.parametrize("error", ["#SPILL!", "#CALC!", "#FIELD!", "#BLOCKED!", "#BUSY!"])
def test_an_error_value_of_newer_programs_is_reported_with_its_cell(error):
    data, where = with_cell(f'<c r="{{}}" t="e"><f>A1#</f><v>{error}</v></c>')
    assert messages(data) == [
        f"{where}Length: The cell shows {error}. Fix the formula in that cell"
    ]


@pytest.mark.parametrize(
    "xml", ['<c r="{}" t="s"><v>99999</v></c>', '<c r="{}" t="b"><v>x</v></c>',
            '<c r="{}" t="strange"><v>5</v></c>']
)  # fmt: skip
def test_a_cell_that_the_file_format_does_not_have_is_named(xml):
    data, where = with_cell(xml)
    with pytest.raises(WorkbookError, match=f"^{where}cannot be read"):
        parse_workbook(data)
