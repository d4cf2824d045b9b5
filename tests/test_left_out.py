"""Result sheets that the Job sheet leaves out: nothing old stays there, nothing needs them."""

import io
import re
from dataclasses import replace

import openpyxl
import pytest

from estimator.inputs.dictionary import fields
from estimator.workbook.book import parse_workbook, with_results
from estimator.workbook.package.package import Package
from estimator.workbook.package.paper import on_paper as to_paper
from estimator.workbook.results.print_sets import print_set
from estimator.workbook.results.sheets import RESULT_SHEETS
from tests.estimated import small, small_example
from tests.one_page import book_of, sheet_of
from tests.small_book import small_book
from tests.workbook_factory import WorkbookFactory

OPTIONAL = next(field.allowed for field in fields("job") if field.key == "left_out")


def written_without(data, names):
    """Return a workbook with the results of the small job, some sheets left out."""
    return written_as(parse_workbook(data), left_out=names)


def written_as(workbook, **facts):
    """Return it with the results of the small job, some facts changed on which no price rests."""
    _, study = small_example()
    job = workbook.job.changed(**facts)
    return with_results(replace(workbook, job=job), replace(study, job=job))


@pytest.fixture(scope="module")
def bare():
    """A workbook with every result, estimated again without those that can be left out."""
    return written_without(small(), OPTIONAL)


def test_a_sheet_that_is_left_out_says_so_and_keeps_nothing_old(bare):
    before, after = (book_of(data, OPTIONAL) for data in (small(), bare))
    where = parse_workbook(bare).places.where("job", "", "left_out")
    for name in OPTIONAL:
        assert before[name].max_row > 4
        assert after[name].max_row == 3
        assert after[name]["A3"].value == (
            f"Left out: Result sheets left out ({where}) names this sheet. Clear it there and run "
            "Estimate."
        )
        assert not after[name]._charts
    assert after.sheetnames == before.sheetnames


def test_no_other_sheet_needs_one_that_can_be_left_out(bare):
    """Formulas, not the links that lead to Explain, and those of Start, which are links too."""
    book = openpyxl.load_workbook(io.BytesIO(bare))
    needed = {
        sheet.title: name
        for sheet in book
        for row in sheet.iter_rows()
        for cell in row
        for name in re.findall(r"'?([A-Z][A-Za-z -]+?)'?!", str(cell.value))
        if str(cell.value).startswith("=") and "HYPERLINK" not in str(cell.value)
        if name in OPTIONAL
    }
    assert needed == {}


def test_it_is_not_printed(bare):
    assert "Gantt" in print_set(small(), "manager")[1]
    assert print_set(bare, "manager")[1] == ("Plan by week", "Hydrotests")


def test_it_is_back_once_it_is_asked_for_again(bare):
    again, first = written_without(bare, ()), small()
    assert sheet_of(again, "Gantt").dimensions == sheet_of(first, "Gantt").dimensions


def test_the_choice_is_read_from_the_job_sheet():
    factory = WorkbookFactory()
    factory.set("job", "left_out", "gantt; Item prices")
    assert parse_workbook(factory.build()).job.pages.left_out == ("Gantt", "Item prices")
    assert parse_workbook(small_book()).job.pages.left_out is None


def on_paper(paper):
    workbook, _ = small_example()
    written = written_as(workbook, paper=paper)
    book = openpyxl.load_workbook(io.BytesIO(written))
    return written, {sheet.title: str(sheet.page_setup.paperSize) for sheet in book}


@pytest.mark.parametrize(("paper", "code"), [("A4", "9"), ("Letter", "1"), (None, "1")])
def test_every_sheet_is_on_the_paper_that_job_names(paper, code):
    """Without a name a job in US units prints on Letter, whose code is 1; that of A4 is 9."""
    _, found = on_paper(paper)
    assert {"Start", "Job", "Pipe schedule", "Rates", *RESULT_SHEETS} <= set(found)
    assert set(found.values()) == {code}


def test_of_an_input_sheet_nothing_but_its_paper_changes():
    given = Package.open(small_example()[0].data)
    inputs = [one for one in given.workbook_sheets() if one.name in ("Job", "Machines", "Rates")]
    assert len(inputs) == 3
    after = Package.open(on_paper("A4")[0])
    for one in inputs:
        before = given.part(one.part)
        assert before.count(b' paperSize="1"') == 1
        assert after.part(one.part) == before.replace(b' paperSize="1"', b' paperSize="9"')


@pytest.mark.parametrize(
    ("given", "after"),
    [
        ('<pageSetup paperSize="9" scale="80"/>', '<pageSetup paperSize="1" scale="80"/>'),
        ('<x:pageSetup r:id="a" paperSize="9"/>', '<x:pageSetup r:id="a" paperSize="1"/>'),
        ('<pageSetup orientation="landscape"/>', '<pageSetup orientation="landscape"/>'),
        ('<pageSetup paperSize="8"/>', '<pageSetup paperSize="8"/>'),
        ("<pageMargins/>", "<pageMargins/>"),
    ],
)
def test_only_a_sheet_on_the_other_one_of_both_papers_changes(given, after):
    """Letter is the paper of a page that names none; A3, code 8, is somebody's own choice."""
    assert to_paper(given.encode(), "letter").decode() == after


def test_a_page_without_a_paper_is_of_letter_and_may_be_of_a4():
    assert to_paper(b'<pageSetup scale="80"/>', "a4") == b'<pageSetup paperSize="9" scale="80"/>'
