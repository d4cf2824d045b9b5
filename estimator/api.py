"""Files in, files out: what the command and other programs call."""

from __future__ import annotations

import datetime as dt
from typing import TYPE_CHECKING

from estimator import files
from estimator.errors import WorkbookError, naming_file
from estimator.joint.shared import Shared
from estimator.models.assumptions import AssumptionTable
from estimator.models.comparison import Comparison
from estimator.models.estimate import Estimate
from estimator.models.options import NoOptions, OptionTable
from estimator.models.places import Places
from estimator.models.site_records import SiteRecords
from estimator.models.study import Study
from estimator.models.weeks import LookAhead
from estimator.plan import look_ahead
from estimator.study import NOBODY, Watcher, study
from estimator.whatif import assess, compare, weigh_all
from estimator.workbook.book import Pages, Workbook, parse_workbook, with_pages, with_results
from estimator.workbook.package.package import Package

if TYPE_CHECKING:
    from estimator.after_award import Cells, MoreRows
    from estimator.progress.standing import Standing


def read_workbook(path: str) -> Workbook:
    """Read a job from an .xlsx or .xlsm file.

    Raises
    ------
    WorkbookError
        If the file cannot be read at all.
    InputError
        With every problem of its inputs, each with its cell.
    """
    data = files.read_bytes(path)
    with naming_file(path):
        return parse_workbook(data)


def estimate_workbook(
    workbook: Workbook, watcher: Watcher = NOBODY, *, ranges: bool = True
) -> Study:
    """Estimate the job of a workbook and its scenarios; reading warnings come first.

    Parameters
    ----------
    workbook : Workbook
        As read.
    watcher : Watcher, optional
        Who hears how far it is.
    ranges : bool
        Whether to draw the ranges of the Risk inputs sheet and to try the options too.
    """
    return study(workbook.job, workbook.places, watcher, warnings=workbook.warnings, ranges=ranges)


def comparison_of(whole: Study) -> Comparison:
    """Return the scenarios beside an estimate, worked out if they are not there yet."""
    return whole.comparison or compare(whole.asked_job, base=whole)


def options_of(whole: Study, places: Places, watcher: Watcher = NOBODY) -> OptionTable | NoOptions:
    """Return the options of an estimate, worked out however long they take."""
    if isinstance(whole.options, OptionTable):
        return whole.options
    watcher.step("Trying other crews, machines and shifts")
    return assess(whole, places, watcher.count, always=True)


def assumptions_of(whole: Study, places: Places, watcher: Watcher = NOBODY) -> AssumptionTable:
    """Return the assumptions of an estimate by weight, worked out however long they take."""
    if isinstance(whole.assumptions, AssumptionTable):
        return whole.assumptions
    watcher.step("Weighing the assumptions")
    return weigh_all(whole, Shared(places), watcher.count)


def with_site_records(workbook: Workbook) -> bytes:
    """Return a workbook with the sheets of the site records added, its joints numbered.

    Raises
    ------
    InputError
        If the job cannot be estimated.
    WorkbookError
        If one of the sheets is there already, or the file cannot be edited safely.
    """
    from estimator.after_award import sheets_to_start

    return Package.open(workbook.data).add_sheets(sheets_to_start(workbook))


def add_site_records(workbook: Workbook, records: SiteRecords, apart: str = "") -> bytes:
    """Return a workbook with the sheets of these site records added; with ``apart`` that sheet.

    Raises
    ------
    WorkbookError
        If one of the sheets is there already, or the file cannot be edited safely.
    """
    from estimator.after_award import sheets_with

    return Package.open(workbook.data).add_sheets(sheets_with(workbook, records, apart))


def filled(workbook: Workbook, cells: Cells) -> bytes:
    """Return the file with values in some of its input cells.

    Raises
    ------
    WorkbookError
        If one of them holds a formula, or the file cannot be edited safely.
    """
    return Package.open(workbook.data).fill_cells(cells.cells)


def with_more_rows(workbook: Workbook, more: MoreRows) -> bytes:
    """Return the file with rows added to some of its input tables.

    Raises
    ------
    InputError
        With every cell that is in the way.
    WorkbookError
        If a table cannot grow, or the file cannot be edited safely.
    """
    data = workbook.data
    if more.cells:
        data = Package.open(data).fill_cells(more.cells)
    for table in more.tables:
        data = Package.open(data).put_table_rows(table)
    return data


def options_from(
    workbook: Workbook, standing: Standing, watcher: Watcher = NOBODY
) -> OptionTable | NoOptions:
    """Return other crews, machines and shifts for what is left of a job, from its status date."""
    from estimator import after_award

    watcher.step("Trying other crews, machines and shifts")
    return after_award.options_from(workbook, standing, watcher.count)


def look_ahead_of(estimate: Estimate, first: dt.date | None = None) -> LookAhead:
    """Return three weeks by day, from the week of a date or of the one on the Job sheet."""
    return look_ahead(estimate, first)


def refuse_unsavable(source: str, output: str = "") -> None:
    """Refuse, before any work, a workbook that could not be saved.

    Raises
    ------
    WorkbookError
        If the file to write is of another kind, open in a spreadsheet program, read-only or no
        regular file, or its folder is missing.
    """
    if output and files.suffix(output) != files.suffix(source):
        raise WorkbookError(f"{output}: the name must end in {files.suffix(source)}, like {source}")
    if output or files.exists(source):
        files.refuse_unsavable(output or source)


def write_workbook(
    workbook: Workbook,
    estimate: Estimate,
    source: str,
    output: str = "",
    notify: files.Notify = files.silent,
) -> str:
    """Write the results into the workbook and return the path written.

    Parameters
    ----------
    workbook, estimate
        The workbook as read and its estimate.
    source : str
        Path of the file that was read. Without ``output`` it is updated in place, and its
        previous version kept beside it as ``NAME.bak.xlsx``.
    output : str, optional
        Another path to write to; the source then stays as it is. A file that is there already
        is kept as a backup in the same way.
    notify : callable, optional
        Called with a sentence on what of the file could not be kept, such as its owner.

    Returns
    -------
    str
        The path written.

    Raises
    ------
    WorkbookError
        If the workbook cannot be edited safely or saved, or has changed since it was read; every
        file is then as it was.
    """
    refuse_unsavable(source, output)
    data = with_results(workbook, estimate)
    return save_workbook(data, source, output, read=workbook.data, notify=notify)


def write_pages(
    workbook: Workbook,
    pages: Pages,
    source: str,
    output: str = "",
    notify: files.Notify = files.silent,
) -> str:
    """Write some sheets of ours into a workbook and return the path written.

    Parameters and what is raised are those of ``write_workbook``.
    """
    refuse_unsavable(source, output)
    data = with_pages(workbook, pages)
    return save_workbook(data, source, output, read=workbook.data, notify=notify)


def save_workbook(
    data: bytes, source: str, output: str = "", *, read: bytes, notify: files.Notify = files.silent
) -> str:
    """Save the bytes of a changed workbook over its source, or under another name.

    Parameters
    ----------
    data : bytes
        What to save.
    read : bytes
        What the source held when that was worked out.

    Raises
    ------
    WorkbookError
        As ``refuse_unsavable``, or if the source has changed since it was read.
    """
    refuse_unsavable(source, output)
    path = output or source
    if files.is_same(path, source):
        files.save_with_backup(path, data, notify, read=read)
    elif files.exists(path):
        files.save_with_backup(path, data, notify)
    else:
        files.save_atomically(path, data, notify)
    return path
