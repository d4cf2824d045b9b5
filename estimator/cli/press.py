"""``estimator press``: does from outside what the buttons of the workbook do in Excel."""

from __future__ import annotations

import argparse
import datetime as dt
import sys
from typing import TYPE_CHECKING

from estimator import files
from estimator.award_actions import ACTIONS, COMMANDS, PARTS, Asked, asked
from estimator.errors import EstimatorError
from estimator.excel.installed import is_installed

if TYPE_CHECKING:
    from collections.abc import Sequence

    from estimator.excel.macro.session import Outcome

OPEN = "-"
"""Stands for the file where a command is done in an open workbook."""
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
        "--do", nargs=argparse.REMAINDER, metavar="COMMAND",
        help="do a command after award instead, with its options and without FILE, such as "
        "--do status --date 2027-06-04; comes last",
    )  # fmt: skip
    parser.set_defaults(run=run_press)


def run_press(options: argparse.Namespace) -> int:
    """Press in Excel where the workbook is open there; else do the same to its file."""
    if options.do is not None and (not options.do or options.do[0] not in COMMANDS):
        given = f", not {options.do[0]!r}" if options.do else ""
        raise EstimatorError(f"--do takes one of: {', '.join(COMMANDS)}{given}")
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
        done = press.press_after_award(book, _print_outcome, _asked(options.do))
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
    name, *words = options.do or ["check" if options.check else "estimate"]
    return command.main([name, options.book, *words])


def _asked(words: Sequence[str]) -> Asked:
    """Return what a command line after award asks for, read as the command reads it.

    Raises
    ------
    InputError
        With what it lacks.
    EstimatorError
        If it names a file to write, which an open workbook is not.
    """
    from estimator.cli import command

    name, *others = words
    given = [name, OPEN, *others]
    options = command.build_parser(given).parse_args(command.attach_negative_values(given))
    if options.output or options.json is not None:
        raise EstimatorError(
            "-o and --json write files: save and close the workbook in Excel, then run "
            f"estimator {name} FILE"
        )
    of = [one for one in ACTIONS if one.command == name]
    plain = next(one for one in of if not one.flag)
    action = next((one for one in of if one.flag and getattr(options, one.flag)), plain)
    values = {part: _values(options, action.options[part]) for part in PARTS}
    date = next(iter(values["date"]), "")
    found = _date(action.options["date"], date) if date else None
    where = dict.fromkeys(("do", *PARTS), f"estimator {name}")
    return asked(action.name, found, values["detail"], values["files"], where)


def _values(options: argparse.Namespace, name: str) -> tuple[str, ...]:
    """Return what was given for an option as texts."""
    value = getattr(options, name) if name else None
    listed = value if isinstance(value, list) else [value]
    return tuple(str(one) for one in listed if one not in (None, ""))


def _date(name: str, text: str) -> dt.date:
    """Return the date that an option gives."""
    from estimator.cli import output

    return output.date_option(f"--{name}", text)


def _say(text: str) -> None:
    """Print at once, before what may take its time."""
    sys.stdout.write(text)
    sys.stdout.flush()


def _print_outcome(outcome: Outcome) -> None:
    (sys.stdout if outcome.good else sys.stderr).write(f"{outcome.text}\n")
