"""What is on rent, from when to when, and for which rate periods."""

import datetime as dt
from typing import Literal

from estimator.models.base import Model
from estimator.models.choice import Reason, Rejection
from estimator.models.power import PowerNeed, SetCheck


class TierMix(Model):
    """How a rental span is billed."""

    days: int
    weeks: int
    four_weeks: int
    cost: float


RentalKind = Literal["machine", "generator", "lifting"]


class RentalSpan(Model):
    """One class of equipment on rent for one crew."""

    kind: RentalKind
    class_id: str
    crew: int
    quantity: int
    on_rent: dt.date
    off_rent: dt.date
    used: tuple[dt.date, ...]
    rate_periods: TierMix
    fuel_l: float
    excess_h: float = 0.0
    """Hours of day shifts beyond those that its rental days cover, of one piece."""
    why: Reason
    rejected: tuple[Rejection, ...] = ()

    @property
    def work_days(self) -> int:
        """Days on which it is used."""
        return len(self.used)

    @property
    def calendar_days(self) -> int:
        """Days on rent, both ends counted."""
        return (self.off_rent - self.on_rent).days + 1


class Fleet(Model):
    """Everything on rent, the power need of each machine class used, and how each set copes."""

    spans: tuple[RentalSpan, ...]
    power: dict[str, PowerNeed]
    sets: tuple[SetCheck, ...] = ()
