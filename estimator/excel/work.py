"""What a press does between its start and its message: read, estimate, write, report."""

import datetime as dt
from collections.abc import Sequence
from dataclasses import replace

import xlwings as xw

from estimator.display import counted
from estimator.errors import EstimatorError, Problem, WorkbookError
from estimator.excel.macro.problems import (
    ATTENTION,
    LIGHT,
    first_of,
    list_of,
    problem_sheet,
    problems_of,
)
from estimator.excel.macro.session import (
    Outcome,
    ShowStatus,
    about_copy,
    keep_copy,
    progress,
)
from estimator.excel.macro.source import LiveSource
from estimator.excel.macro.writer import ResultSheets
from estimator.export.as_text import summarize
from estimator.models.study import Study
from estimator.study import Watcher, study
from estimator.workbook.read.input_check import watches
from estimator.workbook.read.parse import ParsedJob, parse_job
from estimator.workbook.results.sheets import RESULT_SHEETS, result_sheets

CHECKS = "Checks"


def estimate_inputs(
    book: xw.Book, show_status: ShowStatus, first: dt.date | None = None
) -> Outcome:
    """Estimate an open workbook and write its result sheets, or report what is wrong.

    The look-ahead begins in the week of ``first``, without it as the Job sheet says.
    """
    sheets = ResultSheets(book)
    names = {key: sheets.name_of(key) for key in RESULT_SHEETS}
    try:
        sheets.refuse_protected(list(names.values()))
    except WorkbookError as error:
        return Outcome(False, str(error))
    try:
        show_status("Reading inputs")
        sheets.refuse_others(list(names.values()))
        source = LiveSource(book)
        parsed = parse_job(source)
        if first is not None:
            parsed = replace(parsed, job=parsed.job.changed(look_ahead_from=first))
        estimate = _study(parsed, show_status)
        watched = tuple(watches(source, parsed.places))
        specs = result_sheets(estimate, parsed.places, watched, names)
    except EstimatorError as error:
        return _show_problems(book, problems_of(error), show_status)
    copy = ""
    try:
        copy = keep_copy(book)
        notes = sheets.write(dict(zip(RESULT_SHEETS, specs, strict=True)), show_status)
        notes += sheets.put_on_paper(parsed.job.pages, parsed.places)
    except WorkbookError as error:
        return Outcome(False, "\n\n".join(filter(None, [str(error), about_copy(copy)])))
    return Outcome(
        True, "\n".join([summarize(estimate, book.name), *first_of(notes), about_copy(copy)])
    )


def _study(parsed: ParsedJob, show_status: ShowStatus) -> Study:
    watcher = Watcher(progress(show_status), show_status)
    return study(parsed.job, parsed.places, watcher, warnings=parsed.warnings)


def check_inputs(book: xw.Book, show_status: ShowStatus) -> Outcome:
    """Estimate an open workbook without writing results, and report what is wrong."""
    try:
        show_status("Reading inputs")
        estimate = _study(parse_job(LiveSource(book)), show_status)
    except EstimatorError as error:
        return _show_problems(book, problems_of(error), show_status)
    if _shows_problems(book):
        _show_problems(book, (), show_status)
    text = (
        f"Inputs OK: {counted(len(estimate.runs), 'run')}, "
        f"{counted(len(estimate.warnings), 'warning')}"
    )
    return Outcome(True, "\n\n".join(filter(None, [text, list_of(estimate.warnings)])))


def _shows_problems(book: xw.Book) -> bool:
    """Return whether the Checks sheet still has the problems of an earlier press."""
    sheets = ResultSheets(book)
    name = sheets.name_of(CHECKS)
    return sheets.has(name) and book.sheets[name].range(LIGHT).value == ATTENTION


def _show_problems(book: xw.Book, problems: Sequence[Problem], show_status: ShowStatus) -> Outcome:
    """Put problems on the Checks sheet and return the list of them."""
    lines = [f"{ATTENTION}.", list_of(problems)]
    try:
        sheets = ResultSheets(book)
        name = sheets.name_of(CHECKS)
        sheets.refuse_others([name])
        sheets.refuse_protected([name])
        copy = keep_copy(book)
        sheets.write({CHECKS: problem_sheet(name, problems)}, show_status)
        lines += [
            f"All of them are listed on the {name} sheet. Nothing else was changed.",
            about_copy(copy),
        ]
    except WorkbookError as error:
        lines += [f"They could not be written to the {CHECKS} sheet: {error}"]
    return Outcome(False, "\n\n".join(lines))
