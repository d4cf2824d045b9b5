"""Files in, files out: what the command and other programs call."""

from __future__ import annotations

import datetime as dt
from collections import defaultdict
from collections.abc import Sequence
from dataclasses import dataclass
from functools import partial
from typing import TYPE_CHECKING

from estimator import files
from estimator.display import show_date
from estimator.equipment.kinds import FLEET_TABLES, KIND_WORDS
from estimator.equipment.quotes import QuoteComparison, compare_quotes
from estimator.equipment.rental_request import request_lines
from estimator.errors import EstimatorError, InputError, Problem, WorkbookError
from estimator.joint.shared import Shared
from estimator.models.assumptions import AssumptionTable
from estimator.models.baseline import Baseline
from estimator.models.comparison import Comparison
from estimator.models.estimate import Estimate
from estimator.models.options import NoOptions, OptionTable
from estimator.models.places import Places
from estimator.models.rental_request import RequestLine
from estimator.models.site_records import SiteRecords
from estimator.models.study import Study
from estimator.models.weeks import LookAhead
from estimator.pipeline import estimate
from estimator.plan import Progress
from estimator.plan.by_week import look_ahead
from estimator.progress.site_plan import site_plan
from estimator.study import Watcher, study
from estimator.whatif import assess, compare, weigh_all
from estimator.workbook.book import (
    SheetMaker,
    Workbook,
    baseline_in,
    last_claim_in,
    parse_workbook,
    with_results,
    with_sheets,
)
from estimator.workbook.package.fill_cells import Typed
from estimator.workbook.package.package import Package
from estimator.workbook.read.live_inputs import live_minutes
from estimator.workbook.read.site_records import ParsedRecords, parse_site_records

QUOTES, CHANGE_ORDERS, PAST_JOBS = "Quotes", "Change orders", "Past jobs"
NO_RECORDS = SiteRecords()

if TYPE_CHECKING:
    from estimator.progress.change_price import ChangePrice
    from estimator.progress.claim import Claim
    from estimator.progress.past import Suggestion
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
        Called with (runs planned, all runs).
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


def assumptions_of(found: Study, places: Places) -> AssumptionTable:
    """Return the assumptions of an estimate by weight, worked out however long they take."""
    if isinstance(found.assumptions, AssumptionTable):
        return found.assumptions
    return weigh_all(found, Shared(places))


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

    baseline = _baseline_of(workbook)
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


@dataclass(frozen=True)
class Request:
    """A rental request: its lines, the sheets written, the quotes compared, the file.

    ``comparison`` is None as long as no quote was entered.
    """

    lines: tuple[RequestLine, ...]
    sheets: tuple[str, ...]
    comparison: QuoteComparison | None
    data: bytes


def request_of_workbook(workbook: Workbook, order: dt.date | None = None) -> Request:
    """Return the rental request of a workbook, with the quotes that were entered compared.

    A workbook without the sheet Quotes gets it.

    Parameters
    ----------
    order : date, optional
        Day on which the order is placed; None: the estimate date.
    """
    from estimator.workbook.results.quotes_sheet import QUOTE_COMPARISON, quotes_sheet
    from estimator.workbook.results.request_sheet import SUPPLIERS, request_page

    found = estimate(workbook.job, workbook.places)
    lines = request_lines(found)
    makers: dict[str, SheetMaker] = {
        SUPPLIERS[kind].sheet: partial(request_page, kind=kind, lines=lines)
        for kind in dict.fromkeys(line.kind for line in lines)
    }
    records = read_site_records(workbook)
    comparison = None
    if records.records.quotes:
        job = workbook.job
        comparison = compare_quotes(
            lines, records.records.quotes, job.input("drag_mpa"),
            order or job.cover.estimate_date,
        )  # fmt: skip
        makers[QUOTE_COMPARISON] = partial(quotes_sheet, found=comparison)
    data = with_sheets(workbook, found, makers)
    if QUOTES.casefold() not in records.kept:
        data = _with_sheet_apart(data, workbook, QUOTES)
        return Request(lines, (*makers, QUOTES), comparison, data)
    return Request(lines, tuple(makers), comparison, data)


def take_quote(workbook: Workbook, number: int) -> tuple[bytes, str]:
    """Return the file with the rates of a quote in the class of its line, and what was done.

    Raises
    ------
    InputError
        If there is no such quote, or it is of no line of the request.
    """
    found = estimate(workbook.job, workbook.places)
    quotes = read_site_records(workbook).records.quotes
    spans = found.fleet.spans
    if not 1 <= number <= len(quotes) or quotes[number - 1].line > len(spans):
        message = f"There is no quote {number} for a line of the request. Enter 1 to {len(quotes)}"
        raise InputError([Problem("--take", message)])
    quote, span = quotes[number - 1], spans[quotes[number - 1].line - 1]
    system = workbook.job.cover.unit_system
    valid = f", valid until {show_date(quote.valid_until, system)}" if quote.valid_until else ""
    typed: dict[str, Typed] = {
        "day_rate": quote.day_rate,
        "week_rate": quote.week,
        "four_week_rate": quote.four_weeks,
        "delivery": ((quote.delivery or 0.0) + (quote.collection or 0.0)) / 2,
        "basis": f"quote of {quote.supplier}, line {quote.line}{valid}",
    }
    cells: dict[str, dict[str, Typed]] = defaultdict(dict)
    for key, value in typed.items():
        where = workbook.places.where(FLEET_TABLES[span.kind], span.class_id, key)
        sheet, _, address = where.rpartition("!")
        if sheet:
            cells[sheet][address] = value
    text = f"{KIND_WORDS[span.kind]} {span.class_id} now has the rates of {quote.supplier}"
    return Package.open(workbook.data).fill_cells(cells), text


def with_change_orders(workbook: Workbook, records: SiteRecords = NO_RECORDS) -> bytes:
    """Return the file with the sheet Change orders added, filled with what there is.

    Raises
    ------
    WorkbookError
        If it is there already.
    """
    return _with_sheet_apart(workbook.data, workbook, CHANGE_ORDERS, records)


def claim_of_workbook(workbook: Workbook, date: dt.date) -> tuple[Claim, str, bytes]:
    """Return the next claim of a workbook, the name of its sheet, and the file with it.

    Raises
    ------
    EstimatorError
        If there is no baseline or no claim terms, or a claim of a later date is made.
    """
    from estimator.progress.claim import claim_of
    from estimator.progress.made import made_up_to
    from estimator.workbook.results.claim_sheet import claim_name, claim_sheet

    baseline = _baseline_of(workbook)
    records = read_site_records(workbook).records
    if not records.claim_terms:
        message = "There are no claim terms. Add them with estimator claim FILE --start, fill in"
        raise EstimatorError(f"{message} one row")
    made = made_up_to(records, date)
    claim = claim_of(
        baseline, made, records.changes, records.claim_terms[0], last_claim_in(workbook)
    )
    name = claim_name(claim.number)
    found = estimate(workbook.job, workbook.places)
    data = with_sheets(workbook, found, {name: partial(claim_sheet, claim=claim)})
    return claim, name, data


def price_change(
    workbook: Workbook, other: Workbook, number: str, date: dt.date | None
) -> tuple[ChangePrice, bytes]:
    """Return what a change costs, and the file with it in the row of the change.

    Raises
    ------
    InputError
        If there is no such change.
    """
    from estimator.progress.change_price import change_price

    parsed = read_site_records(workbook)
    if number not in [change.number for change in parsed.records.changes]:
        message = f"There is no change {number} on the sheet Change orders. Enter its row first"
        raise InputError([Problem("NO", message)])
    jobs = [estimate(one.job, one.places).job for one in (workbook, other)]
    priced = change_price(jobs[0], jobs[1], parsed.records, date, workbook.places)
    cells: dict[str, dict[str, Typed]] = defaultdict(dict)
    typed: dict[str, Typed] = {"price_asked": float(priced.price), "days_asked": priced.days}
    for key, value in typed.items():
        sheet, _, address = parsed.places.where("changes", number, key).rpartition("!")
        cells[sheet][address] = value
    return priced, Package.open(workbook.data).fill_cells(cells)


def with_past_jobs(workbook: Workbook) -> bytes:
    """Return the file with the sheet Past jobs added.

    Raises
    ------
    WorkbookError
        If it is there already.
    """
    return _with_sheet_apart(workbook.data, workbook, PAST_JOBS)


def past_suggestions(
    workbook: Workbook, closed: Sequence[tuple[str, Workbook]]
) -> tuple[Suggestion, ...]:
    """Return what the table of past jobs and some closed workbooks say of crew-paced times.

    Raises
    ------
    EstimatorError
        If there is nothing to learn from, or a closed workbook has no baseline.
    """
    from estimator.progress.made import made_up_to
    from estimator.progress.past import of_closed_job, of_table, suggestions

    efficiency = workbook.job.shift.efficiency
    times = list(of_table(read_site_records(workbook).records.past_jobs, efficiency))
    for name, one in closed:
        baseline = _baseline_of(one)
        made = made_up_to(read_site_records(one).records, dt.date.max)
        times += of_closed_job(files.name_of(name), one.job, baseline, made, efficiency)
    found = suggestions(workbook.job, times)
    if not found:
        message = (
            "There is nothing to learn from. Fill in Past jobs (estimator past FILE --start adds "
            "it), or name closed workbooks with --from"
        )
        raise EstimatorError(message)
    return found


def with_past_times(workbook: Workbook, found: Sequence[Suggestion]) -> bytes:
    """Return the file with the suggestions of past jobs beside the present times."""
    from estimator.workbook.results.past_sheet import PAST_TIMES, past_sheet

    base = estimate(workbook.job, workbook.places)
    return with_sheets(workbook, base, {PAST_TIMES: partial(past_sheet, found=found)})


def take_past_times(
    workbook: Workbook, found: Sequence[Suggestion], band: str
) -> tuple[bytes, str]:
    """Return the file with the suggested times of a size band in Task times, and what was done.

    Raises
    ------
    InputError
        If there is no suggestion for that band.
    """
    from estimator.progress.past import crew_butt_tasks

    one = next((one for one in found if one.band == band.upper()), None)
    if one is None:
        names = ", ".join(one.band for one in found)
        message = f"There is no suggestion for size band {band!r}. Use one of: {names}"
        raise InputError([Problem("--take", message)])
    cells: dict[str, dict[str, Typed]] = defaultdict(dict)
    for task in crew_butt_tasks(workbook.job):
        typed: dict[str, Typed] = {
            f"min_{one.band.lower()}": round(task.minutes(one.band) * one.factor, 2),
            "basis": "; ".join(filter(None, [task.basis, one.basis])),
        }
        for key, value in typed.items():
            where = workbook.places.where("task_times", task.task, key)
            sheet, _, address = where.rpartition("!")
            if sheet:
                cells[sheet][address] = value
    text = (
        f"Size band {one.band}: crew-paced time of a butt joint {one.present_min:.1f} to "
        f"{one.suggested_min:.1f} min, own records, {one.joints} joints"
    )
    return Package.open(workbook.data).fill_cells(cells), text


def _baseline_of(workbook: Workbook) -> Baseline:
    baseline = baseline_in(workbook)
    if baseline is None:
        message = "The workbook has no baseline. Write it once with estimator baseline FILE"
        raise EstimatorError(message)
    return baseline


def _with_sheet_apart(
    data: bytes, workbook: Workbook, name: str, records: SiteRecords = NO_RECORDS
) -> bytes:
    """Return a file with an input sheet added that a command of its own adds."""
    from workbook_template.site_sheets import site_sheets

    specs = site_sheets(records, workbook.job.cover.unit_system, {}, apart=name)
    return Package.open(data).add_sheets(specs)


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
