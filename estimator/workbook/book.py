"""A workbook on disk: read into a job, and given its result sheets back."""

from dataclasses import dataclass

from estimator.errors import Problem
from estimator.models.estimate import Estimate
from estimator.models.job import Job
from estimator.models.places import Places
from estimator.models.study import Study
from estimator.workbook.package.package import Package
from estimator.workbook.read.file_source import FileSource
from estimator.workbook.read.input_check import watches
from estimator.workbook.read.parse import parse_job
from estimator.workbook.results.sheets import RESULT_SHEETS, each_sheet


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
