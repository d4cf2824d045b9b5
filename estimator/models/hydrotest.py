"""Hydrotests: what a section takes, and on which days it is tested."""

import datetime as dt

from estimator.models.base import Model


class HydroHours(Model):
    """Hours of one test by phase, each to 0.01 h."""

    setup: float
    fill: float
    bleed: float
    raising: float
    expansion: float
    hold: float
    drain: float

    @property
    def before_pressure(self) -> float:
        """From the set-up until the pressure is raised."""
        return self.setup + self.fill + self.bleed

    @property
    def at_pressure(self) -> float:
        """From the raising to the end of the hold."""
        return self.raising + self.expansion + self.hold

    @property
    def total(self) -> float:
        """All phases."""
        return self.before_pressure + self.at_pressure + self.drain

    @property
    def repeat(self) -> float:
        """A repeat on a line that stays filled: bleeding and the phases at pressure."""
        return self.bleed + self.at_pressure


class HydroDay(Model):
    """What one test crew does on one section on one day."""

    date: dt.date
    crew: int
    section: str
    work: tuple[str, ...]
    hours: float


class HydroTest(Model):
    """One test section with its dates; ``volume_l`` is the water that fills its pipe.

    ``highest_dr`` is the largest dimension ratio in it, the thinnest wall for its diameter.
    ``pressure_date`` is the day on which it stands at pressure.
    """

    section: str
    run_ids: tuple[str, ...]
    length_m: float
    highest_dr: float
    volume_l: float
    people: int
    hours: HydroHours
    ready: dt.date
    pressure_date: dt.date
    days: tuple[HydroDay, ...]

    @property
    def crew(self) -> int:
        """Number of the test crew."""
        return self.days[0].crew

    @property
    def start(self) -> dt.date:
        """First day of the test."""
        return self.days[0].date

    @property
    def finish(self) -> dt.date:
        """Last day of the test, drained and restored."""
        return self.days[-1].date

    @property
    def labor_hours(self) -> float:
        """Hours of all people who attend."""
        return self.people * self.hours.total

    @property
    def repeat_labor_hours(self) -> float:
        """Hours of all people if it is repeated once."""
        return self.people * self.hours.repeat
