"""The joint log judged row by row, and what it adds up to.

A joint is accepted where every limit it has is kept and its visual check passed; what misses a
limit names it. A reject is open until another joint of the same place takes its number as rework.
"""

import datetime as dt
from collections import Counter
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from typing import Literal

from estimator.data_class import dataclass
from estimator.display import UnitSystem, counted, show_date
from estimator.joint.cooling_by_air import least_cooling_s
from estimator.models.site_records import CoolingByAir, Coupon, LoggedJoint, SiteRecords
from estimator.steps.kinds import Share
from estimator.steps.marks import share_of
from estimator.steps.recorder import step
from estimator.working_time.clock import elapsed_s

Verdict = Literal["not made", "incomplete", "out of limits", "reject", "hold", "accepted"]
GroupKey = tuple[str, str, str]
TRIAL = "trial fusion"
GAUGE_TOLERANCE = 0.005
"""Share by which a gauge may be read short of what is required."""
TINY = 1e-6
TYPED = {
    "date": "date",
    "machine_no": "machine no.",
    "operator": "operator",
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
    """A row with its durations, verdict and reasons; ``cause`` is one word for like rejects."""

    joint: LoggedJoint
    times: Times
    verdict: Verdict
    reasons: tuple[str, ...] = ()
    cause: str = ""

    @property
    def accepted(self) -> bool:
        """Whether it earns."""
        return self.verdict == "accepted"


@step("Reject rate", "(rejected + out of limits) / made")
def reject_share(rejected: int, out_of_limits: int, made: int) -> Share:
    """Return the part of the joints made that is not good."""
    return share_of(rejected + out_of_limits, made)


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
        return reject_share(self.rejected, self.out_of_limits, self.made)


def times_of(joint: LoggedJoint) -> Times:
    """Return the durations of a row; ``ValueError`` where a clock runs backwards."""
    return Times(
        soak_s=elapsed_s(joint.heat_start_min, joint.heater_out_min),
        open_close_s=elapsed_s(joint.heater_out_min, joint.closed_min),
        cool_s=elapsed_s(joint.closed_min, joint.cool_end_min),
    )


def judge(
    joint: LoggedJoint, held: str | None = None, cooling: Sequence[CoolingByAir] = ()
) -> JudgedJoint:
    """Return the verdict on one row.

    Parameters
    ----------
    joint : LoggedJoint
        The row.
    held : str, optional
        Why the joint is on hold for a reason outside its row, such as a failed coupon.
    cooling : sequence of CoolingByAir
        Least cooling of its pipe by air temperature; a limit in the row itself goes before.
    """
    times = times_of(joint)
    if not joint.made:
        return JudgedJoint(joint, times, "not made")
    joint, lacking = _with_cooling_limit(joint, cooling)
    missing = [word for key, word in TYPED.items() if getattr(joint, key) is None]
    missing += [*lacking, *(["limits"] if joint.soak_min_s is None else [])]
    broken = list(_broken(joint, times))
    texts = tuple(text for _, text in broken)
    if joint.visual == "reject":
        cause = joint.cause or "no cause given"
        reasons = tuple(dict.fromkeys((cause, *texts)))
        return JudgedJoint(joint, times, "reject", reasons, cause)
    if broken:
        return JudgedJoint(joint, times, "out of limits", texts, broken[0][0])
    if missing:
        reason = f"not entered: {', '.join(missing)}"
        return JudgedJoint(joint, times, "incomplete", (reason,))
    if held or joint.visual == "hold":
        return JudgedJoint(joint, times, "hold", (held or joint.cause or "visual check",))
    return JudgedJoint(joint, times, "accepted")


def _with_cooling_limit(
    joint: LoggedJoint, cooling: Sequence[CoolingByAir]
) -> tuple[LoggedJoint, Sequence[str]]:
    """Return a joint with the cooling that its air asks for, and what is missing to know it."""
    if joint.cool_min_s is not None or not cooling:
        return joint, ()
    if joint.ambient_c is None and len(cooling) > 1:
        return joint, ("air",)
    limit = least_cooling_s(cooling, joint.ambient_c)
    if limit is None:
        return joint, ("air inside the method's table",)
    return joint.model_copy(update={"cool_min_s": limit}), ()


def _broken(joint: LoggedJoint, times: Times) -> Iterator[tuple[str, str]]:
    """Yield each limit that a row breaks: its word, and what was found."""
    soak, opened, cool = times.soak_s, times.open_close_s, times.cool_s
    if _below(soak, joint.soak_min_s):
        yield "heat soak", f"heat soak {_clock(soak)} under {_clock(joint.soak_min_s)}"
    if _below(joint.open_close_max_s, opened):
        limit = _clock(joint.open_close_max_s)
        yield "open/close", f"open/close {_clock(opened)} over {limit}"
    if _below(cool, joint.cool_min_s):
        yield "cooling", f"cooling {_clock(cool)} under {_clock(joint.cool_min_s)}"
    for number, bead in enumerate((joint.bead_1_mm, joint.bead_2_mm), 1):
        if _below(bead, joint.bead_min_mm):
            yield "bead", f"bead {number} too small"
    if _below(joint.misalignment_max_mm, joint.misalignment_mm):
        yield "misalignment", "misalignment"
    required = required_gauge_mpa(joint)
    if _below(joint.gauge_set_mpa, required, GAUGE_TOLERANCE * (required or 0.0)):
        yield "gauge", "gauge below base + drag"


def required_gauge_mpa(joint: LoggedJoint) -> float | None:
    """Return base gauge plus measured drag, None while either is missing."""
    if joint.base_gauge_mpa is None or joint.drag_mpa is None:
        return None
    return joint.base_gauge_mpa + joint.drag_mpa


def _below(value: float | None, limit: float | None, tolerance: float = TINY) -> bool:
    return value is not None and limit is not None and value < limit - tolerance


def _clock(seconds: float | None) -> str:
    whole = round(seconds or 0.0)
    return f"{whole // 60}:{whole % 60:02d}"


@dataclass(frozen=True)
class JudgedLog:
    """The whole log judged, in its own order."""

    joints: tuple[JudgedJoint, ...]

    @property
    def of_the_job(self) -> "JudgedLog":
        """The log without its trial fusions, which no count of the job's joints holds."""
        return JudgedLog(tuple(one for one in self.joints if one.joint.kind != TRIAL))

    @property
    def trials(self) -> "JudgedLog":
        """The trial fusions alone."""
        return JudgedLog(tuple(one for one in self.joints if one.joint.kind == TRIAL))

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
        return self._tallied(lambda joint: str(getattr(joint, key) or "not entered"))

    def tally(self, name: str) -> Tally | None:
        """Return all joints by verdict under one name, None where none is made."""
        return next(iter(self._tallied(lambda _: name)), None)

    def _tallied(self, name_of: Callable[[LoggedJoint], str]) -> tuple[Tally, ...]:
        groups: dict[str, Counter[Verdict]] = {}
        for judged in self.joints:
            if judged.verdict != "not made":
                groups.setdefault(name_of(judged.joint), Counter())[judged.verdict] += 1
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

    @property
    def rejects_in_order(self) -> tuple[bool, ...]:
        """Whether each joint was rejected or out of limits, in the order made."""
        bad = {one.joint.joint_no for one in self.with_verdict("reject", "out of limits")}
        made = in_order_made([one.joint for one in self.joints])
        return tuple(joint.joint_no in bad for joint in made)

    def causes(self) -> tuple[tuple[str, int], ...]:
        """Return rejects by cause, most frequent first."""
        counts = Counter(one.cause for one in self.with_verdict("reject", "out of limits"))
        return tuple(sorted(counts.items(), key=lambda item: (-item[1], item[0])))


def judge_records(records: SiteRecords) -> JudgedLog:
    """Return every joint of the site records with its verdict; see ``judge_log``."""
    until = {row.operator: row.qualified_until for row in records.operators}
    return judge_log(records.joint_log, records.coupons, until or None, records.cooling_by_air)


def judge_log(
    log: Sequence[LoggedJoint],
    coupons: Sequence[Coupon] = (),
    qualified_until: Mapping[str, dt.date] | None = None,
    cooling: Sequence[CoolingByAir] = (),
) -> JudgedLog:
    """Return every joint of a log with its verdict.

    Parameters
    ----------
    log : sequence of LoggedJoint
        Its rules (``estimator.input_errors.site_records``) are kept.
    coupons : sequence of Coupon
        Destructive tests; a failed one holds joints, see ``held_by_coupons``.
    qualified_until : mapping of str to date, optional
        Last day of each operator's qualification. Where given, joints of an operator without
        one, or made after it, are on hold.
    cooling : sequence of CoolingByAir
        Least cooling of every pipe by air temperature.
    """
    held = held_by_coupons(log, coupons)
    for joint in log:
        if qualified_until is not None and joint.made and joint.joint_no not in held:
            until = qualified_until.get(joint.operator or "")
            if until is None or (joint.date is not None and joint.date > until):
                held[joint.joint_no] = f"no valid card of {joint.operator or 'the operator'}"
    bands: dict[str, list[CoolingByAir]] = {}
    for band in cooling:
        bands.setdefault(band.pipe, []).append(band)
    judged = [judge(one, held.get(one.joint_no), bands.get(one.pipe, ())) for one in log]
    return JudgedLog(tuple(_held_without_trial(judged)))


def _held_without_trial(judged: Sequence[JudgedJoint]) -> Iterator[JudgedJoint]:
    """Put joints on hold whose pipe has trial fusions in the log and none accepted yet."""
    asked = {one.joint.pipe for one in judged if one.joint.kind == TRIAL}
    passed = {one.joint.pipe for one in judged if one.joint.kind == TRIAL and one.accepted}
    for one in judged:
        if one.accepted and one.joint.pipe in asked - passed:
            yield JudgedJoint(one.joint, one.times, "hold", ("no trial fusion accepted",))
        else:
            yield one


def in_order_made(log: Sequence[LoggedJoint]) -> list[LoggedJoint]:
    """Return the joints that were made by date and clock; without either, in the log's order."""
    places = {joint.joint_no: place for place, joint in enumerate(log)}
    made = [joint for joint in log if joint.made]
    return sorted(
        made,
        key=lambda joint: (
            joint.date or dt.date.min,
            joint.closed_min if joint.closed_min is not None else joint.heat_start_min or 0.0,
            places[joint.joint_no],
        ),
    )


def held_by_coupons(log: Sequence[LoggedJoint], coupons: Iterable[Coupon]) -> dict[str, str]:
    """Return why joints are on hold for failed coupons, by joint number.

    A failed coupon holds every joint of the same operator, machine and pipe made since the last
    joint of theirs whose coupon passed, the failed one and later ones among them, until a later
    coupon of the three passes.
    """
    made = in_order_made(log)
    places = {joint.joint_no: place for place, joint in enumerate(made)}
    tests: dict[GroupKey, list[tuple[int, Coupon]]] = {}
    for coupon in coupons:
        if coupon.joint_no in places:
            place = places[coupon.joint_no]
            tests.setdefault(_group(made[place]), []).append((place, coupon))
    held: dict[str, str] = {}
    for group, results in tests.items():
        members = [place for place, joint in enumerate(made) if _group(joint) == group]
        passed = sorted(place for place, coupon in results if coupon.result == "pass")
        for place, coupon in results:
            if coupon.result == "fail":
                after = max((good for good in passed if good < place), default=-1)
                before = min((good for good in passed if good > place), default=len(made))
                for member in members:
                    if after < member < before:
                        held.setdefault(made[member].joint_no, f"coupon {coupon.coupon} failed")
    return held


@dataclass(frozen=True)
class CouponDue:
    """A coupon that is due: whose joints, and why."""

    operator: str
    machine_no: str
    pipe: str
    reason: str


def coupons_due(
    records: SiteRecords, system: UnitSystem, date: dt.date | None = None
) -> tuple[CouponDue, ...]:
    """Return the coupons that are due on a date, else on the last one of the log.

    By number, where the Operators table says after how many joints of one operator, machine and
    pipe, counted from the last one whose coupon passed; by date, where the last coupon of the
    three names a date that has come, written as ``system`` writes dates.
    """
    until = date or dt.date.max
    made = in_order_made(
        [one for one in records.joint_log if one.date is None or one.date <= until]
    )
    if not made:
        return ()
    last = date or max((joint.date for joint in made if joint.date is not None), default=None)
    every = {row.operator: row.coupon_every for row in records.operators}
    tests = {coupon.joint_no: coupon for coupon in records.coupons}
    since: dict[GroupKey, int] = {}
    latest: dict[GroupKey, Coupon] = {}
    for joint in made:
        group = _group(joint)
        coupon = tests.get(joint.joint_no)
        since[group] = since.get(group, 0) + 1
        if coupon is not None:
            latest[group] = coupon
            since[group] = 0 if coupon.result == "pass" else since[group]
    found = []
    for group, joints in since.items():
        limit, coupon = every.get(group[0]), latest.get(group)
        after = "" if coupon is None else f" after {coupon.coupon}"
        if limit is not None and joints >= limit:
            reason = (
                f"{counted(joints, 'joint')}{after or ' and none yet'}, one is due each {limit}"
            )
            found.append(CouponDue(*group, reason))
        elif coupon is not None and coupon.next_due and last and coupon.next_due <= last:
            found.append(CouponDue(*group, f"due on {show_date(coupon.next_due, system)}{after}"))
    return tuple(found)


def _group(joint: LoggedJoint) -> GroupKey:
    return joint.operator or "", joint.machine_no or "", joint.pipe
