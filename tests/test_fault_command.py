"""How the command ends whatever happens: a sentence and an exit code, never a traceback."""

import io
import json
import os
import signal
import subprocess
import sys
from pathlib import Path

import pytest

from estimator import api
from estimator.cli import STOPPED, ending, main
from estimator.workbook.book import parse_workbook
from tests.workbook_factory import of_one_run

NAME = "Leitung \u65e5\u672c \U0001f6a7"
COMMAND = [sys.executable, "-m", "estimator"]


@pytest.fixture
def book(tmp_path):
    path = tmp_path / "job.xlsx"
    path.write_bytes(of_one_run().set("job", "job_name", NAME).build())
    return path


@pytest.fixture
def temporary(tmp_path, monkeypatch):
    """A folder for temporary files of its own."""
    monkeypatch.setattr("tempfile.tempdir", str(tmp_path))
    return tmp_path


def printed_on(encoding, arguments, monkeypatch):
    raw = io.BytesIO()
    monkeypatch.setattr(sys, "stdout", io.TextIOWrapper(raw, encoding=encoding))
    code = main(arguments)
    sys.stdout.flush()
    return code, raw.getvalue().decode(encoding)


def test_a_name_beyond_the_encoding_of_the_screen(book, monkeypatch):
    code, text = printed_on("cp1252", ["estimate", str(book)], monkeypatch)
    assert code == 0
    assert "Leitung \\u65e5\\u672c" in text
    assert parse_workbook(book.read_bytes()).job.cover.job_name == NAME


@pytest.mark.parametrize("encoding", ["cp1252", "ascii", "utf-8"])
def test_json_on_the_screen_holds_in_every_encoding(encoding, book, monkeypatch):
    code, text = printed_on(encoding, ["estimate", str(book), "--json", "-"], monkeypatch)
    assert code == 0
    assert NAME in json.dumps(json.loads(text), ensure_ascii=False)


def test_a_closed_pipe_ends_the_command_quietly(book):
    with subprocess.Popen(
        [*COMMAND, "explain", str(book), "R1"], stdout=subprocess.PIPE, stderr=subprocess.PIPE
    ) as process:
        process.stdout.close()
        errors = process.stderr.read()
    assert (process.returncode, errors) == (ending.NOBODY_READS, b"")


@pytest.mark.skipif(not Path("/dev/full").exists(), reason="asks for a disk that is full")
@pytest.mark.parametrize("asked", [["functions"], ["--help"], ["--version"], ["joint", "--help"]])
def test_a_screen_that_takes_nothing_is_one_sentence(asked):
    with Path("/dev/full").open("w") as full:
        ended = subprocess.run(
            [*COMMAND, *asked], stdout=full, stderr=subprocess.PIPE, text=True, check=False
        )
    said = "The results cannot be printed: No space left on device"
    assert (ended.returncode, ended.stderr.splitlines()) == (ending.BAD_INPUT, [said])


def interrupted(process):
    """Return what a process writes when it is stopped: asked again if Python lost the signal.

    One that comes while an object is cleared away is dropped by Python itself.
    """
    while True:
        process.send_signal(signal.SIGINT)
        try:
            return process.communicate(timeout=10)[1]
        except subprocess.TimeoutExpired:
            continue


@pytest.mark.skipif(os.name == "nt", reason="asks for signals")
def test_an_interrupt_is_one_sentence(book):
    before = book.read_bytes()
    started = [sys.executable, "-c", WAITING, "estimate", str(book)]
    with subprocess.Popen(started, stdout=subprocess.PIPE, stderr=subprocess.PIPE) as process:
        process.stdout.readline()
        errors = interrupted(process)
    assert process.returncode == STOPPED
    assert errors.decode().splitlines() == ["Stopped. No file was left half-written"]
    assert book.read_bytes() == before


def test_an_interrupt_while_the_command_is_loaded_is_one_sentence(monkeypatch, capsys):
    class Interrupted:
        @staticmethod
        def find_spec(*_):
            raise KeyboardInterrupt

    monkeypatch.delitem(sys.modules, "estimator.cli.command", raising=False)
    monkeypatch.setattr(sys, "meta_path", [Interrupted])
    assert main(["--version"]) == STOPPED
    assert capsys.readouterr().err == "Stopped. No file was left half-written\n"


WAITING = """
import signal, sys, time
from estimator import api
from estimator.cli import main

# What is started in the background ignores interrupts, and so does what it starts.
signal.signal(signal.SIGINT, signal.default_int_handler)

def wait(workbook, progress):
    print("begun", flush=True)
    time.sleep(60)

api.estimate_workbook = wait
sys.exit(main(sys.argv[1:]))
"""


@pytest.mark.parametrize(
    ("error", "code", "text"),
    [(MemoryError(), ending.BAD_INPUT, "too little memory"),
     (RuntimeError("what nobody thought of"), ending.OUR_FAULT, "a fault of the estimator")],
)  # fmt: skip
def test_what_nobody_thought_of_is_one_sentence(
    error, code, text, book, temporary, monkeypatch, capsys
):
    def fail(*given, **named):
        raise error

    before = book.read_bytes()
    monkeypatch.setattr(api, "estimate_workbook", fail)
    assert main(["estimate", str(book)]) == code
    reported = capsys.readouterr().err
    assert text in reported
    assert len(reported.splitlines()) == 1
    assert book.read_bytes() == before
    if code == ending.OUR_FAULT:
        report = Path(temporary / ending.REPORT)
        assert str(report) in reported
        assert "what nobody thought of" in report.read_text("utf-8")


def test_a_file_name_that_is_no_text_is_reported(tmp_path, capsys):
    assert main(["check", str(tmp_path / "bad\udcff.xlsx")]) == 1
    assert "was not found" in capsys.readouterr().err


@pytest.mark.parametrize(
    ("arguments", "said"),
    [(["check", ""], "an argument is empty"), (["estimate", "BOOK", "-o", ""], "-o is followed"),
     (["estimate", "BOOK", "--output="], "--output is followed"),
     (["estimate", "--json", "", "BOOK"], "--json is followed"), (["new", ""], "is empty"),
     (["import", "a.csv", "--into", ""], "--into is followed"), (["diff", "BOOK", ""], "is empty")],
)  # fmt: skip
def test_an_empty_argument_is_wrong_usage_and_changes_nothing(arguments, said, book, capsys):
    before = book.read_bytes()
    with pytest.raises(SystemExit, match=r"^2$"):
        main([str(book) if one == "BOOK" else one for one in arguments])
    assert said in capsys.readouterr().err
    assert book.read_bytes() == before
