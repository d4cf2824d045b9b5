"""Every sheet as it prints: how many pages, no small type, headers on each page.

LibreOffice prints the first runs of an example, results and inputs; Poppler reads the PDF back, at
three times its size: type of 8 points has the size 24 there.
"""

import re
import shutil
import subprocess
import xml.etree.ElementTree as ET
from dataclasses import dataclass
from typing import NamedTuple

import openpyxl
import pytest

from estimator.workbook.results.sheets import RESULT_SHEETS
from estimator.workbook.sheet.look import INK
from tests.estimated import small, written
from tests.office import convert
from tests.one_page import sheet_of
from tests.site_book import all_pages_under_way

pytestmark = pytest.mark.skipif(
    shutil.which("soffice") is None or shutil.which("pdftohtml") is None,
    reason="needs LibreOffice and Poppler",
)
ZOOM = 3
SMALLEST, LARGEST = 8 * ZOOM, 18 * ZOOM
"""Units and notes have the smallest type; the largest is the price on the Bid."""
ONE_PAGE = (
    "Start", "Job", "Bid", "Bid schedule", "Basis of estimate", "Joint counts",
    "Joint parameters", "Plan by week", "Labor",
)  # fmt: skip
RUNS, UNDER_WAY = 12, "under_way"
LONG, MANY = "plant_piping", 10
"""An example of 120 runs, and pages that are many for one sheet."""
AT_MOST = {
    **dict.fromkeys(ONE_PAGE, 1),
    "Status": 1, "Gantt with actuals": 1, "Claim 1": 1, "Field cards": 2, "Log summary": 2,
    "Request machines": 1, "Request generators": 1, "Request lifting": 1,
    "Checks": 2, "Price build-up": 2, "Item prices": 2, "Rates": 2, "Equipment": 2, "Risk": 4,
    "Compare": 2, "Look-ahead": 2, "Hydrotests": 3, "Gantt": 2, "Cost": 5, "Options": 6,
    "Explain": 8,
}  # fmt: skip
"""Pages of a job of twelve runs; what is not named is a table to filter, printed on demand."""


class Text(NamedTuple):
    """A text on a page, the size of its type and its color."""

    words: str
    size: int
    color: str


@dataclass(frozen=True)
class Printed:
    """The pages of each sheet: their texts, from top to bottom."""

    book: openpyxl.Workbook
    pages: dict[str, list[list[Text]]]


def _from_top(page):
    return sorted(page.iter("text"), key=lambda text: int(text.get("top")))


def _look(font):
    return int(font.get("size")), font.get("color").upper()


def read_back(*command):
    return subprocess.run(command, check=True, capture_output=True, timeout=120).stdout


@pytest.fixture(scope="module", params=["raw_water_main", "tailings_line", UNDER_WAY])
def printed(request, tmp_path_factory):
    folder = tmp_path_factory.mktemp("printed")
    path, pdf = folder / "job.xlsx", folder / "job.pdf"
    is_under_way = request.param == UNDER_WAY
    path.write_bytes(all_pages_under_way() if is_under_way else small(request.param, RUNS))
    convert(path, pdf)
    read = read_back("pdftohtml", "-xml", "-i", "-zoom", str(ZOOM), "-stdout", str(pdf))
    root = ET.fromstring(read)
    starts = [(item.text, int(item.get("page"))) for item in root.find("outline")]
    fonts = {font.get("id"): font for font in root.iter("fontspec")}
    pages = [
        [Text("".join(one.itertext()), *_look(fonts[one.get("font")])) for one in _from_top(page)]
        for page in root.iter("page")
    ]
    ends = [*(first for _, first in starts[1:]), len(pages) + 1]
    spans = zip(starts, ends, strict=True)
    found = {name: pages[first - 1 : end - 1] for (name, first), end in spans}
    return Printed(openpyxl.load_workbook(path), found)


def test_no_type_is_smaller_than_eight_points(printed):
    sizes = {
        name: sorted((text.size, text.words) for page in pages for text in page)
        for name, pages in printed.pages.items()
    }
    assert max(found[-1][0] for found in sizes.values()) == LARGEST
    assert {name: found[0] for name, found in sizes.items() if found[0][0] < SMALLEST} == {}


def test_sheets_take_few_pages(printed):
    counted = {name: len(printed.pages[name]) for name in AT_MOST if name in printed.pages}
    assert {name: n for name, n in counted.items() if n > AT_MOST[name]} == {}


def test_headers_repeat_on_every_page(printed):
    several = 0
    for name, pages in printed.pages.items():
        sheet = printed.book[name]
        if not sheet.print_title_rows or len(pages) < 2:
            continue
        row = int(sheet.print_title_rows.rpartition("$")[2])
        words = {word for cell in sheet[row] for word in re.split(r"\s+", str(cell.value or ""))}
        several += 1
        for number, page in enumerate(pages, 1):
            assert any(words & set(text.words.split()) for text in page[:60]), (name, number)
    assert several >= 4


def test_every_page_of_results_begins_with_a_heading_or_a_header(printed):
    """Titles, sections and headers are in ink; below them no row stands above its header."""
    found = {
        (name, number): page[0].words
        for name in RESULT_SHEETS
        if name in printed.pages
        for number, page in enumerate(printed.pages[name], 1)
        if page[0].color != f"#{INK}"
    }
    assert found == {}


def test_warnings_and_control_totals_of_the_county_job_are_on_one_page():
    checks = sheet_of(written("county_force_main"), "Checks")
    titles = [row[0].value for row in checks.iter_rows(max_col=1)]
    cautions = titles.index("Cautions") + 1
    assert titles.index("Control totals") > titles.index("Warnings (8)")
    assert min(stop.id for stop in checks.row_breaks.brk) == cautions - 1


def test_checks_says_how_many_pages_each_sheet_prints(printed):
    said = pages_said(printed.book)
    assert said == {name: len(printed.pages[name]) for name in said}
    assert len(said) == (0 if "Bid" not in printed.pages else len(RESULT_SHEETS))


def test_checks_says_how_many_pages_a_long_job_prints(tmp_path):
    """Its tables with a filter take tens of pages, which the program breaks as it fills them."""
    path, pdf = tmp_path / "job.xlsx", tmp_path / "job.pdf"
    path.write_bytes(written(LONG))
    convert(path, pdf)
    said = pages_said(openpyxl.load_workbook(path))
    assert said == {name: n for name, n in pages_of(pdf).items() if name in said}
    assert max(said.values()) > MANY


def pages_said(book):
    return {
        name: number
        for _, name, number in book["Checks"].iter_rows(max_col=3, values_only=True)
        if name in RESULT_SHEETS and isinstance(number, int)
    }


def pages_of(pdf):
    """Return how many pages each sheet has in a PDF."""
    root = ET.fromstring(read_back("pdftohtml", "-xml", "-i", "-stdout", str(pdf)))
    starts = [int(item.get("page")) for item in root.find("outline")]
    ends = [*starts[1:], len(list(root.iter("page"))) + 1]
    names = [item.text for item in root.find("outline")]
    return {name: end - start for name, start, end in zip(names, starts, ends, strict=True)}
