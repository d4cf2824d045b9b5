"""Where each crew stands: its shift, the minutes left in it, and what it has done so far."""

import datetime as dt
from collections import defaultdict
from collections.abc import Mapping
from dataclasses import dataclass, field
from functools import lru_cache

from estimator.models.bands import Band
from estimator.models.job import Job
from estimator.models.job_inputs import MoveInputs
from estimator.models.plan import SizedRun
from estimator.units import DAY_MIN
from estimator.working_time.shifts import Shift, Timetable
from estimator.working_time.working_days import WorkingCalendar

ONE_DAY = dt.timedelta(days=1)
TINY = 1e-9
CONTINUED = " (continued)"
"""Marks a move that a crew began in an earlier shift."""


class Roster:
    """The shifts that are worked, one after the other."""

    @staticmethod
    def of(job: Job) -> "Roster":
        """Return the roster of a job: the same for every job with these shifts and days off."""
        return _roster_of(WorkingCalendar.of(job), Timetable.of(job))

    def __init__(self, calendar: WorkingCalendar, timetable: Timetable) -> None:
        self.calendar, self._timetable = calendar, timetable
        self._after: dict[float, Shift] = {}

    def first_on(self, date: dt.date) -> Shift:
        """Return the first shift of the first worked date on or after this one."""
        return self._timetable.on(self.calendar.next_work(date))[0]

    def after(self, shift: Shift) -> Shift:
        """Return the shift that follows: by night, or on the next worked date."""
        following = self._after.get(shift.start)
        if following is None:
            later = [other for other in self._timetable.on(shift.date) if other.start > shift.start]
            following = later[0] if later else self.first_on(shift.date + ONE_DAY)
            self._after[shift.start] = following
        return following

    def holding(self, moment: float, earliest: Shift) -> Shift:
        """Return the shift in which work that may begin at a moment begins, or the next one."""
        shift = earliest
        date = dt.date.fromordinal(max(1, int(moment // DAY_MIN)))
        if date > shift.date:
            shift = self.first_on(date)
        while shift.start + shift.working_min <= moment:
            shift = self.after(shift)
        return shift


@lru_cache(maxsize=64)
def _roster_of(calendar: WorkingCalendar, timetable: Timetable) -> Roster:
    return Roster(calendar, timetable)


@dataclass
class ShiftTally:
    """What one crew did on one run in one shift, while it is being filled."""

    machine: str
    counts: dict[str, int] = field(default_factory=lambda: defaultdict(int))
    moves: list[str] = field(default_factory=list)
    minutes: float = 0.0


@dataclass
class CrewState:
    """Where a crew stands: its shift, the minutes left in it, what its machine is set up for."""

    number: int
    roster: Roster
    shift: Shift
    minutes_left: float
    run_id: str | None = None
    machine: str | None = None
    od_mm: float | None = None
    tested: bool = False
    shifts: dict[Shift, dict[str, ShiftTally]] = field(default_factory=dict)
    today: dict[str, ShiftTally] | None = None
    """What was done in this shift, None before anything was."""

    @property
    def now(self) -> float:
        """Minutes from the first day of the calendar to where the crew stands."""
        return self.shift.start + self.shift.working_min - self.minutes_left

    def tally(self, run: SizedRun) -> ShiftTally:
        """Return this shift's tally for the run, new if there is none."""
        if self.today is None:
            self.today = self.shifts.setdefault(self.shift, {})
        tally = self.today.get(run.run_id)
        if tally is None:
            tally = self.today[run.run_id] = ShiftTally(run.machine.class_id)
        return tally

    def go_to(self, shift: Shift) -> None:
        """Begin a shift."""
        if shift.start != self.shift.start:
            self.shift, self.minutes_left, self.today = shift, shift.working_min, None

    def next_shift(self) -> None:
        """Begin the shift that follows."""
        self.go_to(self.roster.after(self.shift))

    def spend(self, run: SizedRun, minutes: float) -> None:
        """Take minutes of this shift for a run."""
        self.tally(run).minutes += minutes
        self.minutes_left -= minutes

    def spend_over_shifts(self, run: SizedRun, name: str, minutes: float) -> None:
        """Take minutes for a move, which may go on in the next shift."""
        self.tally(run).moves.append(name)
        while minutes > TINY:
            if self.minutes_left <= TINY:
                self.next_shift()
                self.tally(run).moves.append(f"{name}{CONTINUED}")
            step = min(minutes, self.minutes_left)
            self.spend(run, step)
            minutes -= step

    def idle_until(self, moment: float) -> float:
        """Return the working minutes that go by from now to a moment."""
        if moment <= self.now:
            return 0.0
        idle = min(self.minutes_left, moment - self.now)
        shift = self.roster.after(self.shift)
        return idle + max(0.0, moment - shift.start) if moment > self.now + idle else idle

    def wait(self, run: SizedRun, moment: float, word: str) -> None:
        """Wait for a moment; what falls into a shift has a word and takes its minutes."""
        if moment <= self.now + TINY:
            return
        self.go_to(self.roster.holding(moment, self.shift))
        idle = moment - self.now
        if idle > TINY:
            self.tally(run).moves.append(word)
            self.spend(run, idle)


def set_up_moves(
    moves: MoveInputs, crew: CrewState, run: SizedRun, size_change: Mapping[Band, float]
) -> list[tuple[str, float]]:
    """Return the moves that a crew makes before a run, each with its minutes.

    The first run of a crew needs none: mobilization brings the machine set up for it.
    """
    if crew.machine is None or crew.run_id == run.run_id:
        return []
    return moves_from(moves, (crew.machine, crew.od_mm), run, size_change)


def moves_from(
    moves: MoveInputs,
    set_up_for: tuple[str | None, float | None],
    run: SizedRun,
    size_change: Mapping[Band, float],
) -> list[tuple[str, float]]:
    """Return the moves to a run from another one, of whose class and diameter the machine is."""
    class_id, od_mm = set_up_for
    if class_id != run.machine.class_id:
        return [("machine change", moves.machine_swap_min)]
    made = [("move", moves.machine_move_min)]
    if od_mm != run.geometry.od_mm:
        made.append(("size change", size_change[run.cycle.band]))
    return made
