"""Files in, files out: the only door to the disk. A save succeeds whole or changes nothing."""

import os
import shutil
import stat
import subprocess
import sys
import tempfile
from collections.abc import Callable, Iterator
from contextlib import contextmanager, suppress
from pathlib import Path

from estimator.errors import WorkbookError

SETTINGS_FOLDER = "pe-joint-estimator"
FilePath = str | os.PathLike[str]
CLOSE_IT = "Close it in the spreadsheet program and run again"
BACKUP_MARK = b"Version before, kept by the estimator"
"""Ends the zip comment of each backup: only a file that ends so is ever replaced by another."""

_ZIP_END, _ZIP_END_SIZE = b"PK\x05\x06", 22
_MOST_BACKUPS = 9
TEMPORARY, ASIDE = ".tmp", "-before.tmp"
_LONGEST_PREFIX = 40
Notify = Callable[[str], None]


def silent(text: str) -> None:
    """Say nothing."""
    del text


def read_bytes(path: str) -> bytes:
    """Return the content of a file.

    Raises
    ------
    WorkbookError
        If it is not there or may not be read.
    """
    _refuse_no_name(path)
    try:
        return Path(path).read_bytes()
    except (OSError, ValueError) as error:
        raise WorkbookError(_why_not_read(path, error)) from error


def exists(path: str) -> bool:
    """Return whether there is anything at a path."""
    _refuse_no_name(path)
    return _found(path) is not None


def suffix(path: str) -> str:
    """Return the ending of a file name in lower case, with its point."""
    return Path(path).suffix.lower()


def name_of(path: str) -> str:
    """Return the name of a file without its folders."""
    return Path(path).name


def is_same(path: str, other: str) -> bool:
    """Return whether two paths lead to one file, which need not be there yet."""
    return _real(path) == _real(other)


def save_atomically(path: str, data: bytes, notify: Notify = silent) -> None:
    """Write a file so that it holds either all of the new content or what it held before.

    Permissions and owner of a file that is there are kept; a link is followed. A pipe or a device
    is written to.

    Parameters
    ----------
    path : str
        File to write; its folder must be there.
    data : bytes
        New content.
    notify : callable, optional
        Called with what of the file could not be kept.

    Raises
    ------
    WorkbookError
        If the folder is missing, the file may not be written or is open in another program,
        or the disk is full. The file is then as it was.
    """
    _refuse_no_name(path)
    if _is_stream(path):
        _write_to(path, data)
        return
    target = _target(path)
    with _reported(path), _staged(target, data, target) as fresh:
        _notify_of_changes(path, fresh, target, notify)
        fresh.replace(target)


def refuse_unsavable(path: str) -> None:
    """Refuse a workbook that could not be saved, before any work is done for it.

    Raises
    ------
    WorkbookError
        If its folder is missing, a spreadsheet program has it open, it is read-only or no regular
        file, or its name is too long for a backup beside it.
    """
    _refuse_no_name(path)
    if _is_stream(path):
        raise WorkbookError(f"{path} is a pipe or a device. Name a file to write with -o")
    target = _target(path)
    _refuse_lock(path, target)
    _backup_place(path)


def backup_path(path: str, number: int = 1) -> str:
    """Return where the previous version of a file is kept.

    >>> backup_path("job.xlsx"), backup_path("job.xlsx", 2)
    ('job.bak.xlsx', 'job.bak2.xlsx')
    """
    name, count = Path(path), "" if number == 1 else number
    return str(name.with_name(f"{name.stem}.bak{count}{name.suffix}"))


def settings_path(name: str) -> str:
    """Return where a setting of this user is kept; the folder need not be there yet."""
    home = Path.home()
    folders = {
        "win32": Path(os.environ.get("APPDATA") or home / "AppData" / "Roaming"),
        "darwin": home / "Library" / "Application Support",
    }
    config = Path(os.environ.get("XDG_CONFIG_HOME") or home / ".config")
    return str(folders.get(sys.platform, config) / SETTINGS_FOLDER / name)


def whole_path(path: str) -> str:
    """Return a path from the root of its disk on."""
    return str(_real(path))


def folder_of(path: str) -> str:
    """Return the folder that a file lies in."""
    return str(Path(path).parent)


def beside(path: str, name: str) -> str:
    """Return the path of a file of this name in the folder that another lies in."""
    return str(Path(path).parent / name)


def temporary_path(name: str) -> str:
    """Return a path in the user's folder for temporary files."""
    return str(Path(tempfile.gettempdir()) / name)


def save_with_backup(
    path: str, data: bytes, notify: Notify = silent, read: bytes | None = None
) -> str:
    """Save a file and keep its previous version beside it.

    Parameters
    ----------
    path : str
        File to write; it must be there.
    data : bytes
        New content.
    notify : callable, optional
        Called with what of the file could not be kept, and where the backup is if not at its
        usual place.
    read : bytes, optional
        What the file held when the new content was worked out from it.

    Returns
    -------
    str
        Path of the previous version: ``NAME.bak.xlsx`` for ``NAME.xlsx``, ``NAME.bak2.xlsx``
        where a file that is not ours has that name.

    Raises
    ------
    WorkbookError
        As ``save_atomically``, or if a spreadsheet program has the file open, which would
        later save over the result, or if the file no longer holds what was read. File and backup
        are then as they were.
    """
    refuse_unsavable(path)
    target, place = _target(path), _backup_place(path)
    previous = read_bytes(path)
    with (
        _reported(path),
        _staged(target, data, target) as fresh,
        _staged(place, marked(previous), target) as kept,
    ):
        if read_bytes(path) != (previous if read is None else read):
            raise WorkbookError(
                f"{path} was changed while the estimator was at work. Nothing was written: "
                "run again"
            )
        _notify_of_changes(path, fresh, target, notify)
        with _put_aside(place):
            kept.replace(place)
            fresh.replace(target)
    usual = Path(backup_path(path)).name
    if place.name != usual:
        notify(f"The previous version is {place}: {usual} was not made by the estimator")
    return str(place)


def save_backup(path: str, data: bytes) -> str:
    """Keep a version of a workbook beside it, by the rules of ``save_with_backup``.

    Parameters
    ----------
    path : str
        The workbook, whose file need not be there.
    data : bytes
        The version to keep.

    Returns
    -------
    str
        Where it is.

    Raises
    ------
    WorkbookError
        As ``save_with_backup``. What was there is then as it was.
    """
    like, place = _real(path), _backup_place(path)
    with (
        _reported(str(place)),
        _staged(place, marked(data), like) as kept,
        _put_aside(place),
    ):
        kept.replace(place)
    return str(place)


def made_by(save: Callable[[str], bool], name: str) -> bytes | None:
    """Return what a program saves as a file of some name, in a folder of its own that goes again.

    ``save`` is given the path and returns whether it saved anything; None where it did not.
    """
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / name
        return path.read_bytes() if save(str(path)) else None


@contextmanager
def lent(data: bytes, name: str) -> Iterator[str]:
    """Yield the path of a file with this content, in a folder of its own that goes again."""
    with tempfile.TemporaryDirectory(ignore_cleanup_errors=True) as folder:
        path = Path(folder) / name
        path.write_bytes(data)
        yield str(path)


def marked(data: bytes) -> bytes:
    """Return the bytes of a backup: a zip file with a mark of ours at the end of its comment."""
    at = data.rfind(_ZIP_END)
    comment = data[at + _ZIP_END_SIZE :]
    size = len(comment) + len(BACKUP_MARK)
    length = int.from_bytes(data[at + _ZIP_END_SIZE - 2 : at + _ZIP_END_SIZE], "little")
    if at < 0 or length != len(comment) or size > 0xFFFF or data.endswith(BACKUP_MARK):
        return data
    return data[: at + _ZIP_END_SIZE - 2] + size.to_bytes(2, "little") + comment + BACKUP_MARK


def discard_output() -> None:
    """Send what is printed from now on nowhere, because who read it has gone."""
    nowhere = os.open(os.devnull, os.O_WRONLY)
    with suppress(OSError, ValueError):
        os.dup2(nowhere, sys.stdout.fileno())
    os.close(nowhere)


def make_folder(path: str) -> None:
    """Make a folder, and those above it, where there is none.

    Raises
    ------
    WorkbookError
        If it may not be made.
    """
    try:
        Path(path).mkdir(parents=True, exist_ok=True)
    except OSError as error:
        raise WorkbookError(f"{path} cannot be created: {error.strerror or error}") from error


def delete(path: str) -> None:
    """Delete a file, or a folder if it is empty; what is not there or not empty is left alone.

    Raises
    ------
    WorkbookError
        If it may not be deleted.
    """
    target = Path(path)
    try:
        if not target.is_dir():
            target.unlink(missing_ok=True)
        elif not any(target.iterdir()):
            target.rmdir()
    except OSError as error:
        raise WorkbookError(f"{path} cannot be deleted: {error.strerror or error}") from error


def _refuse_no_name(path: str) -> None:
    """Refuse an empty file name, which the system takes for the folder that one is in."""
    if not path:
        raise WorkbookError("The file name is empty. Give a file name")


def _found(path: str | Path) -> os.stat_result | None:
    """Return what the system knows of a file, None where there is none."""
    try:
        return Path(path).stat()
    except (FileNotFoundError, NotADirectoryError):
        return None
    except (OSError, ValueError) as error:
        raise WorkbookError(_why_not_read(str(path), error)) from error


def _real(path: str) -> Path:
    """Return a path without links, which may lead nowhere but not around."""
    _refuse_no_name(path)
    try:
        return Path(path).resolve()
    except (OSError, RuntimeError, ValueError) as error:
        raise WorkbookError(f"{path} cannot be reached: {_reason(error)}") from error


def _is_stream(path: str) -> bool:
    """Return whether a path leads to a pipe or a device, that is to be written to as it is."""
    found = _found(path)
    if found is None:
        return False
    in_devices = Path(path).absolute().parts[1:2] == ("dev",)
    return in_devices or not (stat.S_ISREG(found.st_mode) or stat.S_ISDIR(found.st_mode))


def _write_to(path: str, data: bytes) -> None:
    with _reported(path), Path(path).open("wb") as stream:
        stream.write(data)


def _target(path: str) -> Path:
    """Return the file that a path leads to, if it may be written."""
    target = _real(path)
    if target.is_dir():
        raise WorkbookError(f"{path} is a folder. Give a file name")
    if not target.parent.is_dir():
        raise WorkbookError(f"{path} cannot be saved. The folder {target.parent} does not exist")
    if exists(str(target)) and not os.access(target, os.W_OK):
        raise WorkbookError(f"{path} is read-only. Allow changes, or save under another name")
    return target


def _refuse_lock(path: str, target: Path) -> None:
    """Refuse a workbook beside which a spreadsheet program has put its mark."""
    for mark in (f"~${target.name}", f".~lock.{target.name}#"):
        if os.path.lexists(target.with_name(mark)):
            raise WorkbookError(
                f"{path} is open in another program. {CLOSE_IT} (if it is not open, delete {mark})"
            )


def _backup_place(path: str) -> Path:
    """Return where a backup may go: where there is nothing, or a backup of ours."""
    for number in range(1, _MOST_BACKUPS + 1):
        place = Path(backup_path(path, number)).absolute()
        if not os.path.lexists(place):
            _must_be_short(place)
            return place
        if place.is_file() and not place.is_symlink() and _is_backup(place):
            return place
    raise WorkbookError(
        f"{path} cannot be saved: {backup_path(path)} to {place.name} were not made by the "
        "estimator. Move them elsewhere"
    )


def _must_be_short(place: Path) -> None:
    """Refuse a name that the system cannot take."""
    with _reported(str(place)), suppress(FileNotFoundError):
        place.lstat()


def _is_backup(place: Path) -> bool:
    with _reported(str(place)), place.open("rb") as stream:
        stream.seek(-min(place.stat().st_size, len(BACKUP_MARK)), os.SEEK_END)
        return stream.read() == BACKUP_MARK


@contextmanager
def _staged(target: Path, data: bytes, like: Path) -> Iterator[Path]:
    """Write a temporary file beside a target, with the permissions and owner of another.

    It is gone at the end unless it was moved; so are those of runs that were killed.
    """
    _clear_stale(target)
    prefix = f"{_prefix(target)}{os.getpid()}-"
    with _reported(str(target)):
        handle, name = tempfile.mkstemp(prefix=prefix, suffix=TEMPORARY, dir=target.parent)
    temporary = Path(name)
    try:
        with _reported(str(target)), os.fdopen(handle, "wb") as stream:
            stream.write(data)
            stream.flush()
            os.fsync(stream.fileno())
        _keep_owner(temporary, like)
        temporary.chmod(_permissions(like))
        yield temporary
    finally:
        temporary.unlink(missing_ok=True)


@contextmanager
def _put_aside(place: Path) -> Iterator[None]:
    """Keep a backup that is there, and put it back if what follows fails."""
    aside = place.with_name(f"{_prefix(place)}{os.getpid()}{ASIDE}")
    there = os.path.lexists(place)
    if there:
        with _reported(str(place)):
            place.replace(aside)
    try:
        yield
    except BaseException:
        if there:
            aside.replace(place)
        else:
            place.unlink(missing_ok=True)
        raise
    aside.unlink(missing_ok=True)


def _prefix(target: Path) -> str:
    """Return how our temporary files for a target begin: short, whatever its name."""
    start = target.name.encode(errors="surrogateescape")[:_LONGEST_PREFIX]
    return f".{start.decode(errors='ignore')}.estimator-"


def _clear_stale(target: Path) -> None:
    """Delete what runs that were killed left behind for a target; a backup set aside goes back."""
    prefix = _prefix(target)
    with suppress(OSError):
        for left in target.parent.iterdir():
            if not (left.name.startswith(prefix) and left.name.endswith(TEMPORARY)):
                continue
            process = left.name.removeprefix(prefix).partition("-")[0]
            if not process.isdecimal() or _runs(int(process)):
                continue
            if left.name.endswith(ASIDE) and not os.path.lexists(target):
                left.replace(target)
            left.unlink(missing_ok=True)


def _runs(process: int) -> bool:
    """Return whether a process may still be at work; Windows itself guards the open files."""
    if os.name == "nt":
        return process == os.getpid()
    try:
        os.kill(process, 0)
    except (ProcessLookupError, OverflowError):
        return False
    except PermissionError:
        return True
    return True


def _keep_owner(fresh: Path, like: Path) -> None:
    if hasattr(os, "chown") and like.exists():
        with suppress(OSError):
            owner = like.stat()
            os.chown(fresh, owner.st_uid, owner.st_gid)


def _notify_of_changes(path: str, fresh: Path, target: Path, notify: Notify) -> None:
    """Say what of a file its replacement cannot have."""
    before = _found(target)
    if before is None:
        return
    after = fresh.stat()
    if (after.st_uid, after.st_gid) != (before.st_uid, before.st_gid):
        notify(
            f"{path}: its owner or group could not be kept; it is now that of the user who ran this"
        )
    if before.st_nlink > 1:
        notify(f"{path}: its other names (hard links) still hold the previous version")


@contextmanager
def _reported(path: str) -> Iterator[None]:
    """Say in the user's words why a file cannot be saved."""
    try:
        yield
    except PermissionError as error:
        raise WorkbookError(
            f"{path} cannot be saved. {CLOSE_IT}, or save to a folder you can write to"
        ) from error
    except (OSError, ValueError) as error:
        raise WorkbookError(f"{path} cannot be saved: {_reason(error)}") from error


OFFICES = ("soffice", "libreoffice")
OFFICE_PLACES = (
    "/Applications/LibreOffice.app/Contents/MacOS/soffice",
    "C:/Program Files/LibreOffice/program/soffice.exe",
    "C:/Program Files (x86)/LibreOffice/program/soffice.exe",
)
OFFICE_SECONDS = 300


def find_office() -> str | None:
    """Return the command of LibreOffice on this machine, None where it is not found."""
    found = next(filter(None, map(shutil.which, OFFICES)), None)
    return found or next((place for place in OFFICE_PLACES if Path(place).is_file()), None)


def as_pdf(office: str, data: bytes, name: str) -> bytes:
    """Return what LibreOffice prints of a workbook.

    It runs by itself, with a profile of its own that is thrown away.

    Parameters
    ----------
    office : str
        Its command, as ``find_office`` gives it.
    data : bytes
        The workbook.
    name : str
        Its file name, which pages show at their foot.

    Raises
    ------
    WorkbookError
        If it fails, says nothing in five minutes, or makes no PDF.
    """
    with tempfile.TemporaryDirectory() as folder:
        source = Path(folder) / "book" / name
        source.parent.mkdir()
        source.write_bytes(data)
        profile = (Path(folder) / "profile").as_uri()
        command = (
            office, f"-env:UserInstallation={profile}", "--headless", "--norestore",
            "--convert-to", "pdf", "--outdir", folder, str(source),
        )  # fmt: skip
        try:
            subprocess.run(command, check=True, capture_output=True, timeout=OFFICE_SECONDS)
            return (Path(folder) / f"{source.stem}.pdf").read_bytes()
        except (OSError, subprocess.SubprocessError) as error:
            raise WorkbookError(f"LibreOffice ({office}) could not print: {error}") from error


def _permissions(target: Path) -> int:
    if target.exists():
        return target.stat().st_mode & 0o7777
    mask = os.umask(0)
    os.umask(mask)
    return 0o666 & ~mask


def _why_not_read(path: str, error: Exception) -> str:
    if isinstance(error, FileNotFoundError):
        return f"{path} was not found"
    if isinstance(error, IsADirectoryError):
        return f"{path} is a folder. Give a file name"
    if isinstance(error, PermissionError):
        return f"{path} cannot be read. {CLOSE_IT}, or ask for permission to read it"
    return f"{path} cannot be read: {_reason(error)}"


def _reason(error: Exception) -> str:
    return (error.strerror if isinstance(error, OSError) else None) or str(error)
