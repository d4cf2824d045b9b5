"""The job as it stands beside the same job with some inputs changed."""

import datetime as dt
from decimal import Decimal

from estimator.data_class import dataclass


@dataclass(frozen=True)
class Figures:
    """What an estimate comes to."""

    joints: int
    work_days: int
    start: dt.date
    finish: dt.date
    labor_hours: float
    crew_hours: float
    job_cost: Decimal
    price: Decimal
    days_late: int = 0
    """Calendar days from the deadline to the finish; 0 in time or without a deadline."""

    @property
    def calendar_days(self) -> int:
        """Days from the first to the last day of work, both counted."""
        return (self.finish - self.start).days + 1


@dataclass(frozen=True)
class Outcome:
    """One scenario: what it changes, and what comes of it, or why nothing can."""

    name: str
    changes: tuple[str, ...]
    note: str
    figures: Figures | None
    why_not: tuple[str, ...] = ()
    is_alternate: bool = False

    @property
    def is_trouble(self) -> bool:
        """Whether it cannot be done, or not by the deadline."""
        return self.figures is None or self.figures.days_late > 0


@dataclass(frozen=True)
class Comparison:
    """The base, which is the job as it stands, and every scenario in the order of the table."""

    base: Figures
    scenarios: tuple[Outcome, ...]
