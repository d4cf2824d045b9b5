"""Where a job stands on a date: earned value, variances, runs, and what needs a decision.

Joints and connections earn when they are accepted; see ``baseline`` for what they earn. A figure
whose table is not kept is None, and ``missing`` says which.
"""

import datetime as dt
from collections import Counter, defaultdict
from collections.abc import Iterable, Iterator, Mapping, Sequence
from decimal import Decimal
from functools import cached_property
from typing import NamedTuple

from estimator.data_class import dataclass
from estimator.display import counted, money_text, show_date, show_weekday
from estimator.equipment.on_rent import rent_to_date
from estimator.errors import EstimatorError
from estimator.models.baseline import BUTT_PIECES, Baseline, BaselineRun
from estimator.models.job import Job
from estimator.models.kinds import EQUIPMENT, LABOR
from estimator.money import round_money
from estimator.progress.earned_value import (
    EarnedValue,
    LaborActual,
    LaborVariance,
    ScheduleInTime,
    earned_schedule,
)
from estimator.progress.joint_log import coupons_due
from estimator.progress.made import MadeWork, lost_labor_hours
from estimator.risk.surface import Dates
from estimator.steps.plain import difference, ratio
from estimator.units import HOUR_MIN

WORST = 6
DUE_WITHIN_DAYS = 7


class LostLine(NamedTuple):
    """Time that the crews lost to one cause, by who bears it."""

    cause: str
    charge_to: str
    crew_hours: float


class CurvePoint(NamedTuple):
    """Labor-hours up to the end of a date; actual is None without a daily record."""

    date: dt.date
    planned: float
    earned: float | None
    actual: float | None


class DayJoints(NamedTuple):
    """Butt joints of a date: planned, and made."""

    date: dt.date
    planned: int
    made: int


@dataclass(frozen=True)
class RunStatus:
    """One run on the status date."""

    run: BaselineRun
    accepted: int
    planned: int
    planned_hours: float
    earned_hours: float
    actual_hours: float | None
    lost_hours: float
    why: str

    @property
    def over_hours(self) -> float | None:
        """Labor-hours over what its accepted pieces earn."""
        actual = self.actual_hours
        return None if actual is None else difference(actual, self.earned_hours)

    @property
    def ratio(self) -> float | None:
        """Actual over earned labor-hours."""
        actual = self.actual_hours
        return None if actual is None else ratio(actual, self.earned_hours)


@dataclass(frozen=True)
class Status:
    """Where the job stands.

    ``hours`` and ``money`` have an actual amount of 0 where it is not known; ``hours_known`` and
    ``money_known`` say so.
    """

    date: dt.date
    baseline: Baseline
    joints_planned: int
    joints_accepted: int
    joints_made: int
    hours: EarnedValue
    hours_known: bool
    money: EarnedValue
    money_known: bool
    schedule: ScheduleInTime
    textbook_finish: dt.date | None
    variance: LaborVariance | None
    runs: tuple[RunStatus, ...]
    lost: tuple[LostLine, ...]
    curve: tuple[CurvePoint, ...]
    joints_by_day: tuple[DayJoints, ...]
    decisions: tuple[str, ...]
    missing: tuple[str, ...]

    @property
    def worst(self) -> tuple[RunStatus, ...]:
        """The runs most over their earned labor-hours, worst first."""
        over = [run for run in self.runs if (run.over_hours or 0.0) > 0.05]
        return tuple(sorted(over, key=lambda run: -(run.over_hours or 0.0))[:WORST])

    @property
    def not_accepted(self) -> int:
        """Butt joints made that do not earn, or not yet."""
        return self.joints_made - self.joints_accepted


def status_of(job: Job, baseline: Baseline, made: MadeWork) -> Status:
    """Return where a job stands.

    Parameters
    ----------
    job : Job
        The job as it is now; its calendar counts the days.
    baseline : Baseline
        What it is compared with.
    made : MadeWork
        What was made up to the status date.

    Raises
    ------
    EstimatorError
        If the date is before the baseline begins.
    """
    if made.status < baseline.head.start:
        status, start = (
            show_date(day, baseline.head.system) for day in (made.status, baseline.head.start)
        )
        message = (
            f"The status date {status} is before the baseline begins on {start}. Give a later date"
        )
        raise EstimatorError(message)
    return _Standing(job, baseline, made).status()


def cents_of(variance: LaborVariance, total: Decimal) -> LaborVariance:
    """Return a variance to the cent whose parts add up to a total; the pace takes the rounding."""
    rate, quantity, weather = (
        round_money(part) for part in (variance.rate, variance.quantity, variance.weather)
    )
    pace = total - rate - quantity - weather
    return LaborVariance(float(rate), float(pace), float(quantity), float(weather))


class _Standing:
    def __init__(self, job: Job, baseline: Baseline, made: MadeWork) -> None:
        self.job, self.baseline, self.made = job, baseline, made
        self.daily = made.daily
        costs = made.records.actual_cost
        self.costs = [line for line in costs if line.date <= made.status]

    def status(self) -> Status:
        schedule, finish = self._schedule()
        return Status(
            date=self.made.status,
            baseline=self.baseline,
            joints_planned=self.baseline.planned_joints(self.made.status),
            joints_accepted=self.made.joints_accepted,
            joints_made=self.made.joints_made,
            hours=EarnedValue(
                budget=self.baseline.labor_hours,
                planned=self.baseline.planned_hours(self.made.status),
                earned=self.earned_hours,
                actual=self.actual_hours,
            ),
            hours_known=bool(self.daily),
            money=EarnedValue(
                budget=float(self.baseline.cost),
                planned=float(self.baseline.planned_cost(self.made.status)),
                earned=float(self._earned_cost()),
                actual=self._actual_cost(),
            ),
            money_known=bool(self.costs),
            schedule=schedule,
            textbook_finish=finish,
            variance=self._variance(),
            runs=self.runs,
            lost=tuple(self._lost()),
            curve=tuple(self._curve()),
            joints_by_day=tuple(self._joints_by_day()),
            decisions=tuple(self._decisions()),
            missing=tuple(self._missing()),
        )

    def _actual_cost(self) -> float:
        """Return what was paid; labor and rent that are not in it by hours and days on rent."""
        paid = sum(line.amount for line in self.costs)
        entered = {line.cost_type for line in self.costs}
        if LABOR not in entered:
            paid += self.actual_hours * self.baseline.labor_rate
        if EQUIPMENT not in entered:
            paid += float(rent_to_date(self.job, self.made.records.on_rent, self.made.status))
        return paid

    @cached_property
    def shares(self) -> Mapping[str, float]:
        """Part of each run that is earned; never more than the run."""
        accepted = self.made.accepted
        return {
            run.run_id: run.share(_at_most(accepted.get(run.run_id, {}), run.pieces))
            for run in self.baseline.runs
        }

    @property
    def earned_hours(self) -> float:
        return sum(run.labor_hours * self.shares[run.run_id] for run in self.baseline.runs)

    @cached_property
    def actual_hours(self) -> float:
        return sum(row.paid_hours for row in self.daily)

    def _earned_cost(self) -> Decimal:
        work = [
            round_money(float(run.cost) * self.shares[run.run_id]) for run in self.baseline.runs
        ]
        return sum([*work, *self._earned_lumps()], Decimal(0))

    def _earned_lumps(self) -> Iterator[Decimal]:
        begun = bool(self.made.days)
        done = begun and all(
            share > 1 - 1e-9
            for run, share in zip(self.baseline.runs, self.shares.values(), strict=True)
            if run.minutes
        )
        passed = {name.casefold() for name in self.made.tests_passed}
        for one in self.baseline.lump_sums:
            if one.rule == "time":
                yield one.planned(self.made.status)
            elif {
                "start": begun,
                "finish": done,
                "test": one.name.casefold() in passed,
            }[one.rule]:
                yield one.cost

    def _schedule(self) -> tuple[ScheduleInTime, dt.date | None]:
        """Return the schedule in working days from the baseline's start, and the finish it gives.

        Weather days count as working days, as they are days of the plan.
        """
        head = self.baseline.head
        dates = Dates(self.job.changed(start=head.start))
        last = max(day.date for day in self.baseline.days)
        planned: list[float] = []
        by_number: dict[int, float] = defaultdict(float)
        for day in self.baseline.days:
            by_number[dates.number(day.date)] += day.labor_hours
        total = 0.0
        for number in range(1, dates.number(last) + 1):
            total += by_number.get(number, 0.0)
            planned.append(total)
        schedule = ScheduleInTime(
            earned_time=earned_schedule(planned, min(self.earned_hours, total)),
            actual_time=float(dates.number(self.made.status)),
            planned_duration=float(dates.number(head.finish)),
        )
        return schedule, None if schedule.duration is None else dates.date(schedule.duration)

    def _variance(self) -> LaborVariance | None:
        if not self.daily:
            return None
        whole = _labor(self.runs, self.baseline.labor_rate, self._actual_rate())
        actual = whole.actual_hours * whole.actual_rate
        planned = whole.baseline_hours * whole.standard_rate
        return cents_of(whole.variance, round_money(actual - planned))

    def _actual_rate(self) -> float:
        """Return labor cost over labor-hours; as planned where no labor cost was entered."""
        labor = sum(line.amount for line in self.costs if line.cost_type == LABOR)
        if not labor or not self.actual_hours:
            return self.baseline.labor_rate
        return labor / self.actual_hours

    @cached_property
    def runs(self) -> tuple[RunStatus, ...]:
        hours: dict[str, float] = defaultdict(float)
        notes: dict[str, list[str]] = defaultdict(list)
        for row in self.daily:
            hours[row.run_id] += row.paid_hours
            if row.note and row.note not in notes[row.run_id]:
                notes[row.run_id].append(row.note)
        lost = lost_labor_hours(self.daily, self.made.records)
        planned = _planned_hours(self.baseline, self.made.status)
        accepted = self.made.accepted
        return tuple(
            RunStatus(
                run=run,
                accepted=_butt(accepted.get(run.run_id, {})),
                planned=_butt(run.pieces),
                planned_hours=planned.get(run.run_id, 0.0),
                earned_hours=run.labor_hours * self.shares[run.run_id],
                actual_hours=hours.get(run.run_id, 0.0) if self.daily else None,
                lost_hours=lost.get(run.run_id, 0.0),
                why="; ".join(notes[run.run_id]),
            )
            for run in self.baseline.runs
        )

    def _lost(self) -> Iterator[LostLine]:
        minutes: dict[tuple[str, str], float] = defaultdict(float)
        for line in self.made.records.lost_time:
            if line.date <= self.made.status:
                minutes[line.cause, line.charge_to] += line.minutes
        for (cause, charge_to), total in sorted(minutes.items(), key=lambda item: -item[1]):
            yield LostLine(cause, charge_to, total / HOUR_MIN)

    def _curve(self) -> Iterator[CurvePoint]:
        """Yield a point for each Friday-to-Friday week of the baseline, and for the status date."""
        head, status = self.baseline.head, self.made.status
        week = dt.timedelta(7)
        first = head.start - dt.timedelta(1)
        ends = [first]
        while ends[-1] < max(head.finish, status):
            ends.append(ends[-1] + week)
        earned = _Running((day.date, self._hours_of(day.run_id, day.accepted))
                          for day in self.made.days)  # fmt: skip
        actual = _Running((row.date, row.paid_hours) for row in self.daily)
        for date in sorted({*ends, status}):
            gone = date <= status
            yield CurvePoint(
                date=date,
                planned=self.baseline.planned_hours(date),
                earned=min(earned.at(date), self.baseline.labor_hours) if gone else None,
                actual=actual.at(date) if gone and self.daily else None,
            )

    def _hours_of(self, run_id: str, pieces: Mapping[str, int]) -> float:
        run = self.baseline.by_run.get(run_id)
        return 0.0 if run is None else run.labor_hours * run.share(pieces)

    def _joints_by_day(self) -> Iterator[DayJoints]:
        planned: Counter[dt.date] = Counter()
        for day in self.baseline.days:
            planned[day.date] += _butt(day.pieces)
        made: Counter[dt.date] = Counter()
        for one in self.made.days:
            made[one.date] += one.made
        for date in sorted({*planned, *made}):
            if date <= self.made.status:
                yield DayJoints(date, planned[date], made[date])

    def _decisions(self) -> Iterator[str]:
        log, status = self.made.judged, self.made.status
        open_rejects = [one.joint.joint_no for one in log.open_rejects]
        if open_rejects:
            yield f"{_count(open_rejects, 'reject')} not yet cut out: {_names(open_rejects)}"
        reasons: dict[str, list[str]] = defaultdict(list)
        for one in log.with_verdict("hold"):
            reasons["; ".join(one.reasons)].append(one.joint.joint_no)
        for reason, joints in reasons.items():
            yield f"{_count(joints, 'joint')} on hold, {reason}: {_names(joints)}"
        incomplete = [one.joint.joint_no for one in log.with_verdict("incomplete")]
        if incomplete:
            yield f"{_count(incomplete, 'joint')} not fully entered: {_names(incomplete)}"
        soon, system = status + dt.timedelta(DUE_WITHIN_DAYS), self.baseline.head.system
        for late in coupons_due(self.made.records, system, status):
            yield f"Coupon of {late.operator}, {late.machine_no}, {late.pipe}: {late.reason}"
        due: dict[dt.date, list[str]] = defaultdict(list)
        for coupon in self.made.records.coupons:
            if coupon.next_due is not None and status < coupon.next_due <= soon:
                due[coupon.next_due].append(coupon.coupon)
        for date, coupons in sorted(due.items()):
            yield f"Next coupon is due by {show_weekday(date, system)}, after {_names(coupons)}"
        for operator in self.made.records.operators:
            if operator.qualified_until <= soon:
                until = show_weekday(operator.qualified_until, system)
                verb = "was" if operator.qualified_until < status else "is"
                yield f"{operator.operator} {verb} qualified until {until} only"
        yield from self._open_changes()
        yield from self._over_planned()

    def _open_changes(self) -> Iterator[str]:
        currency = self.baseline.head.currency
        for change in self.made.records.changes:
            if change.status in ("raised", "priced") and change.date <= self.made.status:
                price = change.price_asked
                asked = [] if price is None else [money_text(currency, price)]
                asked += [] if change.days_asked is None else [counted(change.days_asked, "day")]
                terms = f": {', '.join(asked)}" if asked else ""
                yield f"Change {change.number} {change.status}, not agreed{terms}"

    def _over_planned(self) -> Iterator[str]:
        for one in self.runs:
            if one.accepted > one.planned:
                yield (
                    f"Run {one.run.run_id}: {counted(one.accepted, 'joint')} accepted of "
                    f"{one.planned} in the baseline. Agree the change and rebase"
                )
        unknown = sorted({day.run_id for day in self.made.days} - self.baseline.by_run.keys())
        if unknown:
            yield f"Not in the baseline, so it earns nothing: {', '.join(unknown)}. Rebase"

    def _missing(self) -> Iterator[str]:
        if not self.made.from_log:
            yield (
                "No joint in the Joint log: joints are counted from the Daily record, and all "
                "that are counted there earn. Rejects and holds are not known"
            )
        if not self.daily:
            yield (
                "No Daily record: actual labor-hours, CPI, estimates at completion and variances "
                "are not known"
            )
        if not self.costs:
            yield "No Actual cost: cost indices and cost at completion are not known"
        elif not any(line.cost_type == LABOR for line in self.costs):
            yield "No Labor in Actual cost: hours are priced at the baseline rate, rate variance 0"
        if not self.made.records.lost_time:
            yield "No Lost time: weather is part of the pace"


class _Running:
    """Amounts by date, added up."""

    def __init__(self, amounts: Iterable[tuple[dt.date, float]]) -> None:
        self._amounts = tuple(amounts)

    def at(self, date: dt.date) -> float:
        return sum(amount for day, amount in self._amounts if day <= date)


def _labor(runs: Sequence[RunStatus], standard: float, actual: float) -> LaborActual:
    return LaborActual(
        standard_rate=standard,
        actual_rate=actual,
        baseline_hours=sum(run.planned_hours for run in runs),
        standard_hours=sum(run.earned_hours for run in runs),
        actual_hours=sum(run.actual_hours or 0.0 for run in runs),
        lost_hours=sum(run.lost_hours for run in runs),
    )


def _planned_hours(baseline: Baseline, date: dt.date) -> Mapping[str, float]:
    found: dict[str, float] = defaultdict(float)
    for day in baseline.days:
        if day.date <= date:
            found[day.run_id] += day.labor_hours
    return found


def _at_most(pieces: Mapping[str, int], planned: Mapping[str, int]) -> Mapping[str, int]:
    return {kind: min(number, planned.get(kind, 0)) for kind, number in pieces.items()}


def _butt(pieces: Mapping[str, int]) -> int:
    return sum(pieces.get(kind, 0) for kind in BUTT_PIECES)


def _count(names: Sequence[str], noun: str) -> str:
    return f"{len(names)} {noun}{'s' * (len(names) != 1)}"


MOST_NAMED = 6


def _names(names: Sequence[str]) -> str:
    more = len(names) - MOST_NAMED
    return ", ".join(names[:MOST_NAMED]) + (f" and {more} more" if more > 0 else "")
