"""What the crews did as lines of the plan, and the shifts for which they are paid."""

import datetime as dt
from collections import defaultdict
from collections.abc import Iterable, Iterator, Mapping, Sequence
from itertools import zip_longest
from typing import NamedTuple, Protocol

from estimator.models.bands import Band, BandShare
from estimator.models.calendar import Hold
from estimator.models.crew import Role
from estimator.models.job import Job
from estimator.models.job_inputs import FULL_SHIFT, NO_WAITING_PAY, ShiftInputs
from estimator.models.plan import CrewDay, PaidKind, Plan, PlanLine, Shift, ShiftName
from estimator.models.sized_run import SizedRun
from estimator.plan.crews import ONE_DAY, CrewState, ShiftDone, ShiftTally
from estimator.steps.kinds import Hours, Minutes
from estimator.steps.marks import either, greatest, least
from estimator.steps.recorder import step
from estimator.units import WEEK_HOURS
from estimator.working_time.on_site import Holds, machines_on, stay_on
from estimator.working_time.roster import Roster


def plan_lines(crews: Sequence[CrewState]) -> Iterator[PlanLine]:
    """Yield what each crew did on each run, by date, crew and shift."""
    by_date: dict[dt.date, list[tuple[int, ShiftDone]]] = {}
    for crew in crews:
        for done in crew.shifts:
            by_date.setdefault(done[0].date, []).append((crew.number, done))
    for date in sorted(by_date):
        for number, (shift, runs) in by_date[date]:
            for run_id, tally in runs.items():
                yield _line(shift, number, run_id, tally)


def _line(shift: Shift, crew: int, run_id: str, tally: ShiftTally) -> PlanLine:
    counted = tally.counts.get
    tie_ins = counted("tie_in_joints", 0)
    return PlanLine(
        shift.date,
        crew,
        run_id,
        tally.machine,
        counted("joints", 0) + tie_ins,
        tie_ins,
        counted("rework_joints", 0),
        counted("test_joints", 0),
        counted("other_joints", 0),
        tuple(tally.moves),
        tally.minutes,
        shift.name,
        tuple(tally.made),
        tuple(tally.moved_min),
        tuple(tally.in_wrapup_min),
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


@step(
    "Labor-hours of the run in the shift",
    "people x paid hours x minutes on this run / minutes on all runs",
)
def labor_hours_of(day: CrewDay, minutes: Minutes, all_minutes: Minutes) -> Hours:
    """Return the part of a paid shift's labor-hours that a run takes."""
    return day.labor_hours * minutes / all_minutes


@step(
    "Crew-hours of the run in the shift", "paid hours x minutes on this run / minutes on all runs"
)
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
        self._worked: dict[tuple[ShiftName, int], float] = defaultdict(float)
        self._in_shift: dict[float, tuple[float, float]] = {}
        self._in_week: dict[tuple[float, float], tuple[float, float]] = {}

    def worked(self, date: dt.date, name: ShiftName, paid_h: float) -> tuple[float, float]:
        """Return the straight hours of a worked shift, and those beyond."""
        if self.shift.straight_week_hours >= WEEK_HOURS:
            return self.shown_up(paid_h)
        week = name, date.toordinal() - date.weekday()
        worked_h = self._worked[week]
        found = self._in_week.get((worked_h, paid_h))
        if found is None:
            left_h = straight_left_h(self.shift, worked_h)
            straight = straight_in_week_h(straight_h(paid_h, self.shift), left_h)
            found = self._in_week[worked_h, paid_h] = straight, overtime_h(paid_h, straight)
        self._worked[week] = worked_h + found[0]
        return found

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


class Timed(Protocol):
    """What a crew did on a run in a shift, by its minutes."""

    @property
    def minutes(self) -> float:
        """Minutes of all work and moves."""
        ...


PaidShift = tuple[Shift, Mapping[str, Timed]]
"""A shift of a crew, with what it did in it by run."""


class PaidCrew(Protocol):
    """A crew with the shifts in which it did anything, one after the other."""

    @property
    def number(self) -> int:
        """Number of the crew."""
        ...

    @property
    def roster(self) -> Roster:
        """The shifts that it may work."""
        ...

    @property
    def shifts(self) -> Sequence[PaidShift]:
        """Those in which it did anything."""
        ...


class CrewOfPlan(NamedTuple):
    """A crew as a plan has it."""

    number: int
    roster: Roster
    shifts: Sequence[PaidShift]

    @classmethod
    def of(cls, job: Job, number: int, lines: Iterable[PlanLine]) -> "CrewOfPlan":
        """Return the crew that did some lines of a plan, by date."""
        roster = Roster.of(job, number)
        done: dict[Shift, dict[str, PlanLine]] = {}
        for line in lines:
            done.setdefault(roster.shift(line.date, line.shift), {})[line.run_id] = line
        return cls(number, roster, tuple(done.items()))


def paid_again(job: Job, sized: Sequence[SizedRun], plan: Plan) -> Plan:
    """Return a plan with the paid shifts of a job that pays otherwise over the same lines."""
    payroll = Payroll(job, {run.run_id: run for run in sized})
    crews = (CrewOfPlan.of(job, *each) for each in sorted(plan.by_crew.items()))
    return Plan(plan.lines, tuple(payroll.crew_days(crews)))


Heads = tuple[float, ...]
"""People of each role."""


class Payroll:
    """The paid shifts of the crews, weather days and paid holds among them."""

    def __init__(self, job: Job, sized: Mapping[str, SizedRun]) -> None:
        self.job, self.sized = job, sized
        self.holds = Holds.of(job)
        self._heads: dict[tuple[frozenset[BandShare], int], Heads] = {}
        self._heads_on: dict[tuple[tuple[str, ...], int], Heads] = {}

    def crew_days(self, crews: Iterable[PaidCrew]) -> Iterator[CrewDay]:
        """Yield each paid shift of each crew; on a lost day the teams of the day before."""
        for crew in crews:
            yield from self._of_crew(crew)

    def _of_crew(self, crew: PaidCrew) -> Iterator[CrewDay]:
        hours, teams = PaidHours(self.job.shift), list[CrewDay]()
        for done, following in zip_longest(crew.shifts, crew.shifts[1:]):
            teams.append(self._crew_day(crew, done, hours))
            yield teams[-1]
            if following is None or following[0].date == done[0].date:
                continue
            for lost in self._lost_between(crew, done, following):
                for day in teams:
                    yield self._lost_day(day, lost, hours)
            teams.clear()

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
        self, crew: PaidCrew, last: PaidShift, following: PaidShift
    ) -> Sequence[LostDate]:
        """Return the paid dates that a crew loses between two of its days, none after its last.

        Weather days while it is on site, and days on which a paid hold keeps it from the run that
        it has left or takes up: a hold keeps its cause where weather is expected too. If it could
        have worked in between but had nothing to do, it waits: paid by the rule of the job, or
        not on site.
        """
        left_on, back_on = last[0].date, following[0].date
        days = (back_on - left_on).days
        if days <= 1:
            return ()
        found: list[LostDate] = []
        waits, roster = 0, crew.roster
        for n in range(1, days):
            date = left_on + ONE_DAY * n
            kind = roster.calendar.kind(date)
            if kind == "off" or stay_on(roster.stays, date) is None:
                continue
            hold = self._hold_on(date, [*[*last[1]][-1:], *following[1]])
            if hold is None:
                waits += kind == "work"
                found.append(LostDate(date, kind if kind == "weather" else "waiting"))
            elif hold.paid:
                found.append(LostDate(date, "hold", hold))
        return found if waits <= self._longest_wait else ()

    @property
    def _longest_wait(self) -> int:
        """Workdays without work for which a crew is paid in one go."""
        shift = self.job.shift
        return 0 if shift.waiting_pay == NO_WAITING_PAY else shift.waiting_days

    def _hold_on(self, date: dt.date, run_ids: Sequence[str]) -> Hold | None:
        held = (self.holds.on(run_id, date) for run_id in run_ids)
        return next((hold for hold in held if hold is not None), None)

    def _crew_day(self, crew: PaidCrew, done: PaidShift, hours: PaidHours) -> CrewDay:
        shift, runs = done
        minutes = tuple([(run_id, tally.minutes) for run_id, tally in runs.items()])
        if not any([each for _, each in minutes]):
            minutes = tuple([(run_id, 1.0) for run_id in runs])
        straight, overtime = hours.worked(shift.date, shift.name, shift.hours)
        heads = self._heads_of(tuple(runs), machines_on(self.job, crew.number, shift.date))
        return CrewDay(
            shift.date, crew.number, "work", heads, straight, overtime, minutes, shift.name
        )

    def _heads_of(self, run_ids: tuple[str, ...], machines: int) -> Heads:
        """Return the people of each role, as many as the hardest size of some runs needs."""
        heads = self._heads_on.get((run_ids, machines))
        if heads is None:
            sizes = frozenset([self.sized[run_id].timing.cycle.at for run_id in run_ids])
            if (sizes, machines) not in self._heads:
                self._heads[sizes, machines] = tuple(
                    max(people_at(role, at, machines) for at in sorted(sizes))
                    for role in self.job.crew
                )
            heads = self._heads_on[run_ids, machines] = self._heads[sizes, machines]
        return heads
