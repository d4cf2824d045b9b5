"""What the commands that write results share: their options, and where the results go."""

import argparse
import datetime as dt
import json
import sys
from collections.abc import Callable
from typing import Any

from estimator import api, files
from estimator.errors import InputError, Problem
from estimator.models.estimate import Estimate
from estimator.workbook.book import Workbook

SCREEN = "-"


def add_options(parser: argparse.ArgumentParser) -> None:
    """Add the workbook and the places of the results."""
    parser.add_argument("file", metavar="FILE", help="input workbook")
    parser.add_argument(
        "-o", "--output", metavar="OUT", default="", help="write results to another file"
    )
    parser.add_argument(
        "--json", metavar="PATH", help="also write results as JSON; - prints to the screen"
    )


def deliver(
    options: argparse.Namespace,
    workbook: Workbook,
    estimate: Estimate,
    as_json: Callable[[], dict[str, Any]],
) -> str:
    """Write the workbook and the JSON that was asked for; return the path of the workbook.

    Raises
    ------
    InputError
        If the JSON would replace the workbook.
    WorkbookError
        If a file cannot be saved.
    """
    text = "" if options.json is None else json.dumps(as_json(), indent=2, ensure_ascii=False)
    if options.json not in (None, SCREEN):
        if any(files.is_same(options.json, path) for path in (options.file, options.output)):
            raise InputError([Problem("--json", "This is the workbook itself. Name another file")])
        files.save_atomically(options.json, f"{text}\n".encode())
    path = api.write_workbook(workbook, estimate, options.file, options.output)
    if options.json == SCREEN:
        sys.stdout.write(f"{text}\n")
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


def write_text(options: argparse.Namespace, text: str) -> None:
    """Print for the user, beside JSON that goes to the screen."""
    stream = sys.stderr if options.json == SCREEN else sys.stdout
    stream.write(text)
