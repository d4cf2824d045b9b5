"""The result sheets of a job as they are laid out, without a file."""

from estimator.models.places import Places
from estimator.study import study
from estimator.workbook.results.sheets import RESULT_SHEETS, result_sheets


def sheets_of(job):
    made = result_sheets(study(job), Places(), (), {key: key for key in RESULT_SHEETS})
    return dict(zip(RESULT_SHEETS, made, strict=True))
