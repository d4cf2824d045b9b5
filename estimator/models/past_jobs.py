"""What past jobs took, as the office kept it."""

from typing import ClassVar

from estimator.models.bands import Band
from estimator.models.base import Model


class PastJob(Model):
    """One size band of a past job: crew-paced minutes of a joint as clocked on site."""

    TABLE: ClassVar[str] = "past_jobs"
    ROW: ClassVar[str] = "job"

    job: str
    band: Band
    joints: int
    crew_min: float
    season: str | None = None
    machine: str | None = None
    note: str | None = None
