"""How pages read: warnings are sentences, headers keep off each other, counts have no cents."""

import re

import pytest
from openpyxl.utils import column_index_from_string, range_boundaries

from estimator.workbook.results.sheets import RESULT_SHEETS
from estimator.workbook.sheet import look
from estimator.workbook.sheet.text_width import text_pixels
from tests.cut_off import PADDING
from tests.estimated import EXAMPLES, example, opened

DRAWN, EDGE, INDENT = 1.06, 2.5, 9.0
"""How much broader a column is drawn than its letters, its edge, and an indent, in pixels."""
LEAST_GAP = 5.3
"""Pixels between headers: a blank of their type has 3.3."""
DATA = {"Joints", "Plan", "Input watch"}
"""Broad tables to filter, which no print set holds."""


@pytest.mark.parametrize("name", EXAMPLES)
def test_every_warning_begins_like_a_sentence(name):
    """With a capital letter, or with a number or an owner's item."""
    found = example(name)[1].warnings
    assert found
    assert [one.message for one in found if one.message[0].islower()] == []


def test_what_checks_says_begins_like_a_sentence():
    sheet = opened("raw_water_main", values=True)["Checks"]
    last = range_boundaries(sheet.print_area.rpartition("!")[2].replace("$", ""))[3]
    texts = [
        cell.value
        for row in sheet.iter_rows(max_row=last, max_col=2)
        for cell in row
        if isinstance(cell.value, str)
    ]
    assert "Test pressure" in texts
    small = re.compile(r"[a-z]|.*(?<!vs)\. [a-z]")
    assert [text for text in texts if small.match(text)] == []


def test_a_percent_sign_follows_its_number_closely():
    sheet = opened("raw_water_main", values=True)["Checks"]
    texts = {row[0].value: str(row[1].value) for row in sheet.iter_rows(max_col=2)}
    assert " 5%. " in texts["Band"]


def test_a_rule_in_psi_is_in_the_unit_of_the_page_too():
    """10 psi are 10 x 0.0689476 bar = 0.689 bar, shown to a tenth."""
    texts = [
        {row[0].value: str(row[1].value) for row in opened(name, values=True)["Checks"]}["Drop"]
        for name in ("raw_water_main", "tailings_line")
    ]
    assert [text.partition(". ")[2].partition(". ")[0] for text in texts] == [
        "10 psi",
        "10 psi (0.7 bar)",
    ]


def test_sources_that_only_differ_in_confidence_name_their_sizes():
    """Diameters up to IPS 12 are confirmed, those above have one source."""
    sheet = opened("raw_water_main", values=True)["Checks"]
    last = range_boundaries(sheet.print_area.rpartition("!")[2].replace("$", ""))[3]
    rows = [row for row in sheet.iter_rows(max_row=last, max_col=2, values_only=True) if row[1]]
    said = [text.partition(": ")[2] for name, text in rows if name == "Outside diameter"]
    assert len(said) > 1
    assert len({text.rpartition(", for IPS")[0] for text in said}) < len(said) == len(set(said))


def test_the_price_explained_keeps_off_the_rule_above_it():
    sheet = opened("raw_water_main", values=True)["Explain"]
    assert sheet.row_dimensions[3].height == look.LIGHT_HEIGHT


def test_counts_and_people_days_have_no_cents():
    checks, week = (
        opened("raw_water_main", values=True)[name] for name in ("Checks", "Plan by week")
    )
    shown = {row[0].value: row[2].number_format for row in checks.iter_rows(max_col=3)}
    assert shown["Butt joints: by run vs. by day"] == look.WHOLE
    assert shown["Labor-hours: by run vs. by role"] == look.TWO_PLACES
    cells = [cell for row in week.iter_rows(max_row=12) for cell in row if cell.value is not None]
    days = cells[[cell.value for cell in cells].index("Person-days") + 1]
    assert days.number_format == look.ONE_PLACE


@pytest.mark.parametrize("name", EXAMPLES)
def test_headers_of_printed_pages_keep_off_each_other(name):
    book = opened(name, values=True)
    found = [
        f"{sheet}!{cell.coordinate}: {cell.value!r} after {before!r} {gap:.1f}"
        for sheet in RESULT_SHEETS
        if sheet in book.sheetnames and sheet not in DATA
        for before, cell, gap in gaps(book[sheet])
        if gap < LEAST_GAP
    ]
    assert found == []


def gaps(sheet):
    """Yield each printed header with the one before it and the pixels between their letters."""
    area = sheet.print_area.rpartition("!")[2].replace("$", "") if sheet.print_area else ""
    last = range_boundaries(area)[2] if area else sheet.max_column
    widths = drawn_widths(sheet)
    merged = {(area.min_row, area.min_col) for area in sheet.merged_cells.ranges}
    for row in sheet.iter_rows(max_col=last):
        before = None
        for cell in row:
            is_head = isinstance(cell.value, str) and cell.border.bottom.style == "medium"
            if not is_head or not cell.font.b or (cell.row, cell.column) in merged:
                before = None
                continue
            room = widths[cell.column]
            letters = longest_line(cell.value, room - 2 * EDGE, cell.font.sz)
            left = {"right": room - EDGE - letters, "center": (room - letters) / 2}.get(
                cell.alignment.horizontal, EDGE + INDENT * (cell.alignment.indent or 0)
            )
            if before is not None:
                yield before[0], cell, before[1] + left
            before = cell.value, room - left - letters


def drawn_widths(sheet):
    return {
        number: DRAWN * look.pixels_of(one.width - PADDING)
        for letters, one in sheet.column_dimensions.items()
        for number in range(one.min or column_index_from_string(letters), (one.max or 0) + 1)
    }


def longest_line(text, room, size):
    """Return the breadth of the longest line of a header's noun.

    Lines end where the header has a break of its own, and at blanks and hyphens.
    """
    noun = text.rpartition("\n")[0] or text
    lines = [line for part in noun.split("\n") for line in wrapped(part, room, size)]
    return max(text_pixels(line.rstrip(), size, bold=True) for line in lines)


def wrapped(text, room, size):
    lines = [""]
    for part in re.findall(r"[^ -]+(?:-|(?= )|$) ?|- ", text):
        if lines[-1] and text_pixels((lines[-1] + part).rstrip(), size, bold=True) > room:
            lines.append("")
        lines[-1] += part
    return lines


def test_a_break_in_a_header_ends_a_line():
    whole, broken = (longest_line(f"Percent{mark}load\n%", 90, 8.5) for mark in " \n")
    assert broken == text_pixels("Percent", 8.5, bold=True) < whole


def test_texts_on_input_watch_stand_under_their_header():
    sheet = opened("raw_water_main", values=True)["Input watch"]
    shown = {row[0].value: row for row in sheet.iter_rows(max_col=3)}
    _, before, now = shown["Job: Workweek"]
    assert isinstance(now.value, str)
    head = shown["Input"]
    assert {cell.alignment.horizontal for cell in (before, now, *head[1:])} == {"right"}


def test_links_on_explain_keep_off_the_words_before_them():
    sheet = opened("raw_water_main", values=True)["Explain"]
    links = [cell for row in sheet.iter_rows(max_col=8) for cell in row[7:] if cell.font.u]
    assert links
    assert {cell.alignment.indent for cell in links} == {1}
