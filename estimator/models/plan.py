"""The plan of the crews: who joins what on which day, and the shifts that are paid."""

import datetime as dt
from collections.abc import Sequence
from functools import cached_property
from typing import Literal, NamedTuple

from estimator.data_class import dataclass
from estimator.models.calendar import Hold

ShiftName = Literal["day", "night"]


@dataclass(frozen=True)
class Shift:
    """One shift of one date; ``start`` counts minutes from the first day of the calendar.

    ``working_min`` is what start-up, wrap-up and breaks leave of the paid ``hours``.
    """

    date: dt.date
    name: ShiftName
    hours: float
    start: float
    working_min: float

    def __hash__(self) -> int:
        return hash(self.start)


class Work(NamedTuple):
    """Equal pieces of work, made one after the other in one shift."""

    name: str
    number: int
    each_min: float

    @property
    def minutes(self) -> float:
        """Minutes of all of them."""
        return self.number * self.each_min


TIE_IN_WORK = "tie-in"
"""Name of the work of joints between strings and to other pipe."""


class Spent(NamedTuple):
    """Where the minutes of a crew on a run in one shift went.

    ``moved_min`` goes with the names of the moves; ``in_wrapup_min`` is what the last pieces took
    of the time for wrap-up.
    """

    work: Sequence[Work]
    moved_min: Sequence[float]
    in_wrapup_min: Sequence[float]


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
    made: tuple[Work, ...] = ()
    moved_min: tuple[float, ...] = ()
    in_wrapup_min: tuple[float, ...] = ()

    @property
    def spent(self) -> Spent:
        """Where the minutes went."""
        return Spent(self.made, self.moved_min, self.in_wrapup_min)

    @property
    def tie_in_min(self) -> float:
        """Minutes of the tie-ins."""
        return sum([work.minutes for work in self.made if work.name == TIE_IN_WORK])


PaidKind = Literal["work", "weather", "hold", "waiting"]


class CrewDay(NamedTuple):
    """One paid shift of one crew; at night it is the crew's other team.

    A day of kind "hold" has the hold that keeps the crew from its work; on one of kind "waiting" it
    has none to do. ``run_minutes`` are those
    of each run by which the day is shared out; a day without work has those of the day before.
    """

    date: dt.date
    crew: int
    kind: PaidKind
    heads: tuple[float, ...]
    straight_hours: float
    overtime_hours: float
    run_minutes: tuple[tuple[str, float], ...]
    shift: ShiftName = "day"
    hold: Hold | None = None

    @property
    def all_minutes(self) -> float:
        """Minutes of all runs."""
        return sum([minutes for _, minutes in self.run_minutes])

    @property
    def crew_hours(self) -> float:
        """Paid hours of the crew on the clock, whatever its head count."""
        return self.straight_hours + self.overtime_hours

    @property
    def labor_hours(self) -> float:
        """Paid hours of all people on this day."""
        return sum(self.heads) * self.crew_hours


LINES_OF_A_RUN = 10
"""Lines of a plan up to which a run counts as one in the time that planning takes."""
RunDay = tuple[CrewDay, float, float]
"""A paid shift, the minutes of one run in it, and those of all runs."""


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

    @cached_property
    def days_by_run(self) -> dict[str, list[RunDay]]:
        """The paid shifts of each run."""
        found: dict[str, list[RunDay]] = {}
        for day in self.crew_days:
            all_minutes = day.all_minutes
            for run_id, minutes in day.run_minutes:
                found.setdefault(run_id, []).append((day, minutes, all_minutes))
        return found

    def weight(self, runs: int) -> int:
        """Return for how many runs a plan counts in the time it takes: more where they are long."""
        return max(runs, len(self.lines) // LINES_OF_A_RUN)

    @property
    def work_days(self) -> int:
        """Dates on which at least one crew works."""
        return len({day.date for day in self.crew_days if day.kind == "work"})
