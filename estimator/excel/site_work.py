"""What a press does after award: the pages of a job under way, into the open workbook.

The commands of the same names do this to a file. The open workbook is read from a copy that the
program saves of it as it is now, so that every way of reading a workbook is that of a file.
"""

import datetime as dt
from collections.abc import Callable, Mapping

import xlwings as xw

from estimator.after_award import (
    baseline_pages,
    claim_pages,
    log_summary_pages,
    request_pages,
    status_pages,
)
from estimator.data_class import dataclass
from estimator.errors import EstimatorError, WorkbookError
from estimator.excel.macro.problems import ATTENTION, first_of, list_of, problems_of
from estimator.excel.macro.session import Outcome, ShowStatus, about_copy, copy_of, keep_copy
from estimator.excel.macro.writer import ResultSheets
from estimator.workbook.book import Pages, ReadBook, parse_workbook

NO_COPY = (
    "This program cannot hand over the open workbook as it is now. Save and close it, then run "
    "estimator {name} FILE"
)
NO_DATE = "{name} needs a date: the last day that is counted"


@dataclass(frozen=True)
class Command:
    """What makes the pages of a command, and whether it counts to a day."""

    make: Callable[[ReadBook, dt.date], Pages]
    dated: bool = False


COMMANDS: Mapping[str, Command] = {
    "baseline": Command(lambda book, _: baseline_pages(book)[1]),
    "status": Command(lambda book, date: status_pages(book, date)[1], dated=True),
    "log": Command(lambda book, _: log_summary_pages(book)[1]),
    "claim": Command(lambda book, date: claim_pages(book, date)[1], dated=True),
    "request": Command(lambda book, _: request_pages(book)[1]),
}


def pages_after_award(
    book: xw.Book, name: str, date: dt.date | None, show_status: ShowStatus
) -> Outcome:
    """Write the sheets of one of the ``COMMANDS`` as ``live.after_award_book`` is asked to.

    What is wrong, its name and its date among it, is in the outcome; nothing is raised.
    """
    if name not in COMMANDS:
        return Outcome(False, f"{name!r} is none of {', '.join(COMMANDS)}")
    if COMMANDS[name].dated and date is None:
        return Outcome(False, NO_DATE.format(name=name.capitalize()))
    try:
        return _written(book, name, date or dt.date.max, show_status)
    except WorkbookError as error:
        return Outcome(False, str(error))
    except EstimatorError as error:
        return Outcome(False, f"{ATTENTION}.\n\n{list_of(problems_of(error))}")


def _written(book: xw.Book, name: str, date: dt.date, show_status: ShowStatus) -> Outcome:
    show_status("Reading the workbook")
    data = copy_of(book)
    if data is None:
        return Outcome(False, NO_COPY.format(name=name))
    read = parse_workbook(data)
    pages = COMMANDS[name].make(read, date)
    sheets = ResultSheets(book)
    names = {key: sheets.name_of(key) for key in pages.makers}
    sheets.refuse_protected(list(names.values()))
    sheets.refuse_others(list(names.values()))
    specs = pages.specs(read.places, names)
    made = dict(zip(pages.makers, specs, strict=True))
    copy = keep_copy(book)
    notes = sheets.write(made, show_status)
    where = f"{'Sheet' if len(names) == 1 else 'Sheets'}: {', '.join(names.values())}"
    return Outcome(True, "\n".join([*pages.says, where, *first_of(notes), about_copy(copy)]))
