"""What each action after award makes of a workbook: sheets, input sheets to add, cells, rows.

The commands of the same names do this to a file. Nothing here speaks to a spreadsheet program.
"""

from collections.abc import Callable, Mapping, Sequence
from dataclasses import field
from functools import partial
from typing import TYPE_CHECKING

from estimator import after_award, files
from estimator.after_award import CHANGE_ORDERS, NO_RECORDS, PAST_JOBS, QUOTES, Cells
from estimator.award_actions import Asked
from estimator.data_class import dataclass
from estimator.display import show_date
from estimator.errors import InputError, Problem
from estimator.workbook.book import Pages, Workbook, parse_workbook
from estimator.workbook.package.package import Package
from estimator.workbook.sheet.spec import SheetSpec

if TYPE_CHECKING:
    from estimator.progress.past import Suggestion
    from estimator.workbook.package.fill_cells import Typed
    from estimator.workbook.package.table_rows import TableRows

FILL_IN = "Fill in the yellow cells of: {names}"


@dataclass(frozen=True)
class Work:
    """What is to be written into a workbook, and what is said of it.

    ``add`` are sheets that the user fills in, ``cells`` and ``rows`` go into the user's sheets.
    """

    says: tuple[str, ...] = ()
    pages: Pages | None = None
    add: tuple[SheetSpec, ...] = ()
    cells: "Mapping[str, Mapping[str, Typed]]" = field(default_factory=dict)
    rows: "tuple[TableRows, ...]" = ()


def of_pages(pages: Pages) -> Work:
    """Return the work of writing pages."""
    return Work(pages.says, pages)


def of_cells(cells: Cells) -> Work:
    """Return the work of filling cells."""
    return Work(cells.says, cells=cells.cells)


def of_sheets(specs: Sequence[SheetSpec]) -> Work:
    """Return the work of adding sheets to fill in."""
    return Work((FILL_IN.format(names=", ".join(one.name for one in specs)),), add=tuple(specs))


def inputs_changed(workbook: Workbook, work: Work) -> bytes:
    """Return the file with what the work does to the user's side of it, by the files' own rules.

    Raises
    ------
    InputError, WorkbookError
        As the command does: a formula or a filled cell in the way, a sheet that is there already.
    """
    data = workbook.data
    if work.add:
        data = Package.open(data).add_sheets(work.add)
    if work.cells:
        data = Package.open(data).fill_cells(work.cells)
    for rows in work.rows:
        data = Package.open(data).put_table_rows(rows)
    return data


def work_of(workbook: Workbook, asked: Asked) -> Work:
    """Return what an action makes of a workbook; not for the look-ahead, which estimates.

    Raises
    ------
    EstimatorError
        With all that is wrong.
    """
    return WORK[asked.action.name](workbook, asked)


def _status(workbook: Workbook, asked: Asked) -> Work:
    assert asked.date is not None  # it is needed, see ACTIONS
    ways = None
    if asked.action.flag:
        ways = partial(after_award.options_from, workbook)
    return of_pages(after_award.status_pages(workbook, asked.date, ways)[1])


def _claim(workbook: Workbook, asked: Asked) -> Work:
    assert asked.date is not None  # it is needed, see ACTIONS
    return of_pages(after_award.claim_pages(workbook, asked.date)[1])


def _update(workbook: Workbook, asked: Asked) -> Work:
    more = after_award.log_rows_to_add(workbook)
    return Work(more.says, cells=more.cells, rows=more.tables)


def _join(workbook: Workbook, asked: Asked) -> Work:
    given = [(files.name_of(path), files.read_bytes(path)) for path in asked.files]
    cells, left_out = after_award.logger_cells(workbook, given)
    return Work((*cells.says, *map(str, left_out)), cells=cells.cells)


def _request(workbook: Workbook, asked: Asked) -> Work:
    found, pages = after_award.request_pages(workbook, asked.date)
    day = asked.date or workbook.job.cover.estimate_date
    says = (*pages.says, f"Order on {show_date(day, workbook.job.cover.unit_system)}")
    add = () if found.has_quotes else tuple(_apart(workbook, QUOTES))
    return Work(says, pages, add)


def _take_quote(workbook: Workbook, asked: Asked) -> Work:
    (text,) = asked.details
    if not text.isdecimal():
        raise InputError([Problem("Take a quote", f"{text!r} is not a row number of Quotes")])
    return of_cells(after_award.quote_taken(workbook, int(text)))


def _change(workbook: Workbook, asked: Asked) -> Work:
    number, path = asked.details[0], asked.files[0]
    other = parse_workbook(files.read_bytes(path))
    return of_cells(after_award.change_priced(workbook, other, number, asked.date)[1])


def _suggested(workbook: Workbook, asked: Asked) -> "Sequence[Suggestion]":
    closed = [(files.name_of(path), parse_workbook(files.read_bytes(path))) for path in asked.files]
    return after_award.past_suggestions(workbook, closed)


def _past(workbook: Workbook, asked: Asked) -> Work:
    return of_pages(after_award.past_pages(workbook, _suggested(workbook, asked)))


def _take_past(workbook: Workbook, asked: Asked) -> Work:
    found = _suggested(workbook, asked)
    present = workbook.job.task_times
    return of_cells(after_award.past_taken(present, workbook.places, found, asked.details[0]))


def _apart(workbook: Workbook, name: str) -> Sequence[SheetSpec]:
    return after_award.sheets_with(workbook, NO_RECORDS, name)


WORK: Mapping[str, Callable[[Workbook, Asked], Work]] = {
    "Status": _status,
    "Status with options": _status,
    "Baseline": lambda book, _: of_pages(after_award.baseline_pages(book)[1]),
    "New baseline": lambda book, asked: of_pages(
        after_award.baseline_pages(book, "; ".join(asked.details))[1]
    ),
    "Field cards": lambda book, _: of_pages(after_award.card_pages(book)[1]),
    "Start site records": lambda book, _: of_sheets(after_award.sheets_to_start(book)),
    "Update site records": _update,
    "Log summary": lambda book, _: of_pages(after_award.log_summary_pages(book)[1]),
    "Log pages": lambda book, asked: of_pages(after_award.log_print_pages(book, asked.details)),
    "Join data logger": _join,
    "Start change orders": lambda book, _: of_sheets(_apart(book, CHANGE_ORDERS)),
    "Progress claim": _claim,
    "Price a change": _change,
    "Rental request": _request,
    "Take a quote": _take_quote,
    "Start past jobs": lambda book, _: of_sheets(_apart(book, PAST_JOBS)),
    "Past job times": _past,
    "Take past times": _take_past,
}
"""What makes the work of each action; the look-ahead is an estimate."""
