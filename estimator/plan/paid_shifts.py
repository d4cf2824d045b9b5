"""What the crews did as lines of the plan, and the shifts for which they are paid."""

import datetime as dt
from collections.abc import Iterator, Mapping, Sequence
from itertools import groupby

from estimator.models.bands import BANDS, Band
from estimator.models.job import Job
from estimator.models.plan import CrewDay, PlanLine, SizedRun
from estimator.plan.crews import ONE_DAY, CrewState, ShiftTally
from estimator.working_time.shifts import Shift
from estimator.working_time.working_days import WorkingCalendar


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
    tie_ins = tally.counts["tie_in_joints"]
    return PlanLine(
        date=shift.date,
        crew=crew,
        run_id=run_id,
        machine=tally.machine,
        joints=tally.counts["joints"] + tie_ins,
        tie_in_joints=tie_ins,
        rework_joints=tally.counts["rework_joints"],
        test_joints=tally.counts["test_joints"],
        other_joints=tally.counts["other_joints"],
        moves=tuple(tally.moves),
        minutes=tally.minutes,
        shift=shift.name,
    )


class Payroll:
    """The paid shifts of the crews, weather days among them."""

    def __init__(self, job: Job, sized: Mapping[str, SizedRun], calendar: WorkingCalendar) -> None:
        self.job, self.sized, self.calendar = job, sized, calendar
        self._heads: dict[frozenset[Band], tuple[float, ...]] = {}

    def crew_days(self, crews: Sequence[CrewState]) -> Iterator[CrewDay]:
        """Yield each paid shift of each crew; on a weather day the teams of the day before."""
        for crew in crews:
            shifts = sorted(crew.shifts, key=lambda shift: shift.start)
            teams = [(date, list(of)) for date, of in groupby(shifts, key=lambda shift: shift.date)]
            following = [*(date for date, _ in teams[1:]), None]
            for (date, team), after in zip(teams, following, strict=False):
                paid = [self._crew_day(crew, shift) for shift in team]
                yield from paid
                for lost in self._weather_days_between(date, after):
                    for day in paid:
                        yield self._lost(day, lost)

    def _lost(self, day: CrewDay, date: dt.date) -> CrewDay:
        """Return what a team is paid for a date that weather takes."""
        hours = self.job.shift.weather_paid_hours
        straight = min(hours, self.job.shift.straight_hours)
        return day._replace(
            date=date, kind="weather", straight_hours=straight, overtime_hours=hours - straight
        )

    def _weather_days_between(self, date: dt.date, following: dt.date | None) -> list[dt.date]:
        """Return the weather days that a crew sits out between two of its days.

        If it could have worked in between but had nothing to do, it is not on site.
        """
        if following is None or (following - date).days == 1:
            return []
        between = [date + ONE_DAY * n for n in range(1, (following - date).days)]
        kinds = [self.calendar.kind(day) for day in between]
        if "work" in kinds:
            return []
        return [day for day, kind in zip(between, kinds, strict=True) if kind == "weather"]

    def _crew_day(self, crew: CrewState, shift: Shift) -> CrewDay:
        minutes = {run_id: tally.minutes for run_id, tally in crew.shifts[shift].items()}
        total = sum(minutes.values())
        straight = min(shift.hours, self.job.shift.straight_hours)
        return CrewDay(
            date=shift.date,
            crew=crew.number,
            kind="work",
            heads=self._heads_of(
                frozenset([self.sized[run_id].timing.cycle.band for run_id in minutes])
            ),
            straight_hours=straight,
            overtime_hours=shift.hours - straight,
            run_shares=tuple(
                [
                    (run_id, share / total if total else 1 / len(minutes))
                    for run_id, share in minutes.items()
                ]
            ),
            shift=shift.name,
        )

    def _heads_of(self, bands: frozenset[Band]) -> tuple[float, ...]:
        """Return the people of each role, as many as the hardest of some size bands needs."""
        if bands not in self._heads:
            machines = self.job.resources.machines_per_crew
            self._heads[bands] = tuple(
                max(role.heads_with(band, machines) for band in BANDS if band in bands)
                for role in self.job.crew
            )
        return self._heads[bands]
