"""Every sheet as it prints: how many pages, no small type, headers on each page.

LibreOffice prints the first runs of an example, results and inputs; Poppler reads the PDF back, at
three times its size: type of 8 points has the size 24 there.
"""

import re
import shutil
import subprocess
import xml.etree.ElementTree as ET
from dataclasses import dataclass

import openpyxl
import pytest

from tests.estimated import opened, small
from tests.office import convert

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
RUNS = 12
AT_MOST = {
    **dict.fromkeys(ONE_PAGE, 1),
    "Checks": 2, "Price build-up": 2, "Item prices": 2, "Rates": 2, "Equipment": 2, "Risk": 4,
    "Compare": 2, "Look-ahead": 2, "Hydrotests": 3, "Gantt": 2, "Cost": 5, "Options": 6,
    "Explain": 8,
}  # fmt: skip
"""Pages of a job of twelve runs; what is not named is a table to filter, printed on demand."""


@dataclass(frozen=True)
class Printed:
    """The pages of each sheet: their texts, each with the size of its type."""

    book: openpyxl.Workbook
    pages: dict[str, list[list[tuple[str, int]]]]


def read_back(*command):
    return subprocess.run(command, check=True, capture_output=True, timeout=120).stdout


@pytest.fixture(scope="module", params=["raw_water_main", "tailings_line"])
def printed(request, tmp_path_factory):
    folder = tmp_path_factory.mktemp("printed")
    path, pdf = folder / "job.xlsx", folder / "job.pdf"
    path.write_bytes(small(request.param, RUNS))
    convert(path, pdf)
    read = read_back("pdftohtml", "-xml", "-i", "-zoom", str(ZOOM), "-stdout", str(pdf))
    root = ET.fromstring(read)
    starts = [(item.text, int(item.get("page"))) for item in root.find("outline")]
    sizes = {font.get("id"): int(font.get("size")) for font in root.iter("fontspec")}
    pages = [
        [("".join(text.itertext()), sizes[text.get("font")]) for text in page.iter("text")]
        for page in root.iter("page")
    ]
    ends = [*(first for _, first in starts[1:]), len(pages) + 1]
    spans = zip(starts, ends, strict=True)
    found = {name: pages[first - 1 : end - 1] for (name, first), end in spans}
    return Printed(openpyxl.load_workbook(path), found)


def test_no_type_is_smaller_than_eight_points(printed):
    sizes = {
        name: sorted((size, text) for page in pages for text, size in page)
        for name, pages in printed.pages.items()
    }
    assert max(found[-1][0] for found in sizes.values()) == LARGEST
    assert {name: found[0] for name, found in sizes.items() if found[0][0] < SMALLEST} == {}


def test_sheets_take_few_pages(printed):
    counted = {name: len(printed.pages[name]) for name in AT_MOST}
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
            assert any(words & set(text.split()) for text, _ in page[:60]), f"{name}, page {number}"
    assert several >= 5


def test_warnings_and_control_totals_of_the_county_job_are_on_one_page():
    checks = opened("county_force_main")["Checks"]
    titles = [row[0].value for row in checks.iter_rows(max_col=1)]
    cautions = titles.index("Cautions") + 1
    assert titles.index("Control totals") > titles.index("Warnings (8)")
    assert min(stop.id for stop in checks.row_breaks.brk) == cautions - 1
