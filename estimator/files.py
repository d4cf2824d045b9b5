"""Files in, files out: the only door to the disk. A save succeeds whole or changes nothing."""

import os
import sys
import tempfile
from pathlib import Path

from estimator.errors import WorkbookError

SETTINGS_FOLDER = "pe-joint-estimator"
FilePath = str | os.PathLike[str]
CLOSE_IT = "Close it in the spreadsheet program and run again"


def read_bytes(path: str) -> bytes:
    """Return the content of a file.

    Raises
    ------
    WorkbookError
        If it is not there or may not be read.
    """
    try:
        return Path(path).read_bytes()
    except OSError as error:
        raise WorkbookError(_why_not_read(path, error)) from error


def exists(path: str) -> bool:
    """Return whether there is anything at a path."""
    return Path(path).exists()


def suffix(path: str) -> str:
    """Return the ending of a file name in lower case, with its point."""
    return Path(path).suffix.lower()


def name_of(path: str) -> str:
    """Return the name of a file without its folders."""
    return Path(path).name


def is_same(path: str, other: str) -> bool:
    """Return whether two paths lead to one file, which need not be there yet."""
    return Path(path).resolve() == Path(other).resolve()


def save_atomically(path: str, data: bytes) -> None:
    """Write a file so that it holds either all of the new content or what it held before.

    The permissions of a file that is there are kept; a link is followed.

    Parameters
    ----------
    path : str
        File to write; its folder must be there.
    data : bytes
        New content.

    Raises
    ------
    WorkbookError
        If the folder is missing, the file may not be written or is open in another program,
        or the disk is full. The file is then as it was.
    """
    target = Path(path).resolve()
    if target.is_dir():
        raise WorkbookError(f"{path} is a folder. Give a file name")
    if not target.parent.is_dir():
        raise WorkbookError(f"{path} cannot be saved. The folder {target.parent} does not exist")
    if target.exists() and not os.access(target, os.W_OK):
        raise WorkbookError(f"{path} is read-only. Allow changes, or save under another name")
    try:
        _replace(target, data)
    except PermissionError as error:
        raise WorkbookError(
            f"{path} cannot be saved. {CLOSE_IT}, or save to a folder you can write to"
        ) from error
    except OSError as error:
        raise WorkbookError(f"{path} cannot be saved: {error.strerror or error}") from error


def backup_path(path: str) -> str:
    """Return where the previous version of a file is kept.

    >>> backup_path("job.xlsx")
    'job.bak.xlsx'
    """
    name = Path(path)
    return str(name.with_name(f"{name.stem}.bak{name.suffix}"))


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
    return str(Path(path).resolve())


def folder_of(path: str) -> str:
    """Return the folder that a file lies in."""
    return str(Path(path).parent)


def temporary_path(name: str) -> str:
    """Return a path in the user's folder for temporary files."""
    return str(Path(tempfile.gettempdir()) / name)


def save_with_backup(path: str, data: bytes) -> str:
    """Save a file and keep its previous version beside it.

    Parameters
    ----------
    path : str
        File to write; it must be there.
    data : bytes
        New content.

    Returns
    -------
    str
        Path of the previous version: ``NAME.bak.xlsx`` for ``NAME.xlsx``.

    Raises
    ------
    WorkbookError
        As ``save_atomically``, or if a spreadsheet program has the file open, which would
        later save over the result; the file is then as it was.
    """
    name = Path(path)
    lock = next((mark for mark in _lock_marks(name.resolve()) if mark.exists()), None)
    if lock is not None:
        raise WorkbookError(
            f"{path} is open in another program. {CLOSE_IT} (if it is not open, delete {lock.name})"
        )
    backup = backup_path(path)
    previous = read_bytes(path)
    save_atomically(backup, previous)
    save_atomically(path, data)
    return backup


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


def _lock_marks(path: Path) -> tuple[Path, ...]:
    """Return the files by which spreadsheet programs mark a workbook that they have open."""
    return tuple(path.with_name(name) for name in (f"~${path.name}", f".~lock.{path.name}#"))


def _replace(target: Path, data: bytes) -> None:
    handle, name = tempfile.mkstemp(prefix=f".{target.name}.", suffix=".tmp", dir=target.parent)
    temporary = Path(name)
    try:
        with os.fdopen(handle, "wb") as stream:
            stream.write(data)
            stream.flush()
            os.fsync(stream.fileno())
        temporary.chmod(_permissions(target))
        temporary.replace(target)
    except BaseException:
        temporary.unlink(missing_ok=True)
        raise


def _permissions(target: Path) -> int:
    if target.exists():
        return target.stat().st_mode & 0o7777
    mask = os.umask(0)
    os.umask(mask)
    return 0o666 & ~mask


def _why_not_read(path: str, error: OSError) -> str:
    if isinstance(error, FileNotFoundError):
        return f"{path} was not found"
    if isinstance(error, IsADirectoryError):
        return f"{path} is a folder. Give a file name"
    if isinstance(error, PermissionError):
        return f"{path} cannot be read. {CLOSE_IT}, or ask for permission to read it"
    return f"{path} cannot be read: {error.strerror or error}"
