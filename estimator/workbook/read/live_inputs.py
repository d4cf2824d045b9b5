"""Formulas that give an input of the Job sheet, wherever it stands and in whatever unit."""

from estimator.inputs.dictionary import fields
from estimator.models.job import Job
from estimator.models.places import Places
from estimator.workbook.read.cells import to_text
from estimator.workbook.read.unit_text import unit_label
from estimator.workbook.sheet.source import InputSource, first_named_cell


def live_minutes(source: InputSource, job: Job, places: Places, key: str) -> str:
    """Return the formula that gives an input of the Job sheet in minutes.

    A blank cell counts as 0 in a formula, so that its default stands there as a number.
    """
    cell = places.live("job", "", key)
    if cell is None:
        return f"{job.input(key):g}"
    known = next(field for field in fields("job") if field.key == key)
    named = first_named_cell(source, known.cell_names)
    unit = None if named is None else unit_label(to_text(source.unit_beside(named).value))
    return f"{cell}*60" if unit == "h" else cell
