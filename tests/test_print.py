"""Print sets: the sheets of one reader, as a copy that prints nothing else, and as a PDF."""

import io
import re
import shutil
import subprocess

import openpyxl
import pytest

from estimator import files
from estimator.cli.command import main
from estimator.errors import InputError, WorkbookError
from estimator.workbook.package.package import Package
from estimator.workbook.results.print_sets import READERS, print_set
from estimator.workbook.results.sheets import RESULT_SHEETS
from tests import estimated
from workbook_template import build_template


@pytest.fixture(scope="module")
def written(tmp_path_factory):
    path = tmp_path_factory.mktemp("print") / "job.xlsx"
    path.write_bytes(estimated.small())
    return path


@pytest.mark.parametrize("reader", READERS)
def test_only_the_sheets_of_the_reader_are_shown(reader):
    copy, shown = print_set(estimated.small(), reader)
    book = openpyxl.load_workbook(io.BytesIO(copy))
    visible = {sheet.title for sheet in book if sheet.sheet_state == "visible"}
    assert visible == set(shown) == {key for key in READERS[reader] if key in RESULT_SHEETS}
    assert book.active.title in visible
    for sheet in book:
        if sheet.title not in visible:
            assert not sheet.print_area
            assert not sheet.print_title_rows


def test_a_renamed_result_sheet_still_belongs_to_its_reader():
    book = openpyxl.load_workbook(io.BytesIO(estimated.small()))
    book["Bid schedule"].title = "Schedule of prices"
    book.defined_names["_result_Bid_schedule"].attr_text = "'Schedule of prices'!$A$1"
    stream = io.BytesIO()
    book.save(stream)
    assert print_set(stream.getvalue(), "client")[1] == ("Bid", "Schedule of prices")


def test_a_workbook_without_such_sheets_is_refused():
    book = openpyxl.Workbook()
    stream = io.BytesIO()
    book.save(stream)
    with pytest.raises(InputError, match="client: the workbook has none of Bid, Bid schedule"):
        print_set(stream.getvalue(), "client")
    with pytest.raises(WorkbookError, match="no sheet Bid"):
        Package.open(stream.getvalue()).with_only(["Bid"])


def test_what_was_not_estimated_is_not_printed(tmp_path, capsys):
    path = tmp_path / "new.xlsx"
    path.write_bytes(build_template("US"))
    assert main(["print", str(path), "--for", "client", "-o", str(tmp_path / "x.pdf")]) == 1
    assert "was not estimated yet" in capsys.readouterr().err
    assert not (tmp_path / "x.pdf").exists()


def test_results_whose_status_nothing_calculated_are_named(written, tmp_path, capsys, monkeypatch):
    """A program that writes workbooks saves no results: the inputs may be others by now."""
    monkeypatch.setattr(files, "find_office", lambda: None)
    path = tmp_path / "job.xlsx"
    openpyxl.load_workbook(written).save(path)
    for one, known in ((written, True), (path, False)):
        main(["print", str(one), "--for", "client", "-o", str(tmp_path / "job.pdf")])
        said = "Checks!B3: the check status has no saved result"
        assert (said in capsys.readouterr().err) != known


def test_the_pdf_may_not_replace_the_workbook(written, capsys):
    before = written.read_bytes()
    assert main(["print", str(written), "--for", "client", "-o", str(written)]) == 1
    assert "-o: This is the workbook itself" in capsys.readouterr().err
    assert written.read_bytes() == before


def test_without_the_program_it_says_what_to_do(written, monkeypatch, capsys):
    monkeypatch.setattr(files, "find_office", lambda: None)
    assert main(["print", str(written), "--for", "client", "-o", str(written) + ".pdf"]) == 1
    reported = capsys.readouterr().err
    assert "LibreOffice is not on this machine" in reported
    assert "Bid, Bid schedule" in reported


def test_a_program_that_fails_is_named():
    with pytest.raises(WorkbookError, match="no-such-office"):
        files.as_pdf("no-such-office", b"", "job.xlsx")


def pages_of(path):
    reported = subprocess.run(["pdfinfo", str(path)], capture_output=True, text=True, check=True)
    return int(re.search(r"Pages:\s+(\d+)", reported.stdout)[1])


def words_of(path):
    command = ["pdftotext", "-layout", str(path), "-"]
    return subprocess.run(command, capture_output=True, text=True, check=True).stdout


@pytest.mark.skipif(shutil.which("soffice") is None, reason="needs LibreOffice")
@pytest.mark.parametrize(("reader", "most"), [("client", 2), ("office", 15)])
def test_the_demo_job_prints_on_few_pages(reader, most, tmp_path):
    """The client's two pages; the office's set below fifteen, the basis on one of them."""
    path = tmp_path / "job.xlsx"
    path.write_bytes(estimated.written("raw_water_main"))
    before, pdf = path.read_bytes(), tmp_path / "set.pdf"
    assert main(["print", str(path), "--for", reader, "-o", str(pdf)]) == 0
    assert path.read_bytes() == before
    pages = words_of(pdf).split("\f")
    assert pages_of(pdf) <= most
    assert "Page 1 of" in pages[0]
    if reader == "client":
        assert re.search(r"Bid 2027-014 of .*2027, revision 0", pages[0])
        assert pages_of(pdf) == 2
        for word in ("status", "estimator", "Rounding", "efficiency", "rework", "P50"):
            assert word.casefold() not in words_of(pdf).casefold(), word
    else:
        (basis,) = (page for page in pages if "INTERNAL: not for the client" in page)
        assert "Reviewed by, date" in basis
