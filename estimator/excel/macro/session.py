"""Work in an open workbook without disturbing it: settings, status bar, view, and a copy."""

from collections.abc import Callable, Iterator
from contextlib import ExitStack, contextmanager

import xlwings as xw

from estimator import files
from estimator.data_class import dataclass
from estimator.errors import WorkbookError
from estimator.excel.macro.native import native
from estimator.garbage import few_collections

ShowStatus = Callable[[str], None]

QUIET = {"screen_updating": False, "enable_events": False, "calculation": "manual"}
"""Settings of the program while its workbook is read and written."""
OURS = "Estimate: "
"""Before our texts on the status bar, so that one left by a press that was killed is known."""
STEPS_SHOWN = 20
USUAL_ENDING = ".xlsx"
NO_BACKUP = "No backup of the workbook could be saved."


@dataclass(frozen=True)
class Outcome:
    """What the user sees at the end."""

    good: bool
    text: str


@contextmanager
def quiet(book: xw.Book) -> Iterator[ShowStatus]:
    """Hold redrawing, events and calculation; yield what shows a text on the status bar.

    Everything is put back in any case, the sheet and the cells in view too. Where the user
    calculates by hand, the program is asked to calculate once before the inputs are read, and
    once after.
    """
    app = book.app
    with ExitStack() as stack, few_collections():
        before = app.status_bar
        of_user = isinstance(before, str) and not before.startswith(OURS)
        usual = before if of_user else False
        stack.callback(setattr, app, "status_bar", usual)
        by_hand = app.calculation == "manual"
        if by_hand:
            app.calculate()
        for setting, value in QUIET.items():
            stack.callback(setattr, app, setting, getattr(app, setting))
            setattr(app, setting, value)
        if by_hand:
            stack.callback(app.calculate)
        sheet, selection = book.sheets.active, book.selection
        stack.callback(_show, sheet, selection)

        def show_status(text: str) -> None:
            app.status_bar = OURS + text

        yield show_status


def _show(sheet: xw.Sheet, selection: xw.Range | None) -> None:
    sheet.activate()
    if selection is not None and selection.sheet == sheet:
        selection.select()


def progress(show_status: ShowStatus) -> Callable[[int, int], None]:
    """Return what says how many runs are planned, some twenty times altogether."""
    shown = -1

    def show(done: int, total: int) -> None:
        nonlocal shown
        step = done * STEPS_SHOWN // max(total, 1)
        if step != shown:
            shown = step
            show_status(f"Planning run {done} of {total}")

    return show


def keep_copy(book: xw.Book) -> str:
    """Keep a copy of the workbook as it is now, because a macro cannot be undone.

    A workbook in a folder of this computer gets ``NAME.bak.xlsx`` beside it, by the rules of every
    backup: no link is followed, and no file is replaced that is not a backup of ours. One that was
    never saved, or that the program has from an address (a synced cloud folder), has its copy in
    the user's folder for temporary files; so has one whose own folder may not be written to.

    Returns
    -------
    str
        Where the copy is; empty where the program cannot save one and there is no file to copy.
        A file that is copied instead of the open workbook has its last saved state.

    Raises
    ------
    WorkbookError
        If no copy could be saved.
    """
    original, data = _file_of(book), copy_of(book)
    if data is None:
        if not original:
            return ""
        data = files.read_bytes(original)
    failures = []
    for place in filter(None, (original, files.temporary_path(_name_of(book)))):
        try:
            return files.save_backup(place, data)
        except WorkbookError as error:
            failures.append(str(error))
    raise WorkbookError(f"{NO_BACKUP} {'; '.join(failures)}")


def about_copy(copy: str) -> str:
    """Return what is said of the backup that was kept, or that there is none."""
    if copy:
        return f"Backup of the workbook before this run: {copy}"
    return "No backup was kept. This program cannot back up a workbook that has never been saved."


def copy_of(book: xw.Book) -> bytes | None:
    """Return the workbook as it is now, unsaved changes included, as the bytes of a file.

    None where the program cannot save a copy.

    Raises
    ------
    WorkbookError
        If the program refuses to.
    """
    try:
        return files.made_by(native(book).save_copy, _name_of(book))
    except Exception as error:  # the program's own kind of error
        raise WorkbookError(f"{NO_BACKUP} {error}") from error


def _name_of(book: xw.Book) -> str:
    return book.name if "." in book.name else book.name + USUAL_ENDING


def _file_of(book: xw.Book) -> str:
    """Return the path of the workbook's file, empty if it is not in a folder here."""
    if native(book).is_online():
        return ""
    try:
        path = book.fullname
    except xw.XlwingsError:
        return ""
    return path if files.exists(path) else ""
