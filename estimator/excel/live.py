"""What the buttons of the workbook do: estimate it, check its inputs, or write pages after award.

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
from typing import Literal

import xlwings as xw

from estimator.errors import WorkbookError
from estimator.excel.macro.native import native
from estimator.excel.macro.session import Outcome, ShowStatus, quiet

TITLE = "Job estimate"
STARTING = "Starting"
BUSY = (
    "Excel takes no orders now: end the edit of a cell with Enter or Esc, close open dialogs, "
    "and run again"
)
READ_ONLY = "The workbook is open read-only: save it under another name to keep what was written."


Show = Callable[[xw.Book, Outcome], None]


def estimate_active() -> None:
    """Estimate the workbook whose button was pressed."""
    estimate_book(xw.Book.caller())


def check_active() -> None:
    """Check the inputs of the workbook whose button was pressed."""
    check_book(xw.Book.caller())


def after_award_active(name: str, date: str = "") -> None:
    """Write the pages of a command after award into the workbook whose button was pressed.

    ``date`` is the last day that is counted, such as ``2027-06-04``.
    """
    after_award_book(xw.Book.caller(), name, dt.date.fromisoformat(date) if date else None)


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
    book: xw.Book, name: str, date: dt.date | None = None, show: Show = alert
) -> bool:
    """Write the pages of a command after award into an open workbook.

    Parameters
    ----------
    book : xlwings.Book
        The workbook.
    name : str
        The command: ``baseline``, ``status``, ``log``, ``claim`` or ``request``.
    date : date, optional
        Last day that is counted, for ``status`` and ``claim``.
    show : callable, optional
        As for ``estimate_book``.

    Returns
    -------
    bool
        Whether the pages were written.

    Raises
    ------
    WorkbookError
        If the program is busy, so that it cannot be asked anything.
    """
    return _press(book, show, partial(_after_award, name, date))


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
    name: str, date: dt.date | None, book: xw.Book, show_status: ShowStatus
) -> Outcome:
    show_status(STARTING)
    from estimator.excel.site_work import pages_after_award  # the estimator comes with it

    return pages_after_award(book, name, date, show_status)


def _check(book: xw.Book, show_status: ShowStatus) -> Outcome:
    show_status(STARTING)
    from estimator.excel.work import check_inputs  # the estimator comes with it

    return check_inputs(book, show_status)
