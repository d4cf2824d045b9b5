"""Days that are not worked as the Job sheet says: holidays, overtime and weather."""

import datetime as dt
from typing import ClassVar

from estimator.models.base import Model


class Holiday(Model):
    """A day that is not worked."""

    date: dt.date
    holiday: str | None = None


class OvertimeSpan(Model):
    """Dates whose day shift has other paid hours than the Job sheet says."""

    from_date: dt.date
    to_date: dt.date
    shift_hours: float
    note: str | None = None


class MonthWeather(Model):
    """Share of the working days of a month that weather takes."""

    TABLE: ClassVar[str] = "weather"
    ROW: ClassVar[str] = "month"

    month: str
    ambient: float | None = None
    lost_share: float
    basis: str | None = None
