"""What site records say of pace, rework and weather: the observations that a forecast learns from.

Only the crew-paced part of a joint is observed. Heat soak and cooling are taken as planned: they
are the machine's and do not learn.
"""

import datetime as dt
from collections import defaultdict
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from itertools import pairwise

from estimator.models.baseline import BUTT_PIECES, Baseline, BaselineRun, PieceTime
from estimator.models.job import Job
from estimator.models.site_records import DailyRow, LoggedJoint, LostTime
from estimator.progress.joint_log import in_order_made
from estimator.progress.learning import Observation, factor_from_count, factor_from_times
from estimator.progress.made import LOGGED_KINDS, MadeWork
from estimator.units import DAY_MIN, HOUR_MIN
from estimator.working_time.working_days import WorkingCalendar

LONGEST_GAP = 2.0
"""From one joint to the next; more than twice the planned time is a break or an interruption."""


@dataclass(frozen=True)
class DayPace:
    """The pace of one crew on one size on one date, and from how many joints it was told."""

    date: dt.date
    crew: int
    size: str
    factor: float
    joints: int
    from_clock: bool


def paces(made: MadeWork, baseline: Baseline) -> tuple[DayPace, ...]:
    """Return the pace of each crew, size and date that says something about it.

    From clock times where a joint has them: from the heat start of one joint to that of the next
    of the same crew and run. Other runs from the number of joints in the time that the shift has
    for them.
    """
    timed = list(_from_clock(made, baseline))
    known = {(pace.date, pace.crew, pace.size) for pace in timed}
    counted = [
        pace
        for pace in _from_counts(made, baseline)
        if (pace.date, pace.crew, pace.size) not in known
    ]
    return tuple(sorted([*timed, *counted], key=lambda pace: (pace.date, pace.crew, pace.size)))


def observations(found: Sequence[DayPace]) -> list[Observation]:
    """Return the paces as what is learned from."""
    return [Observation(pace.size, pace.factor) for pace in found]


def _from_clock(made: MadeWork, baseline: Baseline) -> Iterator[DayPace]:
    days: dict[tuple[dt.date, int, str], list[LoggedJoint]] = defaultdict(list)
    for joint in in_order_made([one.joint for one in made.judged.joints]):
        known = joint.date is not None and joint.heat_start_min is not None
        if known and joint.run_id in baseline.by_run and joint.kind in LOGGED_KINDS:
            days[joint.date, joint.crew or 0, joint.run_id].append(joint)  # type: ignore[index]
    gaps: dict[tuple[dt.date, int, str], list[tuple[float, PieceTime]]] = defaultdict(list)
    for (date, crew, run_id), joints in days.items():
        run = baseline.by_run[run_id]
        gaps[date, crew, run.band] += _gaps(sorted(joints, key=_start), run)
    for (date, crew, size), each in gaps.items():
        worked = sum(minutes for minutes, _ in each)
        machine, crew_min = (sum(time[i] for _, time in each) for i in (1, 0))
        if each and worked > machine and crew_min > 0:
            factor = factor_from_times(worked, machine, crew_min)
            yield DayPace(date, crew, size, factor, len(each), from_clock=True)


def _start(joint: LoggedJoint) -> float:
    return joint.heat_start_min or 0.0


def _gaps(joints: Sequence[LoggedJoint], run: BaselineRun) -> Iterator[tuple[float, PieceTime]]:
    """Yield the minutes from each joint to the next, with its planned ones."""
    for one, other in pairwise(joints):
        planned = run.times[LOGGED_KINDS[one.kind]]
        minutes = (_start(other) - _start(one)) % DAY_MIN
        if 0 < minutes <= LONGEST_GAP * planned.minutes:
            yield minutes, planned


def _from_counts(made: MadeWork, baseline: Baseline) -> Iterator[DayPace]:
    """Yield paces of shifts of which only numbers are known.

    The paid time less start-up, breaks and wrap-up is what remains once lost time is taken off;
    a shift on several sizes is shared out by planned minutes.
    """
    lost = _lost_minutes(made.records.lost_time)
    shifts: dict[tuple[dt.date, int, str], list[DailyRow]] = defaultdict(list)
    for row in made.daily:
        shifts[row.date, row.crew, row.shift].append(row)
    for (date, crew, shift), rows in shifts.items():
        paid = sum(row.paid_hours / row.people for row in rows) * HOUR_MIN
        yield from _shift_paces(
            (date, crew), rows, paid - lost.get((date, crew, shift), 0.0), (made, baseline)
        )


def _shift_paces(
    when: tuple[dt.date, int],
    rows: Sequence[DailyRow],
    minutes: float,
    of: tuple[MadeWork, Baseline],
) -> Iterator[DayPace]:
    made, baseline = of
    sizes: dict[str, list[tuple[int, PieceTime]]] = defaultdict(list)
    for row in rows:
        run = baseline.by_run.get(row.run_id)
        if run is not None and row.run_id not in made.from_log:
            for kind, number in _butt_counts(row).items():
                sizes[run.band].append((number, run.times[kind]))
    planned = {size: sum(n * time.minutes for n, time in each) for size, each in sizes.items()}
    total = sum(planned.values()) + _other_minutes(rows, baseline)
    for size, each in sizes.items():
        number = sum(n for n, _ in each)
        if number and total > 0:
            machine, crew_min = (sum(n * time[i] for n, time in each) / number for i in (1, 0))
            available = minutes * planned[size] / total
            factor = factor_from_count(available, number, machine, crew_min)
            if factor is not None:
                yield DayPace(*when, size, factor, number, from_clock=False)


def _butt_counts(row: DailyRow) -> Mapping[str, int]:
    counts = (row.stick_joints, row.fitting_joints, row.tie_in_joints)
    return {kind: n for kind, n in zip(BUTT_PIECES, counts, strict=True) if n}


def _other_minutes(rows: Sequence[DailyRow], baseline: Baseline) -> float:
    """Return the planned minutes of the connections of a shift."""
    return sum(
        (getattr(row, kind) or 0) * run.times[kind].minutes
        for row in rows
        if (run := baseline.by_run.get(row.run_id)) is not None
        for kind in run.times
        if kind not in BUTT_PIECES
    )


def _lost_minutes(lines: Sequence[LostTime]) -> Mapping[tuple[dt.date, int, str], float]:
    found: dict[tuple[dt.date, int, str], float] = defaultdict(float)
    for line in lines:
        found[line.date, line.crew, line.shift] += line.minutes
    return found


@dataclass(frozen=True)
class Seen:
    """How often something was seen, out of how many."""

    hits: int
    out_of: int


def rework_seen(made: MadeWork) -> Seen:
    """Return joints cut out or to be cut out, of all butt joints made."""
    rejects = {
        one.joint.joint_no for one in made.judged.with_verdict("reject", "out of limits")
    } | {one.joint.joint_no for one in made.judged.joints if one.joint.rework_as is not None}
    counted = sum(row.rework_joints or 0 for row in made.daily if row.run_id not in made.from_log)
    total = made.joints_made
    return Seen(min(len(rejects) + counted, total), total)


def weather_seen(made: MadeWork, job: Job, start: dt.date) -> Seen:
    """Return whole days lost to weather, averaged over the crews, of the days of work gone by."""
    calendar = WorkingCalendar.of(job)
    days = (start + dt.timedelta(n) for n in range((made.status - start).days + 1))
    out_of = sum(calendar.is_open(day) for day in days)
    lines = made.records.lost_time
    minutes = sum(x.minutes for x in lines if x.cause == "weather" and x.date <= made.status)
    lost = minutes / (job.shift.shift_hours * HOUR_MIN * job.resources.crews)
    return Seen(min(round(lost), out_of), out_of)
