"""What ``estimator.estimate`` is for a program: any job, a workbook that was read, or its path."""

from dataclasses import replace

from estimator import files, pipeline
from estimator.api import read_workbook
from estimator.models.estimate import Estimate
from estimator.models.job import Job
from estimator.models.places import NO_PLACES, Places
from estimator.workbook.book import Workbook


def estimate(source: Job | Workbook | files.FilePath, places: Places = NO_PLACES) -> Estimate:
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
        return pipeline.estimate(source, places)
    workbook = source if isinstance(source, Workbook) else read_workbook(str(source))
    found = pipeline.estimate(workbook.job, workbook.places)
    return replace(found, warnings=(*workbook.warnings, *found.warnings))
