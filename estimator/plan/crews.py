"""Where each crew stands: its shift, the minutes left in it, and what it has done so far."""

import datetime as dt
import math
from collections.abc import Mapping

from estimator.models.bands import Band
from estimator.models.job_inputs import CountingInputs, MoveInputs
from estimator.models.plan import Shift, Spent, Work
from estimator.models.sized_run import RunCycle, SizedRun
from estimator.steps.kinds import Minutes
from estimator.steps.recorder import step
from estimator.working_time.on_site import EVERY_DAY
from estimator.working_time.roster import NEVER, Roster

CHANGE_OUT = "machine change-out"
"""A move on which a crew changes its machine for one of another class."""
ONE_DAY = dt.timedelta(days=1)
TINY = 1e-9
CONTINUED = " (continued)"
"""Marks a move that a crew began in an earlier shift."""


class StoppedError(Exception):
    """A crew must leave its work between two pieces of it.

    Parameters
    ----------
    moment : float
        When the rest of the work may go on at the earliest.
    has_left : bool
        Whether the crew's time on site is over, and not only a hold begins.
    """

    def __init__(self, moment: float, *, has_left: bool = False) -> None:
        super().__init__(moment, has_left)
        self.moment, self.has_left = moment, has_left


class ShiftTally:
    """What one crew did on one run in one shift, while it is being filled."""

    __slots__ = ("all_min", "counts", "in_wrapup_min", "machine", "made", "moved_min", "moves")

    def __init__(self, machine: str) -> None:
        self.machine = machine
        self.counts: dict[str, int] = {}
        self.moves: list[str] = []
        self.moved_min: list[float] = []
        self.made: list[Work] = []
        self.in_wrapup_min: list[float] = []
        self.all_min: float | None = None

    @property
    def minutes(self) -> float:
        """Minutes of all work and moves, to be asked when the shift is over."""
        if self.all_min is None:
            self.all_min = minutes_spent(Spent(self.made, self.moved_min, self.in_wrapup_min))
        return self.all_min

    def add(self, work: Work, field: str) -> None:
        """Note some work, counted in a field; more of the same goes with what was noted last."""
        counts, made = self.counts, self.made
        counts[field] = counts.get(field, 0) + work.number
        if made and made[-1].name == work.name and made[-1].each_min == work.each_min:
            made[-1] = Work(work.name, made[-1].number + work.number, work.each_min)
        else:
            made.append(work)

    def move(self, name: str, minutes: float) -> None:
        """Note a move, a part of one, or a wait."""
        self.moves.append(name)
        self.moved_min.append(minutes)


@step("Minutes of the run in the shift", "number x minutes of each + moves")
def minutes_spent(spent: Spent) -> Minutes:
    """Return the minutes of all work and moves, less what wrap-up took in."""
    worked = sum([work.number * work.each_min for work in spent.work])
    return worked + sum(spent.moved_min) - sum(spent.in_wrapup_min)


TriedPipe = tuple[float, ...]
"""Diameter, and wall where that matters too, of the pipe that a trial fusion is good for [mm]."""


ShiftDone = tuple[Shift, dict[str, ShiftTally]]
"""A shift of a crew, with what it did in it by run."""


class CrewState:
    """Where a crew stands: its shift, the minutes left in it, what its machine is set up for.

    ``shifts`` are those in which it did anything, one after the other; ``today`` is what it did in
    the one that it stands in, None before it did anything. ``tried`` is the pipe that its last
    trial fusion is good for, None before any. ``ends`` is when the time for work in the shift ends;
    ``cycles`` are the times by run in it, as far as they are known. ``row_of`` gives the run of
    what it takes in hand.
    """

    __slots__ = ("cycles", "ends", "machine", "minutes_left", "number", "od_mm", "roster",
                 "row_of", "run_id", "shift", "shifts", "today", "tried")  # fmt: skip

    def __init__(
        self, number: int, roster: Roster, shift: Shift, row_of: Mapping[str, str]
    ) -> None:
        self.number, self.roster, self.row_of = number, roster, row_of
        self.run_id: str | None = None
        self.machine: str | None = None
        self.od_mm: float | None = None
        self.tried: TriedPipe | None = None
        self.shifts: list[ShiftDone] = []
        self._begin(shift)

    def _begin(self, shift: Shift) -> None:
        self.shift, self.minutes_left = shift, shift.working_min
        self.ends = shift.start + shift.working_min
        self.today: dict[str, ShiftTally] | None = None
        self.cycles: dict[str, RunCycle] = {}

    @property
    def now(self) -> float:
        """Minutes from the first day of the calendar to where the crew stands."""
        return self.ends - self.minutes_left

    def tally(self, run: SizedRun) -> ShiftTally:
        """Return this shift's tally for the run, new if there is none."""
        today = self.today
        if today is None:
            today = self.today = {}
            self.shifts.append((self.shift, today))
        row = self.row_of[run.run_id]
        tally = today.get(row)
        if tally is None:
            tally = today[row] = ShiftTally(run.machine.class_id)
        return tally

    def go_to(self, shift: Shift) -> bool:
        """Begin a shift; return whether the crew's time on site ended before it."""
        if shift.start == self.shift.start:
            return False
        roster = self.roster
        left = roster.stays is not EVERY_DAY and roster.leaves_between(self.shift, shift)
        if left:
            self.run_id = self.machine = self.od_mm = None
        self._begin(shift)
        return left

    @property
    def is_gone(self) -> bool:
        """Whether the crew has left for good."""
        return self.shift is NEVER

    def next_shift(self) -> None:
        """Begin the shift that follows.

        Raises
        ------
        StoppedError
            If the crew's time on site ends before it; the crew then stands at its next one.
        """
        ended = self.ends
        if self.go_to(self.roster.after(self.shift)):
            raise StoppedError(ended, has_left=True)

    def leaves_before(self, moment: float) -> bool:
        """Return whether the crew's time on site ends before a moment."""
        if self.roster.stays is EVERY_DAY or moment <= self.now:
            return False
        return self.roster.leaves_between(self.shift, self.roster.holding(moment, self.shift))

    def works_from(self, moment: float) -> float:
        """Return the first minute of a shift of the crew from a moment on; infinity if it left."""
        shift = self.shift
        if shift is NEVER:
            return math.inf
        if moment < self.ends:
            return max(moment, shift.start)
        return max(moment, self.roster.holding(moment, shift).start)

    def make(self, run: SizedRun, work: Work, field: str) -> float:
        """Count some work in a field of this shift's tally and take its minutes.

        Returns those that wrap-up takes in.
        """
        tally, minutes, left = self.tally(run), work.number * work.each_min, self.minutes_left
        tally.add(work, field)
        in_wrapup = minutes - left
        if in_wrapup <= 0:
            self.minutes_left = left - minutes
            return 0.0
        tally.in_wrapup_min.append(in_wrapup)
        self.minutes_left = 0.0
        return in_wrapup

    def spend_over_shifts(self, run: SizedRun, name: str, minutes: float) -> None:
        """Take minutes for a move, which may go on in the next shift."""
        word = name
        while minutes > TINY:
            if self.minutes_left <= TINY:
                self.next_shift()
            part = min(minutes, self.minutes_left)
            self.tally(run).move(word, part)
            word = f"{name}{CONTINUED}"
            self.minutes_left -= part
            minutes -= part

    def through(self, minutes: float) -> float:
        """Return when the crew would be through with some minutes of moves from now on."""
        shift, left = self.shift, self.minutes_left
        while minutes > left + TINY and shift is not NEVER:
            minutes -= left
            shift = self.roster.after(shift)
            left = shift.working_min
        return shift.start + shift.working_min - left + minutes

    def idle_until(self, moment: float) -> float:
        """Return the working minutes that go by from now to a moment."""
        if moment <= self.now:
            return 0.0
        idle = min(self.minutes_left, moment - self.now)
        shift = self.roster.after(self.shift)
        return idle + max(0.0, moment - shift.start)

    def works_between(self, begin: float, end: float, most: float) -> float:
        """Return the working minutes between two moments, counted until they are more than some."""
        shift, minutes = self.roster.holding(begin, self.shift), 0.0
        while shift.start < end and minutes <= most:
            closes = min(end, shift.start + shift.working_min)
            minutes += max(0.0, closes - max(begin, shift.start))
            shift = self.roster.after(shift)
        return minutes

    def wait(self, run: SizedRun, moment: float, word: str) -> None:
        """Wait for a moment; what falls into a shift has a word and takes its minutes."""
        if moment <= self.now + TINY:
            return
        self.go_to(self.roster.holding(moment, self.shift))
        idle = moment - self.now
        if idle > TINY:
            self.tally(run).move(word, idle)
            self.minutes_left -= idle


def pipe_to_try(counting: CountingInputs, run: SizedRun) -> TriedPipe | None:
    """Return the pipe whose trial fusion a run needs, None where it needs none of its own.

    One at the start of the job is good for every pipe.
    """
    if counting.test_joint_rule == "job start":
        return ()
    if counting.test_joint_rule == "each size":
        return (run.geometry.od_mm,)
    if counting.test_joint_rule == "each size and wall":
        return run.geometry.od_mm, run.geometry.wall_mm
    return None


def set_up_moves(
    moves: MoveInputs, crew: CrewState, run: SizedRun, size_change: Mapping[Band, float]
) -> list[tuple[str, float]]:
    """Return the moves that a crew makes before a run, each with its minutes.

    The first run of a crew needs none: mobilization brings the machine set up for it.
    """
    if crew.machine is None or crew.run_id == run.run_id:
        return []
    return moves_from(moves, crew.machine, crew.od_mm, run, size_change)


def moves_from(
    moves: MoveInputs,
    class_id: str | None,
    od_mm: float | None,
    run: SizedRun,
    size_change: Mapping[Band, float],
) -> list[tuple[str, float]]:
    """Return the moves to a run from another one, of whose class and diameter the machine is."""
    if class_id != run.machine.class_id:
        return [(CHANGE_OUT, moves.machine_swap_min)]
    made = [("move", moves.machine_move_min)]
    if od_mm != run.geometry.od_mm:
        made.append(("size change", run.cycle.at.of(size_change)))
    return made
