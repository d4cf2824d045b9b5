"""Every kind of workbook that we make holds nothing that Excel is known to refuse."""

import contextlib
import datetime as dt
import functools
import io
import re
import subprocess
import warnings
import zipfile
from pathlib import Path

import openpyxl
import pytest
import xlwings
from openpyxl.chart import BarChart, Reference
from openxml_audit import OpenXmlValidator

from estimator import api
from estimator.after_award import (
    PAST_JOBS,
    claim_pages,
    past_pages,
    past_suggestions,
    request_pages,
    status_pages,
)
from estimator.cli.command import main
from estimator.models.site_records import SiteRecords
from estimator.pipeline import estimate
from estimator.whatif.revision import Version, compare_versions
from estimator.workbook.book import parse_workbook, with_changes, with_pages, with_results
from estimator.workbook.package.package import Package
from estimator.workbook.package.table_rows import TableRows
from estimator.workbook.read.own_figures import own_figures
from estimator.workbook.results.sheets import RESULT_SHEETS, result_sheets
from tests import office
from tests.estimated import small, studied_once
from tests.excel_rules import faults
from tests.rich_workbook import add_rich_sheets
from tests.site_book import GOOD, filled, small_under_way
from tests.small_book import small_book
from tests.test_package import joints, plan
from tests.workbook_factory import WorkbookFactory
from workbook_template import build_template, example_names, under_way
from workbook_template.company import company_of
from workbook_template.macro_book import build_macro_book

PACKAGES = ("r-cran-openxlsx", "r-cran-readxl")
"""Packages of Debian with workbooks that Excel 12 to 16 saved on Windows, on a Mac and online:
pivot tables, slicers, remarks in threads, charts, tables, names, pictures."""
EXAMPLES = Path(__file__).parent.parent / "examples"
OF_INPUTS = re.compile(r"refers to sheet '.*', which is not there")
"""Results put into a workbook without the inputs that they look at."""
PUT_IN = ("Bid", "Plan by week", "Gantt", "Joints", "Explain")
LISTS = {"[Content_Types].xml", "xl/workbook.xml", "xl/_rels/workbook.xml.rels", "xl/styles.xml"}


@pytest.fixture(autouse=True)
def one_study_of_a_job(monkeypatch):
    studied_once(monkeypatch)


def estimated(data):
    """Return a workbook with the results of its job."""
    workbook = parse_workbook(data)
    return with_results(workbook, api.estimate_workbook(workbook))


def with_result_sheets(data, specs=None):
    """Return any workbook with sheets put in as results are, two if none are given."""
    return Package.open(data).put_sheets(specs or [joints(), plan()])


def by_libreoffice(folder):
    path = folder / "job.xlsx"
    path.write_bytes(small())
    return estimated(office.convert(path, folder / "saved.xlsx").read_bytes())


def by_openpyxl(_):
    """Loaded and saved by openpyxl, a sheet with a chart of results added."""
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        book = openpyxl.load_workbook(io.BytesIO(small()))
    sheet = book.create_sheet("Mine", 0)
    for row in range(1, 6):
        sheet.append([row, f"=Joints!B{row + 5}"])
    chart = BarChart()
    chart.add_data(Reference(sheet, min_col=1, min_row=1, max_row=5))
    sheet.add_chart(chart, "E2")
    out = io.BytesIO()
    book.save(out)
    return estimated(out.getvalue())


def on_site(folder):
    """With site records that hold joints, and with every sheet that is made of them."""
    path = folder / "site.xlsx"
    path.write_bytes(filled({("joint_log", row): GOOD for row in range(60)}))
    for asked in (["cards"], ["log"], ["log", "--page", "R01"]):
        assert main([asked[0], str(path), *asked[1:]]) == 0
    return path.read_bytes()


@functools.cache
def of_a_user():
    """By XlsxWriter, titles merged, with sheets, charts, remarks and pictures of the user's."""
    return estimated(WorkbookFactory(merged_titles=True, extra=add_rich_sheets).build())


@functools.cache
def after_award():
    """The example under way, with each sheet that a command of its own writes after award."""
    date = dt.date(2027, 3, 26)
    data = paged(small_under_way(), lambda book: status_pages(book, date)[1])
    data = paged(data, lambda book: claim_pages(book, date)[1])
    data = paged(data, lambda book: request_pages(book)[1])
    workbook = parse_workbook(data)
    past = past_suggestions(workbook, [("closed.xlsx", workbook)])
    data = api.add_site_records(workbook, SiteRecords(), PAST_JOBS)
    return paged(data, lambda book: past_pages(book, past))


def paged(data, pages_of):
    """Return a workbook with the sheets that a command after award writes."""
    workbook = parse_workbook(data)
    return with_pages(workbook, pages_of(workbook))


def with_rows(data):
    """Return a workbook whose schedule has grown by rows as a takeoff puts them in."""
    rows = [{1: f"N{number}", 2: "=text", 7: 5.5} for number in range(100)]
    return Package.open(data).put_table_rows(TableRows("Pipe_schedule", 40, rows))


def with_its_changes(data):
    """Return a workbook with the sheet that compares it with a version of other rates."""
    workbook = parse_workbook(data)
    rates = workbook.job.rates.model_copy(update={"profit": 0.2})
    old = Version("old.xlsx", workbook.job.model_copy(update={"rates": rates}), workbook.places)
    revision = compare_versions(old, Version("new.xlsx", workbook.job, workbook.places))
    return with_changes(workbook, estimate(workbook.job), revision)


def of_a_company(_):
    """A new workbook with the figures of another, all of them old."""
    found = own_figures(changed_rates())
    return build_template("US", None, company_of(found, "US", dt.date(2040, 1, 1), 12))


def changed_rates():
    book = openpyxl.load_workbook(io.BytesIO(small_book()))
    book["Crew"]["H6"].value = 41.5
    out = io.BytesIO()
    book.save(out)
    return out.getvalue()


KINDS = {
    "new, US": lambda _: build_template("US", None),
    "new, SI": lambda _: build_template("SI", None),
    "new with macros": lambda _: build_macro_book("US"),
    "estimated": lambda _: small(),
    "site records": on_site,
    "estimated twice": lambda _: estimated(small()),
    "with macros, estimated": lambda _: estimated(small_book(macros=True)),
    "under way": lambda _: after_award(),
    "with a takeoff": lambda _: with_rows(small_book()),
    "with macros and a takeoff": lambda _: with_rows(small_book(macros=True)),
    "compared with another version": lambda _: with_its_changes(small_book()),
    "with figures of a company": of_a_company,
    "of a user": lambda _: of_a_user(),
    "of a user, twice": lambda _: estimated(of_a_user()),
    "saved by LibreOffice": by_libreoffice,
    "saved by openpyxl": by_openpyxl,
}


@pytest.mark.parametrize("kind", KINDS)
def test_every_kind_of_workbook_is_without_fault(kind, tmp_path):
    assert faults(KINDS[kind](tmp_path)) == []


@pytest.mark.parametrize(
    ("kind", "name"),
    [
        ("new, US", "a.xlsx"),
        ("under way", "a.xlsx"),
        ("new with macros", "a.xlsm"),
        ("of a user", "a.xlsx"),
        ("with a takeoff", "a.xlsx"),
        ("compared with another version", "a.xlsx"),
    ],
)
def test_a_validator_by_others_finds_nothing_either(kind, name, tmp_path):
    """What other programs saved is left out: it objects to their own style sheets and remarks."""
    path = tmp_path / name
    path.write_bytes(KINDS[kind](tmp_path))
    assert [str(error) for error in OpenXmlValidator().validate(path).errors] == []


@pytest.mark.parametrize("name", [*example_names(), under_way.NAME])
def test_examples_are_without_fault(name):
    assert faults((EXAMPLES / f"{name}.xlsx").read_bytes()) == []


def stored(data):
    """Return the compressed bytes of every member, in order."""
    with zipfile.ZipFile(io.BytesIO(data)) as file:
        return {info.filename: (info.CRC, info.file_size) for info in file.infolist()}


def sheets_of_the_job():
    """Return results and pages after award: tables, charts, bars of color, links, broken pages."""
    date = dt.date(2027, 3, 26)
    workbook = parse_workbook((EXAMPLES / f"{under_way.NAME}.xlsx").read_bytes())
    made = []
    for pages in (status_pages(workbook, date)[1], claim_pages(workbook, date)[1]):
        made += pages.specs(workbook.places, {key: key for key in pages.makers})
    small_job = parse_workbook(small_book())
    names = {key: key for key in RESULT_SHEETS}
    results = result_sheets(api.estimate_workbook(small_job), small_job.places, (), names)
    return made + [spec for spec in results if spec.name in PUT_IN]


def keeps_all_but_the_lists(data, specs=None):
    """Put sheets in, twice; return whether the second time changes nothing."""
    first = with_result_sheets(data, specs)
    put = [spec.name for spec in specs] if specs else ["Joints", "Plan"]
    before, after = stored(data), stored(first)
    changed = {name for name in before if before[name] != after.get(name)}
    assert {name for name in changed if name not in LISTS} == set()
    assert list(after)[: len(before)] == list(before)
    assert Package.open(first).sheet_names() == (*Package.open(data).sheet_names(), *put)
    new = [fault for fault in faults(first) if not OF_INPUTS.search(fault)]
    assert new == faults(data)
    return with_result_sheets(first, specs) == first


@pytest.fixture(scope="session")
def of_excel(request):
    """Return a folder with workbooks that Excel saved, from Debian's packages."""
    folder = Path(request.config.cache.mkdir("saved-by-excel"))
    if not list(folder.rglob("*.xlsx")):
        command = ["apt-get", "download", *PACKAGES]
        with contextlib.suppress(OSError, subprocess.SubprocessError):
            subprocess.run(command, cwd=folder, check=True, capture_output=True, timeout=60)
            for archive in folder.glob("*.deb"):
                subprocess.run(["dpkg", "-x", archive, folder], check=True, timeout=60)
                archive.unlink()
    if not list(folder.rglob("*.xlsx")):
        pytest.skip("apt may not fetch the workbooks that Excel saved")
    return folder


def test_workbooks_that_excel_saved_keep_all_that_is_theirs(of_excel):
    paths = sorted(of_excel.rglob("*.xlsx"))
    assert len(paths) >= 16
    specs = sheets_of_the_job()
    for path in paths:
        assert keeps_all_but_the_lists(path.read_bytes(), specs), path.name


@pytest.mark.parametrize(
    "name",
    [
        "quickstart.xlsm",
        "quickstart_standalone.xlsm",
        "quickstart_addin.xlam",
        "quickstart_addin_ribbon.xlam",
    ],
)
def test_workbooks_of_xlwings_keep_all_that_is_theirs(name):
    (path,) = Path(xlwings.__file__).parent.rglob(name)
    assert keeps_all_but_the_lists(path.read_bytes())
