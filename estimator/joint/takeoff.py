"""Joint count of a run: chain rule over sticks, fittings, strings and tie-ins."""

from collections.abc import Callable, Iterator, Mapping, Sequence
from functools import cache

from estimator.data_class import dataclass
from estimator.joint.geometry import pipe_od_mm
from estimator.models.job import Run, by_name
from estimator.models.job_inputs import CountingInputs
from estimator.models.kinds import CONNECTIONS
from estimator.models.sized_run import JointCount, SegmentCount
from estimator.standards import tables
from estimator.steps.marks import ceil, either, floor, or_zero
from estimator.steps.recorder import step

SET_AT_STICK_END = "set at stick end"

FITTING_COLUMNS = {
    "elbow": "elbows",
    "tee": "tees",
    "reducing_tee": "reducing_tees",
    "reducer": "reducers",
    "cap": "caps",
    "flange_adapter": "flange_adapters",
    "mj_adapter": "mj_adapters",
}
FITTING_NAMES = {
    "elbow": "Elbows",
    "tee": "Tees",
    "reducing_tee": "Reducing tees",
    "reducer": "Reducers",
    "cap": "Caps",
    "flange_adapter": "Flange adapters",
    "mj_adapter": "MJ adapters",
}


@dataclass(frozen=True)
class Takeoff:
    """What the count needs of a run, for a question without a job.

    Lengths may be in any one unit, because only their ratios count.
    """

    segments_m: tuple[float, ...]
    stick_length_m: float
    string_length_m: float | None = None
    elbows: int = 0
    tees: int = 0
    reducing_tees: int = 0
    reducers: int = 0
    caps: int = 0
    flange_adapters: int = 0
    mj_adapters: int = 0
    branch_saddles: int = 0
    ef_closures: int = 0
    tie_ins: int = 0

    @property
    def small_ends(self) -> int:
        """Joints at the smaller size of reducers and of the branches of reducing tees."""
        return self.reducers + self.reducing_tees


def lengths_needed(length_m: float, each_m: float) -> int:
    """Return the whole sticks or strings that cover a length: ``ceil(length / each)``.

    A length that is a whole number of them but for rounding in the unit conversion is not
    given one more.

    Examples
    --------
    >>> lengths_needed(1000, 50), lengths_needed(1001, 50)
    (20, 21)
    """
    return ceil(length_m / each_m, 1)


@step("Sticks", "whole sticks, segment by segment")
def stick_count(run: Run | Takeoff) -> int:
    """Return the sticks of a run."""
    return sum(lengths_needed(segment, run.stick_length_m) for segment in run.segments_m)


@step("Stick joints", "sticks - segments")
def joints_of_sticks(sticks: int, segments: int) -> int:
    """Return the joints between sticks."""
    return sticks - segments


@step("{fitting}", "number x joints each")
def joints_at(fitting: str, run: Run | Takeoff, column: str, ends: int, in_place_of: int) -> int:
    """Return the joints that the fittings of one kind add."""
    del fitting
    number: int = getattr(run, column)
    return either(in_place_of == 0, lambda: number * ends, lambda: number * (ends - in_place_of))


@step("Fitting joints", "fittings {fitting_rule}")
def joints_at_all(each: Sequence[int], fitting_rule: str) -> int:
    """Return the joints at all fittings."""
    del fitting_rule
    return sum(each)


@step("Sticks in a string", "whole sticks")
def sticks_in_string(run: Run | Takeoff) -> int:
    """Return the whole sticks that go into the longest string, at least one."""
    return floor(or_zero(run.string_length_m) / run.stick_length_m, 1)


@step("Strings", "sticks / sticks in a string, segment by segment")
def string_count(run: Run | Takeoff, sticks_in_string: int) -> int:
    """Return the strings of a run that has a longest one."""
    each = (lengths_needed(segment, run.stick_length_m) for segment in run.segments_m)
    return sum(ceil(sticks / sticks_in_string) for sticks in each)


@step(
    "Tie-in joints", "between strings + to other pipe; joints between strings are also stick joints"
)
def tie_ins(strings: int, segments: int, run: Run | Takeoff) -> int:
    """Return the tie-ins of a run."""
    return strings - segments + run.tie_ins


@step("Butt joints", "stick + fitting joints + tie-ins to other pipe")
def all_butt_joints(stick_joints: int, fitting_joints: int, run: Run | Takeoff) -> int:
    """Return every butt joint of a run."""
    return stick_joints + fitting_joints + run.tie_ins


@step(
    "Rework joints",
    "rework percent of butt joints up to and with this run - that of those before it, whole joints",
)
def rework(joints_before: int, butt_joints: int, counting: CountingInputs) -> int:
    """Return the joints that are cut out and made again, of some joints after others."""
    up_to = ceil((joints_before + butt_joints) * counting.rework_share)
    return up_to - ceil(joints_before * counting.rework_share)


@step("{plural}", "no butt joint")
def connections(plural: str, run: Run | Takeoff, columns: Sequence[str]) -> int:
    """Return the connections of one kind that are not butt joints."""
    del plural
    return sum(getattr(run, column) for column in columns)


def fitting_joints(run: Run | Takeoff, fitting_rule: str) -> int:
    """Return the butt joints that the fittings of a run add to its stick joints.

    A fitting in the line (elbow, tee) that is cut into mid-stick adds a joint for each of its
    ends; set where two sticks meet, it takes the place of one stick joint and adds one fewer.
    Caps, flange and MJ adapters add one each. A reducer adds two: one on this run and one on
    the smaller pipe, whose own row does not count it; the branch of a reducing tee is such a
    joint too. Sweeps are bends of the pipe itself. Ends come from ``fitting_ends.csv``.
    """
    each = [
        joints_at(name, run, column, ends, in_place_of)
        for column, name, ends, in_place_of in _ends(fitting_rule)
        if getattr(run, column)
    ]
    return joints_at_all(each, fitting_rule)


@cache
def _ends(fitting_rule: str) -> tuple[tuple[str, str, int, int], ...]:
    """Return column, name, butt ends and joints saved of each fitting of the schedule."""
    found: list[tuple[str, str, int, int]] = []
    for row in tables.load("fitting_ends"):
        kind = str(row["kind"])
        if kind in FITTING_COLUMNS:
            saved = int(fitting_rule == SET_AT_STICK_END and row["inline"] == "yes")
            ends = int(tables.number(row, "butt_ends"))
            found.append((FITTING_COLUMNS[kind], FITTING_NAMES[kind], ends, saved))
    return tuple(found)


def count_joints(run: Run | Takeoff, fitting_rule: str) -> JointCount:
    """Count the sticks and joints of one run, rework joints left at zero.

    Joints of the sticks are ``sticks - 1`` for each segment. A string holds whole sticks, as many
    as its longest length allows; of the stick joints, ``strings - 1`` a segment are tie-ins. The
    run's own tie-ins to other pipe come on top.
    """
    segments = len(run.segments_m)
    sticks = stick_count(run)
    between = joints_of_sticks(sticks, segments)
    at_fittings = fitting_joints(run, fitting_rule)
    in_string = sticks_in_string(run) if run.string_length_m else None
    strings = segments if in_string is None else string_count(run, in_string)
    return JointCount(
        sticks=sticks,
        strings=strings,
        stick_joints=between,
        fitting_joints=at_fittings,
        small_ends=run.small_ends,
        outside_tie_ins=run.tie_ins,
        tie_in_joints=tie_ins(strings, segments, run),
        butt_joints=all_butt_joints(between, at_fittings, run),
        rework_joints=0,
        others={kind.key: connections(kind.plural, run, kind.columns) for kind in CONNECTIONS},
        by_segment=tuple(count_segments(run, in_string)),
    )


def count_segments(run: Run | Takeoff, in_string: int | None) -> Iterator[SegmentCount]:
    """Yield the joints of each segment, inside its strings and between; None is one string."""
    for segment in run.segments_m:
        sticks = lengths_needed(segment, run.stick_length_m)
        strings = 1 if in_string is None else ceil(sticks / in_string)
        yield SegmentCount(sticks - strings, strings - 1)


def count_job(
    runs: Sequence[Run],
    counting: CountingInputs,
    count_run: Callable[[Run, str], JointCount] = count_joints,
) -> list[JointCount]:
    """Count every run, and allocate the job's rework joints to the runs.

    The joints of the job stand in one line: the largest first, of like pipe by the names of the
    runs, segment by segment. The job has ``ceil(butt joints x share)`` rework joints, and each part
    of the line has what the joints up to its end come to more than those before it. So a row of
    the schedule that is split makes as many joints again at the same places, and a joint more
    never takes one from a dearer pipe to a cheaper one.
    """
    counts = [count_run(run, counting.fitting_rule) for run in runs]
    before = joints_before(runs, counts)
    return [
        _with_rework(count, before[run.run_id], counting)
        for run, count in zip(runs, counts, strict=True)
    ]


def joints_before(runs: Sequence[Run], counts: Sequence[JointCount]) -> Mapping[str, int]:
    """Return by run the butt joints of the job that stand before its own."""
    joints = {run.run_id: count.butt_joints for run, count in zip(runs, counts, strict=True)}
    found: dict[str, int] = {}
    total, od_mm = 0, cache(pipe_od_mm)
    for run in sorted(runs, key=lambda run: (-_size_of_joint(run, od_mm), by_name(run))):
        found[run.run_id] = total
        total += joints[run.run_id]
    return found


def _size_of_joint(run: Run, od_mm: Callable[[str, str], float]) -> float:
    """Return what the cost of a joint goes by: its face and how hard it is to reach."""
    return round(od_mm(run.od_system, run.size) ** 2 / run.dr * run.access_factor, 6)


def _with_rework(count: JointCount, before: int, counting: CountingInputs) -> JointCount:
    total = rework(before, count.butt_joints, counting)
    if not counting.rework_share:
        return count
    made: list[SegmentCount] = []
    joints = before
    for segment in count.by_segment:
        own = segment.plain + segment.tie_ins
        if len(made) == len(count.by_segment) - 1:
            own = before + count.butt_joints - joints
        made.append(segment._replace(rework=rework.fn(joints, own, counting)))
        joints += own
    return count._replace(rework_joints=total, by_segment=tuple(made))
