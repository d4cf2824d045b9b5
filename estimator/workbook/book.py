"""A workbook on disk: read into a job, and given its result sheets back."""

from collections.abc import Callable, Collection, Iterator, Mapping
from dataclasses import replace
from functools import partial
from typing import Protocol

from estimator.data_class import dataclass
from estimator.errors import Problem
from estimator.models.baseline import Baseline
from estimator.models.estimate import Estimate
from estimator.models.job import Job
from estimator.models.places import Places
from estimator.models.revision import Revision
from estimator.models.study import Study
from estimator.progress.claim import PreviousClaim
from estimator.workbook.package.package import Package
from estimator.workbook.read.baseline import parse_baseline
from estimator.workbook.read.file_source import FileSource
from estimator.workbook.read.input_check import watches
from estimator.workbook.read.paper import input_sheets, named_paper
from estimator.workbook.read.parse import parse_job
from estimator.workbook.results.baseline_sheet import (
    BASELINE,
    HEAD,
    SECTIONS,
    baseline_sheet,
    kept_name,
)
from estimator.workbook.results.builder import Context
from estimator.workbook.results.changes_sheet import CHANGES, changes_sheet
from estimator.workbook.results.claim_sheet import claim_name, read_claim
from estimator.workbook.results.client_page import foot_of
from estimator.workbook.results.result_columns import result_columns
from estimator.workbook.results.sheets import RESULT_SHEETS, each_sheet
from estimator.workbook.sheet.layout import laid_out
from estimator.workbook.sheet.source import SheetSource
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
    written = tuple(names.values())
    return _on_its_paper(workbook, package.put_sheets(specs, written), written)


SheetMaker = Callable[[Context], SheetSpec]


class ReadBook(Protocol):
    """A workbook that was read, on disk or open in a spreadsheet program."""

    @property
    def source(self) -> SheetSource:
        """Where its tables, named cells and kept sheets come from."""

    @property
    def job(self) -> Job:
        """The job that was read from it."""

    @property
    def places(self) -> Places:
        """Where its inputs stand."""


@dataclass(frozen=True)
class Pages:
    """Sheets that a command writes, by their keys, and what it says of them, line by line.

    Those in ``fixed`` have the sizes of their rows and columns already, to print on a page. The
    foot calls them by the job, unless they have one of their own.
    """

    estimate: Estimate
    makers: Mapping[str, SheetMaker]
    says: tuple[str, ...] = ()
    fixed: frozenset[str] = frozenset()

    def specs(self, places: Places, names: Mapping[str, str]) -> Iterator[SheetSpec]:
        """Yield the sheets as they are written, by the names they have in a workbook."""
        context = Context(Study.of(self.estimate), places, names)
        for key, make in self.makers.items():
            spec = make(context)
            made = spec if key in self.fixed else laid_out(spec)
            foot = made.foot or foot_of(context, for_client=False)
            yield replace(made, foot=foot, paper=made.paper or context.paper)


def with_pages(workbook: Workbook, pages: Pages) -> bytes:
    """Return the file with some sheets of ours that no estimate rewrites."""
    package = Package.open(workbook.data)
    names = {key: package.result_sheet_name(key) for key in pages.makers}
    written = tuple(names.values())
    made = package.put_sheets(pages.specs(workbook.places, names), written)
    return _on_its_paper(workbook, made, written)


def _on_its_paper(workbook: Workbook, made: bytes, written: Collection[str]) -> bytes:
    """Return the file with all its sheets on the paper of the Job sheet, if one is named.

    Those just written are on it.
    """
    paper = named_paper(workbook.job.pages)
    if paper is None:
        return made
    package = Package.open(made)
    parts = package.parts_on_paper(input_sheets(workbook.places), paper, written)
    return package.with_parts(parts) if parts else made


def baseline_in(workbook: ReadBook) -> Baseline | None:
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


def baseline_makers(baseline: Baseline, old: Baseline | None) -> Mapping[str, SheetMaker]:
    """Return what makes the sheet of a baseline, and keeps the one before it under its number."""
    makers: dict[str, SheetMaker] = {}
    if old is not None:
        key = kept_name(old.head.number)
        makers[key] = lambda context: baseline_sheet(context, key, old)
    makers[BASELINE] = lambda context: baseline_sheet(context, BASELINE, baseline)
    return makers


def with_baseline(workbook: Workbook, estimate: Estimate, baseline: Baseline) -> bytes:
    """Return the file with a baseline; the one that is there is kept under its number."""
    return with_pages(workbook, Pages(estimate, baseline_makers(baseline, baseline_in(workbook))))


def with_changes(workbook: Workbook, estimate: Estimate, revision: Revision) -> bytes:
    """Return the file with the Changes sheet of a revision in place of an earlier one."""
    makers = {CHANGES: partial(changes_sheet, revision=revision)}
    return with_pages(workbook, Pages(estimate, makers))


def last_claim_in(workbook: ReadBook) -> PreviousClaim | None:
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
