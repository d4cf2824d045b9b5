"""The paper that the Job sheet names, and the sheets of the user that follow it."""

from collections.abc import Collection

from estimator.inputs.dictionary import site_tables
from estimator.models.job_inputs import PageInputs
from estimator.models.places import Places
from estimator.workbook.sheet.look import PAPER_OF_NAME, Paper
from estimator.workbook.sheet.names import sheet_of

START = "Start"


def named_paper(pages: PageInputs) -> Paper | None:
    """Return the paper that the Job sheet names, None where it goes with the units."""
    return PAPER_OF_NAME[pages.paper] if pages.paper else None


def input_sheets(places: Places) -> Collection[str]:
    """Return the names of the sheets that the user fills in, and of Start."""
    inputs = {sheet_of(reference) for reference in places.columns.values()}
    return {START, *filter(None, inputs), *(table.sheet for table in site_tables())}
