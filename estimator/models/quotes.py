"""What rental suppliers answer to a request."""

import datetime as dt
from typing import ClassVar

from estimator.models.base import Model


class Quote(Model):
    """One supplier's answer to one line of the rental request, in the currency of the job."""

    TABLE: ClassVar[str] = "quotes"
    ROW: ClassVar[str] = "supplier"

    supplier: str
    line: int
    offered: str | None = None
    od_from_mm: float | None = None
    od_to_mm: float | None = None
    piston_area_mm2: float | None = None
    gauge_limit_mpa: float | None = None
    rated_kw: float | None = None
    capacity_kg: float | None = None
    day_rate: float
    week_rate: float | None = None
    four_week_rate: float | None = None
    minimum_days: int | None = None
    day_hours: float | None = None
    excess_hour: float | None = None
    waiver: float | None = None
    delivery: float | None = None
    collection: float | None = None
    fuel_l_h: float | None = None
    standby: float | None = None
    valid_until: dt.date | None = None
    earliest: dt.date | None = None
    note: str | None = None

    @property
    def week(self) -> float:
        """Price of a week; seven days where none is quoted."""
        return 7 * self.day_rate if self.week_rate is None else self.week_rate

    @property
    def four_weeks(self) -> float:
        """Price of four weeks; four single ones where none is quoted."""
        return 4 * self.week if self.four_week_rate is None else self.four_week_rate


class RequestTerms(Model):
    """Site, access and contact, as they stand on a rental request."""

    TABLE: ClassVar[str] = "request_terms"
    ROW: ClassVar[str] = "reference"

    reference: str | None = None
    answer_by: dt.date | None = None
    access: str | None = None
    unloading: str | None = None
    site_power: str | None = None
    delivery_hours: str | None = None
    contact: str | None = None
