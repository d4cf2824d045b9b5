"""What every command has in common: help, quiet, JSON, progress, near misses, plurals, endings."""

import argparse
import io
import json
import os
import re
import subprocess
import sys
from pathlib import Path

import pytest

from estimator.cli import STOPPED, ending, main, progress
from estimator.cli.command import COMMANDS, build_parser
from estimator.cli.parser import WRONG_USAGE
from tests.each import each
from tests.small_book import small_book
from workbook_template import build_template, table_sheet

JOINT = ("joint", "--od-system", "IPS", "--size", "8", "--dr", "11")
ONE_OF_MANY = re.compile(
    r"\b1 (runs|joints|butt joints|days|crews|machines|rows|trials|options|scenarios|sheets|cells|"
    r"weeks|months|sticks|segments|problems|warnings|lines|plans|cards|work days)\b"
)


@pytest.fixture(scope="module")
def book(tmp_path_factory):
    path = tmp_path_factory.mktemp("book") / "job.xlsx"
    path.write_bytes(small_book())
    return str(path)


def wrong_usage(capsys, *arguments):
    """Return what is said of a wrong command line, which ends with 2."""
    with pytest.raises(SystemExit, match=r"^2$"):
        main(arguments)
    return capsys.readouterr().err


def test_nothing_given_shows_the_help(capsys):
    assert main([]) == 2
    shown = capsys.readouterr().out
    for name, about, _ in COMMANDS:
        assert re.search(rf"{name}\s+{re.escape(about.split()[0])}", shown), name
    assert "--json" in wrong_usage(capsys, "estimate")


@pytest.mark.parametrize(
    ("arguments", "meant"),
    [
        (["estimat", "job.xlsx"], "there is no command 'estimat'. Did you mean estimate?"),
        (["--quiet", "chek", "job.xlsx"], "Did you mean check?"),
        (["estimate", "job.xlsx", "--jsn", "-"], "Did you mean --json?"),
        (["estimate", "job.xlsx", "--jso", "-"], "Did you mean --json?"),
        (["joint", "--od=IPS", "--size", "8", "--dr", "11"], "Did you mean --od-system?"),
        (["--qui", "check", "job.xlsx"], "Did you mean --quiet?"),
        (["joint", "--od-sytem=IPS", "--size", "8", "--dr", "11"], "Did you mean --od-system?"),
        (["moon"], "there is no command 'moon'. Use one of: new, company, import"),
        (["check", "job.xlsx", "other.xlsx"], "does not take: other.xlsx"),
    ],
)
def test_a_near_miss_is_asked_about(arguments, meant, capsys):
    assert meant in wrong_usage(capsys, *arguments)


def test_an_option_that_is_right_is_not_asked_about(capsys):
    assert "Did you mean" not in wrong_usage(capsys, "joint", "--od-system", "IPS")


def test_quiet_leaves_json_and_problems(book, capsys, tmp_path):
    """Quiet may stand before the command or after it."""
    for arguments in (["--quiet", "check", book], ["check", book, "-q"], [*JOINT, "-q"]):
        assert main(arguments) == 0
        assert capsys.readouterr().out == ""
    assert main(["check", book, "-q", "--json", "-"]) == 0
    assert json.loads(capsys.readouterr().out)["problems"] == []
    assert main(["--quiet", "check", str(tmp_path / "none.xlsx")]) == 1
    assert "none.xlsx" in capsys.readouterr().err


def test_json_goes_to_a_file_or_alone_to_the_screen(book, capsys, tmp_path):
    path = tmp_path / "joint.json"
    assert main([*JOINT, "--json", str(path)]) == 0
    saved = json.loads(path.read_text("utf-8"))
    for arguments in ([*JOINT, "--json"], [*JOINT, "--json", "-"]):
        assert main(arguments) == 0
        assert json.loads(capsys.readouterr().out) == saved
    out = str(tmp_path / "cards.xlsx")
    assert main(["cards", book, "-o", out, "--json", "-"]) == 0
    shown = capsys.readouterr()
    assert json.loads(shown.out)
    assert out in shown.err


def test_json_never_replaces_a_workbook(book, capsys):
    before = Path(book).read_bytes()
    for arguments in (["check", book], ["explain", book, "R01"], ["cards", book]):
        assert main([*arguments, "--json", book]) == 1
        assert "This is the workbook itself" in capsys.readouterr().err
    assert Path(book).read_bytes() == before


@pytest.mark.parametrize("ending", [".xlsx", ".XLSM"])
def test_json_never_replaces_another_workbook(ending, book, capsys, tmp_path):
    other = tmp_path / f"other{ending}"
    other.write_bytes(b"another job")
    for arguments in (["check", book], ["explain", book, "R01"], JOINT):
        assert main([*arguments, "--json", str(other)]) == 1
        assert "is a workbook. Name a file like job.json" in capsys.readouterr().err
    assert other.read_bytes() == b"another job"


def test_bad_input_is_json_too(tmp_path, capsys):
    path = str(tmp_path / "empty.xlsx")
    assert main(["new", path, "--units", "us"]) == 0
    capsys.readouterr()
    assert main(["check", path, "--json", "-"]) == 1
    shown = capsys.readouterr()
    problems = json.loads(shown.out)["problems"]
    assert [f"{one['where']}: {one['message']}" for one in problems] == shown.err.splitlines()


def options_of(name):
    actions = [a for a in build_parser()._actions if isinstance(a, argparse._SubParsersAction)]
    return {o for action in actions[0].choices[name]._actions for o in action.option_strings}


@each("name", [name for name, *_ in COMMANDS])
def test_every_command_can_be_quiet_and_every_result_is_json(name):
    """Those that make no result of a job have no JSON: they write a file, or list."""
    without = {"new", "company", "import", "print", "functions", "press", "excel-setup"}
    given = options_of(name)
    assert "--quiet" in given
    assert ("--json" in given) == (name not in {*without, "completion"})


class Terminal(io.StringIO):
    def isatty(self):
        return True


def test_a_step_and_its_count_are_shown_and_gone_at_the_end(monkeypatch):
    screen, clock = Terminal(), iter(range(100))
    monkeypatch.setattr(sys, "stderr", screen)
    monkeypatch.setattr(progress.time, "monotonic", lambda: next(clock))
    with progress.watched() as watcher:
        watcher.progress(3, 40)
        watcher.step("Trying other crews, machines and shifts")
        watcher.count(2, 9)
    shown = screen.getvalue().split("\r")
    assert shown[1].rstrip() == "Planning runs: 3 of 40"
    assert shown[3].rstrip() == "Trying other crews, machines and shifts: 2 of 9"
    assert (shown[-2].strip(), shown[-1]) == ("", "")
    assert len(shown[-2]) == len(shown[3])


def test_a_count_that_is_soon_over_is_not_shown(monkeypatch):
    screen = Terminal()
    monkeypatch.setattr(sys, "stderr", screen)
    monkeypatch.setattr(progress.time, "monotonic", lambda: 0.0)
    with progress.watched() as watcher:
        watcher.progress(1, 2)
    assert screen.getvalue() == ""


def test_progress_is_for_a_terminal_only(book, capsys):
    assert main(["check", book]) == 0
    assert "Planning" not in capsys.readouterr().err


def test_the_steps_of_a_study_are_counted(book, monkeypatch, tmp_path, capsys):
    heard = []
    monkeypatch.setattr(progress.ProgressLine, "step", lambda self, name: heard.append(name))
    counts = []
    monkeypatch.setattr(
        progress.ProgressLine, "count", lambda self, done, total: counts.append((done, total))
    )
    assert main(["options", book, "-o", str(tmp_path / "out.xlsx")]) == 0
    assert heard[:2] == ["Running risk trials", "Trying other crews, machines and shifts"]
    assert any(done == total > 1 for done, total in counts)


def completed(line):
    """Return what a shell gets when the Tab key is pressed behind a line."""
    environment = {
        **os.environ, "_ARGCOMPLETE": "1", "COMP_LINE": line, "COMP_POINT": str(len(line)),
        "_ARGCOMPLETE_STDOUT_FILENAME": os.devnull, "_ARGCOMPLETE_IFS": " ",
    }  # fmt: skip
    code = (
        "import os, sys; os.dup2(1, 8); os.environ.pop('_ARGCOMPLETE_STDOUT_FILENAME');"
        "from estimator.cli import main; main([])"
    )
    run = subprocess.run(
        [sys.executable, "-c", code], env=environment, capture_output=True, text=True, check=False
    )
    return run.stdout.split()


@pytest.mark.skipif(sys.platform == "win32", reason="file descriptor 8 is that of a Unix shell")
def test_tab_completes_commands_options_and_choices():
    assert completed("estimator esti") == ["estimate"]
    assert completed("estimator estimate --js") == ["--json"]
    assert "dvs2207" in completed("estimator joint --method dv")
    assert completed("estimator new job.xlsx --example pl") == ["plant_piping"]


@each("shell", ["bash", "zsh", "fish", "powershell"])
def test_each_shell_gets_its_lines(shell):
    run = subprocess.run(
        [sys.executable, "-m", "estimator", "completion", shell], capture_output=True, text=True,
        check=True,
    )  # fmt: skip
    assert "estimator" in run.stdout
    assert "_ARGCOMPLETE" in run.stdout


@each(
    "system, size, od",
    [
        ("IPS", "8", "8.625 in  (219.07 mm)"),
        ("DIPS", "8", "9.050 in"),
        ("CTS", "1", "1.125 in"),
        ("ISO", "110", "110.00 mm  (4.331 in)"),
        ("OD", "13.2in", "13.200 in"),
        ("OD", "335mm", "335.00 mm"),
    ],
)
def test_joint_shows_the_units_of_the_pipes_own_system_first(system, size, od):
    """Outside diameters: ASTM F714 8 in IPS 8.625; AWWA C906 8 in DIPS 9.05; ASTM D2737 1.125."""
    screen = io.StringIO()
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(sys, "stdout", screen)
        assert main(["joint", "--od-system", system, "--size", size, "--dr", "11"]) == 0
    line = next(x for x in screen.getvalue().splitlines() if x.startswith("Outside diameter"))
    assert line.removeprefix("Outside diameter").strip().startswith(od)


def test_one_is_not_many(tmp_path, capsys):
    """A job of one run on the screen."""
    rows_of = table_sheet.table_rows
    few = {"schedule": 1, "scenarios": 0, "hydrotests": 0}

    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(
            table_sheet, "table_rows", lambda table, *at: rows_of(table, *at)[: few.get(table)]
        )
        path = tmp_path / "one.xlsx"
        path.write_bytes(build_template("US", "raw_water_main"))
    for arguments in (["check"], ["estimate"], ["explain", "R01"], ["cards"], ["request"]):
        command, *rest = arguments
        assert main([command, str(path), *rest]) == 0, arguments
        shown = capsys.readouterr()
        assert ONE_OF_MANY.search(shown.out + shown.err) is None, arguments


def test_exit_codes_are_those_documented(capsys):
    """The codes that the program gives, beside those that README and help list."""
    codes = {
        ending.DONE, ending.BAD_INPUT, WRONG_USAGE, ending.OUR_FAULT, STOPPED,
        ending.NOBODY_READS,
    }  # fmt: skip
    readme = (Path(__file__).parent.parent / "README.md").read_text("utf-8")
    assert main([]) == WRONG_USAGE
    for text in (readme, capsys.readouterr().out):
        listed = re.search(r"Exit codes: [^.]*\.( Three more: [^.]*\.)?", " ".join(text.split()))
        assert {int(code) for code in re.findall(r"\b(\d+) ", listed[0])} == codes


@pytest.mark.parametrize(("size", "dr"), [("2", "11"), ("24", "11"), ("54", "11")])
def test_values_of_a_joint_are_kept_apart_from_how_sure_they_are(capsys, size, dr):
    """Also a range of forces in both units, broader than the column that others need."""
    assert main(["joint", "--od-system", "IPS", "--size", size, "--dr", dr]) == 0
    lines = [line for line in capsys.readouterr().out.splitlines() if "[" in line]
    places = {line.index("[") for line in lines}
    assert len(places) == 1
    assert all(line[: line.index("[")].endswith("  ") for line in lines)
