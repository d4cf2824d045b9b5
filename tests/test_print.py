"""Print sets: the sheets of one reader, as a copy that prints nothing else, and as a PDF."""

import io
import re
import shutil
import subprocess
from dataclasses import replace

import openpyxl
import pytest

from estimator import files
from estimator.cli.command import main
from estimator.errors import InputError, WorkbookError
from estimator.models.risk import NoRisk
from estimator.workbook.book import with_results
from estimator.workbook.package.package import Package
from estimator.workbook.results.builder import Context
from estimator.workbook.results.print_sets import READERS, print_set
from estimator.workbook.results.sheets import RESULT_SHEETS, SHEETS, Asked
from estimator.workbook.sheet import look
from estimator.workbook.sheet.layout import laid_out
from estimator.workbook.sheet.page_breaks import printed_pages
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


def pages_of_readers(workbook, study, paper):
    """Return how many pages the client's and the office's sets take on a paper."""
    context = Context(study, workbook.places, {sheet.name: sheet.name for sheet in SHEETS})
    made = {
        sheet.name: sheet.make(Asked(context, (), ()))
        for sheet in sorted(SHEETS, key=lambda sheet: sheet.turn)
        if sheet.name not in ("Explain", "Input watch", "Checks")
    }
    return {
        reader: sum(
            printed_pages(laid_out(replace(made[key], paper=paper))) for key in READERS[reader]
        )
        for reader in ("client", "office")
    }


@pytest.mark.parametrize("system", ["US", "SI"])
@pytest.mark.parametrize(
    "name", ["raw_water_main", "county_force_main", "plant_piping", "tailings_line"]
)
def test_each_example_prints_on_few_pages_on_either_paper(name, system):
    """In either unit system: the office's set below fifteen, the client's two pages.

    The tailings line has a bid item for each of its 60 runs: two pages of Bid schedule.
    """
    workbook, study = estimated.example(name)
    cover = study.job.cover.model_copy(update={"unit_system": system})
    study = replace(study, job=study.job.model_copy(update={"cover": cover}))
    for paper in ("letter", "a4"):
        pages = pages_of_readers(workbook, study, paper)
        assert pages["client"] == (3 if name == "tailings_line" else 2), (paper, pages)
        assert pages["office"] < 15, (paper, pages)


def test_risk_that_has_only_a_reason_is_no_page_of_its_own():
    """The basis gives the reason; the sheet itself keeps it."""
    workbook, study = estimated.small_example()
    found = with_results(workbook, replace(study, risk=NoRisk(reason="no plan is possible")))
    assert "Risk" not in print_set(found, "office")[1]
    assert "Risk" in print_set(estimated.small(), "office")[1]
    basis = openpyxl.load_workbook(io.BytesIO(found))["Basis of estimate"]
    said = [str(cell.value) for row in basis for cell in row]
    assert any("No range: no plan is possible." in text for text in said)


def test_each_assumption_of_the_basis_takes_one_line():
    basis = estimated.opened("raw_water_main")["Basis of estimate"]
    rows = {str(row[0].value).partition(":")[0]: row[0].row for row in basis.iter_rows()}
    lines = range(rows["Assumption"] + 1, rows["Open warnings"])
    assert len(lines) == 5
    assert max(basis.row_dimensions[line].height for line in lines) <= look.ROW


def test_the_table_by_size_says_how_many_runs_have_each():
    _, found = estimated.small_example()
    sheet = openpyxl.load_workbook(io.BytesIO(estimated.small()))["Cost by run"]
    rows = [[cell.value for cell in row[:2]] for row in sheet.iter_rows()]
    counts = {pipe: runs for runs, pipe in rows if isinstance(runs, int)}
    labels = [run.label for run in found.by_run.runs]
    assert counts == {label: labels.count(label) for label in labels}


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
        (basis,) = (page for page in pages if "Judgment of the estimator" in page)
        assert "INTERNAL: not for the client" in basis
        assert "Reviewed by, date" in basis
