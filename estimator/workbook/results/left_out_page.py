"""What stands on a result sheet that the Job sheet leaves out: one line, and nothing old."""

from collections.abc import Sequence

from estimator.input_errors.entries import header as header_of
from estimator.workbook.results.builder import Context, SheetBuilder
from estimator.workbook.sheet.spec import Cell, SheetSpec

LEFT_OUT = "Left out"
"""How the third line of a result sheet begins that was left out."""


def left_out_page(context: Context, key: str) -> SheetSpec:
    """Return a result sheet that says where to ask for it again."""
    sheet = SheetBuilder(context, key, key)
    where = context.places.where("job", "", "left_out")
    cell = header_of("job", "left_out")
    text = f"{LEFT_OUT}: {cell} ({where}) names this sheet. Clear it there and run Estimate."
    sheet.add(Cell(text, "subtitle"))
    return sheet.spec()


def is_left_out(values: Sequence[Sequence[object]]) -> bool:
    """Return whether the values of a result sheet say that it was left out."""
    return any(str(cell).startswith(LEFT_OUT) for row in values[2:3] for cell in row)
