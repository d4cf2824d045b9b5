"""The import from end to end: a foreign table read with the user's answers, and the new file."""

from collections.abc import Iterator, Sequence

from estimator.data_class import dataclass
from estimator.display import counted
from estimator.errors import Problem
from estimator.takeoff.answers import RULE, Answer, Answers
from estimator.takeoff.columns import find_layout
from estimator.takeoff.foreign import ForeignTable
from estimator.takeoff.rows import BLANK, LeftOut, RowReader
from estimator.takeoff.runs import TakenRun, make_runs
from estimator.takeoff.schedule import (
    APPEND,
    Target,
    defaults_of,
    faults_of,
    with_runs,
)

NOTHING = "no row is a run of pipe: a size, a wall and a length. Check the columns as read"
ROWS_SHOWN, MOST_SHOWN = 8, 30
ANGLES, DROPPED = "elbow_angles", "left out"


@dataclass(frozen=True)
class Import:
    """A takeoff as read: its runs, what was left out, what is wrong, and the new workbook."""

    answers: Answers
    runs: Sequence[TakenRun]
    length_unit: str
    left_out: Sequence[LeftOut]
    problems: Sequence[Problem]
    data: bytes

    @property
    def fittings(self) -> int:
        """Number of fittings of all runs."""
        return sum(run.fittings for run in self.runs)

    @property
    def totals(self) -> str:
        """Number of runs, their length and fittings, to be held against the table's own sums."""
        length = sum(run.length(self.length_unit) for run in self.runs)
        return (
            f"{counted(len(self.runs), 'run')}, {length:,.10g} {self.length_unit}, "
            f"{counted(self.fittings, 'fitting')}"
        )

    def rows_left_out(self) -> Iterator[str]:
        """Yield the rows that were left out, those with text each with it."""
        blank = [one.row for one in self.left_out if one.why == BLANK]
        others = [one for one in self.left_out if one.why != BLANK]
        if blank:
            yield f"{counted(len(blank), 'blank row')}: {_rows(blank)}"
        for one in others[:MOST_SHOWN]:
            yield f"row {one.row}, {one.text!r}: {one.why}"
        if len(others) > MOST_SHOWN:
            yield f"and {len(others) - MOST_SHOWN} more rows"


def read_takeoff(table: ForeignTable, target: Target, answers: Answers, mode: str) -> Import:
    """Return a takeoff as the answers read it, and the workbook with its runs.

    Parameters
    ----------
    table : ForeignTable
        The foreign table.
    target : Target
        The pipe schedule that it goes into.
    answers : Answers
        What is known already; takes every guess.
    mode : str
        What becomes of rows that are there: ``replace``, ``append``, or empty for none there.

    Raises
    ------
    InputError
        If the answers do not fit the table, or the schedule cannot take the rows.
    """
    layout = find_layout(table, answers, target.length_unit)
    found = RowReader(table, layout, answers).read()
    kept = target.names if mode == APPEND else frozenset[str]()
    runs, homeless = make_runs(found, answers, defaults_of(target), kept)
    _drop_angles(runs, target, answers)
    problems = [*found.problems, *homeless]
    if not runs and not problems:
        problems.append(Problem(table.name, NOTHING))
    data, rows = with_runs(target, runs, mode)
    reported = frozenset(problem.where for problem in problems)
    problems += faults_of(data, target, rows, reported)
    order = {problem: _order(problem) for problem in problems}
    return Import(
        answers=answers,
        runs=runs,
        length_unit=target.length_unit,
        left_out=found.left_out,
        problems=sorted(dict.fromkeys(problems), key=order.__getitem__),
        data=data,
    )


def _drop_angles(runs: Sequence[TakenRun], target: Target, answers: Answers) -> None:
    """Leave the angles of elbows out, and say so, where the schedule has no column for them."""
    if ANGLES in target.columns or not any(ANGLES in run.values for run in runs):
        return
    note = "this pipe schedule has no column Elbow angles; add it to keep them"
    answers.settle(Answer(RULE, "Angles of elbows", DROPPED, note=note, choices=(DROPPED,)))
    for run in runs:
        run.values.pop(ANGLES, None)


def _order(problem: Problem) -> tuple[int, str]:
    digits = problem.where.rpartition("!")[2].lstrip("ABCDEFGHIJKLMNOPQRSTUVWXYZ")
    return (int(digits), problem.where) if digits.isdigit() else (0, problem.where)


def _rows(rows: Sequence[int]) -> str:
    shown = ", ".join(map(str, rows[:ROWS_SHOWN]))
    more = len(rows) - ROWS_SHOWN
    return f"{shown} and {more} more" if more > 0 else shown
