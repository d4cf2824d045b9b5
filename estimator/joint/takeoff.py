"""Joint count of a run: chain rule over sticks, fittings, strings and tie-ins."""

import math
from collections.abc import Sequence
from dataclasses import dataclass
from functools import cache

from estimator.models.job import Run
from estimator.models.job_inputs import CountingInputs
from estimator.models.kinds import CONNECTIONS
from estimator.models.plan import JointCount
from estimator.standards import tables

SET_AT_STICK_END = "set at a stick end"

FITTING_COLUMNS = {
    "elbow": "elbows",
    "tee": "tees",
    "reducer": "reducers",
    "cap": "caps",
    "flange_adapter": "flange_adapters",
    "mj_adapter": "mj_adapters",
}


@dataclass(frozen=True)
class Takeoff:
    """What the count needs of a run, for a question without a job. Lengths in one unit."""

    length: tuple[float, ...]
    stick_length: float
    string_length: float | None = None
    elbows: int = 0
    tees: int = 0
    reducers: int = 0
    caps: int = 0
    flange_adapters: int = 0
    mj_adapters: int = 0
    branch_saddles: int = 0
    ef_closures: int = 0
    tie_ins: int = 0


def lengths_needed(length_m: float, each_m: float) -> int:
    """Return the whole sticks or strings that cover a length: ``ceil(length / each)``.

    A length that is a whole number of them but for rounding in the unit conversion is not
    given one more.

    Examples
    --------
    >>> lengths_needed(1000, 50), lengths_needed(1001, 50)
    (20, 21)
    """
    return max(1, math.ceil(round(length_m / each_m, 9)))


def whole_lengths(length_m: float, each_m: float) -> int:
    """Return the whole sticks that go into a length, at least one.

    Examples
    --------
    >>> whole_lengths(500, 50), whole_lengths(500, 53)
    (10, 9)
    """
    return max(1, math.floor(round(length_m / each_m, 9)))


def fitting_joints(run: Run | Takeoff, fitting_rule: str) -> int:
    """Return the butt joints that the fittings of a run add to its stick joints.

    A fitting in the line (elbow, tee) that is cut into mid-stick adds a joint for each of its
    ends; set where two sticks meet, it takes the place of one stick joint and adds one fewer.
    Caps, flange and MJ adapters add one each. A reducer adds two: one on this run and one on
    the smaller pipe, whose own row does not count it. Ends come from ``fitting_ends.csv``.
    """
    return sum(ends * getattr(run, column) for column, ends in _ends(fitting_rule))


@cache
def _ends(fitting_rule: str) -> tuple[tuple[str, int], ...]:
    """Return the butt ends of each fitting column of the schedule under a rule."""
    found: list[tuple[str, int]] = []
    for row in tables.load("fitting_ends"):
        column = FITTING_COLUMNS.get(str(row["kind"]))
        if column is None:
            continue
        ends = int(tables.number(row, "butt_ends"))
        if fitting_rule == SET_AT_STICK_END and row["inline"] == "yes":
            ends -= 1
        found.append((column, ends))
    return tuple(found)


def count_joints(run: Run | Takeoff, fitting_rule: str) -> JointCount:
    """Count the sticks and joints of one run, rework joints left at zero.

    Joints of the sticks are ``sticks - 1`` for each segment. A string holds whole sticks, as many
    as its longest length allows; of the stick joints, ``strings - 1`` a segment are tie-ins. The
    run's own tie-ins to other pipe come on top.
    """
    sticks = [lengths_needed(segment, run.stick_length) for segment in run.length]
    strings = [1] * len(sticks)
    if run.string_length:
        in_string = whole_lengths(run.string_length, run.stick_length)
        strings = [math.ceil(number / in_string) for number in sticks]
    stick_joints = sum(sticks) - len(sticks)
    at_fittings = fitting_joints(run, fitting_rule)
    return JointCount(
        sticks=sum(sticks),
        strings=sum(strings),
        stick_joints=stick_joints,
        fitting_joints=at_fittings,
        small_ends=run.reducers,
        outside_tie_ins=run.tie_ins,
        tie_in_joints=sum(strings) - len(strings) + run.tie_ins,
        butt_joints=stick_joints + at_fittings + run.tie_ins,
        rework_joints=0,
        others={
            kind.key: sum(getattr(run, column) for column in kind.columns) for kind in CONNECTIONS
        },
    )


def count_job(runs: Sequence[Run], counting: CountingInputs) -> list[JointCount]:
    """Count every run, and allocate the job's rework joints to the runs.

    The job has ``ceil(butt joints x share)`` of them; each run takes the whole joints that the
    running total passes, so that the runs add up to the job.
    """
    counts, joints_so_far, rework_so_far = [], 0, 0
    for run in runs:
        count = count_joints(run, counting.fitting_rule)
        joints_so_far += count.butt_joints
        rework = math.ceil(round(joints_so_far * counting.rework_share, 9))
        counts.append(count._replace(rework_joints=rework - rework_so_far))
        rework_so_far = rework
    return counts
