"""A long table on a sheet with others has its header again for each part that a page holds.

A sheet repeats one header on its pages; on low pages a small job has long tables.
"""

import datetime as dt
from dataclasses import replace

import openpyxl
import pytest

from estimator import api
from estimator.models.places import Places
from estimator.study import study
from estimator.workbook.book import parse_workbook, with_results
from estimator.workbook.results import tests_sheet as hydrotests
from estimator.workbook.results.builder import Context
from estimator.workbook.results.headers_again import with_headers_again
from estimator.workbook.results.sheets import RESULT_SHEETS
from estimator.workbook.sheet import look, page_breaks
from estimator.workbook.sheet.layout import laid_out
from estimator.workbook.sheet.spec import Cell, ChartSpec, Row, SheetSpec
from tests.each import each
from tests.jobs import job, run
from tests.office import errors_in, recalculate
from tests.small_book import small_book

LOW = 101.25
"""Points of a page: at least 33.75 are taken by a header, so that at most 6 rows of 11.25 fit."""
SHEETS = ("Equipment", "Hydrotests", "Cost by run")
TABLES = {
    "Rental lines: what to order, and for which dates", "Excess hours", "By section",
    "Hours by section", "By day", "Allocated cost: amount / total units x units of the run",
}  # fmt: skip


@pytest.fixture(scope="module")
def book(tmp_path_factory):
    """The path of a workbook whose pages are low, so that tables of three rows are parted."""
    workbook = parse_workbook(small_book("tailings_line"))
    path = tmp_path_factory.mktemp("long") / "job.xlsx"
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(look, "page_height", lambda paper, *, across, spare: LOW)
        patch.setattr(page_breaks, "TOGETHER", 1)
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
        "Excess hours", "By day",
        "Allocated cost: amount / total units x units of the run",
    }  # fmt: skip
    assert {len(rows) for _, rows in parts} <= {*range(1, 7)}
    for name in SHEETS:
        last = max(row for _, rows in [*parts_of(found[name])] for row in rows)
        repeated = found[name].print_title_rows
        assert repeated is None or int(repeated.split("$")[-1]) > last, "headers of tables above"


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


def lines_of(count):
    """Return what makes a sheet of one table of so many lines: two rows of title, two of head."""

    def build(again):
        rows = [
            [Cell("Page", "title")], [Cell("Job", "job")],
            [Cell("By run", "section")], [Cell("Run", "header"), Cell("Joints", "header")],
        ]  # fmt: skip
        for number in range(count):
            if 5 + number in again:
                rows += [[], rows[3]]
            rows.append([Cell(f"R{number}"), Cell(number, "int")])
        return SheetSpec("Sheet", tuple(Row(tuple(row)) for row in rows), (20, 9),
                         landscape=False, paper="letter")  # fmt: skip

    return build


@each(("count", "breaks"), [(42, ()), (100, (47, 94)), (43, (44,))])
def test_a_page_is_filled_before_a_header_stands_again(count, breaks):
    """46 rows make a page: title, head and 42 lines; then a header and 45 lines.

    The blank row before a header ends the page: 46 + 1, then 1 + 45 + 1. Of 43 lines, the last
    four stay together: 39 are left before them, and rows 1 to 44 are full.
    """
    spec = laid_out(with_headers_again(lines_of(count)))
    assert spec.breaks == breaks
    for last in breaks:
        assert spec.rows[last].cells[0].value == "Run"


def test_a_long_table_has_its_header_on_every_page_however_many():
    """3,000 lines: 42 and 66 times 45 are 3,012."""
    spec = laid_out(with_headers_again(lines_of(3_000)))
    heads = [row for row in spec.rows if row.cells and row.cells[0].value == "Run"]
    assert len(heads) == 67


def test_pages_keep_room_for_the_header_of_a_table_below_a_chart():
    """A chart down to the row above the header hides from no page that a header stands again."""
    plain = lines_of(100)
    chart = ChartSpec("line", "", "", "", "'Sheet'!$A$1:$A$2", (), anchor=("A4", "C12"))

    def build(again):
        lines = plain(frozenset(row - 9 for row in again))
        top, head = lines.rows[:3], lines.rows[3:]
        return replace(lines, rows=(*top, *[Row((), None)] * 9, *head), charts=(chart,))

    spec = laid_out(with_headers_again(build))
    assert spec.header_row is None
    heads = [row.cells[0].value for row in spec.rows if style_of(row).startswith("header")]
    assert len(heads) == len(spec.breaks) + 1
    assert {style_of(spec.rows[last]) for last in spec.breaks} == {"header"}


@each(("sections", "days"), [(4, 37), (5, 35), (20, 36), (30, 52), (30, 88)])
def test_a_header_stands_again_only_where_a_page_begins(sections, days):
    """Also where the sheet with these headers could close up further than the one without."""
    spec = laid_out(hydrotests.tests_sheet(with_days(sections, days)))
    heads = [n for n, row in enumerate(spec.rows, 1) if style_of(row).startswith("header")]
    again = [n for n in heads if style_of(spec.rows[n - 2]) != "section"]
    assert again
    assert {n - 1 for n in again} <= {*spec.breaks}
    assert spec.header_row is None


def style_of(row):
    """Return the style of the first filled cell of a row, in the roomy or the smaller type."""
    styles = (cell.style for cell in row.cells if cell and cell.value is not None)
    return next(styles, "").partition(",")[0]


def with_days(sections, days):
    """Return the context of a job with so many test sections, which share so many test days."""
    one = run(segments_m=(240.0,), test_section="S1")
    found = study(job(one, option_crews=0, risk_trials=0), Places())
    (test,) = found.tests
    first = test.days[0]
    tests = []
    for number in range(sections):
        share = range(number, days, sections)
        dates = [first.date + dt.timedelta(day) for day in share]
        made = tuple(first.model_copy(update={"date": date}) for date in dates)
        tests.append(test.model_copy(update={"section": f"S{number}", "days": made}))
    names = {name: name for name in RESULT_SHEETS}
    return Context(replace(found, tests=tuple(tests)), Places(), names)
