"""Days that are not worked as the Job sheet says: holidays, overtime, weather, crews, holds."""

import datetime as dt
from typing import ClassVar, Literal

from estimator.models.base import KeyedModel, Model


class Holiday(Model):
    """A holiday: not worked, or worked at the multiplier of Sundays and holidays."""

    date: dt.date
    holiday: str | None = None
    worked: bool = False


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
    ambient_c: float | None = None
    lost_share: float
    basis: str | None = None


class CrewDates(KeyedModel):
    """When a crew is on site, with its own machines and paid shift where they are given."""

    KEYS: ClassVar[tuple[str, ...]] = ("crew", "from_date")

    crew: int
    from_date: dt.date
    to_date: dt.date | None = None
    machines: int | None = None
    shift_hours: float | None = None
    note: str | None = None


HoldCause = Literal[
    "weather", "no pipe", "no trench", "machine", "generator", "inspection", "hold by others",
    "permit", "other",
]  # fmt: skip
ChargeTo = Literal["us", "client", "supplier"]


class Hold(KeyedModel):
    """Dates on which a run, or every run, may not be worked on; who bears it, and whether paid.

    Without a last date it is open.
    """

    KEYS: ClassVar[tuple[str, ...]] = ("run", "from_date", "cause")

    run: str | None = None
    from_date: dt.date
    to_date: dt.date | None = None
    cause: HoldCause
    charge_to: ChargeTo = "us"
    paid: bool = True
    note: str | None = None
