"""What the user is reported when inputs need attention: a list, and the Checks sheet."""

from collections.abc import Sequence

from estimator.errors import EstimatorError, InputError, Problem
from estimator.workbook.results.checks_sheet import WIDTHS
from estimator.workbook.results.light import LIGHT_ROW
from estimator.workbook.sheet.layout import laid_out
from estimator.workbook.sheet.source import column_letters
from estimator.workbook.sheet.spec import Cell, Row, SheetSpec

LIGHT = f"B{LIGHT_ROW}"
"""Cell of the Checks sheet that the Start sheet shows as the overall check."""
ATTENTION = "Inputs need attention"
GOOD = "Inputs OK: run Estimate again"
KEPT = "The other result sheets are from the last estimate."
MOST_SHOWN = 12
LAST = column_letters(len(WIDTHS))


def problems_of(error: EstimatorError) -> tuple[Problem, ...]:
    """Return every problem that an error carries."""
    return error.problems if isinstance(error, InputError) else (Problem("", str(error)),)


def list_of(problems: Sequence[Problem]) -> str:
    """Return the first problems as lines, and how many more there are."""
    return "\n".join(first_of([_line(problem) for problem in problems]))


def first_of(lines: Sequence[str]) -> list[str]:
    """Return as many lines as a message box shows well, and how many more there are."""
    more = len(lines) - MOST_SHOWN
    return [*lines[:MOST_SHOWN], *([f"and {more} more"] if more > 0 else [])]


def _line(problem: Problem) -> str:
    return str(problem) if problem.where else problem.message


def problem_sheet(name: str, problems: Sequence[Problem]) -> SheetSpec:
    """Return the Checks sheet of a workbook that could not be estimated.

    Parameters
    ----------
    name : str
        Name of the sheet in this workbook.
    problems : sequence of Problem
        What to put right; none once the inputs are good again.
    """
    light = Cell(ATTENTION, "warn") if problems else Cell(GOOD, "note")
    rows = [
        Row((Cell("Checks", "title"),)),
        Row((Cell(KEPT, "job"),)),
        Row((Cell("Overall", "key"), light)),
    ]
    if problems:
        rows += [Row(()), _row(Cell("Where", "header"), Cell("What", "header"))]
    rows += [_row(Cell(p.where, "text"), Cell(p.message, "text_wrap")) for p in problems]
    merges = tuple(f"B{row}:{LAST}{row}" for row in range(LIGHT_ROW + 2, len(rows) + 1))
    spec = SheetSpec(name, rows, WIDTHS, freeze=(LIGHT_ROW, 0), landscape=False, merges=merges)
    return laid_out(spec)


def _row(where: Cell, what: Cell) -> Row:
    return Row((where, what, *[Cell(None, what.style)] * (len(WIDTHS) - 2)))
