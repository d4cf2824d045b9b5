"""What the choice of machines and crews over the whole job came to."""

import datetime as dt
from decimal import Decimal

from estimator.data_class import dataclass
from estimator.models.job import Job

AS_LISTED = "run by run"


@dataclass(frozen=True)
class Candidate:
    """One way of giving classes and crews to the runs, as the estimate prices it.

    ``why_not`` says why it cannot be done; ``short_of_stock`` that it holds more than there is.
    """

    name: str
    job_cost: Decimal | None = None
    finish: dt.date | None = None
    short_of_stock: bool = False
    why_not: str = ""


@dataclass(frozen=True)
class FleetOutcome:
    """The model's own figures, and the estimates of which the cheapest is kept.

    ``model_cost`` is the least cost that the solver found in the model and ``bound`` the cost
    below which there is none; both None where it found nothing, with the reason in ``note``.
    ``items`` are what was given out: runs, or bundles of alike runs.
    """

    asked: Job
    kept: str
    candidates: tuple[Candidate, ...]
    items: int
    runs: int
    model_cost: float | None = None
    bound: float | None = None
    finished: bool = False
    note: str = ""

    @property
    def gap(self) -> float | None:
        """How far the model's cost may be above its least, as a share of it."""
        if not self.model_cost or self.bound is None:
            return None
        return max(0.0, self.model_cost - self.bound) / self.model_cost

    @property
    def saving(self) -> Decimal:
        """Job cost of the classes taken run by run, less that of what is kept."""
        costs = {candidate.name: candidate.job_cost for candidate in self.candidates}
        before, kept = costs[AS_LISTED], costs[self.kept]
        return Decimal(0) if before is None or kept is None else before - kept
