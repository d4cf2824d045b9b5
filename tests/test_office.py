"""What the office answers in the tests does not depend on what they asked before."""

import openpyxl

from tests.office import after_edits, recalculate


def book_at(path, number=2):
    book = openpyxl.Workbook()
    sheet = book.active
    sheet.title = "Page"
    sheet["A1"], sheet["A2"], sheet["A3"], sheet["A5"] = number, "007", "=A1*3", "=A3&A2&A4"
    book.save(path)
    return path


AS_SAVED = {"A1": 2.0, "A2": "007", "A3": 6.0, "A5": "6007"}
EDITS = {"A1": 5, "A2": "x", "A3": 1, "A4": "new"}


def test_edits_of_a_workbook_are_gone_at_the_next_question(tmp_path):
    path = book_at(tmp_path / "job.xlsx")
    assert recalculate(path)["Page"] == AS_SAVED
    assert recalculate(path, {"Page": EDITS})["Page"]["A5"] == "1xnew"
    assert recalculate(path)["Page"] == AS_SAVED
    shown = after_edits(path, [{"Page": EDITS}, {"Page": {"A1": 4}}], ("Page", ["A5"]))
    assert shown == [["6007"], ["1xnew"], ["12007"]]
    assert recalculate(path)["Page"] == AS_SAVED


def test_a_file_that_was_written_again_is_opened_again(tmp_path):
    path = book_at(tmp_path / "job.xlsx")
    assert recalculate(path)["Page"]["A3"] == 6.0
    book_at(path, number=10)
    assert recalculate(path)["Page"]["A3"] == 30.0
