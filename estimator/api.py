"""Files in, files out: what the command and other programs call."""

from __future__ import annotations

import datetime as dt
from typing import TYPE_CHECKING

from estimator import files
from estimator.errors import EstimatorError, WorkbookError
from estimator.joint.shared import Shared
from estimator.models.comparison import Comparison
from estimator.models.estimate import Estimate
from estimator.models.options import NoOptions, OptionTable
from estimator.models.places import Places
from estimator.models.site_records import SiteRecords
from estimator.models.study import Study
from estimator.models.weeks import LookAhead
from estimator.pipeline import estimate
from estimator.plan import Progress
from estimator.plan.by_week import look_ahead
from estimator.progress.site_plan import site_plan
from estimator.study import Watcher, study
from estimator.whatif import assess, compare
from estimator.workbook.book import (
    Workbook,
    baseline_in,
    parse_workbook,
    with_results,
    with_sheets,
)
from estimator.workbook.package.package import Package
from estimator.workbook.read.live_inputs import live_minutes
from estimator.workbook.read.site_records import ParsedRecords, parse_site_records

if TYPE_CHECKING:
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
    try:
        return parse_workbook(data)
    except WorkbookError as error:
        raise WorkbookError(f"{path}: {error}") from error


def estimate_workbook(
    workbook: Workbook, progress: Progress | None = None, *, ranges: bool = True
) -> Study:
    """Estimate the job of a workbook and its scenarios; reading warnings come first.

    Parameters
    ----------
    workbook : Workbook
        As read.
    progress : callable, optional
        Called with (runs planned, runs in all).
    ranges : bool
        Whether to draw the ranges of the Risk inputs sheet and to try the options too.
    """
    watcher = Watcher(progress)
    return study(workbook.job, workbook.places, watcher, warnings=workbook.warnings, ranges=ranges)


def comparison_of(found: Study) -> Comparison:
    """Return the scenarios beside an estimate, worked out if they are not there yet."""
    return found.comparison or compare(found.asked_job, base=found)


def options_of(found: Study, places: Places) -> OptionTable | NoOptions:
    """Return the options of an estimate, worked out however long they take."""
    if isinstance(found.options, OptionTable):
        return found.options
    return assess(found, places, always=True)


def with_site_records(workbook: Workbook) -> bytes:
    """Return a workbook with the sheets of the site records added, its joints numbered.

    Raises
    ------
    InputError
        If the job cannot be estimated.
    WorkbookError
        If one of the sheets is there already, or the file cannot be edited safely.
    """
    return add_site_records(workbook, site_plan(estimate_workbook(workbook, ranges=False)))


def add_site_records(workbook: Workbook, records: SiteRecords) -> bytes:
    """Return a workbook with the sheets of these site records added.

    Raises
    ------
    WorkbookError
        If one of the sheets is there already, or the file cannot be edited safely.
    """
    from workbook_template.site_formulas import JOB_MINUTES
    from workbook_template.site_sheets import site_sheets

    source, job, places = workbook.source, workbook.job, workbook.places
    minutes = {key: live_minutes(source, job, places, key) for key in JOB_MINUTES}
    specs = site_sheets(records, job.cover.unit_system, minutes)
    return Package.open(workbook.data).add_sheets(specs)


def read_site_records(workbook: Workbook) -> ParsedRecords:
    """Read and check what was written down on site.

    Raises
    ------
    InputError
        With every problem found, each with its cell.
    """
    return parse_site_records(workbook.source, workbook.job)


def status_of_workbook(workbook: Workbook, date: dt.date) -> tuple[Standing, bytes]:
    """Return where the job of a workbook stands, and the file with its Status sheet.

    Raises
    ------
    EstimatorError
        If the workbook has no baseline or no site records, or nothing was made up to the date.
    """
    from estimator.progress.standing import standing_of
    from estimator.workbook.results.status_sheet import STATUS, status_sheet

    baseline = baseline_in(workbook)
    if baseline is None:
        message = "The workbook has no baseline. Write it once with estimator baseline FILE"
        raise EstimatorError(message)
    records = read_site_records(workbook).records
    found = estimate(workbook.job, workbook.places)
    standing = standing_of(found, baseline, records, date, Shared(workbook.places))
    data = with_sheets(workbook, found, {STATUS: lambda context: status_sheet(context, standing)})
    return standing, data


def options_from(workbook: Workbook, standing: Standing) -> OptionTable | NoOptions:
    """Return other crews, machines and shifts for what is left of a job, from its status date."""
    if standing.forecast is None:
        return NoOptions(standing.no_forecast)
    return assess(estimate(standing.forecast.plan.job, workbook.places), workbook.places)


def look_ahead_of(found: Estimate, first: dt.date | None = None) -> LookAhead:
    """Return three weeks by day, from the week of a date or of the one on the Job sheet."""
    return look_ahead(found, first)


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
    found: Estimate,
    source: str,
    output: str = "",
    tell: files.Tell = files.silent,
) -> str:
    """Write the results into the workbook and return the path written.

    Parameters
    ----------
    workbook, found
        The workbook as read and its estimate.
    source : str
        Path of the file that was read. Without ``output`` it is updated in place, and its
        previous version kept beside it as ``NAME.bak.xlsx``.
    output : str, optional
        Another path to write to; the source then stays as it is. A file that is there already
        is kept as a backup in the same way.
    tell : callable, optional
        Told in a sentence what of the file could not be kept, such as its owner.

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
    data = with_results(workbook, found)
    return save_workbook(data, workbook.data, source, output, tell)


def save_workbook(
    data: bytes, read: bytes, source: str, output: str = "", tell: files.Tell = files.silent
) -> str:
    """Save the bytes of a changed workbook over its source, or under another name.

    Parameters
    ----------
    data, read : bytes
        What to save, and what the source held when that was worked out.

    Raises
    ------
    WorkbookError
        As ``refuse_unsavable``, or if the source has changed since it was read.
    """
    refuse_unsavable(source, output)
    path = output or source
    if files.is_same(path, source):
        files.save_with_backup(path, data, tell, read=read)
    elif files.exists(path):
        files.save_with_backup(path, data, tell)
    else:
        files.save_atomically(path, data, tell)
    return path
