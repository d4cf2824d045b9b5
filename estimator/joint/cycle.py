"""Time of one joint from its work elements, and joints in a shift."""

import math
import sys
from collections.abc import Mapping, MutableMapping, Sequence
from itertools import pairwise
from typing import NamedTuple

from estimator.errors import OutsideStandardError
from estimator.models.bands import STEPS, Band, BandShare, BandTimes, SizeBand
from estimator.models.crew import ColdFactor, TaskTime
from estimator.models.job import Job, Run
from estimator.models.job_inputs import CountingInputs, ShiftInputs
from estimator.models.joint import FusionParameters
from estimator.models.kinds import BUTT_JOINT, CONNECTIONS
from estimator.models.sized_run import CycleElement, JointTime, RunCycle
from estimator.steps.kinds import Minutes, Share
from estimator.steps.marks import either, floor, greatest
from estimator.steps.recorder import step
from estimator.units import MIN_S, OD_SLACK_MM, at_least, at_most

FITTING, TIE_IN = "fitting joint", "tie-in joint"
MOST_MACHINES = 3
"""Machines that one crew may attend at most: the limit of the Job sheet."""
TINY_MIN = 1e-9


class JointKind(NamedTuple):
    """A kind of butt joint, and the handling factor on its crew-paced minutes."""

    name: str
    handling: float = 1.0

    @property
    def times(self) -> str:
        """The words for the factor on crew-paced minutes, none where there is none."""
        return "" if self.handling == 1 else f", crew-paced ones x {self.handling:g},"


PLAIN = JointKind("stick joint")


def size_band(od_mm: float, bands: Sequence[SizeBand]) -> Band:
    """Return the first band whose upper outside diameter holds this one.

    Raises
    ------
    OutsideStandardError
        If the diameter is above the last band of the Task times sheet.
    """
    for band in bands:
        if at_most(od_mm, band.od_to_mm, OD_SLACK_MM):
            return band.band
    raise OutsideStandardError(
        "outside diameter (mm)", od_mm, None, bands[-1].od_to_mm, "Size bands"
    )


@step("Share of the next size band", "from the center of its band to that of the next")
def share_of_next(od_mm: float, low_mm: float, high_mm: float) -> Share:
    """Return how far a diameter lies from one center to the next."""
    return (od_mm - low_mm) / (high_mm - low_mm)


def band_centers(bands: Sequence[SizeBand]) -> list[tuple[Band, float]]:
    """Return the middle diameter of each band in mm; the first one begins at nothing."""
    edges = [0.0, *(band.od_to_mm for band in bands)]
    return [
        (band.band, (low + high) / 2)
        for band, (low, high) in zip(bands, pairwise(edges), strict=True)
    ]


def band_share(od_mm: float, bands: Sequence[SizeBand], band_times: BandTimes) -> BandShare:
    """Return where a diameter lies among the bands: in its band, or between two centers.

    Below the first center and above the last one the figures of that band hold.
    """
    band = size_band(od_mm, bands)
    if band_times != STEPS:
        for (low, low_mm), (high, high_mm) in pairwise(band_centers(bands)):
            if low_mm < od_mm < high_mm:
                return BandShare(low, high, share_of_next(od_mm, low_mm, high_mm))
    return BandShare.inside(band)


def cold_factor(ambient_c: float, factors: Sequence[ColdFactor]) -> float:
    """Return the handling factor of the coldest row that the ambient still reaches."""
    reached = [row for row in factors if at_least(ambient_c, row.from_c)]
    if not reached:
        raise OutsideStandardError(
            "ambient temperature (C)", ambient_c, factors[0].from_c, None, "Cold-weather handling"
        )
    return reached[-1].factor


@step("Crew factor", "access factor x cold factor / efficiency")
def crew_factor(run: Run, cold: float, shift: ShiftInputs) -> float:
    """Return what crew-paced minutes are multiplied by on a run."""
    return run.access_factor * cold / shift.efficiency


def at_pace(task: TaskTime, listed: float, factor: float) -> float:
    """Return the minutes of a task; crew-paced ones carry the factor."""
    return either(task.paced_by == "crew", lambda: listed * factor, lambda: listed)


@step("{task.task}", "{task.pace}")
def task_minutes(task: TaskTime, band: Band, crew_factor: float) -> Minutes:
    """Return the minutes of one element of a butt joint."""
    return at_pace(task, task.minutes(band), crew_factor)


@step("{task.task}", "{task.pace}, between bands {low} and {high}")
def task_minutes_between(
    task: TaskTime, low: Band, high: Band, share_of_next: Share, crew_factor: float
) -> Minutes:
    """Return the minutes of one element of a butt joint of a diameter between two bands."""
    return at_pace(task, task.minutes_between(low, high, share_of_next), crew_factor)


@step("{work}", "minutes x crew factor")
def connection_minutes(
    work: str, tasks: Sequence[TaskTime], band: Band, crew_factor: float
) -> Minutes:
    """Return the minutes of one connection that is not a butt joint, task by task."""
    del work
    return sum(at_pace(task, task.minutes(band), crew_factor) for task in tasks)


@step("{work}", "minutes between bands {low} and {high} x crew factor")
def connection_minutes_between(
    work: str,
    tasks: Sequence[TaskTime],
    low: Band,
    high: Band,
    share_of_next: Share,
    crew_factor: float,
) -> Minutes:
    """Return the minutes of one connection of a diameter between two bands, task by task."""
    del work
    return sum(
        at_pace(task, task.minutes_between(low, high, share_of_next), crew_factor) for task in tasks
    )


@step("Heat soak", "seconds / 60; never divided by efficiency")
def soak_minutes(fusion: FusionParameters) -> Minutes:
    """Return the machine-paced soak."""
    return fusion.soak_s / MIN_S


@step("Cooling", "seconds / 60; never divided by efficiency")
def cooling_minutes(fusion: FusionParameters) -> Minutes:
    """Return the machine-paced cooling under pressure."""
    return fusion.cool_s / MIN_S


def handled(element: CycleElement, handling: float) -> float:
    """Return the minutes of an element; crew-paced ones carry the factor of the kind of joint."""
    return either(
        handling == 1,
        lambda: element.minutes,
        lambda: either(
            element.paced_by == "crew",
            lambda: element.minutes * handling,
            lambda: element.minutes,
        ),
    )


def work(elements: Sequence[CycleElement], kind: JointKind) -> float:
    """Return the minutes of some elements of a kind of joint."""
    return sum(handled(element, kind.handling) for element in elements)


@step(
    "Work outside cooling, {kind.name}", "elements not done during cooling{kind.times} + heat soak"
)
def visible_work(kind: JointKind, elements: Sequence[CycleElement], soak_min: float) -> Minutes:
    """Return the minutes that add to the cycle whatever cools."""
    return work(elements, kind) + soak_min


@step("Cycle, {kind.name}", "work outside cooling + the longer of cooling and work done during it")
def cycle_time(
    kind: JointKind, visible_work: Minutes, cool_min: float, hidden: Sequence[CycleElement]
) -> Minutes:
    """Return the minutes from the start of a joint to its end."""
    return visible_work + greatest(cool_min, work(hidden, kind))


@step("Crew time, {kind.name}", "work outside cooling + work done during it")
def attended_time(
    kind: JointKind, visible_work: Minutes, hidden: Sequence[CycleElement]
) -> Minutes:
    """Return the minutes of a joint in which the crew is at work on it."""
    return visible_work + work(hidden, kind)


@step("Time per joint, {kind.name}", "from one joint to the next; machines of the crew: {machines}")
def period_time(kind: JointKind, cycle_min: float, attended_min: float, machines: int) -> Minutes:
    """Return the minutes from one joint to the next on average."""
    del kind
    return either(
        machines == 1, lambda: cycle_min, lambda: greatest(attended_min, cycle_min / machines)
    )


def joint_time(
    elements: Sequence[CycleElement],
    soak_min: float,
    cool_min: float,
    machines: int,
    kind: JointKind = PLAIN,
    wrapup_min: float = 0.0,
) -> JointTime:
    """Time one joint, and the period between joints with one or more machines.

    ``cycle = visible elements + soak + max(cooling, hidden elements)``. The crew attends all
    of it but the cooling. With one machine the period is the cycle; with m machines and one
    crew it is ``max(attended, cycle / m)``.

    Parameters
    ----------
    elements : sequence of CycleElement
        Minutes of a plain joint, after efficiency and access.
    soak_min, cool_min : float
        Machine-paced times of the fusion method. [min]
    machines : int
        Machines that the crew attends in turn, 1 or more.
    kind : JointKind
        Name of the kind of joint, and its factor on crew-paced minutes.
    wrapup_min : float, optional
        Wrap-up into which the cooling of the last joint may run. [min]
    """
    hidden = [element for element in elements if element.hidden]
    seen = [element for element in elements if not element.hidden]
    visible = visible_work(kind, seen, soak_min)
    cycle = cycle_time(kind, visible, cool_min, hidden)
    attended = attended_time(kind, visible, hidden)
    period = period_time(kind, cycle, attended, machines)
    return JointTime(cycle, attended, period, machines, min(wrapup_min, cycle - attended))


@step("Last joint inside the shift", "its cycle - its cooling in the wrap-up")
def inside_shift(cycle_min: float, into_wrapup_min: float) -> Minutes:
    """Return the minutes of the last joint of a shift that lie before the wrap-up."""
    return cycle_min - into_wrapup_min


def last_in_shift(time: JointTime) -> float:
    """Return the minutes that the last joint of a shift needs before the wrap-up."""
    if not time.into_wrapup_min:
        return time.cycle_min
    return inside_shift(time.cycle_min, time.into_wrapup_min)


@step("Rotation", "the longer of one cycle and the crew time on all machines")
def round_time(cycle_min: float, machines: int, attended_min: float) -> Minutes:
    """Return the minutes after which a crew is back at a machine."""
    return greatest(cycle_min, machines * attended_min)


@step("Joints on machine {machine}", "starts one crew time later")
def joints_on(
    machine: int, left_min: float, begins_min: float, last_min: float, round_min: float
) -> int:
    """Return the joints of one of several machines, which begins some minutes after the first."""
    del machine
    return 1 + floor((left_min - begins_min - last_min) / round_min)


@step(
    "Joints per shift", "each takes the time per joint; the last takes its cycle inside the shift"
)
def joints_of_one(left_min: float, whole_min: float, period_min: float) -> int:
    """Return the whole joints of a crew with one machine."""
    return 1 + floor((left_min - whole_min) / period_min)


@step("Joints per shift", "all machines")
def joints_of_all(made: Sequence[int]) -> int:
    """Return the joints of all machines of a crew."""
    return sum(made)


def joints_in(minutes: float, time: JointTime) -> int:
    """Return the whole joints that one crew makes in some minutes with its machines.

    The crew goes from machine to machine: it takes a joint off, sets the next one up and leaves
    it to cool. Machine k of m begins k - 1 attended times after the first one, and makes a joint
    each ``max(cycle, m x attended)``. No joint is begun that would not be cool in time, with the
    part of the wrap-up in which it may cool::

        sum over k = 0 .. m - 1 of floor((minutes - last - k x attended) / round) + 1

    A simulation of such a crew (``tests/test_cycle_simulation.py``) agrees within one joint.

    Parameters
    ----------
    minutes : float
        Time for joints. [min]
    time : JointTime
        Cycle, attended time and machines of one kind of joint.

    Examples
    --------
    >>> one = JointTime(cycle_min=72.0, attended_min=40.0, period_min=72.0)
    >>> two = JointTime(cycle_min=72.0, attended_min=40.0, period_min=40.0, machines=2)
    >>> joints_in(505, one), joints_in(505, two)
    (7, 11)
    """
    last_min = last_in_shift(time)
    if time.machines == 1:
        return joints_that_fit(minutes, time.period_min, last_min)
    if time.period_min <= 0:
        return sys.maxsize
    round_min = round_time(time.cycle_min, time.machines, time.attended_min)
    begun = [
        k for k in range(time.machines)
        if minutes - k * time.attended_min >= last_min - TINY_MIN
    ]  # fmt: skip
    return joints_of_all(
        [joints_on(k + 1, minutes, k * time.attended_min, last_min, round_min) for k in begun]
    )


def machines_that_pay(time: JointTime, most: int = MOST_MACHINES) -> int:
    """Return how many machines one crew can use before the period stops falling.

    The period with m machines is ``max(attended, cycle / m)``: one more machine shortens it as
    long as ``cycle / m`` is above the attended time.

    Examples
    --------
    >>> machines_that_pay(JointTime(cycle_min=74.0, attended_min=51.0, period_min=74.0))
    2
    """
    paying = (m for m in range(1, most) if time.cycle_min / m <= time.attended_min + TINY_MIN)
    return next(paying, most)


def gain_of_another(time: JointTime) -> float:
    """Return the share of joints that one machine more for the crew would add, 0 if none.

    Examples
    --------
    >>> round(gain_of_another(JointTime(cycle_min=74.0, attended_min=51.0, period_min=74.0)), 2)
    0.45
    """
    with_another = max(time.attended_min, time.cycle_min / (time.machines + 1))
    return time.period_min / with_another - 1 if with_another else 0.0


def butt_elements(
    tasks: Sequence[TaskTime], at: BandShare, crew_factor: float
) -> tuple[CycleElement, ...]:
    """Return the elements of one butt joint; crew-paced minutes times the factor."""
    return tuple(
        [
            CycleElement(
                task.task, element_minutes(task, at, crew_factor), task.paced_by, task.hidden
            )
            for task in tasks
            if task.applies_to == BUTT_JOINT
        ]
    )


def element_minutes(task: TaskTime, at: BandShare, crew_factor: float) -> float:
    """Return the minutes of one element of a butt joint at a place among the bands."""
    if at.share:
        return task_minutes_between(task, *at, crew_factor)
    return task_minutes(task, at.low, crew_factor)


def minutes_of(work: str, tasks: Sequence[TaskTime], at: BandShare, crew_factor: float) -> float:
    """Return the minutes of one connection at a place among the bands."""
    if at.share:
        return connection_minutes_between(work, tasks, *at, crew_factor)
    return connection_minutes(work, tasks, at.low, crew_factor)


def joints_that_fit(minutes: float, period_min: float, whole_min: float) -> int:
    """Return how many joints fit: each takes a period, the last one its whole time.

    Examples
    --------
    >>> joints_that_fit(505, 50.2, 72.0), joints_that_fit(505, 72.0, 72.0)
    (9, 7)
    """
    if minutes < whole_min - TINY_MIN:
        return 0
    if period_min <= 0:
        return sys.maxsize
    return joints_of_one(minutes, whole_min, period_min)


def whole_joints(working_min: float, period_min: float) -> int:
    """Return the whole joints that fit into working time: ``floor(working time / period)``.

    Parameters
    ----------
    working_min : float
        Minutes of the shift that are left for joints, 0 or more.
    period_min : float
        Minutes from one joint to the next, above 0.

    Raises
    ------
    OutsideStandardError
        If the working time is below 0.

    Examples
    --------
    >>> whole_joints(505.0, 55.5)
    9
    """
    if working_min < 0:
        raise OutsideStandardError("working time (min)", working_min, 0, None, "shift")
    return joints_that_fit(working_min, period_min, period_min)


def shift_labor_hours(
    joints: float, joints_per_shift: float, shift_hours: float, people: float
) -> float:
    """Return the paid hours of a crew that joins in whole shifts.

    ``ceil(joints / joints per shift) x hours of a shift x people``. Moves, tests, rework joints
    and weather are not in it.

    Examples
    --------
    >>> shift_labor_hours(100, 9, 10.0, 3.5)
    420.0
    """
    shifts = math.ceil(round(joints / joints_per_shift, 9))
    return shifts * shift_hours * people


@step("Working time", "shift - startup - wrap-up - breaks")
def working_time(shift: ShiftInputs) -> Minutes:
    """Return the minutes of a shift that are left for work."""
    return shift.working_min


@step("Left after the trial fusion", "working time - its cycle - its extra time")
def left_after_trial(working_time: Minutes, plain: JointTime, counting: CountingInputs) -> Minutes:
    """Return what the trial fusion of each day leaves of the working time."""
    return working_time - plain.cycle_min - counting.test_joint_extra_min


def joints_per_shift(shift: ShiftInputs, counting: CountingInputs, plain: JointTime) -> int:
    """Return the whole joints of a shift, as ``joints_in`` counts them.

    With a test joint each day, its cycle and extra time come off first.
    """
    left = working_time(shift)
    if counting.test_joint_rule == "each day":
        left = left_after_trial(left, plain, counting)
    return joints_in(left, plain)


@step("Time of a trial fusion", "its cycle + extra time")
def test_minutes(plain: JointTime, counting: CountingInputs) -> Minutes:
    """Return the minutes of a trial fusion."""
    return plain.cycle_min + counting.test_joint_extra_min


@step("Time of a rework joint", "its cycle + extra time")
def rework_minutes(plain: JointTime, counting: CountingInputs) -> Minutes:
    """Return the minutes of a joint that is cut out and made again."""
    return plain.cycle_min + counting.rework_extra_min


class HandWork(NamedTuple):
    """What rests on the task times alone: the elements of a butt joint, other connections."""

    elements: tuple[CycleElement, ...]
    other_min: Mapping[str, float]


def hand_work(task_times: Sequence[TaskTime], at: BandShare, factor: float) -> HandWork:
    """Return the minutes of the tasks at a place among the bands, with the crew factor."""
    return HandWork(
        butt_elements(task_times, at, factor),
        {
            kind.key: minutes_of(
                kind.work.capitalize(), _tasks_of(task_times, kind.work), at, factor
            )
            for kind in CONNECTIONS
        },
    )


KnownHandWork = MutableMapping[tuple[BandShare, float], HandWork]
"""Hand work of the task times of one job, by the place among the bands and the crew factor."""


def time_run(
    job: Job,
    run: Run,
    od_mm: float,
    fusion: FusionParameters,
    ambient_c: float,
    known: KnownHandWork | None = None,
) -> RunCycle:
    """Time the joints of one run: plain, at fittings, tie-ins, and other connections.

    What ``known`` holds is not worked out again; what is new goes there.
    """
    known = {} if known is None else known
    band = size_band(od_mm, job.size_bands)
    factor = crew_factor(run, cold_factor(ambient_c, job.cold_factors), job.shift)
    at = band_share(od_mm, job.size_bands, job.shift.band_times)
    if (at, factor) not in known:
        known[at, factor] = hand_work(job.task_times, at, factor)
    elements, other_min = known[at, factor]
    soak_min, cool_min = soak_minutes(fusion), cooling_minutes(fusion)
    wrapup_min = job.shift.wrapup_min if job.shift.cool_in_wrapup else 0.0
    plain, fitting, tie_in = (
        joint_time(elements, soak_min, cool_min, job.resources.machines_per_crew, kind, wrapup_min)
        for kind in (
            PLAIN,
            JointKind(FITTING, job.counting.fitting_factor),
            JointKind(TIE_IN, job.counting.tie_in_factor),
        )
    )
    return RunCycle(
        band=band,
        at=at,
        elements=elements,
        plain=plain,
        fitting=fitting,
        tie_in=tie_in,
        other_min=other_min,
        shift_hours=job.shift.shift_hours,
        joints_per_shift=joints_per_shift(job.shift, job.counting, plain),
    )


def _tasks_of(task_times: Sequence[TaskTime], work: str) -> list[TaskTime]:
    return [task for task in task_times if task.applies_to == work]
