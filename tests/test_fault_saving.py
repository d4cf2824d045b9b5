"""Saving beside others: edits made meanwhile, backups of somebody else's, links, pipes, kills."""

import os
import random
import stat
import subprocess
import sys
import threading
import time
import zipfile
from pathlib import Path

import pytest

from estimator import api, files
from estimator.cli import main, take_off
from estimator.errors import WorkbookError
from estimator.workbook.book import parse_workbook, with_results
from estimator.workbook.package.package import Package
from tests.killed_saves import KILLS, ONE, THREE, TWO, killed_while
from tests.workbook_factory import of_one_run

KILLED_ESTIMATES = 8
ROOT = Path(__file__).parent.parent


@pytest.fixture
def job(tmp_path):
    path = tmp_path / "job.xlsx"
    path.write_bytes(ONE)
    return path


@pytest.fixture
def book(tmp_path):
    path = tmp_path / "book.xlsx"
    path.write_bytes(of_one_run().build())
    return path


def names(folder):
    return sorted(path.name for path in folder.iterdir())


def refuse_to_replace(monkeypatch, name):
    """Let the system refuse to replace one file, as Windows does while a program has it open."""
    replace = Path.replace

    def refuse(self, target):
        if Path(target).name == name:
            raise PermissionError(13, "in use", str(target))
        return replace(self, target)

    monkeypatch.setattr(Path, "replace", refuse)


def test_edits_saved_while_an_estimate_runs_are_kept(book):
    workbook = api.read_workbook(str(book))
    study = api.estimate_workbook(workbook, ranges=False)
    edited = files.marked(workbook.data)
    book.write_bytes(edited)
    with pytest.raises(WorkbookError, match=r"was changed while the estimator was at work.*again"):
        api.write_workbook(workbook, study, str(book))
    assert book.read_bytes() == edited
    assert names(book.parent) == ["book.xlsx"]


@pytest.mark.parametrize("arguments", [["log", "--start"], ["import", "takeoff.csv", "--yes"]])
def test_a_command_that_does_not_estimate_says_nothing_of_estimating(
    arguments, book, monkeypatch, capsys
):
    edited = files.marked(book.read_bytes())
    takeoff = book.with_name("takeoff.csv")
    takeoff.write_text("Line,Size (in),DR,Length (ft)\nA1,12,11,400\n")

    def edit(*_):
        book.write_bytes(edited)

    meanwhile(monkeypatch, api, "with_site_records", edit)
    meanwhile(monkeypatch, take_off, "read_takeoff", edit)
    named = [str(takeoff) if one == takeoff.name else one for one in arguments[1:]]
    target = ["--into", str(book), "--replace"] if named[0] == str(takeoff) else [str(book)]
    assert main([arguments[0], *named, *target]) == 1
    said = capsys.readouterr().err
    assert "was changed while the estimator was at work. Nothing was written: run again" in said
    assert "estimating" not in said
    assert book.read_bytes() == edited


def meanwhile(monkeypatch, module, name, do):
    """Do something each time before a function is called."""
    before = getattr(module, name)

    def called(*given, **named):
        do()
        return before(*given, **named)

    monkeypatch.setattr(module, name, called)


def test_edits_of_the_source_do_not_matter_to_another_file(book):
    workbook = api.read_workbook(str(book))
    study = api.estimate_workbook(workbook, ranges=False)
    book.write_bytes(b"edited")
    out = book.with_name("out.xlsx")
    api.write_workbook(workbook, study, str(book), str(out))
    assert (book.read_bytes(), names(book.parent)) == (b"edited", ["book.xlsx", "out.xlsx"])


@pytest.mark.parametrize("command", ["estimate", "options", "compare"])
def test_a_workbook_that_is_open_is_refused_before_the_work(command, book, capsys, monkeypatch):
    monkeypatch.setattr(api, "read_workbook", lambda path: pytest.fail(f"{path} was read"))
    book.with_name("~$book.xlsx").write_bytes(b"")
    assert main([command, str(book)]) == 1
    assert "is open in another program" in capsys.readouterr().err


def test_a_backup_has_the_permissions_of_the_file(job):
    job.chmod(0o600)
    backup = Path(files.save_with_backup(str(job), TWO))
    assert stat.S_IMODE(backup.stat().st_mode) == stat.S_IMODE(job.stat().st_mode) == 0o600


@pytest.mark.skipif(not hasattr(os, "geteuid") or os.geteuid() != 0, reason="asks for chown")
def test_file_and_backup_keep_their_owner(job):
    os.chown(job, 1234, 2345)
    reported = []
    backup = Path(files.save_with_backup(str(job), TWO, reported.append))
    owners = {(path.stat().st_uid, path.stat().st_gid) for path in (job, backup)}
    assert (owners, reported) == ({(1234, 2345)}, [])


def test_an_owner_that_cannot_be_kept_is_reported(job, monkeypatch):
    def refuse(*given):
        raise PermissionError(1, "not yours")

    before = job.stat()
    if os.geteuid() == 0:
        os.chown(job, 1234, 2345)
    else:
        monkeypatch.setattr(files, "_found", lambda path: changed_owner(before))
    monkeypatch.setattr(os, "chown", refuse)
    reported = []
    files.save_with_backup(str(job), TWO, reported.append)
    assert len(reported) == 1
    assert "owner or group could not be kept" in reported[0]


def changed_owner(found):
    return os.stat_result([*found[:4], found.st_uid + 1, *found[5:10]])


def test_nothing_is_said_of_a_backup_at_its_usual_place(job, monkeypatch):
    monkeypatch.chdir(job.parent)
    reported = []
    files.save_with_backup(job.name, TWO, reported.append)
    files.save_with_backup(job.name, THREE, reported.append)
    assert reported == []


def test_a_backup_never_follows_a_link(job):
    other = job.with_name("precious.xlsx")
    other.write_bytes(THREE)
    job.with_name("job.bak.xlsx").symlink_to(other)
    reported = []
    backup = Path(files.save_with_backup(str(job), TWO, reported.append))
    assert other.read_bytes() == THREE
    assert job.with_name("job.bak.xlsx").is_symlink()
    assert (backup.name, backup.read_bytes()) == ("job.bak2.xlsx", files.marked(ONE))
    assert "job.bak.xlsx was not made by the estimator" in reported[0]


def test_a_link_that_leads_nowhere_is_not_written_through(job):
    job.with_name("job.bak.xlsx").symlink_to(job.with_name("nowhere.xlsx"))
    files.save_with_backup(str(job), TWO)
    assert not job.with_name("nowhere.xlsx").exists()


def test_a_file_of_somebody_else_is_no_backup_of_ours(job):
    job.with_name("job.bak.xlsx").write_bytes(THREE)
    for content, before in ((TWO, ONE), (ONE, TWO), (TWO, ONE)):
        backup = Path(files.save_with_backup(str(job), content))
        assert (backup.name, backup.read_bytes()) == ("job.bak2.xlsx", files.marked(before))
    assert job.with_name("job.bak.xlsx").read_bytes() == THREE
    assert names(job.parent) == ["job.bak.xlsx", "job.bak2.xlsx", "job.xlsx"]


def test_a_version_kept_by_itself_follows_the_same_rules(job):
    precious = job.with_name("precious.xlsx")
    precious.write_bytes(THREE)
    job.with_name("job.bak.xlsx").symlink_to(precious)
    job.chmod(0o600)
    for version in (ONE, TWO):
        backup = Path(files.save_backup(str(job), version))
        assert (backup.name, backup.read_bytes()) == ("job.bak2.xlsx", files.marked(version))
    assert stat.S_IMODE(backup.stat().st_mode) == 0o600
    assert (precious.read_bytes(), job.read_bytes()) == (THREE, ONE)
    assert names(job.parent) == ["job.bak.xlsx", "job.bak2.xlsx", "job.xlsx", "precious.xlsx"]


def test_a_version_is_kept_of_a_workbook_that_is_no_file_yet(tmp_path):
    assert files.save_backup(str(tmp_path / "Book1.xlsx"), ONE) == str(tmp_path / "Book1.bak.xlsx")


def test_what_a_program_saves_is_read_and_gone(tmp_path, monkeypatch):
    monkeypatch.setattr(files.tempfile, "tempdir", str(tmp_path))
    assert files.made_by(lambda path: bool(Path(path).write_bytes(ONE)), "job.xlsm") == ONE
    assert files.made_by(lambda path: False, "job.xlsm") is None
    assert names(tmp_path) == []


def test_nine_files_of_somebody_else_leave_no_room(job):
    for number in range(1, 10):
        Path(files.backup_path(str(job), number)).write_bytes(THREE)
    with pytest.raises(WorkbookError, match=r"job\.bak9\.xlsx were not made by the estimator"):
        files.save_with_backup(str(job), TWO)
    assert job.read_bytes() == ONE


@pytest.mark.parametrize("backup", [files.marked(THREE), None])
def test_a_save_that_fails_leaves_the_backup_as_it_was(job, backup, monkeypatch):
    place = job.with_name("job.bak.xlsx")
    if backup:
        place.write_bytes(backup)
    before = names(job.parent)
    refuse_to_replace(monkeypatch, "job.xlsx")
    with pytest.raises(WorkbookError, match=r"job\.xlsx cannot be saved\. Close it"):
        files.save_with_backup(str(job), TWO)
    assert (job.read_bytes(), names(job.parent)) == (ONE, before)
    assert backup is None or place.read_bytes() == backup


def test_the_mark_of_a_backup_is_a_comment_of_the_zip_file(job):
    backup = files.save_with_backup(str(job), TWO)
    with zipfile.ZipFile(backup) as members:
        assert members.comment == files.BACKUP_MARK
        assert members.read("part") == b"one" * 500
        assert members.testzip() is None


def test_a_backup_put_back_is_a_usual_workbook_again():
    data = of_one_run().build()
    workbook = parse_workbook(files.marked(data))
    study = api.estimate_workbook(workbook, ranges=False)
    assert with_results(workbook, study) == with_results(parse_workbook(data), study)
    assert Package.open(files.marked(data)).sheet_names() == Package.open(data).sheet_names()


def test_other_names_of_a_file_are_reported(job):
    os.link(job, job.with_name("other.xlsx"))
    reported = []
    files.save_with_backup(str(job), TWO, reported.append)
    assert len(reported) == 1
    assert "hard links" in reported[0]
    assert job.with_name("other.xlsx").read_bytes() == ONE


def ended_process():
    with subprocess.Popen([sys.executable, "-c", ""]) as process:
        process.wait()
    return process.pid


def test_what_a_killed_run_left_behind_goes_at_the_next_save(job):
    gone = ended_process()
    for name in ("job.xlsx", "job.bak.xlsx"):
        job.with_name(f".{name}.estimator-{gone}-abc123.tmp").write_bytes(b"half")
    kept = [f".job.xlsx.estimator-{os.getppid()}-abc123.tmp", ".job.xlsx.estimator-2024-notes",
            ".other.xlsx.estimator-1-a.tmp", f"{gone}-mine.tmp"]  # fmt: skip
    for name in kept:
        job.with_name(name).write_bytes(b"not ours, or still at work")
    files.save_with_backup(str(job), TWO)
    assert names(job.parent) == sorted([*kept, "job.bak.xlsx", "job.xlsx"])


def test_a_backup_that_a_killed_run_had_put_aside_comes_back(job, monkeypatch):
    aside = job.with_name(f".job.bak.xlsx.estimator-{ended_process()}-before.tmp")
    aside.write_bytes(files.marked(THREE))
    refuse_to_replace(monkeypatch, "job.xlsx")
    with pytest.raises(WorkbookError):
        files.save_with_backup(str(job), TWO)
    assert job.with_name("job.bak.xlsx").read_bytes() == files.marked(THREE)
    assert names(job.parent) == ["job.bak.xlsx", "job.xlsx"]


@pytest.mark.skipif(not hasattr(os, "mkfifo"), reason="asks for named pipes")
def test_json_onto_a_pipe_is_written_to_it(book):
    pipe = book.with_name("pipe")
    os.mkfifo(pipe)
    got = []
    reader = threading.Thread(target=lambda: got.append(pipe.read_bytes()))
    reader.start()
    assert main(["estimate", str(book), "--json", str(pipe)]) == 0
    reader.join(10)
    assert got[0].startswith(b"{")
    assert stat.S_ISFIFO(pipe.stat().st_mode)


@pytest.mark.skipif(not Path("/dev/null").exists(), reason="asks for devices")
def test_json_onto_a_device_is_written_to_it(book):
    assert main(["estimate", str(book), "--json", "/dev/null"]) == 0
    assert stat.S_ISCHR(Path("/dev/null").stat().st_mode)
    assert [name for name in names(Path("/dev")) if "null." in name] == []


@pytest.mark.skipif(not hasattr(os, "mkfifo"), reason="asks for named pipes")
def test_a_workbook_is_never_saved_onto_a_pipe(book):
    pipe = book.with_name("pipe.xlsx")
    os.mkfifo(pipe)
    assert main(["estimate", str(book), "-o", str(pipe)]) == 1
    assert stat.S_ISFIFO(pipe.stat().st_mode)


def test_names_as_long_as_the_system_takes(tmp_path):
    longest = os.pathconf(tmp_path, "PC_NAME_MAX")
    for letter in ("j", "\u00fc"):
        room = longest - len(".bak.xlsx")
        stem = letter * (room // len(letter.encode()))
        path = tmp_path / f"{stem}.xlsx"
        path.write_bytes(ONE)
        files.save_with_backup(str(path), TWO)
        assert path.read_bytes() == TWO


def test_a_name_too_long_for_its_backup_is_reported_before_the_work(tmp_path):
    path = tmp_path / f"{'j' * (os.pathconf(tmp_path, 'PC_NAME_MAX') - 5)}.xlsx"
    path.write_bytes(ONE)
    with pytest.raises(WorkbookError, match=r"bak\.xlsx cannot be saved: File name too long"):
        files.refuse_unsavable(str(path))


asked = pytest.mark.parametrize(
    "ask", [files.read_bytes, files.exists, files.refuse_unsavable,
            lambda p: files.save_atomically(p, TWO), lambda p: files.save_with_backup(p, TWO)]
)  # fmt: skip


@asked
def test_an_empty_name_is_one_message(ask):
    with pytest.raises(WorkbookError, match=r"^The file name is empty\. Give a file name$"):
        ask("")


@asked
@pytest.mark.parametrize("strange", ["loop", "n" * 3000, "nul\0name"])
def test_paths_that_lead_nowhere_are_one_message(ask, strange, tmp_path):
    (tmp_path / "loop").symlink_to(tmp_path / "loop")
    with pytest.raises(WorkbookError, match=r"cannot be (read|reached|saved)"):
        ask(str(tmp_path / strange))


def test_a_loop_of_links_is_no_file(tmp_path):
    (tmp_path / "loop").symlink_to(tmp_path / "loop")
    with pytest.raises(WorkbookError, match="cannot be reached"):
        files.is_same(str(tmp_path / "loop"), "a")


@pytest.mark.skipif(not hasattr(os, "fork"), reason="asks for fork")
def test_kills_at_random_moments_leave_a_whole_file_and_backup(job):
    killing = [sys.executable, "-m", "tests.killed_saves", str(job)]
    done = subprocess.run(killing, cwd=ROOT, capture_output=True, text=True, check=False)
    assert done.returncode == 0, done.stderr
    assert len(done.stdout.split()) == KILLS
    files.save_with_backup(str(job), TWO)
    assert names(job.parent) == ["job.bak.xlsx", "job.xlsx"]


@pytest.mark.skipif(not hasattr(os, "fork"), reason="asks for fork")
def test_kills_of_an_estimate_leave_the_workbook_before_or_after_it(book, capfd):
    before = book.read_bytes()
    started = time.process_time()
    assert main(["estimate", str(book)]) == 0
    lasted = time.process_time() - started
    after = book.read_bytes()
    chance = random.Random(15)
    for _ in range(KILLED_ESTIMATES):
        book.write_bytes(before)
        killed_while(lambda: main(["estimate", str(book)]), chance.uniform(0, 2 * lasted))
        assert book.read_bytes() in (before, after)
    book.write_bytes(before)
    assert main(["estimate", str(book)]) == 0
    assert names(book.parent) == ["book.bak.xlsx", "book.xlsx"]


def test_a_new_workbook_keeps_what_it_replaces_and_never_an_open_one(tmp_path, capsys):
    path, mark = tmp_path / "job.xlsx", tmp_path / "~$job.xlsx"
    path.write_bytes(b"hours of work")
    asked = ["new", str(path), "--units", "us", "--no-company", "--force"]
    mark.touch()
    assert main(asked) == 1
    assert "is open in another program" in capsys.readouterr().err
    assert path.read_bytes() == b"hours of work"
    mark.unlink()
    assert main(asked) == 0
    assert path.read_bytes().startswith(b"PK")
    assert (tmp_path / "job.bak.xlsx").read_bytes() == b"hours of work"
    assert "job.bak.xlsx" in capsys.readouterr().out
