"""``estimator press``: does from outside what the buttons of the workbook do in Excel."""

from __future__ import annotations

import argparse
import sys
from typing import TYPE_CHECKING

from estimator import files
from estimator.errors import EstimatorError
from estimator.excel.installed import is_installed

if TYPE_CHECKING:
    from estimator.excel.macro.session import Outcome

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
    parser.add_argument("--check", action="store_true", help="check the inputs, write no results")
    parser.set_defaults(run=run_press)


def run_press(options: argparse.Namespace) -> int:
    """Press in Excel where the workbook is open there; else do the same to its file."""
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
    return 0 if press.press(book, _print_outcome, only_check=options.check) else 1


def _press_file(options: argparse.Namespace) -> int:
    """Estimate or check the file as the command of that name does."""
    if not files.exists(options.book):
        raise EstimatorError(
            f"{options.book} is not open in Excel, and there is no such file. If Excel shows it "
            "in Protected View, press Enable Editing there first"
        )
    from estimator.cli import command

    _say(f"{options.book} is not open in Excel: its file is read.\n")
    return command.main(["check" if options.check else "estimate", options.book])


def _say(text: str) -> None:
    """Print at once, before what may take its time."""
    sys.stdout.write(text)
    sys.stdout.flush()


def _print_outcome(outcome: Outcome) -> None:
    (sys.stdout if outcome.good else sys.stderr).write(f"{outcome.text}\n")
