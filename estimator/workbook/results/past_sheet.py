"""The Past job times sheet: what own records say beside the present times."""

from collections.abc import Mapping, Sequence
from dataclasses import replace

from estimator.progress.past import Suggestion
from estimator.steps.cells import row_formula
from estimator.steps.plain import share
from estimator.workbook.results.builder import Context, Scalar, SheetBuilder
from estimator.workbook.results.result_columns import result_columns
from estimator.workbook.sheet.source import column_letters
from estimator.workbook.sheet.spec import Cell, SheetSpec

PAST_TIMES = "Past job times"
NOTES = (
    "Crew-paced minutes of a butt joint before efficiency: the sum of the crew-paced tasks of Task "
    "times. Heat soak and cooling are not in it. Take one size with estimator past FILE --take and "
    "its letter: each crew-paced task of a butt joint is multiplied by the factor, and Basis says "
    "so. What is not taken stays as it is.",
    "Low and high hold 8 of 10 of the days or jobs seen. Divided by the time that you take they "
    "are a range of productivity for Risk inputs.",
)


def past_sheet(context: Context, suggestions: Sequence[Suggestion]) -> SheetSpec:
    """Return the suggestions; the factors are live."""
    columns = result_columns("past")
    letters = {column.key: column_letters(i) for i, column in enumerate(columns, 1)}
    sheet = SheetBuilder(context, PAST_TIMES, PAST_TIMES, "Suggestions: nothing is taken by itself")
    for text in NOTES:
        row = sheet.add(Cell(text, "text_wrap"))
        sheet.merge(row, 1, len(columns))
        sheet.heights[row] = 15.0 * (1 + len(text) // 100)
    sheet.add()
    sheet.table_head(columns)
    of = row_formula(share.worked(1.0, 1.0))
    for one in suggestions:
        row = sheet.next_row
        present = f"{letters['present']}{row}"
        suggested = f"{letters['suggested']}{row}"
        formulas: dict[str, str | None] = {"factor": of.format(part=suggested, whole=present)}
        if one.low_min is not None:
            for end in ("low", "high"):
                cell = f"{letters[end]}{row}"
                formulas[f"{end}_factor"] = of.format(part=cell, whole=suggested)
        sheet.table_row(columns, _values(one), formulas)
    widths = tuple(column.width for column in columns)
    return replace(sheet.spec(), widths=widths, freeze=(2, 0))


def _values(one: Suggestion) -> Mapping[str, Scalar]:
    return {
        "band": one.band,
        "jobs": ", ".join(one.jobs),
        "observations": one.observations,
        "joints": one.joints,
        "present": one.present_min,
        "suggested": one.suggested_min,
        "factor": one.factor,
        "low": one.low_min,
        "high": one.high_min,
        "low_factor": None if one.low_min is None else share(one.low_min, one.suggested_min),
        "high_factor": None if one.high_min is None else share(one.high_min, one.suggested_min),
    }
