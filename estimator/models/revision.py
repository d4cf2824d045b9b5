"""Two versions of one job beside each other: what was changed, and what each change comes to."""

from collections.abc import Mapping
from decimal import Decimal
from itertools import pairwise

from estimator.data_class import dataclass
from estimator.display import UnitSystem
from estimator.models.comparison import Figures

ADDED, REMOVED, CHANGED = "added", "removed", "changed"


@dataclass(frozen=True)
class InputChange:
    """One input that differs, or a row that only one version has.

    ``table`` is its key in the data dictionary, ``where`` its cell (of the new version, of the old
    one where the row was removed), ``row`` its row by name, empty for a named cell; ``header`` is
    empty for a whole row.
    """

    table: str
    kind: str
    where: str
    row: str
    key: str
    header: str
    old: str
    new: str
    priced: bool = True
    """Whether a figure can rest on it; a text cannot."""


@dataclass(frozen=True)
class RevisionStep:
    """Some changes made on top of all steps before it, and what the job then comes to."""

    name: str
    changes: int
    figures: Figures


@dataclass(frozen=True)
class CostChange:
    """One cost type, or one line from cost to price, in both versions."""

    name: str
    old: Decimal
    new: Decimal

    @property
    def change(self) -> Decimal:
        """What the new version has more."""
        return self.new - self.old


@dataclass(frozen=True)
class Revision:
    """An old and a new version of a job, and the way from one price to the other."""

    old_name: str
    new_name: str
    currency: str
    system: UnitSystem
    old: Figures
    new: Figures
    changes: tuple[InputChange, ...]
    steps: tuple[RevisionStep, ...]
    costs: tuple[CostChange, ...]
    chain: tuple[CostChange, ...]

    @property
    def runs(self) -> Mapping[str, tuple[str, ...]]:
        """Names of the runs that were added and removed."""
        return {
            kind: tuple(
                change.row
                for change in self.changes
                if change.table == "schedule" and change.kind == kind
            )
            for kind in (ADDED, REMOVED)
        }

    @property
    def price_changes(self) -> tuple[Decimal, ...]:
        """What each step adds to the price; together all that the new version has more."""
        prices = [self.old.price, *(step.figures.price for step in self.steps)]
        return tuple(after - before for before, after in pairwise(prices))

    @property
    def cost_changes(self) -> tuple[Decimal, ...]:
        """What each step adds to the job cost."""
        costs = [self.old.job_cost, *(step.figures.job_cost for step in self.steps)]
        return tuple(after - before for before, after in pairwise(costs))
