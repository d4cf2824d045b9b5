"""What the commands that write results share: their options, and where the results go."""

import argparse
import datetime as dt
from collections.abc import Callable
from typing import Any

from estimator import api
from estimator.cli.json_option import add_json, refuse_json_over, save_json, show_json
from estimator.cli.screen import tell
from estimator.errors import InputError, Problem
from estimator.models.estimate import Estimate
from estimator.workbook.book import Workbook


def add_options(parser: argparse.ArgumentParser) -> None:
    """Add the workbook and the places of the results."""
    parser.add_argument("file", metavar="FILE", help="input workbook")
    parser.add_argument(
        "-o", "--output", metavar="OUT", default="", help="write results to another file"
    )
    add_json(parser)


def read(options: argparse.Namespace) -> Workbook:
    """Read the workbook, once it is known that its results can be saved.

    Raises
    ------
    InputError
        With every problem of its inputs, or if the JSON would replace a workbook.
    WorkbookError
        If it cannot be read, or the file to write cannot be saved.
    """
    refuse_json_over(options.json, options.file, options.output)
    api.refuse_unsavable(options.file, options.output)
    return api.read_workbook(options.file)


def deliver(
    options: argparse.Namespace,
    workbook: Workbook,
    estimate: Estimate,
    as_json: Callable[[], dict[str, Any]],
) -> str:
    """Write the workbook and the JSON that was asked for; return the path of the workbook.

    Raises
    ------
    WorkbookError
        If a file cannot be saved.
    """
    data = None if options.json is None else as_json()
    save_json(options.json, data)
    path = api.write_workbook(workbook, estimate, options.file, options.output, tell)
    show_json(options.json, data)
    return path


def date_option(name: str, text: str) -> dt.date:
    """Return the date that an option gives.

    Raises
    ------
    InputError
        If it is none.
    """
    try:
        return dt.date.fromisoformat(text)
    except ValueError as error:
        message = f"{text!r} is not a date. Enter it as 2027-06-04"
        raise InputError([Problem(name, message)]) from error
