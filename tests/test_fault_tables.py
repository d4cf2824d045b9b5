"""Faults in every table of the examples, and files that are no workbook with every command."""

import contextlib
import io
import os
from functools import cache

import openpyxl
import pytest

from estimator.cli.command import COMMANDS, main
from estimator.errors import InputError
from estimator.inputs.dictionary import input_tables
from estimator.workbook.book import parse_workbook
from tests.estimated import FOLDER
from tests.small_book import small_book
from tests.test_fault_foreign import encrypted

SPILL = "#SPILL!"
INPUTS = frozenset(table.excel_name for table in input_tables())
NO_FILE = ("joint", "functions", "press", "excel-setup", "completion")
"""Commands that ask for no workbook."""
ASKED = {
    "explain": ("R01",),
    "print": ("--for", "client", "-o", "{folder}/set.pdf"),
    "status": ("--date", "2027-03-26"),
    "claim": ("--date", "2027-03-26"),
    "change": ("CO-1", "--with", "{folder}/good.xlsx"),
    "import": ("--into", "{folder}/good.xlsx"),
    "diff": ("{folder}/good.xlsx",),
}
"""What a command needs beside the workbook."""


def with_errors(name, wanted):
    """Return an example with an error value in each cell of the last row of some tables."""
    book, places = openpyxl.load_workbook(FOLDER / f"{name}.xlsx"), []
    for sheet in book:
        for table in sheet.tables.values():
            rows = [row for row in sheet[table.ref] if any(cell.value is not None for cell in row)]
            if not wanted(table.name) or len(rows) < 2:
                continue
            for cell in rows[-1]:
                if not str(cell.value).startswith("="):
                    cell.value, cell.data_type = SPILL, "e"
                    places.append(f"{sheet.title}!{cell.coordinate}:")
    stream = io.BytesIO()
    book.save(stream)
    return stream.getvalue(), places


@pytest.mark.parametrize("name", ["under_way", "county_force_main"])
def test_an_error_value_in_any_input_table_is_named_with_its_cell(name):
    data, places = with_errors(name, INPUTS.__contains__)
    with pytest.raises(InputError) as caught:
        parse_workbook(data)
    reported = [str(problem).replace("'", "") for problem in caught.value.problems]
    assert len(places) > 100
    assert [at for at in places if not any(line.startswith(at) for line in reported)] == []


def test_an_error_value_in_any_site_table_is_named_with_its_cell(tmp_path, capsys):
    data, places = with_errors("under_way", lambda table: table not in INPUTS)
    path = tmp_path / "job.xlsx"
    path.write_bytes(data)
    assert main(["status", str(path), "--date", "2027-03-26"]) == 1
    reported = capsys.readouterr().err.replace("'", "")
    assert len(places) > 50
    assert [at for at in places if at not in reported] == []
    assert path.read_bytes() == data


@cache
def other_workbook():
    stream = io.BytesIO()
    openpyxl.Workbook().save(stream)
    return stream.getvalue()


def make(folder):
    """Make files that no command can take, by what is wrong with them."""
    good = small_book()
    made = {
        "encrypted": encrypted(good),
        "another's": other_workbook(),
        "junk": b"junk" * 100,
        "empty": b"",
        "cut": good[: len(good) // 2],
    }
    for name, data in {**made, "good": good}.items():
        (folder / f"{name}.xlsx").write_bytes(data)
    (folder / "folder.xlsx").mkdir()
    (folder / "loop.xlsx").symlink_to("loop.xlsx")
    return [*made, "folder", "loop", "missing", "x" * 300]


def contents(folder):
    return {path.name: path.read_bytes() for path in folder.iterdir() if path.is_file()}


@pytest.mark.skipif(os.name == "nt", reason="asks for links")
@pytest.mark.parametrize("command", [name for name, *_ in COMMANDS if name not in NO_FILE])
def test_every_command_refuses_what_is_no_job_and_changes_nothing(command, tmp_path, monkeypatch):
    monkeypatch.setenv("HOME", str(tmp_path))
    wrong, names = [], make(tmp_path)
    before = contents(tmp_path)
    more = [text.format(folder=tmp_path) for text in ASKED.get(command, ())]
    for name in names:
        path = str(tmp_path / f"{name}.xlsx")
        asked = [command, path, *more]
        if command == "new":
            asked = ["new", str(tmp_path / "made.xlsx"), "--rates-from", path]
        out, err = io.StringIO(), io.StringIO()
        with contextlib.redirect_stdout(out), contextlib.redirect_stderr(err):
            code = main(asked)
        reported = err.getvalue()
        if code != 1 or not reported.strip() or "fault of the estimator" in reported:
            wrong.append(f"{name}: {code} {reported[-200:]}")
    assert wrong == []
    assert contents(tmp_path) == before
