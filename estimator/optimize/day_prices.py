"""What a crew day and a rental period cost: the cost lines of a plan of one day, nothing else.

So a rule of the Cost sheet is never written a second time for the choice over the job.
"""

import datetime as dt
from collections.abc import Sequence
from dataclasses import replace
from functools import cached_property, partial
from typing import NamedTuple

from estimator.cost.labor import labor_lines
from estimator.cost.lines import COUNTED_LINES
from estimator.cost.rental_lines import all_rental_lines
from estimator.equipment.excess_hours import beyond_rental_day
from estimator.inputs.weekdays import weekdays
from estimator.models.bands import BANDS, BandShare
from estimator.models.choice import Reason
from estimator.models.equipment import RentalItem
from estimator.models.job import Job
from estimator.models.job_inputs import DateInputs
from estimator.models.plan import CrewDay, PaidKind, Plan, ShiftName
from estimator.models.planned_job import PlannedJob
from estimator.models.rental import Fleet, RentalKind, RentalSpan, TierMix
from estimator.optimize.problem import Hire
from estimator.plan import people_at
from estimator.plan.paid_shifts import PaidHours

MANY = 100
"""Crews or pieces priced at once, so that rounding to cents does not show in the price of one."""
CREW = 1
WHY = Reason(text="priced for the choice over the job")
NOTHING_ON_RENT = Fleet(spans=(), power={})


class CountedPrices(NamedTuple):
    """What is paid by the date, once by the crew, and for each crew on each date."""

    date: float
    crew: float
    crew_date: float


class DayPrices:
    """Prices of a job by the day, with the plan of the job in place of its own days and spans."""

    def __init__(self, planned: PlannedJob) -> None:
        self.planned, self.job = planned, planned.job
        kinds = [day.kind for day in planned.plan.crew_days]
        self._lost = kinds.count("weather") / max(1, kinds.count("work"))
        self._crew_days: dict[BandShare, float] = {}

    @cached_property
    def site_day(self) -> float:
        """What a date costs whoever works on it, with its share of weather days."""
        at = BandShare.inside(BANDS[0])
        return self._counted(at, "work").date + self._lost * self._counted(at, "weather").date

    @cached_property
    def crew_mobilization(self) -> float:
        """What one crew costs once."""
        return self._counted(BandShare.inside(BANDS[0]), "work").crew

    def crew_day(self, at: BandShare) -> float:
        """Return the cost of a crew day, both teams of it, with its share of weather days."""
        if at not in self._crew_days:
            dates = _one_week(self.job.dates)
            hours, paid = PaidHours(self.job.shift), []
            for date in dates:
                paid += self._teams(at, date, hours)
            lost = self._lost * self._paid_for(self._lost_teams(at))
            worked = self._paid_for(paid) / len(dates)
            counted = self._counted(at, "work").crew_date
            counted += self._lost * self._counted(at, "weather").crew_date
            self._crew_days[at] = worked + lost + counted
        return self._crew_days[at]

    def _counted(self, at: BandShare, kind: PaidKind) -> CountedPrices:
        """Return what the table of cost lines counts by date and crew, from plans of one and two.

        What it charges for the job as a whole is in each of the four plans and goes out.
        """
        one, date, crew, both = (
            self._counted_cost(at, kind, crews, dates) for crews in (1, 2) for dates in (1, 2)
        )
        crew_date = both - date - crew + one
        return CountedPrices(date - one - crew_date, crew - one - crew_date, crew_date)

    def _counted_cost(self, at: BandShare, kind: PaidKind, crews: int, dates: int) -> float:
        """Return what the lines by count come to where some crews are paid on some dates."""
        names: tuple[ShiftName, ...] = ("day", "night") if self.job.shift.night_hours else ("day",)
        days = tuple(
            _team_day(self.job, at, name, self.job.dates.start + dt.timedelta(days=number), (0, 0))
            ._replace(kind=kind, crew=crew)
            for number in range(dates)
            for crew in range(crews)
            for name in names
        )  # fmt: skip
        planned = replace(
            self.planned, plan=Plan(lines=(), crew_days=days), fleet=NOTHING_ON_RENT, tests=()
        )
        return sum(float(line.amount) for make in COUNTED_LINES for line in make(planned))

    def _teams(self, at: BandShare, date: dt.date, hours: PaidHours) -> list[CrewDay]:
        """Return the teams of one date."""
        shift = self.job.shift
        by_team: dict[ShiftName, float] = {"day": shift.shift_hours, "night": shift.night_hours}
        return [
            _team_day(self.job, at, name, date, hours.worked(date, name, paid_h))
            for name, paid_h in by_team.items()
            if paid_h
        ]

    def _lost_teams(self, at: BandShare) -> list[CrewDay]:
        """Return the teams of a date that weather takes."""
        split = PaidHours(self.job.shift).shown_up(self.job.shift.weather_paid_hours)
        names: tuple[ShiftName, ...] = ("day", "night") if self.job.shift.night_hours else ("day",)
        days = [_team_day(self.job, at, name, self.job.dates.start, split) for name in names]
        return [day._replace(kind="weather") for day in days]

    def _paid_for(self, days: Sequence[CrewDay]) -> float:
        many = tuple(day._replace(heads=tuple(MANY * n for n in day.heads)) for day in days)
        planned = replace(self.planned, plan=Plan(lines=(), crew_days=many))
        return sum(float(line.amount) for line in labor_lines(planned)) / MANY

    def hire(self, kind: RentalKind, item: RentalItem, quantity: int) -> Hire:
        """Return the prices of a class with damage waiver, for two shifts by their multiple."""
        day, week, four_weeks = item.day_rate, item.week_rate, item.four_week_rate
        rented = partial(self._rented, kind, item, quantity)
        return Hire(
            day=rented(TierMix(days=1, weeks=0, four_weeks=0, cost=day.amount)),
            week=rented(TierMix(days=0, weeks=1, four_weeks=0, cost=week.amount)),
            four_weeks=rented(TierMix(days=0, weeks=0, four_weeks=1, cost=four_weeks.amount)),
            delivery=item.delivery.amount * quantity,
        )

    def beyond(self, kind: RentalKind, item: RentalItem, quantity: int) -> float:
        """Return what the hours beyond a rental day cost each day, at the 4-week rate."""
        covered_h, shift = self.job.rates.rental_day_hours, self.job.shift
        if covered_h is None:
            return 0.0
        hours = beyond_rental_day(shift, shift.shift_hours, covered_h)
        cost = item.four_week_rate.amount
        tiers = TierMix(days=0, weeks=0, four_weeks=1, cost=cost)
        rented = partial(self._rented, kind, item, quantity, tiers)
        return rented(hours) - rented(0.0)

    def _rented(
        self,
        kind: RentalKind,
        item: RentalItem,
        quantity: int,
        tiers: TierMix,
        excess_h: float = 0.0,
    ) -> float:
        """Return what a stay on rent comes to on the Cost sheet, without its trips."""
        start, shift = self.job.dates.start, self.job.shift
        span = RentalSpan(
            kind=kind,
            class_id=item.class_id,
            crew=CREW,
            quantity=quantity * MANY,
            on_rent=start,
            off_rent=start,
            used=(start,),
            rate_periods=tiers,
            fuel_l=0.0,
            excess_h=excess_h,
            why=WHY,
        )
        planned = replace(
            self.planned,
            plan=Plan(
                lines=(),
                crew_days=tuple(self._teams(BandShare.inside(BANDS[0]), start, PaidHours(shift))),
            ),
            fleet=Fleet(spans=(span,), power={}),
        )
        lines = [line for line in all_rental_lines(planned) if not line.key.endswith(".delivery")]
        return sum(float(line.amount) for line in lines) / MANY


def _team_day(
    job: Job, at: BandShare, shift: ShiftName, date: dt.date, split: tuple[float, float]
) -> CrewDay:
    straight, overtime = split
    machines = job.resources.machines_per_crew
    return CrewDay(
        date=date,
        crew=CREW,
        kind="work",
        heads=tuple(people_at(role, at, machines) for role in job.crew),
        straight_hours=straight,
        overtime_hours=overtime,
        run_minutes=(),
        shift=shift,
    )


def _one_week(dates: DateInputs) -> list[dt.date]:
    """Return the workdays of one week, whatever holidays it has."""
    start = dates.start - dt.timedelta(days=dates.start.weekday())
    return [start + dt.timedelta(days=number) for number in sorted(weekdays(dates.workdays))]
