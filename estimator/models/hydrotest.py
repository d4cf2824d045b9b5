"""Hydrotests: what a section takes, and on which days it is tested."""

import datetime as dt

from estimator.models.base import Model
from estimator.steps.kinds import Hours
from estimator.steps.recorder import step


@step("Time at pressure", "pressurizing + expansion + hold")
def pressure_hours(raising: Hours, expansion: Hours, hold: Hours) -> Hours:
    """Return the hours from the raising to the end of the hold."""
    return raising + expansion + hold


@step("Hours of all phases", "setup + fill + air bleed + at pressure + drain and restore")
def phase_hours(setup: Hours, fill: Hours, bleed: Hours, at_pressure: Hours, drain: Hours) -> Hours:
    """Return the hours of a test from the set-up to the restoring."""
    return setup + fill + bleed + at_pressure + drain


@step("Labor-hours of the test", "people x hours")
def labor_hours_of_test(people: int, total: Hours) -> Hours:
    """Return the hours of all people who attend a test."""
    return people * total


@step("Labor-hours of a repeat", "people x (air bleed + at pressure)")
def repeat_labor_hours(people: int, bleed: Hours, at_pressure: Hours) -> Hours:
    """Return the hours of all people at a repeat, on a line that stays filled."""
    return people * (bleed + at_pressure)


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
        return pressure_hours(self.raising, self.expansion, self.hold)

    @property
    def total(self) -> float:
        """All phases."""
        return phase_hours(self.setup, self.fill, self.bleed, self.at_pressure, self.drain)


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
        return labor_hours_of_test(self.people, self.hours.total)

    @property
    def repeat_labor_hours(self) -> float:
        """Hours of all people if it is repeated once."""
        return repeat_labor_hours(self.people, self.hours.bleed, self.hours.at_pressure)
