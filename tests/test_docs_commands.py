"""Every command that a page shows is one that the program has, and runs."""

import csv
import io
import re
import shlex
from pathlib import Path

import openpyxl
import pytest

from estimator.cli import main
from estimator.cli.command import build_parser
from tests.each import each
from tests.site_book import small_under_way, started
from tests.small_book import small_book
from tests.test_docs import DOCS, ROOT, subcommands
from tests.test_logger_file import CSV, mapped
from workbook_template import build_template

PAGES = (*sorted(DOCS.glob("*.md")), ROOT / "README.md", ROOT / "CONTRIBUTING.md")
FENCE = re.compile(r"^ *```\n(.*?)^ *```$", re.MULTILINE | re.DOTALL)
BACKTICK = re.compile(r"`(make [^`]+)`")
INLINE = re.compile(r"`estimator ([a-z][^`]*)`")
TAKEOFF = ROOT / "examples/county_force_main_takeoff.csv"
WHOLE_JOB = (ROOT / "examples/raw_water_main.xlsx").read_bytes
ELSEWHERE = {
    "print": ("test_print", '"print"'),
    "press": ("test_press", '"press"'),
    "excel-setup": ("test_excel_setup", "def run(*arguments)"),
    "joint": ("test_examples", "joint(example.ask, capsys)"),
}
"""Commands that need a program or are compared with values: the test that runs them."""


def shown():
    """Yield the page and words of each command in a block."""
    for page in PAGES:
        for block in FENCE.findall(page.read_text("utf-8")):
            for line in block.splitlines():
                if line.strip().startswith("estimator "):
                    yield page.name, tuple(shlex.split(line, comments=True)[1:])


def mentioned():
    """Yield the page and words of each command inside a sentence."""
    for page in PAGES:
        for text in INLINE.findall(page.read_text("utf-8")):
            yield page.name, tuple(text.split())


SHOWN = sorted({words for _, words in shown()})
PARSER = build_parser()
CHOICES = next(a.choices for a in PARSER._actions if a.choices and a.dest != "version")


@each("page, words", [*shown(), *mentioned()])
def test_a_command_that_is_named_has_these_options(page, words):
    if "--do" in words:  # behind it stands another command with its own options
        words = words[words.index("--do") + 1 :]
    assert words[0] in subcommands(), page
    known = {option for action in CHOICES[words[0]]._actions for option in action.option_strings}
    given = {word.partition("=")[0] for word in words if re.match(r"--\w", word)}
    assert given - known == set(), page


def with_sheet(data, name):
    """Return a workbook with a takeoff pasted on a sheet of its own."""
    book = openpyxl.load_workbook(io.BytesIO(data)) if data else openpyxl.Workbook()
    sheet = book.create_sheet(name)
    for line in csv.reader(TAKEOFF.read_text("utf-8-sig").splitlines()):
        sheet.append(line)
    out = io.BytesIO()
    book.save(out)
    return out.getvalue()


def files_for(words):
    """Return the files that a command needs, by the names on the page."""
    command, options = words[0], set(words)
    names = [word for word in words if re.fullmatch(r"\w+\.(xlsx|csv)", word)]
    if command == "new":
        return {"last.xlsx": small_book()}
    if command == "import":
        blank = build_template("US")
        made = {"quantities.xlsx": with_sheet(b"", "Pipes"), names[-1]: blank}
        if "Pasted" in options:
            made[names[-1]] = with_sheet(blank, "Pasted")
        return made | {name: TAKEOFF.read_bytes() for name in names if name.endswith(".csv")}
    if command in {"status", "claim", "change"} or "--rebase" in options:
        return dict.fromkeys(names, small_under_way())
    if command == "past":
        return dict.fromkeys(names, small_under_way()) | {names[0]: small_book()}
    if "--logger" in options:
        return {names[0]: mapped(), names[1]: CSV.encode()}
    if command == "log" and "--start" not in options:
        return dict.fromkeys(names, started())
    if command == "explain":
        return dict.fromkeys(names, WHOLE_JOB())
    return dict.fromkeys(names, small_book())


def asked(words):
    """Return the arguments to run: an import that would ask takes every reading as guessed."""
    more = ("--yes",) if words[0] == "import" and "--yes" not in words else ()
    return [*words, *more]


@pytest.mark.parametrize("words", [w for w in SHOWN if w[0] not in ELSEWHERE], ids=" ".join)
def test_a_command_that_is_shown_runs(words, tmp_path, monkeypatch, capsys):
    monkeypatch.chdir(tmp_path)
    monkeypatch.setenv("XDG_CONFIG_HOME", str(tmp_path / "config"))
    monkeypatch.setenv("APPDATA", str(tmp_path / "config"))
    for name, data in files_for(words).items():
        Path(name).write_bytes(data)
    assert main(asked(words)) == 0, capsys.readouterr().err


@each("test, call", sorted(ELSEWHERE.values()))
def test_a_command_that_is_run_elsewhere_is(test, call):
    assert call in (ROOT / "tests" / f"{test}.py").read_text("utf-8")


def test_the_makefile_has_what_the_pages_make():
    targets = set(re.findall(r"^([\w-]+):", (ROOT / "Makefile").read_text("utf-8"), re.MULTILINE))
    pages = (*PAGES, ROOT / "DEVELOPERS.md", ROOT / "benchmarks/README.md")
    named = {
        target
        for page in pages
        for block in (
            *FENCE.findall(page.read_text("utf-8")),
            *BACKTICK.findall(page.read_text("utf-8")),
        )
        for target in re.findall(r"^make ([a-z]+)\b", block, re.MULTILINE)
    }
    assert {"demo", "site", "pictures"} <= named
    assert named - targets == set()
