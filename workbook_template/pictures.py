"""Pictures of the pages for the README and the docs, drawn from an example as it prints."""

import shutil
import subprocess
from collections.abc import Iterator, Mapping
from types import MappingProxyType

from estimator import api, files
from estimator.errors import EstimatorError
from estimator.workbook.book import parse_workbook, with_results
from estimator.workbook.package.package import Package
from workbook_template.builder import build_template, example_system

EXAMPLE = "raw_water_main"
DPI = 72
PAGES: Mapping[str, str] = MappingProxyType(
    {
        "start": "Start",
        "job": "Job",
        "bid": "Bid",
        "bid_schedule": "Bid schedule",
        "basis_of_estimate": "Basis of estimate",
        "plan_by_week": "Plan by week",
        "look_ahead": "Look-ahead",
        "joint_parameters": "Joint parameters",
    }
)
"""Sheets by the name of the picture of their first page."""
MISSING = "pictures need LibreOffice and pdftoppm of Poppler on this machine"


def pictures() -> Iterator[tuple[str, bytes]]:
    """Yield the file name and content of the picture of each sheet's first page.

    Raises
    ------
    EstimatorError
        If a program that draws is missing.
    """
    office, drawer = files.find_office(), shutil.which("pdftoppm")
    if office is None or drawer is None:
        raise EstimatorError(MISSING)
    workbook = parse_workbook(build_template(example_system(EXAMPLE), EXAMPLE))
    package = Package.open(with_results(workbook, api.estimate_workbook(workbook)))
    for name, sheet in PAGES.items():
        pdf = files.as_pdf(office, package.with_only([sheet]), ".xlsx")
        yield f"{name}.png", _drawn(drawer, pdf)


def _drawn(drawer: str, pdf: bytes) -> bytes:
    """Return the first page of a PDF as a PNG."""
    command = [drawer, "-png", "-r", str(DPI), "-f", "1", "-singlefile", "-"]
    return subprocess.run(command, input=pdf, capture_output=True, check=True).stdout
