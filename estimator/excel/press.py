"""A press from outside Excel: finds the open workbook and does what its button does.

Excel starts nothing and needs no macro, so this works on a plain .xlsx, and where Office may not
start programs.
"""

from collections.abc import Callable, Sequence

import xlwings as xw

from estimator import files
from estimator.award_actions import Asked
from estimator.errors import EstimatorError
from estimator.excel.live import after_award_book, check_book, estimate_book
from estimator.excel.macro.session import Outcome
from estimator.inputs.dictionary import fields

NONE_OPEN = "No workbook is open in Excel. Open it there, or name its file: estimator press FILE"


def find_open(wanted: str = "") -> xw.Book | None:
    """Return an open workbook.

    Parameters
    ----------
    wanted : str
        Path or name of the workbook; empty for the one that is open. Of several that are open
        the one with an input of ours is meant.

    Returns
    -------
    xlwings.Book or None
        None if the workbook that is wanted is not open.

    Raises
    ------
    EstimatorError
        If it is not clear which one is meant, or none is open and none was named.
    """
    books = _open_books()
    if wanted:
        return _only([book for book in books if _is(book, wanted)], f"{wanted} is open twice")
    if not books:
        raise EstimatorError(NONE_OPEN)
    if len(books) > 1:
        books = [book for book in books if _is_ours(book)] or books
    return _only(books, "Several workbooks are open")


def press(book: xw.Book, show: Callable[[Outcome], None], *, only_check: bool = False) -> bool:
    """Do what the button Estimate does, or Check inputs; return whether all was good."""
    act = check_book if only_check else estimate_book
    return act(book, lambda _, outcome: show(outcome))


def press_after_award(book: xw.Book, show: Callable[[Outcome], None], wanted: Asked) -> bool:
    """Do what the sheet After award does; return whether it was done."""
    return after_award_book(book, wanted, show=lambda _, outcome: show(outcome))


def _open_books() -> list[xw.Book]:
    """Return the workbooks of every Excel that runs; none where there is no Excel."""
    if not len(xw.engines):
        return []
    return [book for app in xw.apps for book in app.books]


def _is(book: xw.Book, wanted: str) -> bool:
    """Return whether a workbook is the one that is wanted.

    By its name alone where one of the two has no file here: it was never saved, lies at an
    address, or only its name was given.
    """
    if book.name.casefold() != files.name_of(wanted).casefold():
        return False
    path = _path(book)
    on_disk = path and files.exists(path) and files.exists(wanted)
    return not on_disk or files.is_same(path, wanted)


def _path(book: xw.Book) -> str:
    try:
        return book.fullname
    except xw.XlwingsError:
        return ""


def _is_ours(book: xw.Book) -> bool:
    first_input = fields("job")[0].cell_name
    return any(name.name == first_input for name in book.names)


def _only(books: Sequence[xw.Book], message: str) -> xw.Book | None:
    if len(books) > 1:
        names = ", ".join(sorted(book.name for book in books))
        raise EstimatorError(
            f"{message}: {names}. Close one, or name the one: estimator press BOOK"
        )
    return books[0] if books else None
