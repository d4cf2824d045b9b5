"""The live formula of a recorded step, over input cells and the cells of earlier steps."""

from collections.abc import Callable, Mapping
from typing import Any

from estimator.steps.marks import CONSTANTS, Mark
from estimator.steps.recorder import Recorded, Worked

InputCell = Callable[[str, str, str], str | None]
"""Gives the reference of an input by table, row and key, None where a formula may not use it."""


def cell_formula(
    recorded: Recorded,
    input_cell: InputCell,
    anchor: Callable[[str], str | None] = lambda key: None,
    steps: Mapping[str, Recorded] | None = None,
) -> str:
    """Return the formula of a step, without the sign of equality.

    Parameters
    ----------
    recorded : Recorded
        The step.
    input_cell : callable
        Gives the cell of an input; an input without one stands as its number.
    anchor : callable, optional
        Gives the cell of an earlier step, or of a parameter, by its name.
    steps : mapping of str to Recorded, optional
        Earlier steps by key: one without a cell is written out.
    """
    known = {} if steps is None else steps

    def leaf(mark: Mark) -> str:
        place = mark.place
        if place is not None:
            cell = input_cell(*place[:3]) if place.live else None
            return cell or written(mark.value)
        if mark.label and (cell := anchor(mark.label)):
            return cell
        if mark.label in known and mark.label != recorded.key:
            return f"({known[mark.label].mark.write(leaf, 'cell')})"
        return written(mark.value)

    return recorded.mark.write(leaf, "cell")


def row_formula(
    made: Worked[Any], input_cell: InputCell = lambda *_: None, taken: Worked[Any] | None = None
) -> str:
    """Return the formula of a step for many rows: its parameters stand in braces, to be filled in.

    A row of numbers is given as one ``Cells``, and filled with a range.

    Parameters
    ----------
    made : Worked
        A call of the step on any numbers that it takes.
    input_cell : callable, optional
        Gives the cell of an input; an input without one stands as its number.
    taken : Worked, optional
        A step inside it that has a cell of its own, which goes by the name of that step.

    Raises
    ------
    ValueError
        If the step does not take what ``taken`` gives.
    """

    def cell(table: str, row: str, key: str) -> str | None:
        found = input_cell(table, row, key)
        return found and found.replace("{", "{{").replace("}", "}}")

    formula = cell_formula(made.recorded(), cell, "{{{}}}".format)
    if taken is None:
        return formula
    inner = row_formula(taken, input_cell)
    if inner not in formula:
        message = f"{made.step.key} does not take {taken.step.key}: {formula}"
        raise ValueError(message)
    return formula.replace(inner, f"{{{taken.step.key}}}")


def live_formula(recorded: Recorded, input_cell: InputCell) -> str | None:
    """Return the formula of a step over input cells, None where it would hold none."""
    seen: list[str | None] = []

    def watched(table: str, row: str, key: str) -> str | None:
        seen.append(input_cell(table, row, key))
        return seen[-1]

    formula = cell_formula(recorded, watched)
    return formula if any(seen) else None


def written(value: object) -> str:
    """Return a constant as a formula writes it.

    >>> written(40.0), written("markup on cost"), written(None)
    ('40', '"markup on cost"', '0')
    """
    if isinstance(value, str):
        quoted = value.replace('"', '""')
        return f'"{quoted}"'
    if not isinstance(value, int | float):
        return "0"
    if value in CONSTANTS:
        return CONSTANTS[value][1]
    return repr(int(value)) if value == int(value) else repr(value)
