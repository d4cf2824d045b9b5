"""A press from outside: the open workbook is found, and the same is done as by its button."""

import datetime as dt
import subprocess
import sys
from types import SimpleNamespace

import pytest
import xlwings as xw

from estimator import api
from estimator.award_actions import COMMANDS
from estimator.cli import main
from estimator.cli.press import _asked as asked_by
from estimator.errors import EstimatorError
from estimator.excel import press
from estimator.inputs.dictionary import fields
from estimator.workbook.package.package import Package
from estimator.workbook.results.sheets import RESULT_SHEETS
from tests.lo_engine import open_app
from tests.site_book import small_under_way
from tests.small_book import FIRST_RUNS, small_book
from tests.workbook_factory import WorkbookFactory
from workbook_template import build_template

OURS = fields("job")[0].cell_name


class OpenBook:
    """A workbook as xlwings shows one that is open."""

    def __init__(self, name, path="", names=()):
        self.name, self._path = name, path
        self.names = [SimpleNamespace(name=each) for each in names]

    @property
    def fullname(self):
        if self._path == "hidden":
            raise xw.XlwingsError("not to be found on this computer")
        return self._path or self.name


@pytest.fixture
def opened(monkeypatch):
    """Return what sets the workbooks that are open in Excel."""

    def set_books(*books):
        monkeypatch.setattr(press, "_open_books", lambda: list(books))

    return set_books


def test_the_only_open_workbook_is_meant(opened):
    book = OpenBook("job.xlsx")
    opened(book)
    assert press.find_open() is book


def test_of_several_the_one_with_our_inputs_is_meant(opened):
    job = OpenBook("job.xlsx", names=["Rate", OURS])
    opened(OpenBook("notes.xlsx", names=["Rate"]), job, OpenBook("list.xlsx"))
    assert press.find_open() is job


@pytest.mark.parametrize("names", [(), (OURS,)], ids=["none of ours", "two of ours"])
def test_several_that_could_be_meant_are_named(opened, names):
    opened(OpenBook("b.xlsx", names=names), OpenBook("a.xlsx", names=names))
    with pytest.raises(EstimatorError, match=r"Several workbooks are open: a\.xlsx, b\.xlsx\. Cl"):
        press.find_open()


def test_no_open_workbook_is_reported(opened):
    opened()
    with pytest.raises(EstimatorError, match="No workbook is open in Excel"):
        press.find_open()


def test_a_path_finds_its_own_file_only(opened, tmp_path):
    for folder in ("a", "b"):
        (tmp_path / folder).mkdir()
        (tmp_path / folder / "job.xlsx").touch()
    here, there = (OpenBook("job.xlsx", str(tmp_path / f / "job.xlsx")) for f in ("a", "b"))
    opened(there, here)
    assert press.find_open(str(tmp_path / "a" / "job.xlsx")) is here
    assert press.find_open(str(tmp_path / "a" / ".." / "b" / "job.xlsx")) is there
    opened(there)
    assert press.find_open(str(tmp_path / "a" / "job.xlsx")) is None
    assert press.find_open("JOB.xlsx") is there
    opened(there, here)
    with pytest.raises(EstimatorError, match=r"job\.xlsx is open twice: job\.xlsx, job\.xlsx"):
        press.find_open("job.xlsx")


@pytest.mark.parametrize("path", ["", "hidden", "https://files.example/jobs/job.xlsx"])
def test_a_workbook_without_a_file_here_is_found_by_its_name(opened, path, tmp_path):
    book = OpenBook("job.xlsx", path)
    opened(book)
    (tmp_path / "job.xlsx").touch()
    assert press.find_open(str(tmp_path / "job.xlsx")) is book


def test_a_workbook_that_is_not_open_is_estimated_as_a_file(opened, tmp_path, capsys):
    opened()
    path = tmp_path / "job.xlsx"
    path.write_bytes(small_book())
    assert main(["press", "--check", str(path)]) == 0
    printed = capsys.readouterr().out
    assert f"{path} is not open in Excel: its file is read." in printed
    assert f"inputs OK, {FIRST_RUNS} runs" in printed
    assert path.read_bytes() == small_book()
    assert main(["press", str(path)]) == 0
    assert set(RESULT_SHEETS) <= set(Package.open(path.read_bytes()).sheet_names())


def test_neither_open_nor_a_file_is_reported(opened, tmp_path, capsys):
    opened()
    assert main(["press", str(tmp_path / "job.xlsx")]) == 1
    assert "is not open in Excel, and there is no such file. If Excel" in capsys.readouterr().err


def test_without_xlwings_a_file_is_needed_and_enough(monkeypatch, tmp_path, capsys):
    monkeypatch.setattr("estimator.cli.press.is_installed", lambda: False)
    assert main(["press"]) == 1
    assert "xlwings, which finds the workbook open in Excel, is not ins" in capsys.readouterr().err
    path = tmp_path / "job.xlsx"
    path.write_bytes(small_book())
    assert main(["press", "--check", str(path)]) == 0


def test_a_system_without_excel_says_so():
    """Where xlwings knows no Excel at all, in a process that has no stand-in either."""
    run = subprocess.run(
        [sys.executable, "-m", "estimator", "press"], capture_output=True, text=True, timeout=60
    )
    assert run.returncode == 1
    assert run.stderr.startswith("No workbook is open in Excel.")


@pytest.mark.parametrize(("asked", "given"), [((), ""), (("estimate",), ", not 'estimate'")])
def test_a_press_does_what_comes_after_award_only(asked, given, capsys):
    assert main(["press", "job.xlsx", "--do", *asked]) == 1
    assert f"--do takes one of: {', '.join(COMMANDS)}{given}" in capsys.readouterr().err


@pytest.mark.parametrize(
    ("words", "name", "date", "details", "files"),
    [
        ("status --date 2027-06-04", "Status", dt.date(2027, 6, 4), (), ()),
        ("status --date 2027-06-04 --options", "Status with options", dt.date(2027, 6, 4), (), ()),
        ("log", "Log summary", None, (), ()),
        ("log --page R01 --page R02", "Log pages", None, ("R01", "R02"), ()),
        ("log --logger a.csv", "Join data logger", None, (), ("a.csv",)),
        ("baseline --rebase why", "New baseline", None, ("why",), ()),
        ("change 3 --with b.xlsx", "Price a change", None, ("3",), ("b.xlsx",)),
        ("request --take 2", "Take a quote", None, ("2",), ()),
        ("past --from a.xlsx --take C", "Take past times", None, ("C",), ("a.xlsx",)),
        ("lookahead --from 2027-03-15", "Look-ahead", dt.date(2027, 3, 15), (), ()),
    ],
)
def test_words_behind_do_are_those_of_the_command(words, name, date, details, files):
    found = asked_by(words.split())
    assert (found.action.name, found.date, found.details, found.files) == (
        name, date, details, files
    )  # fmt: skip


def test_an_open_workbook_is_no_file_to_write_to():
    with pytest.raises(EstimatorError, match=r"run estimator cards FILE"):
        asked_by(["cards", "-o", "b.xlsx"])


def test_a_command_that_needs_a_day_says_so(capsys):
    with pytest.raises(SystemExit):
        asked_by(["status"])
    assert "--date" in capsys.readouterr().err


def test_pages_after_award_go_to_a_file_that_is_not_open(opened, tmp_path, capsys):
    opened()
    path = tmp_path / "job.xlsx"
    path.write_bytes(small_book())
    assert main(["press", str(path), "--do", "baseline"]) == 0
    assert "Baseline" in Package.open(path.read_bytes()).sheet_names()
    assert "Baseline 1 (as awarded)" in capsys.readouterr().out


# With a live program


@pytest.fixture(scope="module")
def app():
    with open_app() as found:
        yield found


def test_press_does_what_the_button_does_on_a_plain_workbook(app, tmp_path, capsys):
    path, other = tmp_path / "job.xlsx", tmp_path / "other.xlsx"
    content = WorkbookFactory().build()
    path.write_bytes(content)
    other.write_bytes(build_template("US"))
    book, beside = app.books.open(path), app.books.open(other)
    try:
        assert main(["press", str(path)]) == 0
        printed = capsys.readouterr().out
        expected = api.estimate_workbook(api.read_workbook(str(path)))
        assert f"{expected.bid.total:,.2f}" in printed
        assert "job.xlsx is open in Excel: pressing there." in printed
        assert app.impl.alerts == []
        shown = [value for row in book.sheets["Bid"].range("A1:G80").value for value in row]
        numbers = [value for value in shown if isinstance(value, float)]
        assert any(value == pytest.approx(float(expected.bid.total)) for value in numbers)
        assert path.read_bytes() == content, "a press saves nothing"
        assert main(["press", "--check", str(other)]) == 1
        assert "Pipe schedule" in capsys.readouterr().err
    finally:
        book.close()
        beside.close()


def shown_on(sheet):
    """Return what a sheet of an open workbook holds: numbers, texts and days by their cells."""
    rows = sheet.range("A1:T120").value
    return {
        (row, column): value
        for row, values in enumerate(rows, 1)
        for column, value in enumerate(values, 1)
        if value not in (None, "")
    }


def test_pages_after_award_in_an_open_workbook_are_those_of_the_file(app, tmp_path, capsys):
    path, saved = tmp_path / "job.xlsx", tmp_path / "saved.xlsx"
    before = small_under_way()
    for each in (path, saved):
        each.write_bytes(before)
    assert main(["log", str(saved)]) == 0
    book, same = app.books.open(path), app.books.open(saved)
    try:
        assert main(["press", str(path), "--do", "log"]) == 0
        assert "Open rejects: 3, on hold: 6" in capsys.readouterr().out
        assert shown_on(book.sheets["Log summary"]) == shown_on(same.sheets["Log summary"])
        assert main(["press", str(path), "--do", "baseline"]) == 1
        assert "A baseline is written once" in capsys.readouterr().err
        assert path.read_bytes() == before, "a press saves nothing"
        assert (tmp_path / "job.bak.xlsx").exists()
    finally:
        book.close()
        same.close()
