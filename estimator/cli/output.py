"""What the commands that write results share: their options, and where the results go."""

import argparse
import sys
from collections.abc import Callable
from typing import Any

from estimator import api, files
from estimator.cli.screen import json_text, print_json, tell
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


def read(options: argparse.Namespace) -> Workbook:
    """Read the workbook, once it is known that its results can be saved.

    Raises
    ------
    InputError
        With every problem of its inputs, or if the JSON would replace a workbook.
    WorkbookError
        If it cannot be read, or the file to write cannot be saved.
    """
    if options.json not in (None, SCREEN):
        others = filter(None, (options.file, options.output))
        if any(files.is_same(options.json, path) for path in others):
            raise InputError([Problem("--json", "This is the workbook itself. Name another file")])
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
    if options.json not in (None, SCREEN):
        content = json_text(data).encode("utf-8", "backslashreplace")
        files.save_atomically(options.json, content, tell)
    path = api.write_workbook(workbook, estimate, options.file, options.output, tell)
    if options.json == SCREEN:
        print_json(data)
    return path


def write_text(options: argparse.Namespace, text: str) -> None:
    """Print for the user, beside JSON that goes to the screen."""
    stream = sys.stderr if options.json == SCREEN else sys.stdout
    stream.write(text)
