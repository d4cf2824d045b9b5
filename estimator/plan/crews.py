"""Where each crew stands: its shift, the minutes left in it, and what it has done so far."""

import datetime as dt
import math
from collections import defaultdict
from collections.abc import Mapping
from dataclasses import field

from estimator.data_class import dataclass
from estimator.models.bands import Band
from estimator.models.job_inputs import CountingInputs, MoveInputs
from estimator.models.plan import Made, Shift, Spent, Work
from estimator.models.sized_run import SizedRun
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


@dataclass()
class ShiftTally:
    """What one crew did on one run in one shift, while it is being filled."""

    machine: str
    counts: dict[str, int] = field(default_factory=lambda: defaultdict(int))
    moves: list[str] = field(default_factory=list)
    moved_min: tuple[float, ...] = ()
    made: tuple[Made, ...] = ()
    in_wrapup_min: tuple[float, ...] = ()
    all_min: float | None = None

    @property
    def minutes(self) -> float:
        """Minutes of all work and moves, to be asked when the shift is over."""
        if self.all_min is None:
            work = [Work(*made) for made in self.made]
            self.all_min = minutes_spent(Spent(work, self.moved_min, self.in_wrapup_min))
        return self.all_min

    def add(self, work: Work) -> None:
        """Note some work; more of the same goes with what was noted last."""
        name, number, each_min = work
        if self.made and (self.made[-1][0], self.made[-1][2]) == (name, each_min):
            self.made = (*self.made[:-1], (name, self.made[-1][1] + number, each_min))
        else:
            self.made = (*self.made, (name, number, each_min))

    def take(self, minutes: float) -> None:
        """Add minutes to the move in hand."""
        self.moved_min = (*self.moved_min[:-1], self.moved_min[-1] + minutes)

    def move(self, name: str) -> None:
        """Begin a move."""
        self.moves.append(name)
        self.moved_min = (*self.moved_min, 0.0)


@step("Minutes of the run in the shift", "number x minutes of each + moves")
def minutes_spent(spent: Spent) -> Minutes:
    """Return the minutes of all work and moves, less what wrap-up took in."""
    worked = sum([work.minutes for work in spent.work])
    return worked + sum(spent.moved_min) - sum(spent.in_wrapup_min)


TriedPipe = tuple[float, ...]
"""Diameter, and wall where that matters too, of the pipe that a trial fusion is good for [mm]."""


@dataclass()
class CrewState:
    """Where a crew stands: its shift, the minutes left in it, what its machine is set up for."""

    number: int
    roster: Roster
    shift: Shift
    minutes_left: float
    run_id: str | None = None
    machine: str | None = None
    od_mm: float | None = None
    tried: TriedPipe | None = None
    """Pipe that its last trial fusion is good for, None before any."""
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
        run_id = run.run_id
        tally = self.today.get(run_id)
        if tally is None:
            tally = self.today[run_id] = ShiftTally(run.machine.class_id)
        return tally

    def go_to(self, shift: Shift) -> None:
        """Begin a shift."""
        if shift.start == self.shift.start:
            return
        if self.roster.leaves_between(self.shift, shift):
            self.run_id = self.machine = self.od_mm = None
        self.shift, self.minutes_left, self.today = shift, shift.working_min, None

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
        shift, following = self.shift, self.roster.after(self.shift)
        leaves = self.roster.leaves_between(shift, following)
        self.go_to(following)
        if leaves:
            raise StoppedError(shift.start + shift.working_min, has_left=True)

    def leaves_before(self, moment: float) -> bool:
        """Return whether the crew's time on site ends before a moment."""
        if self.roster.stays is EVERY_DAY or moment <= self.now:
            return False
        return self.roster.leaves_between(self.shift, self.roster.holding(moment, self.shift))

    def works_from(self, moment: float) -> float:
        """Return the first minute of a shift of the crew from a moment on; infinity if it left."""
        if self.is_gone:
            return math.inf
        return max(moment, self.roster.holding(moment, self.shift).start)

    def make(self, run: SizedRun, work: Work, field: str) -> float:
        """Count some work in a field of this shift's tally and take its minutes.

        Returns those that wrap-up takes in.
        """
        tally, minutes = self.tally(run), work.minutes
        tally.counts[field] += work.number
        tally.add(work)
        in_wrapup = max(0.0, minutes - self.minutes_left)
        if in_wrapup:
            tally.in_wrapup_min = (*tally.in_wrapup_min, in_wrapup)
        self.minutes_left -= minutes - in_wrapup
        return in_wrapup

    def _spend(self, run: SizedRun, minutes: float) -> None:
        """Take minutes of this shift for the move in hand."""
        self.tally(run).take(minutes)
        self.minutes_left -= minutes

    def spend_over_shifts(self, run: SizedRun, name: str, minutes: float) -> None:
        """Take minutes for a move, which may go on in the next shift."""
        word = name
        while minutes > TINY:
            if self.minutes_left <= TINY:
                self.next_shift()
            self.tally(run).move(word)
            word = f"{name}{CONTINUED}"
            part = min(minutes, self.minutes_left)
            self._spend(run, part)
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
        return idle + max(0.0, moment - shift.start) if moment > self.now + idle else idle

    def wait(self, run: SizedRun, moment: float, word: str) -> None:
        """Wait for a moment; what falls into a shift has a word and takes its minutes."""
        if moment <= self.now + TINY:
            return
        self.go_to(self.roster.holding(moment, self.shift))
        idle = moment - self.now
        if idle > TINY:
            self.tally(run).move(word)
            self._spend(run, idle)


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
        return [(CHANGE_OUT, moves.machine_swap_min)]
    made = [("move", moves.machine_move_min)]
    if od_mm != run.geometry.od_mm:
        made.append(("size change", run.cycle.at.of(size_change)))
    return made
