"""A run as sizing leaves it: joints counted, timed, its machine chosen; not planned yet."""

from collections.abc import Mapping
from typing import Literal, NamedTuple

from estimator.models.bands import Band, BandShare
from estimator.models.base import Model
from estimator.models.choice import Rejection
from estimator.models.joint import FusionParameters, PipeGeometry


class SegmentCount(NamedTuple):
    """Joints of one segment of a run: inside its strings, between them, and made again.

    The last segment takes the rework of the run's fittings and tie-ins to other pipe.
    """

    plain: int
    tie_ins: int = 0
    rework: int = 0


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
    by_segment: tuple[SegmentCount, ...] = ()

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
    attends in turn. ``into_wrapup_min`` is what of the cooling of the last joint of a shift may
    run into the wrap-up.
    """

    cycle_min: float
    attended_min: float
    period_min: float
    machines: int = 1
    into_wrapup_min: float = 0.0


class CycleElement(NamedTuple):
    """One element of the cycle of a plain joint, after efficiency and factors."""

    task: str
    minutes: float
    paced_by: Literal["crew", "machine"]
    hidden: bool


class RunCycle(NamedTuple):
    """Times of the joints of one run, and how many fit a shift of some paid hours."""

    band: Band
    at: BandShare
    """Where its diameter lies among the bands, for minutes and people."""
    elements: tuple[CycleElement, ...]
    plain: JointTime
    fitting: JointTime
    tie_in: JointTime
    other_min: Mapping[str, float]
    """Minutes of each connection that is not a butt joint, by its key."""
    shift_hours: float
    joints_per_shift: int
    small_end: JointTime | None = None

    def shown_min(self, paced_by: str) -> float:
        """Minutes of a plain joint outside cooling, of the elements with one pace."""
        return sum(x.minutes for x in self.elements if x.paced_by == paced_by and not x.hidden)

    @property
    def hidden_min(self) -> float:
        """Minutes of the work that is done while the last joint cools."""
        return sum(element.minutes for element in self.elements if element.hidden)


class MachineChoice(Model):
    """The machine class of one run; pressures include the drag allowance."""

    class_id: str
    force_n: float
    gauge_mpa: tuple[float, float, float] | None
    rejected: tuple[Rejection, ...]
    why: str = "lowest 4-week rate that fits"


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
