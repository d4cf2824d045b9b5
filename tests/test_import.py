"""``estimator import``: asks, refuses, writes, and keeps what it learnt."""

import re
import shutil

import openpyxl
import pytest

from estimator import files
from estimator.cli import main, take_off
from tests.each import each
from tests.small_book import small_book
from tests.takeoffs import FOLDER, blank_book, schedule

MAP = "tables.map.csv"


@pytest.fixture
def job(tmp_path):
    path = tmp_path / "job.xlsx"
    path.write_bytes(blank_book("US"))
    return path


@pytest.fixture
def takeoff(tmp_path):
    return shutil.copy(FOLDER / "fitting_rows.csv", tmp_path / "takeoff.csv")


def run(job, takeoff, *options):
    return main(["import", str(takeoff), "--into", str(job), *options])


def test_guesses_that_nobody_confirmed_are_not_taken(job, takeoff, capsys):
    before = job.read_bytes()
    assert run(job, takeoff) == 1
    out = capsys.readouterr()
    assert job.read_bytes() == before
    assert "--yes" in out.err
    assert "Read as" in out.out
    assert [path.name for path in job.parent.iterdir() if "bak" in path.name] == []


def test_with_yes_the_runs_are_written_and_the_readings_kept(job, takeoff, capsys):
    before = job.read_bytes()
    assert run(job, takeoff, "--yes") == 0
    assert [row["Run"] for row in schedule(job.read_bytes())] == ["F1", "F2"]
    assert job.with_name("job.bak.xlsx").read_bytes() == files.marked(before)
    assert "2 runs with 14 fittings" in capsys.readouterr().out
    job.write_bytes(before)
    assert run(job, takeoff) == 0, "what was confirmed once is not asked again"


def test_a_draft_that_the_user_has_confirmed_is_taken(job, takeoff):
    path = job.with_name(MAP)
    assert run(job, takeoff, "--map", str(path)) == 1
    text = path.read_text("utf-8-sig")
    assert ",no," in text
    path.write_text(text.replace(",no,", ",yes,").replace("HDD,pullback", "HDD,slipline"), "utf-8")
    assert run(job, takeoff, "--map", str(path)) == 0
    assert schedule(job.read_bytes())[1]["Placement"] == "slipline"


def test_rows_that_are_there_are_replaced_or_added_to_only_when_asked(job, takeoff, capsys):
    job.write_bytes(small_book())
    runs = len(schedule(small_book()))
    assert run(job, takeoff, "--yes") == 1
    assert "--replace" in capsys.readouterr().err
    assert run(job, takeoff, "--yes", "--append") == 0
    assert [row["Run"] for row in schedule(job.read_bytes())][runs:] == ["F1", "F2"]
    assert run(job, takeoff, "--yes", "--replace") == 0
    assert [row["Run"] for row in schedule(job.read_bytes())] == ["F1", "F2"]


def test_a_name_that_is_there_already_is_reported_with_the_foreign_cell(job, takeoff, capsys):
    assert run(job, takeoff, "--yes") == 0
    before = job.read_bytes()
    assert run(job, takeoff, "--yes", "--append") == 1
    assert "takeoff.csv!A2: run F1" in capsys.readouterr().err
    assert job.read_bytes() == before


def test_a_sheet_of_the_job_itself(job, capsys):
    book = openpyxl.load_workbook(job)
    sheet = book.create_sheet("Takeoff")
    for row in (["Run", "Dia", "SDR", "LF"], ["Q1", 12, 17, 480]):
        sheet.append(row)
    book.save(job)
    assert run(job, job, "--yes") == 1
    assert "--sheet" in capsys.readouterr().err
    assert run(job, job, "--yes", "--sheet", "Takeoff") == 0
    (row,) = schedule(job.read_bytes())
    assert (row["Run"], row["Size"], row["Length"]) == ("Q1", "12", 480)


def test_bad_input_writes_nothing(job, tmp_path, capsys):
    path = tmp_path / "bad.csv"
    path.write_text("Run,Size,DR,Length\nA,12,17,eight\nB,99,17,80\n", "utf-8")
    before = job.read_bytes()
    assert run(job, path, "--yes") == 1
    err = capsys.readouterr().err
    assert "bad.csv!D2" in err
    assert "bad.csv!B3" in err
    assert "2 problems, nothing was written" in err
    assert job.read_bytes() == before
    assert not path.with_name("bad.csv.map.csv").exists()


def at_terminal(monkeypatch, *replies):
    lines = iter(replies)
    monkeypatch.setattr(take_off, "_at_terminal", lambda: True)
    monkeypatch.setattr("builtins.input", lambda _: next(lines))


def test_at_a_terminal_each_reading_can_be_changed(job, takeoff, monkeypatch, capsys):
    at_terminal(monkeypatch, "n")
    assert run(job, takeoff) == 1
    shown = capsys.readouterr().out.splitlines()
    number = next(line.split()[0] for line in shown if " HDD " in line)
    at_terminal(monkeypatch, number, "slipline", "y")
    assert run(job, takeoff) == 0
    assert schedule(job.read_bytes())[1]["Placement"] == "slipline"


def test_at_a_terminal_a_wrong_answer_is_reported_and_asked_again(
    job, takeoff, monkeypatch, capsys
):
    at_terminal(monkeypatch, "5", "Sizes", "y")
    assert run(job, takeoff) == 0
    assert "'Sizes' is not a choice" in capsys.readouterr().err


def test_the_sums_are_reported_to_be_held_against_the_table(job, takeoff, capsys):
    """By hand: 1,800 + 420 ft; 8 + 3 + 2 + 1 fittings."""
    assert run(job, takeoff, "--yes") == 0
    out = capsys.readouterr().out
    assert "2 runs, 2,220 ft, 14 fittings" in out
    assert re.search(r"F1 +12 in IPS +17 +1,800 ft +trench +12", out)


@each("replies", [("5", "Sizes", "n"), ("999",), ("",)])
def test_at_a_terminal_a_slip_changes_nothing(replies, tmp_path_factory):
    folder = tmp_path_factory.mktemp("slip")
    job = folder / "job.xlsx"
    job.write_bytes(blank_book("US"))
    takeoff = shutil.copy(FOLDER / "fitting_rows.csv", folder / "takeoff.csv")
    with pytest.MonkeyPatch.context() as patch:
        at_terminal(patch, *replies)
        assert run(job, takeoff) == 1
    assert job.read_bytes() == blank_book("US")


def test_a_file_that_is_not_there_is_named(job, tmp_path, capsys):
    assert run(job, tmp_path / "none.csv", "--yes") == 1
    assert "none.csv was not found" in capsys.readouterr().err
