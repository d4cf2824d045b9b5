"""The line of a group of input cells names whole inputs, however many are changed."""

import io
import shutil

import openpyxl
import pytest

from estimator.workbook.sheet import look
from estimator.workbook.sheet.layout import EDGE, RESERVE
from estimator.workbook.sheet.text_width import lines_of
from tests.office import recalculate
from workbook_template import build_template
from workbook_template.group_line import changed_now, changed_text, rest_now, rest_text
from workbook_template.named_sheet import LONGEST_LIST

LONGEST = 52
NAMES = ["Estimate class", "Owner's contract no.", "Paper", "Tax", "Bid"]


def test_a_list_that_is_too_long_ends_with_a_whole_name():
    """The five names with commas are 53 letters, one more than the line holds."""
    assert len(", ".join(NAMES)) == LONGEST + 1
    names = ", ".join(NAMES[:4])
    assert changed_now(NAMES, LONGEST) == f"5 changed: {names}, and more"
    assert changed_now(NAMES[:4], LONGEST) == f"4 changed: {names}"


@pytest.mark.parametrize("table", ["job", "rates"])
def test_what_is_changed_takes_two_lines_at_most(table):
    """A third line was cut off: the names were counted for a broader column."""
    sheet = openpyxl.load_workbook(io.BytesIO(build_template("US")))[table.capitalize()]
    room = (7 * sheet.column_dimensions["D"].width - EDGE) / RESERVE
    for row in range(1, sheet.max_row + 1):
        if (
            sheet.row_dimensions[row].outline_level
            or not sheet.row_dimensions[row + 1].outline_level
        ):
            continue
        members = []
        while sheet.row_dimensions[row + 1 + len(members)].outline_level:
            members.append(sheet.cell(row + 1 + len(members), 1).value)
        for first in range(len(members)):
            text = changed_now(members[first:], LONGEST_LIST[table])
            assert lines_of(text, room, look.SMALL, bold=True) <= 2, text


@pytest.mark.skipif(shutil.which("soffice") is None, reason="needs LibreOffice")
def test_the_formula_gives_the_same_text(tmp_path):
    book = openpyxl.Workbook()
    sheet = book.active
    for row, name in enumerate(NAMES, 1):
        sheet.append([name, row])
    cells = [(row, 0) for row in range(1, len(NAMES) + 1)]
    sheet["D1"] = changed_text(cells, LONGEST)
    sheet["D2"] = changed_text(cells[:4], LONGEST)
    sheet["D3"] = changed_text([(row, row) for row, _ in cells], LONGEST)
    sheet["D4"] = rest_text(cells, 2, "more")
    sheet["D5"] = rest_text([(row, row) for row, _ in cells], 1, "fields")
    path = tmp_path / "group.xlsx"
    book.save(path)
    found = recalculate(path)[sheet.title]
    shown = [found[f"D{row}"] for row in range(1, 6)]
    assert shown == [
        changed_now(NAMES, LONGEST),
        changed_now(NAMES[:4], LONGEST),
        "all at defaults",
        rest_now(5, 2, "more", changed=5),
        "5 fields in 1 group, all at defaults",
    ]
