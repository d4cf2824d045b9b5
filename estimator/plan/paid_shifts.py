"""What the crews did as lines of the plan, and the shifts for which they are paid."""

import datetime as dt
from collections import defaultdict
from collections.abc import Iterator, Mapping, Sequence
from itertools import groupby
from typing import NamedTuple

from estimator.models.bands import Band, BandShare
from estimator.models.calendar import Hold
from estimator.models.crew import Role
from estimator.models.job import Job
from estimator.models.job_inputs import FULL_SHIFT, NO_WAITING_PAY, ShiftInputs
from estimator.models.plan import CrewDay, PaidKind, PlanLine, Shift, ShiftName
from estimator.models.sized_run import SizedRun
from estimator.plan.crews import ONE_DAY, CrewState, ShiftTally
from estimator.steps.kinds import Hours, Minutes
from estimator.steps.marks import either, greatest, least
from estimator.steps.recorder import step
from estimator.units import WEEK_HOURS
from estimator.working_time.on_site import Holds, machines_on, stay_on


def plan_lines(crews: Sequence[CrewState]) -> Iterator[PlanLine]:
    """Yield what each crew did on each run, by date, crew and shift."""
    entries = [
        (shift, crew.number, run_id, tally)
        for crew in crews
        for shift, runs in crew.shifts.items()
        for run_id, tally in runs.items()
    ]
    for shift, number, run_id, tally in sorted(
        entries, key=lambda e: (e[0].date, e[1], e[0].start)
    ):
        yield _line(shift, number, run_id, tally)


def _line(shift: Shift, crew: int, run_id: str, tally: ShiftTally) -> PlanLine:
    counted = tally.counts.get
    tie_ins = counted("tie_in_joints", 0)
    return PlanLine(
        date=shift.date,
        crew=crew,
        run_id=run_id,
        machine=tally.machine,
        joints=counted("joints", 0) + tie_ins,
        tie_in_joints=tie_ins,
        rework_joints=counted("rework_joints", 0),
        test_joints=counted("test_joints", 0),
        other_joints=counted("other_joints", 0),
        moves=tuple(tally.moves),
        minutes=tally.minutes,
        shift=shift.name,
        made=tally.made,
        moved_min=tally.moved_min,
        in_wrapup_min=tally.in_wrapup_min,
    )


@step("Straight time", "paid hours, at most the straight time of a shift")
def straight_h(paid_h: float, shift: ShiftInputs) -> float:
    """Return the hours of a paid shift at straight time."""
    return least(paid_h, shift.straight_hours)


@step("Straight time left in the week", "straight time of a week - what is worked of it")
def straight_left_h(shift: ShiftInputs, worked_h: Hours) -> Hours:
    """Return the hours of a week that a team may still work at straight time."""
    return greatest(0.0, shift.straight_week_hours - worked_h)


@step("Straight time", "straight time of the shift, at most what the week leaves")
def straight_in_week_h(straight_h: Hours, straight_left_h: Hours) -> Hours:
    """Return the hours of a paid shift at straight time where the week has a limit too."""
    return least(straight_h, straight_left_h)


@step("Overtime", "paid hours - straight time")
def overtime_h(paid_h: float, straight_h: float) -> float:
    """Return the hours of a paid shift beyond straight time."""
    return paid_h - straight_h


@step("{role.role}", "people with one machine + those for each further one")
def people(role: Role, band: Band, machines: int) -> float:
    """Return the people of a role in a crew on a size band."""
    return either(machines == 1, lambda: role.heads(band), lambda: role.heads_with(band, machines))


@step("{role.role}", "people between bands {low} and {high}, with those for further machines")
def people_between(role: Role, low: Band, high: Band, share: float, machines: int) -> float:
    """Return the people of a role in a crew on a diameter between two bands."""
    one = role.heads_between(low, high, share)
    return either(machines == 1, lambda: one, lambda: one + role.further_heads * (machines - 1))


def people_at(role: Role, at: BandShare, machines: int) -> float:
    """Return the people of a role in a crew on a diameter at a place among the bands."""
    if at.share:
        return people_between(role, *at, machines)
    return people(role, at.low, machines)


@step("Labor-hours of the run in the shift", "people x paid hours x minutes / all minutes")
def labor_hours_of(day: CrewDay, minutes: Minutes, all_minutes: Minutes) -> Hours:
    """Return the part of a paid shift's labor-hours that a run takes."""
    return day.labor_hours * minutes / all_minutes


@step("Crew-hours of the run in the shift", "paid hours x minutes / all minutes")
def crew_hours_of(day: CrewDay, minutes: Minutes, all_minutes: Minutes) -> Hours:
    """Return the part of a paid shift on the clock that a run takes, whatever the head count."""
    return day.crew_hours * minutes / all_minutes


@step("Labor-hours", "sum of all days")
def labor_hours_of_days(each: Sequence[Hours]) -> Hours:
    """Return the labor-hours of a run."""
    return sum(each)


@step("Crew-hours", "sum of all days")
def crew_hours_of_days(each: Sequence[Hours]) -> Hours:
    """Return the crew-hours of a run."""
    return sum(each)


class PaidHours:
    """Splits the paid shifts of one crew, by date, into straight time and overtime.

    Straight time of a shift counts for its team's week, Monday to Sunday; overtime of a shift does
    not count a second time, and hours without work do not count at all.
    """

    def __init__(self, shift: ShiftInputs) -> None:
        self.shift = shift
        self._worked: dict[tuple[ShiftName, dt.date], float] = defaultdict(float)
        self._in_shift: dict[float, tuple[float, float]] = {}

    def worked(self, date: dt.date, name: ShiftName, paid_h: float) -> tuple[float, float]:
        """Return the straight hours of a worked shift, and those beyond."""
        if self.shift.straight_week_hours >= WEEK_HOURS:
            return self.shown_up(paid_h)
        week = name, date - ONE_DAY * date.weekday()
        left_h = straight_left_h(self.shift, self._worked[week])
        straight = straight_in_week_h(straight_h(paid_h, self.shift), left_h)
        self._worked[week] += straight
        return straight, overtime_h(paid_h, straight)

    def shown_up(self, paid_h: float) -> tuple[float, float]:
        """Return the straight hours of a shift whatever its week, and those beyond."""
        if paid_h not in self._in_shift:
            straight = straight_h(paid_h, self.shift)
            self._in_shift[paid_h] = straight, overtime_h(paid_h, straight)
        return self._in_shift[paid_h]


class LostDate(NamedTuple):
    """A date on which a crew is paid without work: by expected weather, a hold, or a wait."""

    date: dt.date
    kind: PaidKind
    hold: Hold | None = None


class Payroll:
    """The paid shifts of the crews, weather days and paid holds among them."""

    def __init__(self, job: Job, sized: Mapping[str, SizedRun]) -> None:
        self.job, self.sized = job, sized
        self.holds = Holds.of(job)
        self._heads: dict[tuple[frozenset[BandShare], int], tuple[float, ...]] = {}

    def crew_days(self, crews: Sequence[CrewState]) -> Iterator[CrewDay]:
        """Yield each paid shift of each crew; on a lost day the teams of the day before."""
        for crew in crews:
            shifts = sorted(crew.shifts, key=lambda shift: shift.start)
            teams = [list(of) for _, of in groupby(shifts, key=lambda shift: shift.date)]
            hours = PaidHours(self.job.shift)
            for team, following in zip(teams, [*teams[1:], []], strict=False):
                paid = [self._crew_day(crew, shift, hours) for shift in team]
                yield from paid
                for lost in self._lost_between(crew, team[-1], following[:1]):
                    for day in paid:
                        yield self._lost_day(day, lost, hours)

    def _lost_day(self, day: CrewDay, lost: LostDate, hours: PaidHours) -> CrewDay:
        """Return what a team is paid for a date that is lost."""
        paid_h = self.job.shift.weather_paid_hours
        if lost.kind == "waiting" and self.job.shift.waiting_pay == FULL_SHIFT:
            paid_h = day.crew_hours
        straight, overtime = hours.shown_up(paid_h)
        return day._replace(
            date=lost.date,
            kind=lost.kind,
            straight_hours=straight,
            overtime_hours=overtime,
            hold=lost.hold,
        )

    def _lost_between(
        self, crew: CrewState, last: Shift, following: Sequence[Shift]
    ) -> list[LostDate]:
        """Return the paid dates that a crew loses between two of its days, none after its last.

        Weather days while it is on site, and working days on which a paid hold keeps it from the
        run that it has left or takes up. If it could have worked in between but had nothing to
        do, it waits: paid by the rule of the job, or not on site.
        """
        found: list[LostDate] = []
        days = sum([(shift.date - last.date).days for shift in following])
        if days <= 1:
            return found
        runs = [*crew.shifts[last]][-1:] + [
            run for shift in following for run in crew.shifts[shift]
        ]
        for date in (last.date + ONE_DAY * n for n in range(1, days)):
            kind = crew.roster.calendar.kind(date)
            if kind == "off" or stay_on(crew.roster.stays, date) is None:
                continue
            hold = self._hold_on(date, runs) if kind == "work" else None
            if kind == "work" and hold is None:
                found.append(LostDate(date, "waiting"))
            elif hold is None:
                found.append(LostDate(date, "weather"))
            elif hold.paid:
                found.append(LostDate(date, "hold", hold))
        waits = sum(lost.kind == "waiting" for lost in found)
        return found if waits <= self._longest_wait else []

    @property
    def _longest_wait(self) -> int:
        """Workdays without work for which a crew is paid in one go."""
        shift = self.job.shift
        return 0 if shift.waiting_pay == NO_WAITING_PAY else shift.waiting_days

    def _hold_on(self, date: dt.date, run_ids: Sequence[str]) -> Hold | None:
        held = (self.holds.on(run_id, date) for run_id in run_ids)
        return next((hold for hold in held if hold is not None), None)

    def _crew_day(self, crew: CrewState, shift: Shift, hours: PaidHours) -> CrewDay:
        minutes = {run_id: tally.minutes for run_id, tally in crew.shifts[shift].items()}
        evenly = dict.fromkeys(minutes, 1.0)
        straight, overtime = hours.worked(shift.date, shift.name, shift.hours)
        return CrewDay(
            date=shift.date,
            crew=crew.number,
            kind="work",
            heads=self._heads_of(
                frozenset([self.sized[run_id].timing.cycle.at for run_id in minutes]),
                machines_on(self.job, crew.number, shift.date),
            ),
            straight_hours=straight,
            overtime_hours=overtime,
            run_minutes=tuple((minutes if any(minutes.values()) else evenly).items()),
            shift=shift.name,
        )

    def _heads_of(self, sizes: frozenset[BandShare], machines: int) -> tuple[float, ...]:
        """Return the people of each role, as many as the hardest of some sizes needs."""
        if (sizes, machines) not in self._heads:
            self._heads[sizes, machines] = tuple(
                max(people_at(role, at, machines) for at in sorted(sizes)) for role in self.job.crew
            )
        return self._heads[sizes, machines]
