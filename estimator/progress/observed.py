"""What site records say of pace, rework and weather: the observations that a forecast learns from.

Only the crew-paced part of a joint is observed. Heat soak and cooling are taken as planned: they
are the machine's and do not learn.
"""

import datetime as dt
from collections import defaultdict
from collections.abc import Iterator, Mapping, Sequence
from itertools import pairwise

from estimator.data_class import dataclass
from estimator.models.baseline import BUTT_PIECES, STICK, Baseline, BaselineRun, PieceTime
from estimator.models.job import Job
from estimator.models.site_records import DailyRow, LoggedJoint, LostTime
from estimator.progress.joint_log import in_order_made
from estimator.progress.learning import Observation, factor_from_count, factor_from_times
from estimator.progress.made import LOGGED_KINDS, MadeWork
from estimator.units import DAY_MIN, HOUR_MIN
from estimator.working_time.on_site import job_of_crew
from estimator.working_time.working_days import WorkingCalendar

LONGEST_GAP = 2.0
"""From one joint to the next; more than twice the planned time is a break or an interruption."""


@dataclass(frozen=True)
class DayPace:
    """The pace of one crew on one size on one date, and from how many joints it was found."""

    date: dt.date
    crew: int
    size: str
    factor: float
    joints: int
    from_clock: bool


def paces(made: MadeWork, baseline: Baseline, job: Job) -> tuple[DayPace, ...]:
    """Return the pace of each crew, size and date that says something about it.

    From clock times where a joint has them: from the heat start of one joint to that of the next
    of the same crew and run. Other runs from the number of joints in the time that the shift has
    for them.
    """
    timed = list(_from_clock(made, baseline))
    known = {(pace.date, pace.crew, pace.size) for pace in timed}
    counted = [
        pace
        for pace in _Counted(made, baseline, job).paces()
        if (pace.date, pace.crew, pace.size) not in known
    ]
    return tuple(sorted([*timed, *counted], key=lambda pace: (pace.date, pace.crew, pace.size)))


def observations(paces: Sequence[DayPace]) -> list[Observation]:
    """Return the paces as what is learned from."""
    return [Observation(pace.size, pace.factor) for pace in paces]


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


class _Counted:
    """Paces of shifts of which only numbers are known.

    What the paid time leaves after start-up, breaks and wrap-up, lost time, moves, trial fusions,
    rework and connections as planned is the time of the joints; a shift on several sizes is shared
    out by planned minutes.
    """

    def __init__(self, made: MadeWork, baseline: Baseline, job: Job) -> None:
        self.made, self.baseline, self.job = made, baseline, job
        self.lost = _lost_minutes(made.records.lost_time)

    def paces(self) -> Iterator[DayPace]:
        """Yield the pace of each size in each shift that has any."""
        shifts: dict[tuple[dt.date, int, str], list[DailyRow]] = defaultdict(list)
        for row in self.made.daily:
            shifts[row.date, row.crew, row.shift].append(row)
        for (date, crew, shift), rows in shifts.items():
            paid = sum(row.paid_hours / row.people for row in rows) * HOUR_MIN
            left = paid - self._fixed_min(crew) - self.lost.get((date, crew, shift), 0.0)
            left -= sum(self._other_min(row) for row in rows)
            yield from self._of_shift(date, crew, rows, left)

    def _fixed_min(self, crew: int) -> float:
        """Return start-up, breaks and wrap-up of a shift of a crew."""
        shift = job_of_crew(self.job, crew).shift
        return shift.shift_hours * HOUR_MIN - shift.working_min

    def _other_min(self, row: DailyRow) -> float:
        """Return the planned minutes of a row's moves, trial fusions, rework and connections."""
        run = self.baseline.by_run.get(row.run_id)
        if run is None:
            return 0.0
        counting, stick = self.job.counting, run.times[STICK].minutes
        connections = sum(
            (getattr(row, kind) or 0) * time.minutes
            for kind, time in run.times.items()
            if kind not in BUTT_PIECES
        )
        return (
            connections
            + (row.moves or 0) * self.job.moves.machine_move_min
            + (row.test_joints or 0) * (stick + counting.test_joint_extra_min)
            + (row.rework_joints or 0) * (stick + counting.rework_extra_min)
        )

    def _of_shift(
        self, date: dt.date, crew: int, rows: Sequence[DailyRow], minutes: float
    ) -> Iterator[DayPace]:
        sizes: dict[str, list[tuple[int, PieceTime]]] = defaultdict(list)
        for row in rows:
            run = self.baseline.by_run.get(row.run_id)
            if run is not None and row.run_id not in self.made.from_log:
                for kind, number in _butt_counts(row).items():
                    sizes[run.band].append((number, run.times[kind]))
        planned = {size: sum(n * time.minutes for n, time in each) for size, each in sizes.items()}
        for size, each in sizes.items():
            number = sum(n for n, _ in each)
            machine, crew_min = (sum(n * time[i] for n, time in each) / number for i in (1, 0))
            available = minutes * planned[size] / sum(planned.values())
            factor = factor_from_count(available, number, machine, crew_min)
            if factor is not None:
                yield DayPace(date, crew, size, factor, number, from_clock=False)


def _butt_counts(row: DailyRow) -> Mapping[str, int]:
    counts = (row.stick_joints, row.fitting_joints, row.tie_in_joints)
    return {kind: n for kind, n in zip(BUTT_PIECES, counts, strict=True) if n}


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
