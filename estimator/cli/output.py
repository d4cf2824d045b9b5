"""What the commands that write results share: their options, and where the results go."""

import argparse
import datetime as dt
import sys
from collections.abc import Callable, Iterable, Sequence
from dataclasses import replace
from typing import TYPE_CHECKING, Any

from estimator import api
from estimator.cli.json_option import add_json, refuse_json_over, save_json, show_json
from estimator.cli.screen import notify
from estimator.data_class import dataclass
from estimator.errors import InputError, Problem
from estimator.models.estimate import Estimate
from estimator.models.site_records import SiteRecords
from estimator.workbook.book import Pages, Workbook, with_pages

if TYPE_CHECKING:
    from estimator.after_award import Cells
    from estimator.study import Watcher

NO_RECORDS = SiteRecords()


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


@dataclass(frozen=True)
class Shown:
    """What a command shows of an estimate: its lines, its JSON, and the sheet that holds both."""

    estimate: Estimate
    sheet: str
    lines: Iterable[str]
    as_json: Callable[[], dict[str, Any]]


def run_sheet(
    options: argparse.Namespace,
    show: "Callable[[Workbook, Watcher], Shown]",
    prepare: Callable[[Workbook], Workbook] = lambda workbook: workbook,
) -> int:
    """Read a workbook, write its results, and print what one of their sheets shows.

    ``prepare`` changes or refuses the workbook before it is estimated.
    """
    from estimator.cli.progress import watched

    workbook = prepare(read(options))
    with watched() as watcher:
        shown = show(workbook, watcher)
    path = deliver(options, workbook, shown.estimate, shown.as_json)
    lines = (*shown.lines, "", f"Workbook: {path}, sheet {shown.sheet}")
    sys.stdout.write("".join(f"{line}\n" for line in lines))
    return 0


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
    path = api.write_workbook(workbook, estimate, options.file, options.output, notify)
    show_json(options.json, data)
    return path


def deliver_pages(
    options: argparse.Namespace,
    workbook: Workbook,
    pages: Pages,
    as_json: Callable[[], dict[str, Any]],
    more: Sequence[str] = (),
    apart: str = "",
) -> None:
    """Write sheets and the JSON that was asked for, and print what is said of them, then more.

    ``apart`` names an input sheet that is added with them.

    Raises
    ------
    WorkbookError
        If a file cannot be saved.
    """
    found = None if options.json is None else as_json()
    save_json(options.json, found)
    data = with_pages(workbook, pages)
    if apart:
        data = api.add_site_records(replace(workbook, data=data), NO_RECORDS, apart)
    path = save(options, workbook, data)
    show_json(options.json, found)
    names = [*pages.makers, *filter(None, [apart])]
    where = f"Workbook: {path}, {'sheet' if len(names) == 1 else 'sheets'} {', '.join(names)}"
    sys.stdout.write("".join(f"{line}\n" for line in (*pages.says, *more, where)))


def deliver_cells(
    options: argparse.Namespace,
    workbook: Workbook,
    cells: "Cells",
    as_json: Callable[[], dict[str, Any]],
) -> None:
    """Write values into input cells and the JSON that was asked for, and print what is said.

    Raises
    ------
    WorkbookError
        If one holds a formula, or the file cannot be saved.
    """
    found = None if options.json is None else as_json()
    save_json(options.json, found)
    path = save(options, workbook, api.filled(workbook, cells))
    show_json(options.json, found)
    where = f"Workbook: {path}, sheet {', '.join(cells.cells)}"
    sys.stdout.write("".join(f"{line}\n" for line in (*cells.says, where)))


def start_sheet(options: argparse.Namespace, workbook: Workbook, name: str, then: str) -> None:
    """Add an input sheet, and say what to fill in.

    Raises
    ------
    WorkbookError
        If it is there already, or the file cannot be saved.
    """
    refuse_json_with(options, "--start")
    path = save(options, workbook, api.add_site_records(workbook, NO_RECORDS, name))
    sys.stdout.write(f"{path} has the sheet {name}. {then}\n")


def save(options: argparse.Namespace, workbook: Workbook, data: bytes) -> str:
    """Save a changed workbook where the options say; return the path.

    Raises
    ------
    WorkbookError
        If it cannot be saved.
    """
    return api.save_workbook(data, options.file, options.output, read=workbook.data, notify=notify)


def refuse_json_with(options: argparse.Namespace, other: str) -> None:
    """Refuse JSON beside an option that has no figures to give.

    Raises
    ------
    InputError
        If it was asked for.
    """
    if options.json is not None:
        message = f"With {other} there are no figures to give. Leave --json out"
        raise InputError([Problem("--json", message)])


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
