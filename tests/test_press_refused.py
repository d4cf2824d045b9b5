"""Each command after award in an open workbook that refuses: one clear line, nothing written.

The workbook is a stand-in that hands over the bytes of the example under way; no program is needed.
"""

import datetime as dt
from contextlib import nullcontext
from pathlib import Path
from types import SimpleNamespace

import pytest

from estimator.errors import WorkbookError
from estimator.excel import live, site_work
from estimator.excel.macro.native import Native
from estimator.excel.macro.writer import ResultSheets
from estimator.workbook.sheet.names import marker_name
from tests.each import each
from tests.site_book import small_under_way

DAY = dt.date(2027, 3, 26)
ASKED = {
    "status": (DAY, "Status"), "log": (None, "Log summary"), "claim": (DAY, "Claim 1"),
    "request": (None, "Request machines"),
}  # fmt: skip
"""What each command is asked with, and a sheet that it writes; the baseline is there already."""


class Name:
    def __init__(self, name, sheet):
        self.name, self.refers_to = name, f"='{sheet}'!$A$1"


def save_copy(path):
    Path(path).write_bytes(small_under_way())


class OpenBook:
    """An open workbook: names of its sheets, what is protected, and a copy of it as it is now."""

    def __init__(self, ours=(), mine=(), **state):
        self.name, self.written = "job.xlsx", []
        flags = {"ProtectContents": False, "ProtectionMode": False}
        self.sheets = [
            SimpleNamespace(name=name, api=SimpleNamespace(**(flags | state)))
            for name in (*ours, *mine)
        ]
        self.names = [Name(marker_name(name), name) for name in ours]
        self.app = SimpleNamespace(engine=SimpleNamespace(name="another"))
        self.api = SimpleNamespace(SaveCopyAs=save_copy, **state)


@pytest.fixture
def pressed(monkeypatch, tmp_path):
    """Return what presses a command in a workbook and says what came of it."""

    def press(book, name):
        def write(sheets, specs, show_status):
            book.written = [spec.name for spec in specs.values()]
            return []

        monkeypatch.setattr(ResultSheets, "write", write)
        monkeypatch.setattr(site_work, "keep_copy", lambda _: str(tmp_path / "job.bak.xlsx"))
        return site_work.pages_after_award(book, name, ASKED[name][0], lambda text: None)

    return press


def is_one_line(text):
    return text.count("\n") == 0 and not text.startswith("Inputs need attention")


@each("name", ASKED)
def test_a_protected_page_is_named_and_nothing_is_written(name, pressed):
    book = OpenBook(ours=[ASKED[name][1]], ProtectContents=True)
    outcome = pressed(book, name)
    assert not outcome.good
    assert outcome.text.startswith(f"Protected: {ASKED[name][1]}. Choose Review, Unprotect Sheet")
    assert is_one_line(outcome.text)
    assert book.written == []


@each("name", ASKED)
def test_a_workbook_that_takes_no_new_sheet_says_so(name, pressed):
    book = OpenBook(ProtectStructure=True)
    outcome = pressed(book, name)
    assert not outcome.good
    assert "protected against new sheets" in outcome.text
    assert is_one_line(outcome.text)
    assert book.written == []


@each("name", ASKED)
def test_a_sheet_of_the_user_is_left(name, pressed):
    book = OpenBook(mine=[ASKED[name][1]])
    outcome = pressed(book, name)
    assert not outcome.good
    assert f"Sheet '{ASKED[name][1]}' is yours" in outcome.text
    assert book.written == []


@each("name", ASKED)
def test_a_program_that_gives_no_copy_names_the_command(name, pressed):
    """As Excel for Mac."""
    book = OpenBook()
    del book.api.SaveCopyAs
    outcome = pressed(book, name)
    assert not outcome.good
    assert f"Save and close it, then run estimator {name} FILE" in outcome.text


@each("name", ASKED)
def test_a_refused_copy_is_one_line(name, pressed):
    def refuse(path):
        raise RuntimeError("the disk is full")

    book = OpenBook()
    book.api.SaveCopyAs = refuse
    outcome = pressed(book, name)
    assert not outcome.good
    assert "the disk is full" in outcome.text
    assert is_one_line(outcome.text)


@each("name", [name for name in ASKED if name != "request"])
def test_a_workbook_that_may_be_written_is(name, pressed):
    """What the tests above would not tell from a command that always refuses.

    A request brings sheets to fill in from another book, which takes a program.
    """
    book = OpenBook()
    assert pressed(book, name).good
    assert ASKED[name][1] in book.written


@each("name", [*ASKED, "baseline"])
def test_an_open_cell_edit_is_reported_at_once(name, monkeypatch):
    monkeypatch.setattr(Native, "is_busy", lambda _: True)
    with pytest.raises(WorkbookError, match="end the edit of a cell with Enter or Esc"):
        live.after_award_book(OpenBook(), name, DAY)


def test_a_read_only_workbook_is_written_and_the_message_says_where_it_stays(monkeypatch):
    good = live.Outcome(True, "Status of 26 March")
    monkeypatch.setattr(live, "quiet", lambda _: nullcontext(print))
    said = []
    for read_only in (False, True):
        book = OpenBook(ReadOnly=read_only)
        monkeypatch.setattr(live, "_after_award", lambda *_: good)
        assert live.after_award_book(book, "status", DAY, lambda _, outcome: said.append(outcome))
        monkeypatch.setattr(live, "_check", lambda *_: good)
        assert live.check_book(book, lambda _, outcome: said.append(outcome))
    assert [live.READ_ONLY in one.text for one in said] == [False, False, True, False]
