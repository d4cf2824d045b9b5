"""A workbook on disk: read into a job, and given its result sheets back."""

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass

from estimator.errors import Problem
from estimator.models.baseline import Baseline
from estimator.models.estimate import Estimate
from estimator.models.job import Job
from estimator.models.places import Places
from estimator.models.revision import Revision
from estimator.models.study import Study
from estimator.progress.claim import PreviousClaim
from estimator.progress.field_cards import FieldCard
from estimator.workbook.package.package import Package
from estimator.workbook.read.baseline import parse_baseline
from estimator.workbook.read.file_source import FileSource
from estimator.workbook.read.input_check import watches
from estimator.workbook.read.parse import parse_job
from estimator.workbook.results.baseline_sheet import (
    BASELINE,
    HEAD,
    SECTIONS,
    baseline_sheet,
    kept_name,
)
from estimator.workbook.results.builder import Context
from estimator.workbook.results.cards_sheet import FIELD_CARDS, cards_sheet
from estimator.workbook.results.changes_sheet import CHANGES, changes_sheet
from estimator.workbook.results.claim_sheet import claim_name, read_claim
from estimator.workbook.results.columns import result_columns
from estimator.workbook.results.sheets import RESULT_SHEETS, each_sheet
from estimator.workbook.sheet.layout import laid_out
from estimator.workbook.sheet.spec import SheetSpec


@dataclass(frozen=True)
class Workbook:
    """The bytes of a workbook with the job that was read from it."""

    data: bytes
    source: FileSource
    job: Job
    places: Places
    warnings: tuple[Problem, ...]


def parse_workbook(data: bytes) -> Workbook:
    """Read a job from the bytes of an .xlsx or .xlsm file.

    Raises
    ------
    WorkbookError
        If the file cannot be read at all.
    InputError
        With every problem of its inputs.
    """
    source = FileSource(data)
    parsed = parse_job(source)
    return Workbook(data, source, parsed.job, parsed.places, parsed.warnings)


def with_results(workbook: Workbook, estimate: Estimate) -> bytes:
    """Return the file with the result sheets of the estimate; all else is kept as it is."""
    study = Study.of(estimate)
    package = Package.open(workbook.data)
    names = {key: package.result_sheet_name(key) for key in RESULT_SHEETS}
    watched = tuple(watches(workbook.source, workbook.places))
    specs = (spec for _, spec in each_sheet(study, workbook.places, watched, names))
    return package.put_sheets(specs, tuple(names.values()))


SheetMaker = Callable[[Context], SheetSpec]


def with_sheets(workbook: Workbook, estimate: Estimate, makers: Mapping[str, SheetMaker]) -> bytes:
    """Return the file with some sheets of ours that no estimate rewrites, by their keys."""
    package = Package.open(workbook.data)
    names = {key: package.result_sheet_name(key) for key in makers}
    context = Context(Study.of(estimate), workbook.places, names)
    specs = (laid_out(make(context)) for make in makers.values())
    return package.put_sheets(specs, tuple(names.values()))


def with_cards(workbook: Workbook, estimate: Estimate, cards: Sequence[FieldCard]) -> bytes:
    """Return the file with the Field cards sheet."""
    return with_page(workbook, estimate, FIELD_CARDS, lambda context: cards_sheet(context, cards))


def with_page(workbook: Workbook, estimate: Estimate, key: str, make: SheetMaker) -> bytes:
    """Return the file with a sheet to print whose rows and columns have their sizes already."""
    package = Package.open(workbook.data)
    names = {key: package.result_sheet_name(key)}
    return package.put_sheets((make(Context(Study.of(estimate), workbook.places, names)),))


def baseline_in(workbook: Workbook) -> Baseline | None:
    """Return the baseline of a workbook, None where none was written yet.

    Raises
    ------
    InputError
        Where the sheet was changed so that it does not add up.
    """
    found = workbook.source.result_values(BASELINE)
    if found is None:
        return None
    tables = {
        title: [(column.key, column.header) for column in result_columns(table)]
        for title, table in SECTIONS.items()
    }
    return parse_baseline(*found, [line.label for line in HEAD], tables)


def with_baseline(workbook: Workbook, estimate: Estimate, baseline: Baseline) -> bytes:
    """Return the file with a baseline; the one that is there is kept under its number."""
    makers: dict[str, SheetMaker] = {}
    old = baseline_in(workbook)
    if old is not None:
        key = kept_name(old.head.number)
        makers[key] = lambda context: baseline_sheet(context, key, old)
    makers[BASELINE] = lambda context: baseline_sheet(context, BASELINE, baseline)
    return with_sheets(workbook, estimate, makers)


def with_changes(workbook: Workbook, estimate: Estimate, revision: Revision) -> bytes:
    """Return the file with the Changes sheet of a revision in place of an earlier one."""
    return with_sheets(
        workbook, estimate, {CHANGES: lambda context: changes_sheet(context, revision)}
    )


def last_claim_in(workbook: Workbook) -> PreviousClaim | None:
    """Return the last claim of a workbook, None before the first.

    Raises
    ------
    InputError
        Where a part of its sheet is missing.
    """
    number = 1
    while workbook.source.result_values(claim_name(number)) is not None:
        number += 1
    found = workbook.source.result_values(claim_name(number - 1))
    return None if found is None else read_claim(number - 1, *found)
