"""Results of the middle stages: joints counted, timed, equipped and laid out by day."""

import datetime as dt
from collections.abc import Mapping
from dataclasses import dataclass
from functools import cached_property
from typing import Literal, NamedTuple

from estimator.models.bands import Band
from estimator.models.base import Model
from estimator.models.calendar import Hold
from estimator.models.joint import FusionParameters, PipeGeometry
from estimator.models.power import PowerNeed, SetCheck

ShiftName = Literal["day", "night"]


class JointCount(NamedTuple):
    """Pieces and joints of one run.

    ``butt_joints`` holds every butt joint of the run, tie-ins and fittings included;
    it is the sum of ``stick_joints``, ``fitting_joints`` and ``outside_tie_ins`` (to other pipe).
    ``small_ends`` are the fitting joints at the smaller size of reducers, and
    ``tie_in_joints`` are those of it between strings or to other pipe. ``rework_joints`` come on
    top.
    """

    sticks: int
    strings: int
    stick_joints: int
    fitting_joints: int
    small_ends: int
    outside_tie_ins: int
    tie_in_joints: int
    butt_joints: int
    rework_joints: int
    others: Mapping[str, int]
    """Connections that are not butt joints, by the key of ``kinds.CONNECTIONS``."""

    @property
    def other_joints(self) -> int:
        """Connections that are not butt joints."""
        return sum(self.others.values())

    def number(self, key: str) -> int:
        """Return a count by its column of the Joints sheet."""
        found: int = self.others[key] if key in self.others else getattr(self, key)
        return found

    @property
    def has_work(self) -> bool:
        """Whether there is anything to join at all."""
        return self.butt_joints + self.other_joints > 0

    @property
    def plain_joints(self) -> int:
        """Butt joints between two sticks, inside one string."""
        return self.butt_joints - self.fitting_joints - self.tie_in_joints


class JointTime(NamedTuple):
    """Minutes of one joint of one kind.

    ``period_min`` is from one joint to the next, on average over the machines that the crew
    attends in turn.
    """

    cycle_min: float
    attended_min: float
    period_min: float
    machines: int = 1


class CycleElement(NamedTuple):
    """One element of the cycle of a plain joint, after efficiency and factors."""

    task: str
    minutes: float
    paced_by: Literal["crew", "machine"]
    hidden: bool


class RunCycle(NamedTuple):
    """Times of the joints of one run, and how many fit a shift of some paid hours."""

    band: Band
    elements: tuple[CycleElement, ...]
    plain: JointTime
    fitting: JointTime
    tie_in: JointTime
    other_min: Mapping[str, float]
    """Minutes of each connection that is not a butt joint, by its key."""
    shift_hours: float
    joints_per_shift: int
    small_end: JointTime | None = None


class Reason(Model):
    """Why something was chosen or not, in plain words.

    ``text`` may hold ``{need}`` and ``{limit}``: numbers in SI of the physical ``kind``, which
    the writer shows in the user's units.
    """

    text: str
    kind: str = ""
    need: float = 0.0
    limit: float = 0.0


class Rejection(Reason):
    """A class that cannot do the work, or is dearer, and why."""

    class_id: str


class MachineChoice(Model):
    """The machine class of one run; pressures include the drag allowance."""

    class_id: str
    force_n: float
    gauge_mpa: tuple[float, float, float] | None
    rejected: tuple[Rejection, ...]
    why: str = "lowest 4-week rate of those that fit"


class JointTiming(NamedTuple):
    """What a joint of one run takes at one ambient temperature."""

    ambient_c: float
    fusion: FusionParameters
    cycle: RunCycle


class SizedRun(NamedTuple):
    """Everything known about one run before it is planned.

    ``timing`` is that of the month in which the run begins; the plan itself takes the month of
    each day.
    """

    run_id: str
    geometry: PipeGeometry
    counts: JointCount
    timing: JointTiming
    machine: MachineChoice
    stick_mass_kg: float

    @property
    def fusion(self) -> FusionParameters:
        """Fusion parameters when the run begins."""
        return self.timing.fusion

    @property
    def cycle(self) -> RunCycle:
        """Times of the joints when the run begins."""
        return self.timing.cycle


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


class TierMix(Model):
    """How a rental span is billed."""

    days: int
    weeks: int
    four_weeks: int
    cost: float


RentalKind = Literal["machine", "generator", "lifting"]


class RentalSpan(Model):
    """One class of equipment on rent for one crew."""

    kind: RentalKind
    class_id: str
    crew: int
    quantity: int
    on_rent: dt.date
    off_rent: dt.date
    used: tuple[dt.date, ...]
    tiers: TierMix
    fuel_l: float
    beyond_h: float = 0.0
    """Hours of day shifts beyond those that its rental days cover, of one piece."""
    why: Reason
    rejected: tuple[Rejection, ...] = ()

    @property
    def work_days(self) -> int:
        """Days on which it is used."""
        return len(self.used)

    @property
    def calendar_days(self) -> int:
        """Days on rent, both ends counted."""
        return (self.off_rent - self.on_rent).days + 1


class Fleet(Model):
    """Everything on rent, the power need of each machine class used, and how each set copes."""

    spans: tuple[RentalSpan, ...]
    power: dict[str, PowerNeed]
    sets: tuple[SetCheck, ...] = ()
