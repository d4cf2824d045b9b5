"""Every bad entry of every table after award is reported with its cell, all of them at once."""

import datetime as dt
import io

import openpyxl
import pytest

from estimator.after_award import (
    claim_pages,
    log_summary_pages,
    records_of,
    request_pages,
    status_pages,
)
from estimator.errors import InputError
from estimator.inputs.dictionary import fields
from estimator.workbook.book import parse_workbook
from tests.site_book import GOOD, filled, place
from tests.test_award_door import CHANGE, DAY, QUOTE, awarded

EARLY, LATE = dt.date(2026, 4, 6), dt.date(2127, 4, 6)
MADE = GOOD | {"date": DAY}
SHIFT = {"date": DAY, "crew": 1, "run_id": "R1", "people": 4, "paid_hours": 40}
COUPON = {"kind": "bend", "date": DAY, "result": "pass"}
COST = {"date": DAY, "cost_type": "Labor", "amount": 10}
LOST = {"date": DAY, "crew": 1, "minutes": 30, "cause": "weather"}
RENT = {"class_id": "M3", "on_rent": DAY}
BAD = [
    ("joint_log", 2, GOOD | {"date": "soon"}, "date", "is not a date"),
    ("joint_log", 3, GOOD | {"date": LATE}, "date", "from 1990 to 2099"),
    ("joint_log", 4, GOOD | {"date": EARLY}, "date", "before the job was estimated"),
    ("joint_log", 5, {"joint_no": "R1-0001"}, "joint_no", "already used in Joint log!A6"),
    ("joint_log", 6, {"run_id": "R9"}, "run_id", "not a run of the Pipe schedule"),
    ("joint_log", 7, MADE | {"heater_out_min": dt.time(7)}, "heater_out_min", "is before"),
    ("joint_log", 8, MADE | {"visual": "fine"}, "visual", "pass, reject, hold"),
    ("joint_log", 9, MADE | {"rework_as": "R1-9999"}, "rework_as", "not a joint"),
    ("joint_log", 10, MADE | {"bead_1_mm": -1}, "bead_1_mm", "outside the allowed"),
    ("joint_log", 11, MADE | {"ambient_c": 900}, "ambient_c", "outside the allowed"),
    ("joint_log", 12, {"heat_start_min": "eight"}, "heat_start_min", "not a clock time"),
    ("coupons", 0, COUPON | {"coupon": "A", "joint_no": "R9-1"}, "joint_no", "not in the Joint"),
    ("coupons", 1, COUPON | {"coupon": "B", "joint_no": "R1-0001", "date": EARLY}, "date", "made"),
    ("coupons", 2, COUPON | {"coupon": "a", "joint_no": "R1-0002"}, "coupon", "already used"),
    ("operators", 0, {"operator": "X", "qualified_until": "ever"}, "qualified_until", "not a date"),
    ("tests_passed", 0, {"section": "Z", "date": DAY}, "section", "not a test section"),
    ("daily_record", 1, SHIFT | {"run_id": "R9"}, "run_id", "not a run"),
    ("daily_record", 2, SHIFT | {"date": EARLY}, "date", "before the job was estimated"),
    ("daily_record", 3, SHIFT | {"people": "four"}, "people", "not a number"),
    ("daily_record", 4, SHIFT | {"crew": 99}, "crew", "outside the allowed range"),
    ("daily_record", 5, SHIFT | {"run_id": "R2", "paid_hours": 97}, "paid_hours", "in a day (96)"),
    ("daily_record", 6, SHIFT | {"people": 0}, "people", "outside the allowed range"),
    ("daily_record", 7, SHIFT | {"stick_joints": -3}, "stick_joints", "outside the allowed range"),
    ("lost_time", 0, LOST | {"minutes": -5}, "minutes", "outside the allowed range"),
    ("lost_time", 1, LOST | {"cause": "moon"}, "cause", "is not a choice"),
    ("lost_time", 2, LOST | {"date": EARLY}, "date", "before the job was estimated"),
    ("actual_cost", 0, COST | {"cost_type": "Beer"}, "cost_type", "is not a choice"),
    ("actual_cost", 1, COST | {"amount": "ten"}, "amount", "not a number"),
    ("actual_cost", 2, COST | {"run_id": "R9"}, "run_id", "not a run"),
    ("on_rent", 0, RENT | {"class_id": "ZZ"}, "class_id", "not a class"),
    ("on_rent", 1, RENT | {"off_rent": dt.date(2027, 4, 1)}, "off_rent", "before"),
    ("on_rent", 2, RENT | {"excess_h": -3}, "excess_h", "outside the allowed range"),
    ("logger_columns", 3, {"ours": "Nonsense", "theirs": "x"}, "ours", "is not a choice"),
    ("logger_columns", 4, {"ours": "Closed", "theirs": "x"}, "ours", "already used"),
    ("claim_terms", 0, {"retention": 1.2}, "retention", "outside the allowed range (0% to 100%)"),
    ("changes", 1, CHANGE | {"status": "agreed"}, "number", "already used"),
    ("changes", 2, CHANGE | {"number": "3", "status": "agreed"}, "price_agreed", "is blank"),
    ("changes", 3, CHANGE | {"number": "4", "status": "maybe"}, "status", "is not a choice"),
    ("changes", 4, CHANGE | {"number": "5", "done": 1.5}, "done", "outside the allowed range"),
    ("changes", 5, CHANGE | {"number": "6", "runs": "R1, R9"}, "runs", "'R9' is not a run"),
    ("quotes", 1, {"supplier": "South", "line": 2}, "day_rate", "is blank"),
    ("quotes", 2, QUOTE | {"supplier": "West", "day_rate": -4}, "day_rate", "outside the allowed"),
    ("quotes", 3, QUOTE | {"line": 3, "week_rate": "cheap"}, "week_rate", "not a number"),
    ("quotes", 4, QUOTE | {"line": 4, "od_from_mm": 9, "od_to_mm": 2}, "od_to_mm", "is less than"),
    ("past_jobs", 1, {"job": "b", "band": "Z", "joints": 9, "crew_min": 9}, "band", "not a choice"),
    ("past_jobs", 2, {"job": "c", "band": "C", "joints": 0, "crew_min": 9}, "joints", "outside"),
    ("past_jobs", 3, {"job": "d", "band": "C", "joints": 9, "crew_min": -1}, "crew_min", "outside"),
]  # fmt: skip


def test_every_bad_entry_is_reported_with_its_cell_all_at_once():
    data = filled({(table, row): values for table, row, values, _, _ in BAD}, awarded())
    with pytest.raises(InputError) as error:
        records_of(parse_workbook(data))
    said = {}
    for problem in error.value.problems:
        said[problem.where] = f"{said.get(problem.where, '')} {problem.message}"
    missed = [
        (where, words, said.get(where))
        for table, row, _, key, words in BAD
        if words not in said.get(where := "!".join(place(table, key, row)), "")
    ]
    assert missed == []


def test_a_job_that_began_early_keeps_its_first_days():
    """Before its planned start, after its estimate."""
    book = parse_workbook(awarded())
    assert book.job.cover.estimate_date < book.job.dates.start
    before = book.job.dates.start - dt.timedelta(1)
    data = filled({("joint_log", 2): GOOD | {"date": before}}, awarded())
    assert records_of(parse_workbook(data)).records.joint_log[2].date == before


def test_formulas_never_calculated_in_spare_rows_are_no_entries():
    """A program that writes workbooks fills formulas down and saves no result of any."""
    source = io.BytesIO(filled({("daily_record", 0): SHIFT}, awarded()))
    book = openpyxl.load_workbook(source)
    for row in range(1, 4):
        sheet, address = place("daily_record", "paid_hours", row)
        book[sheet][address] = '=IF(E6="","",E6*10)'
    written = io.BytesIO()
    book.save(written)
    standing, pages = status_pages(parse_workbook(written.getvalue()), DAY)
    assert standing.status.hours.actual == SHIFT["paid_hours"]
    said = "rows 7, 8, 9: nothing but formulas without a saved result, and no Date; read as blank"
    assert [line for line in pages.says if said in line] == [f"Daily record!F7: {said}"]


MISTYPED = "Reworked as"


def mistyped_header():
    """Return a job with claim terms and a shift, in which one header of its log is mistyped."""
    entries = {("daily_record", 0): SHIFT, ("claim_terms", 0): {"retention": 0.05}}
    book = openpyxl.load_workbook(io.BytesIO(filled(entries, awarded())))
    column = next(one for one in fields("joint_log") if one.key == "rework_as")
    sheet, address = place("joint_log", column.key, -1)
    assert book[sheet][address].value == column.header
    book[sheet][address] = MISTYPED
    written = io.BytesIO()
    book.save(written)
    return parse_workbook(written.getvalue())


@pytest.mark.parametrize(
    "pages",
    [lambda book: status_pages(book, DAY), lambda book: claim_pages(book, DAY), request_pages,
     log_summary_pages],
    ids=["status", "claim", "request", "log"],
)  # fmt: skip
def test_each_command_says_what_is_doubtful_in_the_records(pages):
    says = pages(mistyped_header())[1].says
    assert [line for line in says if "Rework as: the column is missing" in line]
    assert [line for line in says if line.endswith(MISTYPED)]


def test_a_row_of_formulas_never_calculated_that_may_be_an_entry_is_refused():
    book = openpyxl.load_workbook(io.BytesIO(awarded()))
    for key in ("date", "crew", "run_id", "people", "paid_hours"):
        sheet, address = place("daily_record", key, 0)
        book[sheet][address] = "=A1"
    written = io.BytesIO()
    book.save(written)
    with pytest.raises(InputError) as error:
        records_of(parse_workbook(written.getvalue()))
    assert len([one for one in error.value.problems if "no saved result" in str(one)]) == 5


def test_a_count_that_is_refused_is_not_compared_as_well():
    """It stands as nothing then, and nothing is not what the user typed."""
    entries = {("joint_log", 0): MADE, ("daily_record", 0): SHIFT | {"stick_joints": 1e308}}
    with pytest.raises(InputError) as error:
        records_of(parse_workbook(filled(entries, awarded())))
    at = "!".join(place("daily_record", "stick_joints", 0))
    (said,) = [one.message for one in error.value.problems if one.where == at]
    assert "outside the allowed range" in said


def test_a_heading_beside_formulas_never_calculated_is_one_message():
    book = openpyxl.load_workbook(io.BytesIO(awarded()))
    sheet, address = place("daily_record", "date", 1)
    book[sheet][address] = "Week 2"
    written = io.BytesIO()
    book.save(written)
    with pytest.raises(InputError, match="'Week 2' is a heading") as error:
        records_of(parse_workbook(written.getvalue()))
    assert len(error.value.problems) == 1
