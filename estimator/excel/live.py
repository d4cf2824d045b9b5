"""What the buttons of the workbook do: estimate it, check its inputs, or what comes after award.

``estimate_active``, ``check_active`` and ``after_award_active`` are called from the workbook;
``estimate_book``, ``check_book`` and ``after_award_book`` do the same for any open workbook.
Whatever goes wrong in the inputs is reported as a list, by the first two on the Checks sheet too,
and every other cell stays as it was.

A press starts a fresh Python, so only what speaks to the program is loaded here; the estimator
itself is loaded once the status bar says that the press is under way.
"""

import datetime as dt
from collections.abc import Callable
from functools import partial
from typing import TYPE_CHECKING, Literal

import xlwings as xw

from estimator.errors import WorkbookError
from estimator.excel.macro.native import native
from estimator.excel.macro.session import Outcome, ShowStatus, quiet
from estimator.garbage import end_without_search

if TYPE_CHECKING:
    from estimator.award_actions import Asked

TITLE = "Job estimate"
STARTING = "Starting"
BUSY = (
    "Excel takes no orders now: end the edit of a cell with Enter or Esc, close open dialogs, "
    "and run again"
)
READ_ONLY = "The workbook is open read-only: save it under another name to keep what was written."


end_without_search()

Show = Callable[[xw.Book, Outcome], None]


def estimate_active() -> None:
    """Estimate the workbook whose button was pressed."""
    estimate_book(xw.Book.caller())


def check_active() -> None:
    """Check the inputs of the workbook whose button was pressed."""
    check_book(xw.Book.caller())


def after_award_active(name: str = "", date: str = "") -> None:
    """Do in the workbook whose button was pressed what is chosen on its sheet After award.

    The button of older workbooks, which have no such sheet, names the command and the last day
    that is counted, such as ``2027-06-04``.
    """
    day = dt.date.fromisoformat(date) if date else None
    after_award_book(xw.Book.caller(), name or None, day)


def alert(book: xw.Book, outcome: Outcome) -> None:
    """Show what came of it in a message of the program."""
    mode: Literal["info", "critical"] = "info" if outcome.good else "critical"
    book.app.alert(outcome.text, TITLE, mode=mode)


def estimate_book(book: xw.Book, show: Show = alert) -> bool:
    """Estimate an open workbook and write the result sheets into it.

    Parameters
    ----------
    book : xlwings.Book
        The workbook.
    show : callable, optional
        What says to the user how it went; a message of the program if not given.

    Returns
    -------
    bool
        Whether the results were written.

    Raises
    ------
    WorkbookError
        If the program is busy, so that it cannot be asked anything.
    """
    return _press(book, show, _estimate)


def check_book(book: xw.Book, show: Show = alert) -> bool:
    """Check the inputs of an open workbook by estimating it.

    Nothing is written if they are good, except that a list of problems on the Checks sheet,
    left by an earlier press, is cleared.

    Returns
    -------
    bool
        Whether the inputs are good.

    Raises
    ------
    WorkbookError
        If the program is busy, so that it cannot be asked anything.
    """
    return _press(book, show, _check, writes=False)


def after_award_book(
    book: xw.Book,
    wanted: "Asked | str | None" = None,
    date: dt.date | None = None,
    show: Show = alert,
) -> bool:
    """Do an action after award in an open workbook.

    Parameters
    ----------
    book : xlwings.Book
        The workbook.
    wanted : Asked or str, optional
        What to do, or the name of a command; without it what is chosen on the sheet After award.
    date : date, optional
        Last day that is counted, for a command by its name.
    show : callable, optional
        As for ``estimate_book``.

    Returns
    -------
    bool
        Whether it was done.

    Raises
    ------
    WorkbookError
        If the program is busy, so that it cannot be asked anything.
    """
    return _press(book, show, partial(_after_award, wanted, date))


def _press(
    book: xw.Book,
    show: Show,
    act: Callable[[xw.Book, ShowStatus], Outcome],
    *,
    writes: bool = True,
) -> bool:
    _refuse_if_busy(book)
    with quiet(book) as show_status:
        outcome = act(book, show_status)
    if writes and outcome.good and native(book).is_read_only():
        outcome = Outcome(True, f"{outcome.text}\n\n{READ_ONLY}")
    show(book, outcome)
    return outcome.good


def _refuse_if_busy(book: xw.Book) -> None:
    if native(book).is_busy():
        raise WorkbookError(BUSY)


def _estimate(book: xw.Book, show_status: ShowStatus) -> Outcome:
    show_status(STARTING)
    from estimator.excel.work import estimate_inputs  # the estimator comes with it

    return estimate_inputs(book, show_status)


def _after_award(
    wanted: "Asked | str | None", date: dt.date | None, book: xw.Book, show_status: ShowStatus
) -> Outcome:
    show_status(STARTING)
    from estimator.excel.site_work import pages_after_award  # the estimator comes with it

    return pages_after_award(book, wanted, date, show_status)


def _check(book: xw.Book, show_status: ShowStatus) -> Outcome:
    show_status(STARTING)
    from estimator.excel.work import check_inputs  # the estimator comes with it

    return check_inputs(book, show_status)
