"""``estimator excel-setup``: sets in xlwings, for this user, which Python to run.

Nothing here needs Excel, administrator rights or an import of xlwings. What is written is reported
line by line, and kept in such a way that ``--undo`` brings back exactly what was there.
"""

import json
import locale
import ntpath
import posixpath
import shlex
from typing import Any

from estimator import files
from estimator.data_class import dataclass
from estimator.errors import EstimatorError, WorkbookError
from estimator.excel.installed import Python, xlwings_file
from estimator.excel.settings_text import other_settings, setting, with_setting, with_setting_of

INTERPRETER_KEYS = {"win32": "INTERPRETER_WIN", "darwin": "INTERPRETER_MAC"}
INTERPRETER_ANYWHERE = "INTERPRETER"
"""The key that xlwings reads on every system where the system's own key is not set."""
MAC_DATA = "Library/Containers/com.microsoft.Excel/Data"
MAC_SCRIPTS = "Library/Application Scripts/com.microsoft.Excel"
BACKUP, RECORD = ".before-estimator", ".estimator-undo"


@dataclass(frozen=True)
class Place:
    """Where a system keeps what Excel needs to find Python.

    Parameters
    ----------
    platform : str
        As ``sys.platform`` has it: win32 or darwin; another only with a file given by hand.
    config : str
        xlwings' settings file of this user.
    scripts : str
        Folder of the script by which Excel on Mac starts programs; empty elsewhere.
    """

    platform: str
    config: str
    scripts: str = ""

    @property
    def key(self) -> str:
        """Name of the setting that holds the path of Python."""
        return INTERPRETER_KEYS.get(self.platform, INTERPRETER_ANYWHERE)

    @property
    def newline(self) -> bytes:
        """End of line of a new file."""
        return b"\r\n" if self.platform == "win32" else b"\n"


@dataclass(frozen=True)
class Change:
    """One file to write, or to delete where there is no content, and what to say of it."""

    path: str
    content: bytes | None
    text: str


def find_place(platform: str, config: str = "") -> Place:
    """Return where the settings are.

    Parameters
    ----------
    platform : str
        As ``sys.platform`` has it.
    config : str, optional
        A settings file to use instead of the user's own.

    Raises
    ------
    EstimatorError
        If this system has no Excel and no file is given, or Excel on Mac was never started.
    """
    if config:
        return Place(platform, config)
    if platform == "win32":
        return Place(platform, ntpath.join(ntpath.expanduser("~"), ".xlwings", "xlwings.conf"))
    if platform == "darwin":
        return _mac_place(posixpath.expanduser("~"))
    raise EstimatorError(
        "Excel runs only on Windows and Mac. Run excel-setup there. On this system, use the "
        "command on the file: estimator estimate FILE"
    )


def _mac_place(home: str) -> Place:
    data = posixpath.join(home, MAC_DATA)
    if not files.exists(data):
        raise EstimatorError(
            f"The folder {data} does not exist. Start Excel once, quit it, and run again"
        )
    scripts = posixpath.join(home, MAC_SCRIPTS)
    return Place("darwin", posixpath.join(data, "xlwings.conf"), scripts)


def setup_changes(place: Place, python: Python, xlwings_version: str) -> list[Change]:
    """Return what must be written so that Excel starts this Python, in order.

    Raises
    ------
    EstimatorError
        If Excel could not start a Python at such a path, or xlwings is not installed.
    WorkbookError
        If the settings file cannot be read.
    """
    value = _readable_by_excel(place, python.path)
    before = _content(place.config)
    after = with_setting(before or b"", place.key, value, place.newline)
    script = _script(place, xlwings_version)
    if after == before:
        config = Change(place.config, after, f"keep    {place.key} is {python.path} already")
    else:
        config = Change(place.config, after, f"write   {place.key} = {python.path}")
    changed = after != before or script is not None
    kept = _kept_for_undo(place, before, script) if changed else []
    return [*kept, config, *([script] if script else [])]


def undo_changes(place: Place) -> list[Change]:
    """Return what must be written or deleted to bring back what was there before any setup.

    Raises
    ------
    WorkbookError
        If a file of the setup cannot be read.
    """
    if not files.exists(_record_path(place)):
        return []
    record = _read_record(place)
    own = [place.config + BACKUP] if record["existed"] else []
    return [
        _config_undone(place, record),
        *(_deletion(path) for path in (*record["made"], *own, _record_path(place))),
        *(Change(path, None, f"delete  {path} if it is empty") for path in record["folders"]),
    ]


def apply(change: Change) -> None:
    """Make one change.

    Raises
    ------
    WorkbookError
        If the file may not be written or deleted; it is then as it was.
    """
    if change.content is None:
        files.delete(change.path)
    elif _content(change.path) != change.content:
        files.make_folder(_folder(change.path))
        files.save_atomically(change.path, change.content)


def text_before(place: Place) -> str:
    """Return what the settings file holds now, as one line."""
    before = _content(place.config)
    if before is None:
        return "no settings file yet"
    value = setting(before, place.key)
    shown = "not set" if value is None else value.decode(_encoding(place), "replace")
    return f"{place.key} is {shown}; the other {other_settings(before, place.key)} lines are kept"


def missing_libraries(place: Place, python_path: str, xlwings_version: str) -> list[str]:
    """Return the libraries for cell functions that are not where Excel on Windows looks.

    Excel takes the one of its own 32 or 64 bits, from the folder of Python or the one above.
    """
    if place.platform != "win32":
        return []
    folders = (_folder(python_path), _folder(_folder(python_path)))
    names = [f"xlwings{bits}-{xlwings_version}.dll" for bits in (32, 64)]
    return [
        name for name in names if not any(files.exists(f"{folder}/{name}") for folder in folders)
    ]


def _readable_by_excel(place: Place, path: str) -> bytes:
    """Return the path of Python as Excel reads it from its file."""
    if place.platform == "darwin" and shlex.quote(path) != path:
        raise EstimatorError(
            f"Excel on Mac cannot start {path}. The path must have no spaces and only plain "
            "letters. Move the Python environment to another folder and run again"
        )
    try:
        return path.encode(_encoding(place))
    except UnicodeEncodeError as error:
        raise EstimatorError(
            f"Excel cannot read {path} from its settings (encoding {_encoding(place)}). Move the "
            "Python environment to a folder with plain letters and run again"
        ) from error


def _encoding(place: Place) -> str:
    """Return the encoding in which VBA reads text files: the code page of Windows."""
    return locale.getencoding() if place.platform == "win32" else "utf-8"


def _script(place: Place, version: str) -> Change | None:
    """Return the script that Excel on Mac needs, if it is not there."""
    name = f"xlwings-{version}.applescript"
    path = posixpath.join(place.scripts, name)
    if not place.scripts or files.exists(path):
        return None
    return Change(path, xlwings_file(name), f"write   {path}")


def _kept_for_undo(place: Place, before: bytes | None, script: Change | None) -> list[Change]:
    """Return the copy of the settings as they were, and the record by which undo goes."""
    changes = []
    if files.exists(_record_path(place)):
        record = _read_record(place)
    else:
        record = {"existed": before is not None, "made": [], "folders": []}
        if before is not None:
            changes.append(Change(place.config + BACKUP, before, f"copy    {place.config}{BACKUP}"))
    if script:
        record["made"].append(script.path)
    folders = [_folder(place.config), *([place.scripts] if script else [])]
    record["folders"] += [folder for folder in folders if not files.exists(folder)]
    text = json.dumps(record, indent=1)
    message = f"write   {_record_path(place)} (what --undo needs)"
    return [*changes, Change(_record_path(place), text.encode(), message)]


def _config_undone(place: Place, record: dict[str, Any]) -> Change:
    before = files.read_bytes(place.config + BACKUP) if record["existed"] else None
    now = _content(place.config)
    path, key = place.config, place.key
    if now is None or now == before:
        return Change(path, now, f"keep    {path}: {key} was changed since setup")
    value = setting(now, key)
    if value is not None and now == with_setting(before or b"", key, value, place.newline):
        if before is None:
            return Change(path, None, f"delete  {path}: it was not there before")
        return Change(path, before, f"write   {path} as it was")
    text = f"write   {path}: {key} as it was; later changes to other settings are kept"
    return Change(path, with_setting_of(now, key, before or b""), text)


def _deletion(path: str) -> Change:
    return Change(path, None, f"delete  {path}")


def _read_record(place: Place) -> dict[str, Any]:
    path = _record_path(place)
    try:
        record: dict[str, Any] = json.loads(files.read_bytes(path))
    except ValueError as error:
        raise WorkbookError(
            f"{path} is damaged. By hand, replace {place.config} with {place.config}{BACKUP}, if "
            f"it exists, then delete {path}"
        ) from error
    return record


def _record_path(place: Place) -> str:
    return place.config + RECORD


def _content(path: str) -> bytes | None:
    return files.read_bytes(path) if files.exists(path) else None


def _folder(path: str) -> str:
    return ntpath.dirname(path)
