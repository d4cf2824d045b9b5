"""A long table on a sheet with others has its header again for each part that a page holds.

A sheet repeats one header on its pages; with two rows to a header a small job has long tables.
"""

import openpyxl
import pytest

from estimator import api
from estimator.workbook.book import parse_workbook, with_results
from estimator.workbook.results import builder
from estimator.workbook.results.builder import ROWS_UNDER_A_HEADER, SheetBuilder
from estimator.workbook.sheet import look
from tests.each import each
from tests.office import errors_in, recalculate
from tests.small_book import small_book

FEW = 2
SHEETS = ("Equipment", "Hydrotests")
TABLES = {
    "Rental lines: what to order, and for which dates", "Excess hours", "By section",
    "Hours by section", "By day",
}  # fmt: skip


@pytest.fixture(scope="module")
def book(tmp_path_factory):
    """The path of a workbook whose tables have their header again after two rows."""
    workbook = parse_workbook(small_book("tailings_line"))
    path = tmp_path_factory.mktemp("long") / "job.xlsx"
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(builder, "ROWS_UNDER_A_HEADER", FEW)
        path.write_bytes(with_results(workbook, api.estimate_workbook(workbook)))
    return path


def parts_of(sheet):
    """Yield the title of each table with the rows under each of its headers, sums left out."""
    title, rows, header = None, None, None
    for line in sheet.iter_rows(min_row=3):
        first = line[0]
        is_head = bool(first.font.b) and first.border.bottom.style == "medium"
        if first.font.sz == look.SECTION:
            title, header = first.value, None
        elif is_head and title in TABLES:
            texts = [cell.value for cell in line]
            assert header in (None, texts), "the same header again"
            header, rows = texts, []
            yield title, rows
        elif rows is not None and first.value not in (None, "Total") and title in TABLES:
            rows.append(first.row)


def test_no_header_stands_over_more_rows_than_a_page_holds(book):
    found = openpyxl.load_workbook(book)
    parts = [part for name in SHEETS for part in parts_of(found[name])]
    titles = [title for title, _ in parts]
    assert set(titles) == TABLES
    assert {title for title in TABLES if titles.count(title) > 1} >= {
        "Rental lines: what to order, and for which dates", "By day",
    }  # fmt: skip
    assert {len(rows) for _, rows in parts} == {1, 2}
    sheet = found["Equipment"]
    assert sheet.print_title_rows is None


def test_sums_over_headers_are_what_they_were(book):
    """Reference: LibreOffice; a header in a column of numbers counts as nothing."""
    office = recalculate(book)
    assert errors_in(office) == []
    cached = openpyxl.load_workbook(book, data_only=True)
    numbers = 0
    for name in (*SHEETS, "Checks"):
        for row in cached[name].iter_rows():
            for cell in row:
                if isinstance(cell.value, int | float) and not isinstance(cell.value, bool):
                    numbers += 1
                    assert office[name][cell.coordinate] == pytest.approx(cell.value, abs=0.004)
    assert numbers > 150


@each(
    ("rows", "starts"),
    [(ROWS_UNDER_A_HEADER, []), (ROWS_UNDER_A_HEADER + 1, [13]), (60, [20, 40]), (0, [])],
)
def test_the_parts_of_a_table_are_about_equally_long(rows, starts):
    """27 rows are 13 and 14, not 26 and one alone; 60 are three times 20."""
    sheet = SheetBuilder.__new__(SheetBuilder)
    sheet.grid, sheet.heights, sheet.last_row = {1: []}, {}, 1
    assert [n for n in range(rows) if sheet.head_again(1, n, rows) is not None] == starts


def test_a_page_across_holds_a_header_of_four_lines_with_its_rows_and_sums():
    """A4 is the lower one: 501 points; section and header take 75, rows and sums 15 each."""
    taken = look.SECTION_ROW + 4 * 11.6 + 8 + (ROWS_UNDER_A_HEADER + 1) * 15
    assert taken < min(look.page_height(paper, across=True) for paper in look.PAPER_CODES)
