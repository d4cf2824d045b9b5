"""Saving files: whole or not at all, with real failures of the file system."""

import contextlib
import io
import os
import resource
import stat
import tempfile
import zipfile
from pathlib import Path

import pytest

from estimator import files
from estimator.errors import WorkbookError


def zipped(text):
    """Return a zip file, as each workbook is one."""
    content = io.BytesIO()
    with zipfile.ZipFile(content, "w") as members:
        members.writestr("part", text)
    return content.getvalue()


OLD, NEW = zipped("the version before"), zipped("the version after" * 1000)
NOBODY = 65534


@contextlib.contextmanager
def ordinary_user():
    """Give up the rights of the system's administrator, to whom nothing is read-only."""
    if os.geteuid() != 0:
        yield
        return
    os.setresuid(NOBODY, NOBODY, 0)
    try:
        yield
    finally:
        os.seteuid(0)
        os.setresuid(0, 0, 0)


@contextlib.contextmanager
def full_disk(limit=1000):
    """Let no file grow beyond a limit, as on a disk that is full."""
    soft, hard = resource.getrlimit(resource.RLIMIT_FSIZE)
    resource.setrlimit(resource.RLIMIT_FSIZE, (limit, hard))
    try:
        yield
    finally:
        resource.setrlimit(resource.RLIMIT_FSIZE, (soft, hard))


@pytest.fixture
def job(tmp_path):
    path = tmp_path / "job.xlsx"
    path.write_bytes(OLD)
    return path


def names(folder):
    return sorted(path.name for path in folder.iterdir())


def test_save_replaces_the_content_and_leaves_nothing_else(job):
    files.save_atomically(str(job), NEW)
    assert files.read_bytes(str(job)) == NEW
    assert names(job.parent) == ["job.xlsx"]


def test_save_makes_a_new_file_with_usual_permissions(tmp_path):
    before = os.umask(0o022)
    try:
        files.save_atomically(str(tmp_path / "new.xlsx"), NEW)
    finally:
        os.umask(before)
    assert stat.S_IMODE((tmp_path / "new.xlsx").stat().st_mode) == 0o644


def test_save_keeps_the_permissions(job):
    job.chmod(0o640)
    files.save_atomically(str(job), NEW)
    assert stat.S_IMODE(job.stat().st_mode) == 0o640


def test_save_follows_a_link(job):
    link = job.with_name("link.xlsx")
    link.symlink_to(job)
    files.save_atomically(str(link), NEW)
    assert link.is_symlink()
    assert job.read_bytes() == NEW


def test_save_with_backup_keeps_the_previous_version(job):
    backup = files.save_with_backup(str(job), NEW)
    assert (Path(backup).name, Path(backup).read_bytes()) == ("job.bak.xlsx", files.marked(OLD))
    assert job.read_bytes() == NEW
    files.save_with_backup(str(job), OLD)
    assert Path(backup).read_bytes() == files.marked(NEW)
    assert names(job.parent) == ["job.bak.xlsx", "job.xlsx"]


def test_backup_of_a_macro_workbook_keeps_its_ending(tmp_path):
    path = tmp_path / "a job.v2.xlsm"
    path.write_bytes(OLD)
    assert Path(files.save_with_backup(str(path), NEW)).name == "a job.v2.bak.xlsm"


def test_a_full_disk_leaves_the_file_as_it_was(job):
    with full_disk(), pytest.raises(WorkbookError, match=r"job\.xlsx cannot be saved"):
        files.save_atomically(str(job), NEW)
    assert job.read_bytes() == OLD
    assert names(job.parent) == ["job.xlsx"]


def test_a_full_disk_leaves_file_and_backup_as_they_were(job):
    job.write_bytes(NEW)
    backup = job.with_name("job.bak.xlsx")
    backup.write_bytes(files.marked(OLD))
    with full_disk(), pytest.raises(WorkbookError, match=r"job\.bak\.xlsx cannot be saved"):
        files.save_with_backup(str(job), OLD)
    assert (job.read_bytes(), backup.read_bytes()) == (NEW, files.marked(OLD))
    assert names(job.parent) == ["job.bak.xlsx", "job.xlsx"]


def test_a_file_that_another_program_holds_open_is_left_as_it_was(job, monkeypatch):
    # Only Windows refuses to replace an open file; elsewhere the refusal has to be made up.
    def refuse(self, target):
        raise PermissionError(13, "in use", str(target))

    monkeypatch.setattr(Path, "replace", refuse)
    with pytest.raises(WorkbookError, match=r"Close it in the spreadsheet program and run again"):
        files.save_atomically(str(job), NEW)
    assert job.read_bytes() == OLD
    assert names(job.parent) == ["job.xlsx"]


@pytest.fixture
def open_folder():
    """A folder that every user may reach."""
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        folder.chmod(0o777)
        yield folder


def test_a_read_only_file_is_left_as_it_was(open_folder):
    path = open_folder / "job.xlsx"
    path.write_bytes(OLD)
    path.chmod(0o444)
    with ordinary_user(), pytest.raises(WorkbookError, match=r"is read-only\. Allow changes"):
        files.save_atomically(str(path), NEW)
    assert path.read_bytes() == OLD
    assert names(open_folder) == ["job.xlsx"]


def test_a_read_only_folder_is_left_as_it_was(open_folder):
    path = open_folder / "job.xlsx"
    path.write_bytes(OLD)
    path.chmod(0o666)
    open_folder.chmod(0o555)
    with ordinary_user(), pytest.raises(WorkbookError, match="a folder you can write to"):
        files.save_atomically(str(path), NEW)
    open_folder.chmod(0o777)
    assert path.read_bytes() == OLD
    assert names(open_folder) == ["job.xlsx"]


def test_a_file_that_may_not_be_read_is_reported(open_folder):
    path = open_folder / "job.xlsx"
    path.write_bytes(OLD)
    path.chmod(0o000)
    with ordinary_user(), pytest.raises(WorkbookError, match=r"cannot be read\. Close it"):
        files.read_bytes(str(path))


def test_missing_files_and_folders_are_reported(tmp_path):
    with pytest.raises(WorkbookError, match=r"job\.xlsx was not found"):
        files.read_bytes(str(tmp_path / "job.xlsx"))
    with pytest.raises(WorkbookError, match=r"folder .*nowhere does not exist"):
        files.save_atomically(str(tmp_path / "nowhere" / "job.xlsx"), NEW)
    with pytest.raises(WorkbookError, match=r"job\.xlsx was not found"):
        files.save_with_backup(str(tmp_path / "job.xlsx"), NEW)


def test_a_folder_in_place_of_a_file_is_reported(tmp_path):
    with pytest.raises(WorkbookError, match=r"is a folder\. Give a file name"):
        files.read_bytes(str(tmp_path))
    with pytest.raises(WorkbookError, match=r"is a folder\. Give a file name"):
        files.save_atomically(str(tmp_path), NEW)


def test_is_same_sees_through_links_and_other_spellings(job):
    link = job.with_name("link.xlsx")
    link.symlink_to(job)
    other = job.parent / ".." / job.parent.name / "job.xlsx"
    assert files.is_same(str(job), str(link))
    assert files.is_same(str(job), str(other))
    assert not files.is_same(str(job), str(job.with_name("new.xlsx")))
    assert files.exists(str(job))
    assert not files.exists(str(job.with_name("new.xlsx")))


# Excel marks an open job.xlsx with ~$job.xlsx, LibreOffice with .~lock.job.xlsx#.
@pytest.mark.parametrize("mark", ["~$job.xlsx", ".~lock.job.xlsx#"])
def test_save_with_backup_refuses_a_workbook_that_is_open(tmp_path, mark):
    path = tmp_path / "job.xlsx"
    path.write_bytes(OLD)
    (tmp_path / mark).write_bytes(b"")
    with pytest.raises(WorkbookError, match=r"is open in another program\. Close it"):
        files.save_with_backup(str(path), NEW)
    assert path.read_bytes() == OLD
    assert not (tmp_path / "job.bak.xlsx").exists()
