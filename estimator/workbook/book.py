"""A workbook on disk: read into a job, and given its result sheets back."""

from dataclasses import dataclass

from estimator.errors import Problem
from estimator.inputs.dictionary import fields
from estimator.models.estimate import Estimate
from estimator.models.job import Job
from estimator.models.places import Places
from estimator.models.study import Study
from estimator.workbook.package.package import Package
from estimator.workbook.read.cells import to_text
from estimator.workbook.read.file_source import FileSource
from estimator.workbook.read.input_check import watches
from estimator.workbook.read.parse import parse_job
from estimator.workbook.read.unit_text import unit_label
from estimator.workbook.results.sheets import RESULT_SHEETS, each_sheet
from estimator.workbook.sheet.source import first_named_cell


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


def live_minutes(workbook: Workbook, key: str) -> str:
    """Return the formula that gives an input of the Job sheet in minutes.

    A blank cell counts as 0 in a formula, so that its default stands there as a number.
    """
    cell = workbook.places.live("job", "", key)
    if cell is None:
        return f"{workbook.job.input(key):g}"
    field = next(field for field in fields("job") if field.key == key)
    named = first_named_cell(workbook.source, field.cell_names)
    unit = None if named is None else unit_label(to_text(workbook.source.unit_beside(named).value))
    return f"{cell}*60" if unit == "h" else cell


def with_results(workbook: Workbook, estimate: Estimate) -> bytes:
    """Return the file with the result sheets of the estimate; all else is kept as it is."""
    study = Study.of(estimate)
    package = Package.open(workbook.data)
    names = {key: package.result_sheet_name(key) for key in RESULT_SHEETS}
    watched = tuple(watches(workbook.source, workbook.places))
    specs = (spec for _, spec in each_sheet(study, workbook.places, watched, names))
    return package.put_sheets(specs, tuple(names.values()))
