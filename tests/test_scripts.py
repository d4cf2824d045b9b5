"""The scripts that a user starts: what can be seen without the system that they are for."""

import os
import re
import shlex
import subprocess
import sys
from pathlib import Path

import pytest

ROOT = Path(__file__).parent.parent
MADE = {".venv", "build"}
WINDOWS = sorted(path for path in ROOT.glob("**/*.cmd") if not MADE & set(path.parts))
UNIX = sorted(path for path in ROOT.glob("**/*.command") if not MADE & set(path.parts))
LAUNCHER = re.compile(r"Scripts\\(?!python\.exe)|\b(?:pip|pip3|estimator)(?:\.exe)?\"? +[a-z-]")
"""The small unsigned programs that pip makes: what locked-down offices block first."""
COMMANDS = re.compile(
    r"@?(?:echo\b|rem\b|set\b|setlocal|if\b|goto\b|shift|pause|exit\b|cd\b|pushd|popd|for\b|call\b"
    r"|rmdir\b|py\b|python\b|\)|\"%|:\w+$|start\b)"
)


def ids(path):
    return path.relative_to(ROOT).as_posix()


def lines_of(path):
    """Return the lines of a script for Windows, comments left out."""
    lines = path.read_bytes().decode("ascii").split("\r\n")
    return [line for line in lines if line.strip() and not line.lower().startswith("rem ")]


@pytest.mark.parametrize("path", WINDOWS, ids=ids)
def test_windows_script_has_plain_letters_and_windows_ends_of_line(path):
    data = path.read_bytes()
    assert data.isascii()
    assert data.endswith(b"\r\n")
    assert b"\t" not in data
    assert data.count(b"\n") == data.count(b"\r\n") == data.count(b"\r")
    assert lines_of(path)[0] == "@echo off"
    assert max(map(len, lines_of(path))) < 8000


@pytest.mark.parametrize("path", [*WINDOWS, *UNIX], ids=ids)
def test_no_script_starts_an_unsigned_launcher(path):
    for line in path.read_text("ascii").splitlines():
        if not re.match(r"\s*(?:#|(?:rem|echo|printf)\b)", line, re.IGNORECASE):
            bare = line.replace("-m pip ", "").replace("-m estimator ", "")
            assert not LAUNCHER.search(bare), line


@pytest.mark.parametrize("path", WINDOWS, ids=ids)
def test_every_path_of_a_windows_script_is_quoted(path):
    """A folder such as C:\\My jobs (new) would otherwise end a command or a block."""
    for line in lines_of(path):
        if re.match(r"\s*echo\b", line, re.IGNORECASE):
            continue
        outside = re.sub(r'"[^"]*"', "", line)
        assert line.count('"') % 2 == 0, line
        paths = re.findall(r"%~?[a-z]*[0-9]|%(?!ERRORLEVEL|CODE)[A-Z_]+%", outside)
        assert paths == [], line


@pytest.mark.parametrize("path", WINDOWS, ids=ids)
def test_blocks_and_labels_of_a_windows_script_are_whole(path):
    lines, depth = lines_of(path), 0
    labels = {line.strip()[1:].lower() for line in lines if line.strip().startswith(":")}
    for line in lines:
        text = re.sub(r'"[^"]*"', "", line).strip()
        assert COMMANDS.match(text or '"%') or line.strip().startswith('"%'), line
        for target in re.findall(r"\b(?:goto|call) +:?(\w+)", text, re.IGNORECASE):
            assert target.lower() in labels | {"eof"}, line
        if re.match(r"echo\b", text, re.IGNORECASE):
            assert not depth or not re.search(r"(?<!\^)[()]", text), f"closes its block: {line}"
            assert not re.search(r"(?<!\^)[&|<>]", text), f"not escaped: {line}"
            continue
        depth += text.endswith("(") - text.startswith(")")
        assert depth >= 0, line
    assert depth == 0


def started(path, *arguments):
    """Return what a script for Windows starts in Python, by the few commands that it uses."""
    lines, given, found, number = lines_of(path), list(arguments), [], 0
    while number < len(lines):
        line = lines[number].strip().replace("%~1", given[0] if given else "")
        number += 1
        if line.startswith("if not exist"):
            number = lines.index(")", number) + 1
        if asked := re.match(r'if (not )?"(.*)"=="" (.*)', line):
            line = asked[3] if bool(asked[1]) is not (asked[2] == "") else ""
        if line.startswith("goto "):
            number = lines.index(f":{line[5:]}")
        if line == "shift":
            given = given[1:]
        if line.startswith('"%PYTHON%" -m estimator '):
            found.append(shlex.split(line)[3:])
    return found


def test_the_script_presses_the_open_workbook_or_each_that_is_dropped_onto_it():
    """The command refuses an empty argument, which a double click must not hand on."""
    script = ROOT / "estimate.cmd"
    assert started(script) == [["press"]]
    assert started(script, "a b.xlsx", "c.xlsm") == [["press", "a b.xlsx"], ["press", "c.xlsm"]]


def test_the_linter_sees_what_it_is_there_for():
    """Each fault, planted."""
    assert LAUNCHER.search(r'"%~dp0.venv\Scripts\pip.exe" install x')
    assert LAUNCHER.search(r".venv\Scripts\estimator check")
    assert LAUNCHER.search("pip install x")
    assert not LAUNCHER.search(r'"%~dp0.venv\Scripts\python.exe" -m venv')


@pytest.mark.parametrize("path", UNIX, ids=ids)
def test_unix_script_is_of_good_syntax_and_may_be_run(path):
    data = path.read_bytes()
    assert data.isascii()
    assert data.startswith(b"#!/bin/sh\n")
    assert b"\r" not in data
    assert os.access(path, os.X_OK)
    subprocess.run(["sh", "-n", path], check=True, timeout=30)


def test_a_workbook_handed_to_the_script_is_estimated(tmp_path):
    """A path with blanks and a quote, as an argument and as the Mac writes a dragged one."""
    from tests.small_book import small_book

    folder = tmp_path / "jobs of today"
    folder.mkdir()
    (folder / ".venv").symlink_to(sys.prefix)
    script = folder / "estimate.command"
    script.write_bytes((ROOT / "estimate.command").read_bytes())
    job = folder / "Bob's job.xlsx"
    job.write_bytes(small_book())
    run = subprocess.run(
        ["sh", script, job], capture_output=True, text=True, timeout=120, cwd=tmp_path
    )
    assert (run.returncode, run.stderr) == (0, "")
    assert "is not open in Excel: its file is read." in run.stdout
    first = job.read_bytes()
    assert first != small_book()
    dragged = str(job).replace(" ", "\\ ").replace("'", "\\'") + " \n"
    job.write_bytes(small_book())
    run = subprocess.run(
        ["sh", script], input=dragged, capture_output=True, text=True, timeout=120, cwd=tmp_path
    )
    assert run.returncode == 0, run.stderr
    assert job.read_bytes() == first
    (folder / ".venv").unlink()
    run = subprocess.run(["sh", script, job], capture_output=True, text=True, timeout=60)
    assert run.returncode == 1
    assert "is not set up in this folder" in run.stdout
