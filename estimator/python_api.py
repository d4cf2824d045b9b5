"""What ``estimator.estimate`` is for a program: any job, a workbook that was read, or its path."""

from dataclasses import fields
from typing import Any

from estimator import files, pipeline
from estimator.api import read_workbook
from estimator.errors import Problem
from estimator.export import as_json, tables
from estimator.models.estimate import Estimate
from estimator.models.job import Job
from estimator.models.places import NO_PLACES, Places
from estimator.workbook.book import Workbook


class JobEstimate(Estimate):
    """An estimate that hands out its own tables."""

    def tables(self) -> tables.Tables:
        """Return every result table as typed rows, as ``estimator.tables`` does."""
        return tables.tables(self)

    def to_pandas(self) -> dict[str, Any]:
        """Return every result table as a DataFrame, as ``estimator.to_pandas`` does."""
        return tables.to_pandas(self)

    def to_dict(self) -> dict[str, Any]:
        """Return plain data, as ``estimator.to_dict`` does."""
        return as_json.to_dict(self)


def estimate(source: Job | Workbook | files.FilePath, places: Places = NO_PLACES) -> JobEstimate:
    """Estimate a job: of a file by its path, of a workbook that was read, or any job.

    Parameters
    ----------
    source : Job, Workbook, str or path
        What to estimate. The warnings of reading a workbook come first.
    places : Places, optional
        Where the inputs of a ``Job`` stand, for messages.

    Raises
    ------
    WorkbookError
        If the file cannot be read at all.
    InputError
        With every problem found, each with its cell.
    """
    if isinstance(source, Job):
        return _with_tables(pipeline.estimate(source, places), ())
    workbook = source if isinstance(source, Workbook) else read_workbook(str(source))
    found = pipeline.estimate(workbook.job, workbook.places)
    return _with_tables(found, workbook.warnings)


def _with_tables(estimate: Estimate, of_reading: tuple[Problem, ...]) -> JobEstimate:
    values = {field.name: getattr(estimate, field.name) for field in fields(estimate)}
    return JobEstimate(**values | {"warnings": (*of_reading, *estimate.warnings)})
