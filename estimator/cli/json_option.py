"""The option ``--json``: results as JSON into a file, or on the screen."""

from __future__ import annotations

import argparse

from estimator.cli.screen import SCREEN, json_text, notify, print_json
from estimator.errors import InputError, Problem

WORKBOOKS = (".xlsx", ".xlsm")


def add_json(parser: argparse.ArgumentParser) -> None:
    """Add the place of the results as JSON."""
    parser.add_argument(
        "--json", metavar="PATH", help="also write results as JSON; - prints to the screen"
    )


def add_json_instead(parser: argparse.ArgumentParser) -> None:
    """Add the same for a command that prints text or JSON; without PATH it is the screen."""
    parser.add_argument(
        "--json", metavar="PATH", nargs="?", const=SCREEN,
        help="write JSON instead, SI units; - or no PATH prints to the screen",
    )  # fmt: skip


def refuse_json_over(place: str | None, *workbooks: str) -> None:
    """Refuse to save JSON over a workbook, of this job or any other: no version of it is kept.

    Raises
    ------
    InputError
        If the place of the JSON is one of the workbooks, or has the name of one.
    """
    if place is None or place == SCREEN:
        return
    from estimator import files

    if any(path and files.is_same(place, path) for path in workbooks):
        raise InputError([Problem("--json", "This is the workbook itself. Name another file")])
    if files.suffix(place) in WORKBOOKS:
        raise InputError([Problem("--json", f"{place} is a workbook. Name a file like job.json")])


def save_json(place: str | None, data: object) -> None:
    """Save JSON if it was asked for in a file."""
    if place is not None and place != SCREEN:
        from estimator import files

        content = json_text(data).encode("utf-8", "backslashreplace")
        files.save_atomically(place, content, notify)


def show_json(place: str | None, data: object) -> None:
    """Print JSON if it was asked for on the screen."""
    if place == SCREEN:
        print_json(data)


def deliver_json(place: str | None, data: object) -> None:
    """Save or print JSON, as asked; nothing where it was not."""
    save_json(place, data)
    show_json(place, data)
