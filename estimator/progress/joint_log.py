"""The joint log judged row by row, and what it adds up to.

A joint is accepted where every limit it has is kept and its visual check passed; what misses a
limit names it. A reject is open until another joint of the same place takes its number as rework.
"""

import datetime as dt
from collections import Counter
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import Literal

from estimator.errors import Problem
from estimator.models.site_records import Coupon, LoggedJoint

Verdict = Literal["not made", "incomplete", "out of limits", "reject", "hold", "accepted"]
GroupKey = tuple[str, str, str]
DAY_MIN = 24 * 60.0
LONGEST_JOINT_MIN = 12 * 60.0
"""A pair of clock times further apart than this is taken as running backwards."""
TYPED = {
    "heat_start_min": "heat start",
    "heater_out_min": "heater out",
    "closed_min": "closed",
    "cool_end_min": "cool end",
    "visual": "visual",
}
"""What every made joint must have, and its word."""


@dataclass(frozen=True)
class Times:
    """Durations between the clock times of a row, s; None while a time is missing."""

    soak_s: float | None
    open_close_s: float | None
    cool_s: float | None


@dataclass(frozen=True)
class JudgedJoint:
    """A row with its durations, verdict and reasons."""

    joint: LoggedJoint
    times: Times
    verdict: Verdict
    reasons: tuple[str, ...] = ()

    @property
    def accepted(self) -> bool:
        """Whether it earns."""
        return self.verdict == "accepted"


@dataclass(frozen=True)
class Tally:
    """Joints of one run, operator or machine by verdict."""

    name: str
    made: int
    accepted: int
    rejected: int
    out_of_limits: int
    on_hold: int
    incomplete: int

    @property
    def reject_share(self) -> float:
        """Rejected and out of limits, of those made."""
        return (self.rejected + self.out_of_limits) / self.made if self.made else 0.0


def elapsed_s(start_min: float | None, end_min: float | None) -> float | None:
    """Return the seconds between two clock times, over midnight where need be.

    Raises
    ------
    ValueError
        Where the clock runs backwards: more than half a day would have passed.

    Examples
    --------
    >>> elapsed_s(1435.0, 5.0)
    600.0
    """
    if start_min is None or end_min is None:
        return None
    minutes = (end_min - start_min) % DAY_MIN
    if minutes > LONGEST_JOINT_MIN:
        raise ValueError("the clock runs backwards")
    return 60.0 * minutes


def times_of(joint: LoggedJoint) -> Times:
    """Return the durations of a row; ``ValueError`` where a clock runs backwards."""
    return Times(
        soak_s=elapsed_s(joint.heat_start_min, joint.heater_out_min),
        open_close_s=elapsed_s(joint.heater_out_min, joint.closed_min),
        cool_s=elapsed_s(joint.closed_min, joint.cool_end_min),
    )


def judge(joint: LoggedJoint, held: str | None = None) -> JudgedJoint:
    """Return the verdict on one row.

    Parameters
    ----------
    joint : LoggedJoint
        The row.
    held : str, optional
        Why the joint is on hold for a reason outside its row, such as a failed coupon.
    """
    times = times_of(joint)
    if not joint.made:
        return JudgedJoint(joint, times, "not made")
    missing = [word for key, word in TYPED.items() if getattr(joint, key) is None]
    broken = list(_broken(joint, times))
    if joint.visual == "reject":
        return JudgedJoint(joint, times, "reject", (joint.cause or "no cause given", *broken))
    if broken:
        return JudgedJoint(joint, times, "out of limits", tuple(broken))
    if missing:
        reason = f"not entered: {', '.join(missing)}"
        return JudgedJoint(joint, times, "incomplete", (reason,))
    if held or joint.visual == "hold":
        return JudgedJoint(joint, times, "hold", (held or joint.cause or "visual check",))
    return JudgedJoint(joint, times, "accepted")


def _broken(joint: LoggedJoint, times: Times) -> Iterator[str]:
    """Yield each limit that a row breaks, with what was found."""
    if _below(times.soak_s, joint.soak_min_s):
        yield f"heat soak {_clock(times.soak_s)} under {_clock(joint.soak_min_s)}"
    if _below(joint.open_close_max_s, times.open_close_s):
        yield f"open-close {_clock(times.open_close_s)} over {_clock(joint.open_close_max_s)}"
    if _below(times.cool_s, joint.cool_min_s):
        yield f"cooling {_clock(times.cool_s)} under {_clock(joint.cool_min_s)}"
    for number, bead in enumerate((joint.bead_1_mm, joint.bead_2_mm), 1):
        if _below(bead, joint.bead_min_mm):
            yield f"bead {number} too small"
    if _below(joint.misalignment_max_mm, joint.misalignment_mm):
        yield "misalignment"
    required = required_gauge_mpa(joint)
    if _below(joint.gauge_set_mpa, required, 0.005 * (required or 0.0)):
        yield "gauge below base + drag"


def required_gauge_mpa(joint: LoggedJoint) -> float | None:
    """Return base gauge plus measured drag, None while either is missing."""
    if joint.base_gauge_mpa is None or joint.drag_mpa is None:
        return None
    return joint.base_gauge_mpa + joint.drag_mpa


def _below(value: float | None, limit: float | None, tolerance: float = 1e-6) -> bool:
    return value is not None and limit is not None and value < limit - tolerance


def _clock(seconds: float | None) -> str:
    whole = round(seconds or 0.0)
    return f"{whole // 60}:{whole % 60:02d}"


@dataclass(frozen=True)
class JudgedLog:
    """The whole log judged, in its own order."""

    joints: tuple[JudgedJoint, ...]

    def with_verdict(self, *verdicts: Verdict) -> tuple[JudgedJoint, ...]:
        """Return the joints with one of these verdicts."""
        return tuple(judged for judged in self.joints if judged.verdict in verdicts)

    @property
    def open_rejects(self) -> tuple[JudgedJoint, ...]:
        """Joints to be cut out that no other joint has replaced yet."""
        return tuple(
            judged
            for judged in self.with_verdict("reject", "out of limits")
            if judged.joint.rework_as is None
        )

    def tallies(self, key: Literal["run_id", "operator", "machine_no"]) -> tuple[Tally, ...]:
        """Return joints by verdict for each run, operator or machine."""
        groups: dict[str, Counter[Verdict]] = {}
        for judged in self.joints:
            if judged.verdict != "not made":
                name = str(getattr(judged.joint, key) or "not entered")
                groups.setdefault(name, Counter())[judged.verdict] += 1
        return tuple(
            Tally(
                name=name,
                made=counts.total(),
                accepted=counts["accepted"],
                rejected=counts["reject"],
                out_of_limits=counts["out of limits"],
                on_hold=counts["hold"],
                incomplete=counts["incomplete"],
            )
            for name, counts in groups.items()
        )

    def causes(self) -> tuple[tuple[str, int], ...]:
        """Return rejects by cause, most frequent first."""
        counts = Counter(
            judged.reasons[0] for judged in self.with_verdict("reject", "out of limits")
        )
        return tuple(sorted(counts.items(), key=lambda item: (-item[1], item[0])))


def judge_log(
    log: Sequence[LoggedJoint],
    coupons: Sequence[Coupon] = (),
    qualified_until: Mapping[str, dt.date] | None = None,
) -> JudgedLog:
    """Return every joint of a log with its verdict.

    Parameters
    ----------
    log : sequence of LoggedJoint
        In the order made; ``check_log`` has found nothing wrong with it.
    coupons : sequence of Coupon
        Destructive tests; a failed one holds joints, see ``held_by_coupons``.
    qualified_until : mapping of str to date, optional
        Last day of each operator's qualification. Where given, joints of an operator without
        one, or made after it, are on hold.
    """
    held = held_by_coupons(log, coupons)
    for joint in log:
        if qualified_until is not None and joint.made and joint.joint_no not in held:
            until = qualified_until.get(joint.operator or "")
            if until is None or (joint.date is not None and joint.date > until):
                held[joint.joint_no] = f"operator {joint.operator or 'not entered'}: no valid card"
    return JudgedLog(tuple(judge(joint, held.get(joint.joint_no)) for joint in log))


def held_by_coupons(log: Sequence[LoggedJoint], coupons: Iterable[Coupon]) -> dict[str, str]:
    """Return why joints are on hold for failed coupons, by joint number.

    A failed coupon holds every joint of the same operator, machine and pipe since the last
    joint of theirs whose coupon passed, the failed one and later ones among them, until a later
    coupon of the three passes. Order is that of the log.
    """
    places = {joint.joint_no: place for place, joint in enumerate(log)}
    tests: dict[GroupKey, list[tuple[int, Coupon]]] = {}
    for coupon in coupons:
        if coupon.joint_no in places:
            place = places[coupon.joint_no]
            tests.setdefault(_group(log[place]), []).append((place, coupon))
    held: dict[str, str] = {}
    for group, results in tests.items():
        members = [
            place for place, joint in enumerate(log) if joint.made and _group(joint) == group
        ]
        passed = sorted(place for place, coupon in results if coupon.result == "pass")
        for place, coupon in results:
            if coupon.result == "fail":
                after = max((good for good in passed if good < place), default=-1)
                before = min((good for good in passed if good > place), default=len(log))
                for member in members:
                    if after < member < before:
                        held.setdefault(log[member].joint_no, f"coupon {coupon.coupon} failed")
    return held


def _group(joint: LoggedJoint) -> GroupKey:
    return joint.operator or "", joint.machine_no or "", joint.pipe


def check_log(
    log: Sequence[LoggedJoint], runs: Iterable[str], coupons: Sequence[Coupon] = ()
) -> tuple[Problem, ...]:
    """Return everything wrong with a log, all at once; places are joint numbers.

    A number is used once; a run exists; a clock runs forward; rework points to a later joint of
    the same run and is pointed to once; a coupon is of a joint that was made.
    """
    known = set(runs)
    places: dict[str, int] = {}
    problems = []
    for place, joint in enumerate(log):
        if joint.joint_no in places:
            problems.append(Problem(joint.joint_no, "Joint number is used twice. Use it once"))
        places.setdefault(joint.joint_no, place)
        if joint.run_id not in known:
            message = f"Run {joint.run_id} is not on the Pipe schedule"
            problems.append(Problem(joint.joint_no, message))
        try:
            times_of(joint)
        except ValueError:
            message = "Clock times run backwards. Enter them in the order heat, out, closed, end"
            problems.append(Problem(joint.joint_no, message))
    problems += _rework_problems(log, places)
    for coupon in coupons:
        tested = places.get(coupon.joint_no)
        if tested is None or not log[tested].made:
            message = f"Joint {coupon.joint_no} is not in the log as made"
            problems.append(Problem(f"coupon {coupon.coupon}", message))
    return tuple(problems)


def _rework_problems(log: Sequence[LoggedJoint], places: Mapping[str, int]) -> Iterator[Problem]:
    replaced: dict[str, str] = {}
    for place, joint in enumerate(log):
        if joint.rework_as is None:
            continue
        target = places.get(joint.rework_as)
        if target is None:
            yield Problem(joint.joint_no, f"Rework joint {joint.rework_as} is not in the log")
        elif target <= place or log[target].run_id != joint.run_id:
            message = f"Rework joint {joint.rework_as} must be a later joint of the same run"
            yield Problem(joint.joint_no, message)
        elif joint.rework_as in replaced:
            message = f"Rework joint {joint.rework_as} already replaces {replaced[joint.rework_as]}"
            yield Problem(joint.joint_no, message)
        replaced.setdefault(joint.rework_as, joint.joint_no)
