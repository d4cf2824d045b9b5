"""``estimator press``: does from outside what the buttons of the workbook do in Excel."""

from __future__ import annotations

import argparse
import datetime as dt
import sys
from typing import TYPE_CHECKING

from estimator import files
from estimator.errors import EstimatorError
from estimator.excel.installed import is_installed

if TYPE_CHECKING:
    from estimator.excel.macro.session import Outcome

AFTER_AWARD = ("baseline", "status", "log", "claim", "request")
"""Commands after award whose sheets a press writes too."""
DATED = ("status", "claim")
ASKING = (
    "Asking Excel, which answers once none of its dialogs is open and no cell is being edited.\n"
)


def add_options(parser: argparse.ArgumentParser) -> None:
    """Add the options of ``estimator press``."""
    parser.add_argument(
        "book",
        metavar="BOOK",
        nargs="?",
        default="",
        help="the workbook, open in Excel or not; without it, the one that is open",
    )
    what = parser.add_mutually_exclusive_group()
    what.add_argument("--check", action="store_true", help="check the inputs, write no results")
    what.add_argument(
        "--do", choices=AFTER_AWARD, help="write the sheets of this command after award instead"
    )
    parser.add_argument(
        "--date", metavar="YYYY-MM-DD", help="last day that is counted, with --do status or claim"
    )
    parser.set_defaults(run=run_press)


def run_press(options: argparse.Namespace) -> int:
    """Press in Excel where the workbook is open there; else do the same to its file."""
    if (options.do in DATED) != (options.date is not None):
        raise EstimatorError(
            "--date goes with --do status and --do claim, which need it: the last day that is "
            "counted, such as --date 2027-06-04"
        )
    if not is_installed() and not options.book:
        raise EstimatorError(
            "xlwings, which finds the workbook open in Excel, is not installed in this Python. "
            "Name the file of the workbook instead: estimator press FILE"
        )
    return _press_open(options) if is_installed() else _press_file(options)


def _press_open(options: argparse.Namespace) -> int:
    from estimator.excel import press

    _say(ASKING)
    book = press.find_open(options.book)
    if book is None:
        return _press_file(options)
    _say(f"{book.name} is open in Excel: pressing there.\n")
    if options.do:
        done = press.press_after_award(book, _print_outcome, options.do, _date(options))
    else:
        done = press.press(book, _print_outcome, only_check=options.check)
    return 0 if done else 1


def _press_file(options: argparse.Namespace) -> int:
    """Estimate or check the file as the command of that name does."""
    if not files.exists(options.book):
        raise EstimatorError(
            f"{options.book} is not open in Excel, and there is no such file. If Excel shows it "
            "in Protected View, press Enable Editing there first"
        )
    from estimator.cli import command

    _say(f"{options.book} is not open in Excel: its file is read.\n")
    name = options.do or ("check" if options.check else "estimate")
    dated = [] if options.date is None else ["--date", options.date]
    return command.main([name, options.book, *dated])


def _date(options: argparse.Namespace) -> dt.date | None:
    from estimator.cli import output

    return None if options.date is None else output.date_option("--date", options.date)


def _say(text: str) -> None:
    """Print at once, before what may take its time."""
    sys.stdout.write(text)
    sys.stdout.flush()


def _print_outcome(outcome: Outcome) -> None:
    (sys.stdout if outcome.good else sys.stderr).write(f"{outcome.text}\n")
