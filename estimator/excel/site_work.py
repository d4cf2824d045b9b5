"""What a press does after award: the action that was chosen, in the open workbook.

The commands do this to a file. The open workbook is read from a copy that the program saves of it
as it is now, so that every way of reading a workbook, and every refusal, is that of a file.
"""

import datetime as dt
from collections.abc import Mapping

import xlwings as xw

from estimator import files
from estimator.award_actions import PARTS, SEPARATOR, Asked, asked, of_command
from estimator.data_class import dataclass
from estimator.display import UnitSystem, show_date
from estimator.errors import EstimatorError, InputError, Problem, WorkbookError
from estimator.excel.award_work import Work, inputs_changed, work_of
from estimator.excel.macro.native import names_of, read_area
from estimator.excel.macro.open_inputs import OpenInputs
from estimator.excel.macro.problems import ATTENTION, first_of, list_of, problems_of
from estimator.excel.macro.session import Outcome, ShowStatus, about_copy, copy_of, keep_copy
from estimator.excel.macro.source import raw_cell
from estimator.excel.macro.writer import ResultSheets
from estimator.excel.work import estimate_inputs
from estimator.workbook.book import Workbook, parse_workbook
from estimator.workbook.sheet.areas import parse_area
from estimator.workbook.sheet.names import sheet_of
from estimator.workbook.sheet.source import CellValue

NO_COPY = (
    "This program cannot hand over the open workbook as it is now. Save and close it, then run "
    "estimator {typed} FILE"
)
NO_CHOICE = (
    "This workbook has no sheet After award. From outside: estimator press --do status --date "
    "2027-06-04, or any other command after award"
)
CHOSEN: Mapping[str, str] = {"do": "award_do", **{part: f"award_{part}" for part in PARTS}}
"""Names of the cells of the sheet After award in which an action is chosen."""


@dataclass(frozen=True)
class _Entry:
    """A cell of the sheet After award."""

    where: str
    value: CellValue

    @property
    def text(self) -> str:
        """What stands in it as text; a whole number as it was typed."""
        value = self.value
        if isinstance(value, float) and value.is_integer():
            value = int(value)
        return "" if value is None else str(value).strip()

    @property
    def texts(self) -> tuple[str, ...]:
        """The texts in it, which semicolons separate."""
        return tuple(part.strip() for part in self.text.split(SEPARATOR) if part.strip())


def pages_after_award(
    book: xw.Book, wanted: Asked | str | None, date: dt.date | None, show_status: ShowStatus
) -> Outcome:
    """Do an action after award in an open workbook, or report what is wrong.

    Parameters
    ----------
    book : xlwings.Book
        The workbook.
    wanted : Asked or str, optional
        What to do, or the name of a command; without it what is chosen on the sheet After award.
    date : date, optional
        Last day that is counted, for a command by its name.
    show_status : callable
        Shows how far it is.
    """
    try:
        found = of_command(wanted, date) if isinstance(wanted, str) else wanted or chosen(book)
        if found.action.command == "lookahead":
            return estimate_inputs(book, show_status, found.date)
        return _written(book, found, show_status)
    except WorkbookError as error:
        return Outcome(False, str(error))
    except EstimatorError as error:
        return Outcome(False, f"{ATTENTION}.\n\n{list_of(problems_of(error))}")


def chosen(book: xw.Book) -> Asked:
    """Return the action that is chosen on the sheet After award.

    Raises
    ------
    WorkbookError
        If there is no such sheet.
    InputError
        With every cell that is wrong.
    """
    entries = {key: _entry(book, name) for key, name in CHOSEN.items()}
    date = entries["date"].value
    if date is not None and not isinstance(date, dt.date):
        message = f"{entries['date'].text!r} is not a date. Enter it as a date, not as text"
        raise InputError([Problem(entries["date"].where, message)])
    return asked(
        entries["do"].text,
        date,
        entries["detail"].texts,
        tuple(_whole_path(book, path) for path in entries["files"].texts),
        {key: entry.where for key, entry in entries.items()},
    )


def _entry(book: xw.Book, name: str) -> _Entry:
    found = names_of(book).get(name)
    reference = "" if found is None else found.refers_to or ""
    sheet, area = sheet_of(reference), parse_area(reference.rpartition("!")[2])
    if sheet is None or area is None:
        raise WorkbookError(NO_CHOICE)
    ((value,),) = read_area(book.sheets[sheet], area)
    cell = raw_cell(sheet, area.top, area.left, value)
    shown = cell.value.date() if isinstance(cell.value, dt.datetime) else cell.value
    return _Entry(cell.where, shown)


def _whole_path(book: xw.Book, path: str) -> str:
    """Return a path; one that does not begin at the root of a disk is seen from the workbook."""
    try:
        return files.beside(book.fullname, path)
    except xw.XlwingsError:  # the workbook has no folder here
        return path


def _written(book: xw.Book, wanted: Asked, show_status: ShowStatus) -> Outcome:
    show_status("Reading the workbook")
    data = copy_of(book)
    if data is None:
        return Outcome(False, NO_COPY.format(typed=wanted.action.typed))
    read = parse_workbook(data)
    show_status(wanted.action.name)
    work = work_of(read, wanted)
    made = inputs_changed(read, work)
    sheets, inputs = ResultSheets(book), OpenInputs(book)
    keys = list(work.pages.makers) if work.pages else []
    names = {key: sheets.name_of(key) for key in keys}
    sheets.refuse_protected([*names.values(), *(spec.name for spec in work.add)])
    sheets.refuse_others(list(names.values()))
    inputs.refuse_protected(list(work.cells), work.rows)
    specs = dict(zip(keys, work.pages.specs(read.places, names), strict=True)) if work.pages else {}
    copy = keep_copy(book)
    try:
        inputs.write(work.cells, work.rows, work.add, made)
        notes = inputs.kept_if(lambda: sheets.write(specs, show_status))
        notes += sheets.put_on_paper(read.job.pages, read.places)
    except WorkbookError as error:
        return Outcome(False, "\n\n".join([str(error), about_copy(copy)]))
    says = [_title(wanted, read), *work.says, *_where(work, names)]
    return Outcome(True, "\n".join([*says, *first_of(notes), about_copy(copy)]))


def _title(wanted: Asked, read: Workbook) -> str:
    """Return what was done, with what was chosen for it: a value left from before would show."""
    system: UnitSystem = read.job.cover.unit_system
    used = [] if wanted.date is None else [show_date(wanted.date, system)]
    others = (*wanted.details, *map(files.name_of, wanted.files))
    return ", ".join([wanted.action.name, *used, *others])


def _where(work: Work, names: Mapping[str, str]) -> list[str]:
    filled = [*work.cells, *(rows.table.replace("_", " ") for rows in work.rows)]
    written = [*names.values(), *(spec.name for spec in work.add), *filled]
    if not written:
        return []
    return [f"{'Sheet' if len(written) == 1 else 'Sheets'}: {', '.join(written)}"]
