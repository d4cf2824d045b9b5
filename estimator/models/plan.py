"""The plan of the crews: who joins what on which day, and the shifts that are paid."""

import datetime as dt
from dataclasses import dataclass
from functools import cached_property
from typing import Literal, NamedTuple

from estimator.models.calendar import Hold

ShiftName = Literal["day", "night"]


class PlanLine(NamedTuple):
    """What one crew does on one run in one shift. Times in minutes."""

    date: dt.date
    crew: int
    run_id: str
    machine: str
    joints: int = 0
    tie_in_joints: int = 0
    rework_joints: int = 0
    test_joints: int = 0
    other_joints: int = 0
    moves: tuple[str, ...] = ()
    minutes: float = 0.0
    shift: ShiftName = "day"


class CrewDay(NamedTuple):
    """One paid shift of one crew; at night it is the crew's other team.

    A day of kind "hold" has the hold that keeps the crew from its work.
    """

    date: dt.date
    crew: int
    kind: Literal["work", "weather", "hold"]
    heads: tuple[float, ...]
    straight_hours: float
    overtime_hours: float
    run_shares: tuple[tuple[str, float], ...]
    shift: ShiftName = "day"
    hold: Hold | None = None

    @property
    def crew_hours(self) -> float:
        """Paid hours of the crew on the clock, whatever its head count."""
        return self.straight_hours + self.overtime_hours

    @property
    def labor_hours(self) -> float:
        """Paid hours of all people on this day."""
        return sum(self.heads) * self.crew_hours


@dataclass(frozen=True)
class Plan:
    """The day-by-day plan of all crews."""

    lines: tuple[PlanLine, ...]
    crew_days: tuple[CrewDay, ...]

    @property
    def start(self) -> dt.date:
        """First day of work."""
        return min(line.date for line in self.lines)

    @property
    def finish(self) -> dt.date:
        """Last day of work."""
        return max(line.date for line in self.lines)

    @cached_property
    def by_crew(self) -> dict[int, tuple[PlanLine, ...]]:
        """The lines of each crew, by date."""
        found: dict[int, list[PlanLine]] = {}
        for line in self.lines:
            found.setdefault(line.crew, []).append(line)
        return {crew: tuple(lines) for crew, lines in found.items()}

    @property
    def work_days(self) -> int:
        """Dates on which at least one crew works."""
        return len({day.date for day in self.crew_days if day.kind == "work"})
