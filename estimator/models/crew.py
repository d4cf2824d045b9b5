"""Who works, and how long each work element takes them."""

from typing import ClassVar, Literal

from estimator.models.bands import BANDS, Band, between
from estimator.models.base import Model
from estimator.models.kinds import WorkKind
from estimator.models.rates import MoneyRate

MINUTES_OF = {band: f"min_{band.lower()}" for band in BANDS}


class Role(Model):
    """One role in a crew, with its head count by size band."""

    TABLE: ClassVar[str] = "crew"
    ROW: ClassVar[str] = "role"

    role: str
    heads_a: float
    heads_b: float
    heads_c: float
    heads_d: float
    heads_e: float
    further_heads: float = 0.0
    wage: MoneyRate
    burden: float
    overtime_multiple: float
    basis: str | None = None

    def heads(self, band: Band) -> float:
        """People of this role in a crew with one machine on that size band."""
        heads: float = getattr(self, f"heads_{band.lower()}")
        return heads

    def heads_between(self, low: Band, high: Band, share: float) -> float:
        """People of this role in a crew with one machine, between two size bands."""
        return between(self.heads(low), self.heads(high), share)

    def heads_with(self, band: Band, machines: int) -> float:
        """People of this role in a crew with that many machines on that size band."""
        return self.heads(band) + self.further_heads * (machines - 1)


class TaskTime(Model):
    """Minutes of one work element by size band."""

    TABLE: ClassVar[str] = "task_times"
    ROW: ClassVar[str] = "task"

    task: str
    applies_to: WorkKind
    paced_by: Literal["crew", "machine"]
    hidden: bool
    min_a: float
    min_b: float
    min_c: float
    min_d: float
    min_e: float
    basis: str | None = None

    @property
    def pace(self) -> str:
        """What sets the pace of this task and multiplies its minutes; whether cooling hides it."""
        hidden = ", done while the last joint cools" if self.hidden else ""
        factor = ": minutes x crew factor" if self.paced_by == "crew" else ""
        return f"{self.paced_by}-paced{factor}{hidden}"

    def minutes(self, band: Band) -> float:
        """Minutes of this task on that size band, before efficiency."""
        minutes: float = getattr(self, MINUTES_OF[band])
        return minutes

    def minutes_between(self, low: Band, high: Band, share: float) -> float:
        """Minutes of this task between two size bands, before efficiency."""
        return between(self.minutes(low), self.minutes(high), share)

    def scaled(self, factor: float) -> "TaskTime":
        """Return this task with its minutes multiplied."""
        keys = [f"min_{band.lower()}" for band in BANDS]
        return self.model_copy(update={key: getattr(self, key) * factor for key in keys})


class ColdFactor(Model):
    """Handling factor from a temperature upwards."""

    from_c: float
    factor: float
    basis: str | None = None
