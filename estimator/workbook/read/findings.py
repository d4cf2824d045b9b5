"""Collects what is wrong or doubtful in the inputs, in the order of the sheets."""

from collections.abc import Iterable

from estimator.data_class import dataclass
from estimator.errors import Problem
from estimator.workbook.sheet.source import RawCell

LONGEST_MESSAGE = 900
"""Characters of a message; a cell may hold, and a message quote, many more."""


@dataclass(frozen=True)
class Finding:
    """One error or warning; ``place`` is its cell, or a sheet's name where no cell is at fault."""

    place: RawCell | str
    message: str
    warning: bool = False
    serious: bool = False

    @property
    def problem(self) -> Problem:
        """The finding as the user reads it."""
        where = self.place if isinstance(self.place, str) else self.place.where
        message = self.message
        if len(message) > LONGEST_MESSAGE:
            message = f"{message[:LONGEST_MESSAGE]}..."
        return Problem(where, message, self.serious)

    @property
    def position(self) -> tuple[str, int, int]:
        """Sheet, row and column; zeros for a whole sheet."""
        if isinstance(self.place, str):
            return self.place, 0, 0
        return self.place.sheet, self.place.row, self.place.column


class Findings:
    """Errors and warnings by place; sheets rank in the order in which they are announced."""

    def __init__(self) -> None:
        self._found: list[Finding] = []
        self._outside: dict[tuple[str, int, int], Finding] = {}
        self._sheets: dict[str, int] = {}

    def announce(self, sheet: str) -> None:
        """Note that a sheet comes next; one noted before keeps its rank."""
        self._sheets.setdefault(sheet, len(self._sheets))

    def error(self, place: RawCell | str, message: str) -> None:
        """Add something that must be put right before an estimate."""
        self._found.append(Finding(place, message))

    def warn(self, place: RawCell | str, message: str) -> None:
        """Add something that the user should know."""
        self._found.append(Finding(place, message, warning=True))

    def add(self, findings: Iterable[Finding]) -> None:
        """Add findings that a check has made."""
        self._found.extend(findings)

    def add_outside(self, findings: Iterable[Finding]) -> None:
        """Add what stands outside a table; of a cell beside two tables the graver one is kept."""
        for one in findings:
            known = self._outside.setdefault(one.position, one)
            if known.warning and not one.warning:
                self._outside[one.position] = one

    @property
    def errors(self) -> tuple[Problem, ...]:
        """Every error once, sheet by sheet, then by row and column."""
        return self._sorted(warning=False)

    @property
    def warnings(self) -> tuple[Problem, ...]:
        """Every warning once, sheet by sheet, then by row and column."""
        return self._sorted(warning=True)

    def _sorted(self, warning: bool) -> tuple[Problem, ...]:
        every = (*self._found, *self._outside.values())
        found = sorted((f for f in every if f.warning == warning), key=self._rank)
        return tuple(dict.fromkeys(finding.problem for finding in found))

    def _rank(self, finding: Finding) -> tuple[int, int, int]:
        sheet, row, column = finding.position
        return self._sheets.get(sheet, len(self._sheets)), row, column
