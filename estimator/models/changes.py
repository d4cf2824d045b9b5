"""Changes of an awarded job, and the terms on which progress is claimed."""

import datetime as dt
from typing import ClassVar, Literal

from estimator.models.base import Model


class Change(Model):
    """A change that was raised; only an agreed one is claimed. Prices in the job's currency."""

    TABLE: ClassVar[str] = "changes"
    ROW: ClassVar[str] = "number"

    number: str
    date: dt.date
    kind: Literal["quantity", "method", "delay", "hold", "acceleration"] | None = None
    runs: str | None = None
    what: str
    status: Literal["raised", "priced", "agreed", "refused"]
    days_asked: int | None = None
    days_agreed: int | None = None
    price_asked: float | None = None
    price_agreed: float | None = None
    done: float | None = None
    document: str | None = None
    note: str | None = None


class ClaimTerms(Model):
    """Retention, and the part of mobilization that is claimed with the first work."""

    TABLE: ClassVar[str] = "claim_terms"
    ROW: ClassVar[str] = "retention"

    retention: float
    released: float | None = None
    mobilized: float | None = None
