"""The table of butt joints by kind: what a sentence calls one, how many a run has, its time."""

from collections.abc import Callable

from estimator.data_class import dataclass
from estimator.joint.cycle import last_in_shift, rework_minutes, test_minutes
from estimator.models.job_inputs import CountingInputs
from estimator.models.kinds import CONNECTIONS
from estimator.models.plan import TIE_IN_WORK
from estimator.models.sized_run import JointCount, JointTime, RunCycle


def alone(minutes: float) -> JointTime:
    """Return the times of a piece of work that nothing else overlaps."""
    return JointTime(cycle_min=minutes, attended_min=minutes, period_min=minutes)


@dataclass(frozen=True)
class ButtKind:
    """One kind of butt joint.

    ``name`` is its word in the sums of the plan, ``one`` one of it in a sentence, ``field`` the
    column of the plan that counts it.
    """

    name: str
    one: str
    field: str
    number: Callable[[JointCount], int]
    time: Callable[[RunCycle, CountingInputs], JointTime]


STICK = ButtKind(
    "stick", "a joint", "joints",
    lambda count: count.plain_joints, lambda cycle, _: cycle.plain,
)  # fmt: skip
FITTING = ButtKind(
    "fitting", "a fitting joint", "joints",
    lambda count: count.fitting_joints - count.small_ends, lambda cycle, _: cycle.fitting,
)  # fmt: skip
SMALL_END = ButtKind(
    "small end", "the joint at a reducer's small end", "joints",
    lambda count: count.small_ends, lambda cycle, _: cycle.small_end or cycle.fitting,
)  # fmt: skip
TIE_IN = ButtKind(
    TIE_IN_WORK, "a tie-in joint", "tie_in_joints",
    lambda count: count.tie_in_joints, lambda cycle, _: cycle.tie_in,
)  # fmt: skip
REWORK = ButtKind(
    "rework", "a rework joint", "rework_joints",
    lambda count: count.rework_joints,
    lambda cycle, counting: alone(rework_minutes(cycle.plain, counting)),
)  # fmt: skip
BUTT_KINDS = (STICK, FITTING, SMALL_END, TIE_IN, REWORK)

TEST_JOINT = "a trial fusion"
WITHOUT_TEST_JOINT = frozenset({TEST_JOINT, *(kind.one for kind in CONNECTIONS)})
"""Items before which no test joint of the day is made."""


def longest_items(count: JointCount, times: RunCycle, counting: CountingInputs) -> dict[str, float]:
    """Return the minutes that one of each kind of work of a run needs inside one shift.

    A joint between sticks is asked for even of a run without any.
    """
    found = {STICK.one: last_in_shift(times.plain)}
    for butt in BUTT_KINDS:
        if butt.number(count):
            found[butt.one] = last_in_shift(butt.time(times, counting))
    for other in CONNECTIONS:
        if count.others[other.key]:
            found[other.one] = times.other_min[other.key]
    if counting.test_joint_rule != "none":
        found[TEST_JOINT] = test_minutes(times.plain, counting)
    return found
