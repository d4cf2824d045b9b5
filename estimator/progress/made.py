"""What was made up to a date, by day, crew and run: from the joint log, else from daily counts."""

import datetime as dt
from collections import Counter, defaultdict
from collections.abc import Mapping, Sequence
from dataclasses import field

from estimator.data_class import dataclass
from estimator.models.baseline import BUTT_PIECES, FITTING, STICK, TIE_IN
from estimator.models.kinds import CONNECTIONS
from estimator.models.site_records import DailyRow, SiteRecords
from estimator.progress.joint_log import JudgedJoint, JudgedLog, judge_records
from estimator.units import HOUR_MIN

LOGGED_KINDS: Mapping[str, str] = {"stick": STICK, "fitting": FITTING, "tie-in": TIE_IN}
"""What a joint of the log earns as; rework earns as the joint that it replaces."""
REWORK = "rework"
PENDING = ("hold", "incomplete")
DAILY_COUNTS: Mapping[str, str] = {
    "stick_joints": STICK,
    "fitting_joints": FITTING,
    "tie_in_joints": TIE_IN,
}
CONNECTION_COUNTS: Mapping[str, str] = {kind.key: kind.key for kind in CONNECTIONS}
"""Columns of the daily record, and what they earn as."""

Place = tuple[dt.date, int, str]


@dataclass(frozen=True)
class MadeDay:
    """What one crew made on one run on one date.

    ``pending`` are joints that may yet be accepted: on hold, or not fully entered. ``made`` counts
    butt joints of every verdict.
    """

    date: dt.date
    crew: int
    run_id: str
    accepted: Mapping[str, int]
    pending: Mapping[str, int]
    made: int


@dataclass(frozen=True)
class MadeWork:
    """Everything made up to a date.

    ``from_log`` are the runs whose butt joints the joint log holds; of all others the daily
    record does, which knows no rejects. ``judged`` is the log up to the date.
    """

    status: dt.date
    days: tuple[MadeDay, ...]
    from_log: frozenset[str]
    judged: JudgedLog
    records: SiteRecords = field(repr=False)

    @property
    def accepted(self) -> Mapping[str, Mapping[str, int]]:
        """Accepted pieces of each run, by kind."""
        found: dict[str, Counter[str]] = defaultdict(Counter)
        for day in self.days:
            found[day.run_id].update(day.accepted)
        return found

    @property
    def not_left(self) -> Mapping[str, Mapping[str, int]]:
        """Pieces of each run that need not be made again: accepted, or pending."""
        found: dict[str, Counter[str]] = defaultdict(Counter)
        for day in self.days:
            found[day.run_id].update(day.accepted)
            found[day.run_id].update(day.pending)
        return found

    @property
    def joints_made(self) -> int:
        """Butt joints made, whatever became of them."""
        return sum(day.made for day in self.days)

    @property
    def joints_accepted(self) -> int:
        """Butt joints that earn."""
        return sum(day.accepted.get(kind, 0) for day in self.days for kind in BUTT_PIECES)

    @property
    def tests_passed(self) -> tuple[str, ...]:
        """Test sections whose hydrotest is passed."""
        passed = self.records.tests_passed
        return tuple(one.section for one in passed if one.date <= self.status)

    @property
    def daily(self) -> tuple[DailyRow, ...]:
        """Rows of the daily record up to the date."""
        return tuple(row for row in self.records.daily_record if row.date <= self.status)


def made_up_to(records: SiteRecords, status: dt.date) -> MadeWork:
    """Return what was made up to the end of a date.

    A run with any joint in the log has its butt joints from there, other runs from the daily
    record; connections always come from the daily record. Only accepted joints are in
    ``accepted``. An accepted rework joint counts as the joint that it replaces; where nothing
    says which, it earns nothing.
    """
    judged = judge_records(records)
    known = JudgedLog(tuple(one for one in judged.joints if _is_made(one, status)))
    from_log = frozenset(one.joint.run_id for one in known.joints)
    accepted: dict[Place, Counter[str]] = defaultdict(Counter)
    pending: dict[Place, Counter[str]] = defaultdict(Counter)
    made: Counter[Place] = Counter()
    kinds = _kinds(judged)
    for one in known.joints:
        kind = kinds.get(one.joint.joint_no)
        place = one.joint.date or status, one.joint.crew or 0, one.joint.run_id
        if kind is not None or one.joint.kind == REWORK:
            made[place] += 1
        if one.accepted and kind is not None:
            accepted[place][kind] += 1
        if one.verdict in PENDING and kind is not None:
            pending[place][kind] += 1
    for row in records.daily_record:
        if row.date <= status:
            place = row.date, row.crew, row.run_id
            pieces = _daily_pieces(row, with_joints=row.run_id not in from_log)
            accepted[place].update(pieces)
            if row.run_id not in from_log:
                made[place] += sum(pieces[kind] for kind in BUTT_PIECES if kind in pieces)
                made[place] += row.rework_joints or 0
    days = tuple(
        MadeDay(*place, _without_none(accepted[place]), dict(pending[place]), made[place])
        for place in sorted({*accepted, *made})
    )
    return MadeWork(status, days, from_log, known, records)


def _without_none(counts: Mapping[str, int]) -> Mapping[str, int]:
    return {kind: number for kind, number in counts.items() if number}


def _is_made(one: JudgedJoint, status: dt.date) -> bool:
    return one.verdict != "not made" and (one.joint.date is None or one.joint.date <= status)


def _kinds(judged: JudgedLog) -> Mapping[str, str]:
    """Return what each joint of the log earns as, by its number."""
    found = {
        one.joint.joint_no: LOGGED_KINDS[one.joint.kind]
        for one in judged.joints
        if one.joint.kind in LOGGED_KINDS
    }
    for one in judged.joints:
        later, kind = one.joint.rework_as, found.get(one.joint.joint_no)
        if later is not None and kind is not None:
            found.setdefault(later, kind)
    return found


def _daily_pieces(row: DailyRow, *, with_joints: bool) -> Mapping[str, int]:
    columns = {**DAILY_COUNTS, **CONNECTION_COUNTS} if with_joints else CONNECTION_COUNTS
    counts = {kind: getattr(row, column) for column, kind in columns.items()}
    return _without_none(counts)


def lost_labor_hours(rows: Sequence[DailyRow], records: SiteRecords) -> Mapping[str, float]:
    """Return the paid hours that weather took from each run.

    Lost minutes of a crew and shift, times its people, at most what was paid; shared out over
    the runs of the shift by paid hours.
    """
    shifts: dict[tuple[dt.date, int, str], list[DailyRow]] = defaultdict(list)
    for row in rows:
        shifts[row.date, row.crew, row.shift].append(row)
    lost: dict[tuple[dt.date, int, str], float] = defaultdict(float)
    for line in records.lost_time:
        if line.cause == "weather":
            lost[line.date, line.crew, line.shift] += line.minutes
    found: dict[str, float] = defaultdict(float)
    for key, members in shifts.items():
        paid = sum(row.paid_hours for row in members)
        hours = min(paid, lost[key] / HOUR_MIN * max(row.people for row in members))
        for row in members:
            found[row.run_id] += hours * row.paid_hours / paid if paid else 0.0
    return found
