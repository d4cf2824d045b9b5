"""What each command after award makes of a workbook that was read, on disk or open in Excel.

Every function gives ``Pages`` (sheets of ours and what is said of them), ``Cells`` (what is filled
into input cells, and what is said), or input sheets to add. Nothing here opens or saves a file.
"""

import datetime as dt
import math
from collections import Counter, defaultdict
from collections.abc import Callable, Mapping, Sequence
from dataclasses import field, replace
from functools import partial
from typing import TYPE_CHECKING, Any

from estimator.data_class import dataclass
from estimator.display import UnitSystem, counted, money_text, show_date
from estimator.equipment.quotes import QuoteComparison, compare_quotes
from estimator.equipment.rental_request import request_lines
from estimator.errors import EstimatorError, InputError, Problem
from estimator.inputs.dictionary import WORKED, fields, site_tables
from estimator.joint.shared import Shared
from estimator.models.base import Model
from estimator.models.baseline import Baseline
from estimator.models.crew import TaskTime
from estimator.models.places import Places
from estimator.models.quotes import RequestTerms
from estimator.models.rental_kinds import FLEET_TABLES, KIND_WORDS
from estimator.models.rental_request import RequestLine
from estimator.models.site_records import CoolingByAir, LoggedJoint, SiteRecords
from estimator.pipeline import estimate
from estimator.progress.baseline import baseline_of
from estimator.progress.change_price import ChangePrice, change_price
from estimator.progress.claim import Claim, claim_of
from estimator.progress.field_cards import FieldCard, field_cards
from estimator.progress.joint_log import CouponDue, JudgedLog, coupons_due, judge_records
from estimator.progress.log_update import LIMITS, LogUpdate, log_update
from estimator.progress.made import made_up_to
from estimator.progress.past import (
    Suggestion,
    crew_butt_tasks,
    of_closed_job,
    of_table,
    suggestions,
)
from estimator.progress.site_plan import site_plan
from estimator.workbook.book import (
    Pages,
    ReadBook,
    SheetMaker,
    Workbook,
    baseline_in,
    baseline_makers,
    last_claim_in,
    parse_workbook,
)
from estimator.workbook.package.fill_cells import Typed
from estimator.workbook.package.package import Package
from estimator.workbook.package.table_rows import TableRows
from estimator.workbook.read.live_inputs import live_minutes
from estimator.workbook.read.logger_file import LoggerFile, join_logger
from estimator.workbook.read.site_records import ParsedRecords, parse_site_records
from estimator.workbook.results.cards_sheet import FIELD_CARDS, cards_sheet
from estimator.workbook.results.claim_sheet import claim_name, claim_sheet
from estimator.workbook.results.log_page_sheet import LOG_PAGES, log_pages
from estimator.workbook.results.log_sheet import LOG_SUMMARY, log_sheet
from estimator.workbook.results.past_sheet import PAST_TIMES, past_sheet
from estimator.workbook.results.quotes_sheet import QUOTE_COMPARISON, quotes_sheet
from estimator.workbook.results.request_sheet import SUPPLIERS, request_page
from estimator.workbook.sheet.areas import parse_area
from estimator.workbook.sheet.spec import SheetSpec

if TYPE_CHECKING:
    from estimator.models.options import NoOptions, OptionTable
    from estimator.progress.standing import Standing

    WaysBack = Callable[[Standing], OptionTable | NoOptions]

QUOTES, CHANGE_ORDERS, PAST_JOBS = "Quotes", "Change orders", "Past jobs"
NO_RECORDS = SiteRecords()
MOST_NAMED = 5
"""Joints that are named in one line."""
HALF = 0.5
NOT_STARTED = "There is no Joint log. Start the site records with: estimator log FILE --start"
NO_QUOTE = "Enter the quotes on the sheet Quotes first"
NO_JOINTS = "There are no butt joints, so there is no card to print"
ONCE = (
    "A baseline is written once. To replace it, and keep the old one beside it, run "
    'estimator baseline --rebase "why"'
)


@dataclass(frozen=True)
class Cells:
    """Values for input cells, by sheet and address, and what is said of them."""

    cells: Mapping[str, Mapping[str, Typed]]
    says: tuple[str, ...]


def records_of(book: ReadBook) -> ParsedRecords:
    """Read and check what was written down on site.

    Raises
    ------
    InputError
        With every problem found, each with its cell.
    """
    return parse_site_records(book.source, book.job)


def sheets_to_start(book: ReadBook) -> list[SheetSpec]:
    """Return the input sheets of the site records, the joints of the job numbered.

    Raises
    ------
    InputError
        If the job cannot be estimated.
    """
    return sheets_with(book, site_plan(estimate(book.job, book.places)))


def sheets_with(book: ReadBook, records: SiteRecords, apart: str = "") -> list[SheetSpec]:
    """Return the input sheets of these site records; with ``apart`` only that sheet.

    ``apart`` is one of ``QUOTES``, ``CHANGE_ORDERS`` and ``PAST_JOBS``.
    """
    from estimator.workbook.sheet.look import paper_of
    from workbook_template.site_formulas import JOB_MINUTES
    from workbook_template.site_sheets import site_sheets

    minutes = {key: live_minutes(book.source, book.job, book.places, key) for key in JOB_MINUTES}
    system = book.job.cover.unit_system
    paper = paper_of(book.job.pages.paper, system)
    return site_sheets(records, system, paper, minutes, apart)


def baseline_pages(book: ReadBook, why: str = "") -> tuple[Baseline, Pages]:
    """Return the baseline of a job and its sheet; with a reason why, in place of the old one.

    Raises
    ------
    EstimatorError
        If there is a baseline already and no reason is given.
    """
    old = baseline_in(book)
    if old is not None and not why:
        head = old.head
        raise EstimatorError(
            f"There is baseline {head.number} of an estimate of "
            f"{show_date(head.estimate_date, head.system)}. {ONCE}"
        )
    estimated = estimate(book.job, book.places)
    number = 1 if old is None else old.head.number + 1
    agreed = [x.number for x in records_of(book).records.changes if x.status == "agreed"]
    made = baseline_of(estimated, number, why or "as awarded", agreed)
    head = made.head
    says = [
        f"Baseline {head.number} ({head.reason}): {made.joints:,} butt joints, "
        f"{head.labor_hours:,.1f} labor-hours, cost "
        f"{money_text(head.currency, head.cost, 2)}, "
        f"{show_date(head.start, head.system)} to {show_date(head.finish, head.system)}"
    ]
    if old is not None:
        says.append(f"Baseline {old.head.number} is kept beside it")
    return made, Pages(estimated, baseline_makers(made, old), tuple(says))


def card_pages(book: ReadBook) -> tuple[Sequence[FieldCard], Pages]:
    """Return the field cards of a job and their sheet.

    Raises
    ------
    EstimatorError
        If there is no butt joint.
    """
    estimated = estimate(book.job, book.places)
    cards = field_cards(estimated)
    if not cards:
        raise EstimatorError(NO_JOINTS)
    says = [f"{one.label}, {one.material}, machine {one.machine}" for one in cards]
    makers = {FIELD_CARDS: partial(cards_sheet, cards=cards)}
    says.append(f"{counted(len(cards), 'card')}, four to a page")
    return cards, Pages(estimated, makers, tuple(says), frozenset({FIELD_CARDS}))


@dataclass(frozen=True)
class ReadLog:
    """A joint log as read, judged, and the coupons that are due."""

    parsed: ParsedRecords
    judged: JudgedLog
    due: Sequence[CouponDue]

    @property
    def made(self) -> int:
        """Joints made, rework and trial fusions among them."""
        return sum(tally.made for tally in self.judged.tallies("run_id"))


def read_log(book: ReadBook) -> ReadLog:
    """Read and judge the joint log of a workbook.

    Raises
    ------
    InputError
        If it has none, or with every problem found.
    """
    parsed = records_of(book)
    if "joint_log" not in parsed.kept:
        raise InputError([Problem("Joint log", NOT_STARTED)])
    return ReadLog(
        parsed,
        judge_records(parsed.records),
        coupons_due(parsed.records, book.job.cover.unit_system),
    )


@dataclass(frozen=True)
class MoreRows:
    """Rows for input tables, values for cells of others, and what is said of them."""

    tables: tuple[TableRows, ...]
    says: tuple[str, ...]
    cells: Mapping[str, Mapping[str, Typed]] = field(default_factory=dict)


def log_rows_to_add(book: ReadBook) -> MoreRows:
    """Return the rows that a joint log which was begun lacks for the job as it is now.

    Raises
    ------
    InputError
        If there is no joint log, or no row in it, or the job cannot be estimated.
    """
    parsed = read_log(book).parsed
    update = log_update(parsed.records, site_plan(estimate(book.job, book.places)))
    says = [f"{run_id}: {counted(number, 'row')} added" for run_id, number in update.by_run.items()]
    says += [
        f"{run_id}: {counted(number, 'row')} more than the job has joints. Leave them blank"
        for run_id, number in update.too_many.items()
    ]
    if not update.joints:
        says.insert(0, "The Joint log has a row for every joint of the job")
    system = book.job.cover.unit_system
    cells, of_limits = _new_limits(parsed, system, update.limits)
    bands, of_bands = _new_bands(parsed, system, update)
    tables = (
        *bands,
        _rows_at(parsed, system, "joint_log", update.joints),
        _rows_at(parsed, system, "planned_runs", update.planned, 0),
        _rows_at(parsed, system, "cooling_by_air", update.cooling),
    )
    filled = tuple(one for one in tables if one.rows)
    named = parsed.renamed
    of_names = ["Pipe is named as on the other sheets now"] if named else []
    both = {sheet: {**named.get(sheet, {}), **cells.get(sheet, {})} for sheet in {**named, **cells}}
    return MoreRows(filled, (*says, *of_names, *of_limits, *of_bands), both)


def _new_limits(
    parsed: ParsedRecords, system: UnitSystem, pairs: Sequence[tuple[LoggedJoint, LoggedJoint]]
) -> tuple[Mapping[str, Mapping[str, Typed]], Sequence[str]]:
    """Return the cells of limits that are others now, in rows not made, and what is said of all.

    A limit is compared as its cell holds it, which is rounded to the safe side.
    """
    cells: dict[str, dict[str, Typed]] = defaultdict(dict)
    fresh: Counter[str] = Counter()
    kept: dict[str, list[str]] = defaultdict(list)
    for there, now in pairs:
        other = {
            key: _shown_limit(parsed, system, key, now)
            for key in LIMITS
            if not _alike(*(_shown_limit(parsed, system, key, one) for one in (there, now)))
        }
        if other and there.made:
            kept[there.run_id].append(there.joint_no)
        elif other:
            fresh[there.run_id] += 1
            found = _cells_of(parsed.places, "joint_log", there.joint_no, other)
            for sheet, values in found.items():
                cells[sheet] |= values
    says = [f"{run_id}: new limits in {counted(n, 'row')} not made" for run_id, n in fresh.items()]
    says += [
        f"{run_id}: {counted(len(names), 'joint')} made under other limits than the job has now, "
        f"left as they are: {_first_names(names)}"
        for run_id, names in kept.items()
    ]
    return cells, says


def _shown_limit(parsed: ParsedRecords, system: UnitSystem, key: str, joint: LoggedJoint) -> Typed:
    """Return a limit as its cell holds it; an empty text where the method gives none."""
    from workbook_template.site_sheets import shown

    column = next(one for one in fields("joint_log") if one.key == key)
    value = shown(column, getattr(joint, key), system, parsed.columns["joint_log"].get(key))
    return "" if value is None else value


def _alike(one: Typed, other: Typed) -> bool:
    if isinstance(one, int | float) and isinstance(other, int | float):
        return math.isclose(one, other, rel_tol=1e-6, abs_tol=1e-9)
    return one == other


def _first_names(names: Sequence[str]) -> str:
    more = len(names) - MOST_NAMED
    return ", ".join(names[:MOST_NAMED]) + (f" and {more} more" if more > 0 else "")


def _new_bands(
    parsed: ParsedRecords, system: UnitSystem, update: LogUpdate
) -> tuple[Sequence[TableRows], Sequence[str]]:
    """Return the cooling of pipes of which no joint is made, where it is another now."""
    there = parsed.records.cooling_by_air
    begun = {joint.pipe for joint in parsed.records.joint_log if joint.made}
    rows: list[TableRows] = []
    says: list[str] = []
    for pipe, now in update.bands.items():
        places = [at for at, band in enumerate(there) if band.pipe == pipe]
        old = [there[at] for at in places]
        if not now or _same_bands(old, now):
            continue
        together = places == list(range(places[0], places[0] + len(now)))
        if pipe in begun or not together:
            why = "joints of it are made" if pipe in begun else "it has other bands of air now"
            says.append(f"Cooling by air of {pipe} is left as it is, because {why}")
            continue
        rows.append(_rows_at(parsed, system, "cooling_by_air", now, places[0]))
        says.append(f"Cooling by air of {pipe}: new figures")
    return rows, says


def _same_bands(old: Sequence[CoolingByAir], now: Sequence[CoolingByAir]) -> bool:
    """Return whether two tables of cooling say the same, to half a second."""
    if len(old) != len(now):
        return False
    return all(
        abs(getattr(a, key) - getattr(b, key)) < HALF
        for a, b in zip(old, now, strict=True)
        for key in ("from_c", "to_c", "low_s", "high_s")
        if getattr(a, key) is not None and getattr(b, key) is not None
    )


def _rows_at(
    parsed: ParsedRecords,
    system: UnitSystem,
    table: str,
    rows: Sequence[Model],
    first: int | None = None,
) -> TableRows:
    """Return rows of models as a table holds them, from a row of its body on or below its last."""
    from workbook_template.site_sheets import shown

    excel_name = next(one.excel_name for one in site_tables() if one.table == table)
    if table not in parsed.last_rows:
        raise InputError([Problem(excel_name, "has no rows to go on from")])
    known = {field.key: field for field in fields(table) if field.kind != WORKED}
    areas = {
        key: parse_area(place.rpartition("!")[2].replace("$", ""))
        for key in known
        if (place := parsed.places.columns.get((table, key)))
    }
    body = {key: area for key, area in areas.items() if area is not None}
    top, last = next(iter(body.values())).top, parsed.last_rows[table]
    there = len(getattr(parsed.records, table))
    if first is not None and last - top + 1 != there:
        raise InputError([Problem(excel_name, "has blank rows between. Delete them first")])
    columns = parsed.columns[table]
    values: list[dict[int, Any]] = []
    for row in rows:
        cells = {
            area.left: shown(known[key], getattr(row, key), system, columns.get(key))
            for key, area in body.items()
        }
        values.append({column: value for column, value in cells.items() if value is not None})
    return TableRows(excel_name, last + 1 if first is None else top + first, values)


def logger_cells(
    workbook: Workbook, given: Sequence[tuple[str, bytes]]
) -> tuple[Cells, Sequence[Problem]]:
    """Return what the files of a data logger, by name, fill in, and their rows that fit no joint.

    Raises
    ------
    InputError
        If there is no Joint log, or any of it contradicts the log or a file before.
    """
    parsed = read_log(workbook).parsed
    says: list[str] = []
    left_out: list[Problem] = []
    cells: dict[str, dict[str, Typed]] = defaultdict(dict)
    for name, data in given:
        file = LoggerFile.parse(name, data)
        joined = join_logger(parsed, file)
        left_out += joined.left_out
        says.append(f"{file.name}: {counted(joined.joints, 'joint')} joined")
        for sheet, values in joined.cells.items():
            cells[sheet] |= values
        parsed = records_of(parse_workbook(Package.open(workbook.data).fill_cells(cells)))
    return Cells(cells, tuple(says)), left_out


def log_summary_pages(book: ReadBook) -> tuple[ReadLog, Pages]:
    """Return the joint log of a workbook and the sheet that sums it up."""
    log = read_log(book)
    maker = partial(log_sheet, judged=log.judged, due=log.due, places=log.parsed.places)
    judged = log.judged
    says = (
        f"{counted(len(judged.joints), 'joint')} in the log, {log.made} made",
        f"Open rejects: {len(judged.open_rejects)}, on hold: {len(judged.with_verdict('hold'))}, "
        f"incomplete: {len(judged.with_verdict('incomplete'))}, coupons due: {len(log.due)}",
        *map(str, log.parsed.warnings),
    )
    return log, Pages(estimate(book.job, book.places), {LOG_SUMMARY: maker}, says)


def log_print_pages(book: ReadBook, runs: Sequence[str]) -> Pages:
    """Return the log of some runs as pages to print, with what is entered so far.

    Raises
    ------
    InputError
        If a run has no joints in the log.
    """
    log = read_log(book)
    known = list(dict.fromkeys(joint.run_id for joint in log.parsed.records.joint_log))
    unknown = [run for run in runs if run not in known]
    if unknown:
        message = f"{', '.join(unknown)} has no joints in the log. Use one of: {', '.join(known)}"
        raise InputError([Problem("--page", message)])
    estimated = estimate(book.job, book.places)
    maker = partial(log_pages, judged=log.judged, cards=field_cards(estimated), runs=runs)
    return Pages(estimated, {LOG_PAGES: maker}, (), frozenset({LOG_PAGES}))


def status_pages(
    book: ReadBook, date: dt.date, ways_back: "WaysBack | None" = None
) -> "tuple[Standing, Pages]":
    """Return where a job stands on a date, and its sheets.

    Parameters
    ----------
    ways_back : callable, optional
        Finds, for a standing, other crews, machines and shifts from its date on.

    Raises
    ------
    EstimatorError
        If there is no baseline or no site records, or nothing was made up to the date.
    """
    from estimator.progress.standing import standing_of
    from estimator.workbook.results.gantt_actual_sheet import GANTT_ACTUAL, gantt_actual_sheet
    from estimator.workbook.results.status_sheet import STATUS, status_sheet

    baseline = existing_baseline(book)
    parsed = records_of(book)
    estimated = estimate(book.job, book.places)
    standing = standing_of(estimated, baseline, parsed.records, date, Shared(book.places))
    if ways_back is not None:
        standing = replace(standing, ways_back=ways_back(standing))
    says = (*_standing_words(standing), *map(str, parsed.warnings))
    makers = {
        STATUS: partial(status_sheet, standing=standing),
        GANTT_ACTUAL: partial(gantt_actual_sheet, standing=standing),
    }
    return standing, Pages(estimated, makers, says)


def options_from(
    book: ReadBook, standing: "Standing", progress: "Callable[[int, int], None] | None" = None
) -> "OptionTable | NoOptions":
    """Return other crews, machines and shifts for what is left of a job, from its status date."""
    from estimator.models.options import NoOptions
    from estimator.whatif import assess

    if standing.forecast is None:
        return NoOptions(standing.no_forecast)
    return assess(estimate(standing.forecast.plan.job, book.places), book.places, progress)


def _standing_words(standing: "Standing") -> Sequence[str]:
    """Return the finish that is forecast, what needs a decision, and what is not known."""
    found, status = standing.forecast, standing.status
    says = [standing.no_forecast]
    if found is not None:
        low, middle, high = (show_date(date, status.baseline.head.system) for date in found.finish)
        says = [f"Finish: {middle}, between {low} and {high} in 8 of 10 cases"]
        if found.deadline_share is not None:
            says.append(f"Probability of meeting the deadline: {found.deadline_share:.0%}")
    says += [f"Needs a decision: {text}" for text in status.decisions]
    return [*says, *(f"Not known: {text}" for text in status.missing)]


@dataclass(frozen=True)
class Request:
    """A rental request: its lines, and the quotes compared, None as long as there are none."""

    lines: tuple[RequestLine, ...]
    comparison: QuoteComparison | None
    has_quotes: bool
    """Whether the workbook has the sheet Quotes."""


def request_pages(book: ReadBook, order: dt.date | None = None) -> tuple[Request, Pages]:
    """Return the rental request of a job, its sheets, and that of the quotes if there are any.

    Parameters
    ----------
    order : date, optional
        Day on which the order is placed; None: the estimate date.
    """
    estimated = estimate(book.job, book.places)
    lines = request_lines(estimated)
    parsed = records_of(book)
    terms = next(iter(parsed.records.request_terms), RequestTerms())
    makers: dict[str, SheetMaker] = {
        SUPPLIERS[kind].sheet: partial(request_page, kind=kind, lines=lines, terms=terms)
        for kind in dict.fromkeys(line.kind for line in lines)
    }
    comparison = None
    if parsed.records.quotes:
        job = book.job
        comparison = compare_quotes(
            lines, parsed.records.quotes, job.input("drag_mpa"),
            order or job.cover.estimate_date,
        )  # fmt: skip
        makers[QUOTE_COMPARISON] = partial(quotes_sheet, comparison=comparison)
    asked = Request(lines, comparison, "quotes" in parsed.kept)
    says = (f"{counted(len(lines), 'line')} asked for", *map(str, parsed.warnings))
    return asked, Pages(estimated, makers, says)


def quote_taken(book: ReadBook, number: int) -> Cells:
    """Return the rates of a quote for the class of its line.

    Raises
    ------
    InputError
        If there is no such quote, or it is of no line of the request.
    """
    spans = estimate(book.job, book.places).fleet.spans
    quotes = records_of(book).records.quotes
    of_lines = [one for one, quote in enumerate(quotes, 1) if quote.line <= len(spans)]
    if number not in of_lines:
        known = f"Enter one of: {', '.join(map(str, of_lines))}" if of_lines else NO_QUOTE
        message = f"There is no quote {number} for a line of the request. {known}"
        raise InputError([Problem("--take", message)])
    quote, span = quotes[number - 1], spans[quotes[number - 1].line - 1]
    system = book.job.cover.unit_system
    valid = f", valid until {show_date(quote.valid_until, system)}" if quote.valid_until else ""
    typed: dict[str, Typed] = {
        "day_rate": quote.day_rate,
        "week_rate": quote.week,
        "four_week_rate": quote.four_weeks,
        "delivery": ((quote.delivery or 0.0) + (quote.collection or 0.0)) / 2,
        "basis": f"quote of {quote.supplier}, line {quote.line}{valid}",
    }
    cells = _cells_of(book.places, FLEET_TABLES[span.kind], span.class_id, typed)
    text = f"{KIND_WORDS[span.kind]} {span.class_id} now has the rates of {quote.supplier}"
    return Cells(cells, (text,))


def claim_pages(book: ReadBook, date: dt.date) -> tuple[Claim, Pages]:
    """Return the next claim of a job, and its sheet.

    Raises
    ------
    EstimatorError
        If there is no baseline or no claim terms, or a claim of a later date is made.
    """
    baseline = existing_baseline(book)
    parsed = records_of(book)
    records = parsed.records
    if not records.claim_terms:
        message = "There are no claim terms. Fill in their row on the sheet Change orders"
        raise EstimatorError(f"{message}; estimator claim FILE --start adds the sheet")
    made = made_up_to(records, date)
    claim = claim_of(baseline, made, records.changes, records.claim_terms[0], last_claim_in(book))
    sign = book.job.cover.currency
    to = show_date(claim.date, book.job.cover.unit_system)
    part = float(claim.total / claim.contract) if claim.contract else 0.0
    says = (
        f"Claim {claim.number} to {to}: work to date {sign}{claim.total:,.2f} of "
        f"{sign}{claim.contract:,.2f} ({part:.1%})",
        f"Retained {sign}{claim.retained:,.2f}, due before {sign}{claim.due_before:,.2f}, due now "
        f"{sign}{claim.due:,.2f}",
        *map(str, parsed.warnings),
    )
    makers = {claim_name(claim.number): partial(claim_sheet, claim=claim)}
    estimated = estimate(book.job, book.places)
    return claim, Pages(estimated, makers, says)


def change_priced(
    book: ReadBook, other: ReadBook, number: str, date: dt.date | None
) -> tuple[ChangePrice, Cells]:
    """Return what a change costs, and that for the row of the change.

    Raises
    ------
    InputError
        If there is no such change.
    """
    parsed = records_of(book)
    if number not in [change.number for change in parsed.records.changes]:
        message = f"There is no change {number}. Enter its row first"
        raise InputError([Problem("Change orders", message)])
    jobs = [estimate(one.job, one.places).job for one in (book, other)]
    priced = change_price(jobs[0], jobs[1], parsed.records, date, book.places)
    typed: dict[str, Typed] = {"price_asked": float(priced.price), "days_asked": priced.days}
    finishes = (
        show_date(one.finish, book.job.cover.unit_system)
        for one in (priced.without, priced.with_it)
    )
    text = (
        f"Change {number}: price {book.job.cover.currency}{priced.price:+,.2f}, finish "
        f"{priced.days:+d} workdays, {' to '.join(finishes)}"
    )
    says = (text, *map(str, parsed.warnings))
    return priced, Cells(_cells_of(parsed.places, "changes", number, typed), says)


def past_suggestions(
    book: ReadBook, closed: Sequence[tuple[str, ReadBook]]
) -> tuple[Suggestion, ...]:
    """Return what the table of past jobs and some closed workbooks say of crew-paced times.

    Parameters
    ----------
    closed : sequence of (name, book)
        Closed workbooks, each with the name that is shown for it.

    Raises
    ------
    EstimatorError
        If there is nothing to learn from, or a closed workbook has no baseline.
    """
    efficiency = book.job.shift.efficiency
    times = list(of_table(records_of(book).records.past_jobs, efficiency))
    for name, one in closed:
        baseline = existing_baseline(one)
        made = made_up_to(records_of(one).records, dt.date.max)
        times += of_closed_job(name, one.job, baseline, made, efficiency)
    found = suggestions(book.job.task_times, times)
    if not found:
        message = (
            "There is nothing to learn from. Fill in Past jobs (estimator past FILE --start adds "
            "it), or name closed workbooks with --from"
        )
        raise EstimatorError(message)
    return found


def past_pages(book: ReadBook, suggestions: Sequence[Suggestion]) -> Pages:
    """Return the sheet with the suggestions of past jobs beside the present times."""
    return Pages(
        estimate(book.job, book.places), {PAST_TIMES: partial(past_sheet, suggestions=suggestions)}
    )


def past_taken(
    task_times: Sequence[TaskTime], places: Places, suggestions: Sequence[Suggestion], band: str
) -> Cells:
    """Return the suggested times of a size band for Task times.

    Raises
    ------
    InputError
        If there is no suggestion for that band.
    """
    one = next((one for one in suggestions if one.band == band.upper()), None)
    if one is None:
        names = ", ".join(one.band for one in suggestions)
        message = f"There is no suggestion for size band {band!r}. Use one of: {names}"
        raise InputError([Problem("--take", message)])
    cells: dict[str, dict[str, Typed]] = defaultdict(dict)
    for task in crew_butt_tasks(task_times):
        typed: dict[str, Typed] = {
            f"min_{one.band.lower()}": round(task.minutes(one.band) * one.factor, 2),
            "basis": "; ".join(filter(None, [task.basis, one.basis])),
        }
        for sheet, values in _cells_of(places, "task_times", task.task, typed).items():
            cells[sheet] |= values
    text = (
        f"Size band {one.band}: crew-paced time of a butt joint {one.present_min:.1f} to "
        f"{one.suggested_min:.1f} min, own records, {one.joints} joints"
    )
    return Cells(cells, (text,))


def _cells_of(
    places: Places, table: str, row: str, typed: Mapping[str, Typed]
) -> Mapping[str, Mapping[str, Typed]]:
    """Return values of a row by sheet and address; a column that is not there is left out."""
    cells: dict[str, dict[str, Typed]] = defaultdict(dict)
    for key, value in typed.items():
        sheet, _, address = places.where(table, row, key).rpartition("!")
        if sheet:
            cells[sheet][address] = value
    return cells


def existing_baseline(book: ReadBook) -> Baseline:
    """Return the baseline of a workbook.

    Raises
    ------
    EstimatorError
        If it has none.
    """
    baseline = baseline_in(book)
    if baseline is None:
        message = "The workbook has no baseline. Write it once with estimator baseline FILE"
        raise EstimatorError(message)
    return baseline
