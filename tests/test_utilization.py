"""Use of crews and machines, worked by hand."""

import datetime as dt

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from estimator import pipeline
from estimator.models.choice import Reason
from estimator.models.plan import CrewDay, Plan, PlanLine
from estimator.models.rental import Fleet, RentalSpan, TierMix
from estimator.plan.utilization import MachineUse, crew_use, machine_use
from tests.jobs import job, run

MONDAY = dt.date(2027, 3, 1)


def day(number):
    return MONDAY + dt.timedelta(days=number)


def line(crew, number, minutes):
    return PlanLine(date=day(number), crew=crew, run_id="A", machine="M3", minutes=minutes)


def paid(crew, number, kind="work", hours=8.0, overtime=2.0):
    return CrewDay(
        date=day(number), crew=crew, kind=kind, heads=(1.0, 1.5),
        straight_hours=hours, overtime_hours=overtime, run_minutes=(("A", 1.0),),
    )  # fmt: skip


def test_use_of_two_crews_by_hand():
    """Shift of 10 h less 45, 20 and 30 min: 505 min available on a day.

    Crew 1: two days of 10 h and a weather day of 2 h for 2.5 people: 2.5 x 22 = 55 h; it uses
    505 + 200 of 1010 min. Crew 2: one day, 25 h, 303 of 505 min, which is 60 %.
    """
    plan = Plan(
        lines=(line(1, 0, 505.0), line(2, 0, 303.0), line(1, 2, 120.0), line(1, 2, 80.0)),
        crew_days=(paid(1, 0), paid(1, 1, "weather", 2.0, 0.0), paid(1, 2), paid(2, 0)),
    )
    one, two = crew_use(job(crews=2), plan)
    assert (one.crew, one.work_days, one.weather_days) == (1, 2, 1)
    assert (one.first, one.last) == (day(0), day(2))
    assert (one.labor_hours, one.minutes, one.available_min) == (55.0, 705.0, 1010.0)
    assert (two.work_days, two.weather_days, two.labor_hours) == (1, 0, 25.0)
    assert two.minutes / two.available_min == pytest.approx(0.6)


def span(class_id, kind, days, quantity, work_days):
    used = tuple(map(day, range(work_days)))
    return RentalSpan(
        kind=kind, class_id=class_id, crew=1, quantity=quantity, on_rent=day(0),
        off_rent=day(days - 1), used=used, fuel_l=0.0, why=Reason(text="x"),
        rate_periods=TierMix(days=0, weeks=0, four_weeks=1, cost=1.0),
    )  # fmt: skip


def test_use_of_machines_counts_each_machine_of_a_span():
    """Two of M3 over 10 days with 6 of work, one over 5 with 3: 15 of 25 machine-days."""
    fleet = Fleet(
        spans=(span("M3", "machine", 10, 2, 6), span("G15", "generator", 10, 1, 6),
               span("M5", "machine", 7, 1, 5), span("M3", "machine", 5, 1, 3)),
        power={},
    )  # fmt: skip
    assert machine_use(fleet) == [MachineUse("M3", 15, 25), MachineUse("M5", 5, 7)]


@settings(max_examples=25)
@given(st.lists(st.integers(20, 900), min_size=1, max_size=5), st.integers(1, 3))
def test_no_crew_uses_more_than_its_shifts_hold(lengths, crews):
    runs = [run(f"R{n}", segments_m=(float(length),)) for n, length in enumerate(lengths)]
    estimate = pipeline.estimate(job(*runs, crews=crews))
    found = crew_use(estimate.job, estimate.plan)
    assert all(0 < use.minutes <= use.available_min + 1e-6 for use in found)
    assert sum(use.labor_hours for use in found) == pytest.approx(estimate.total_labor_hours)
    assert sum(use.minutes for use in found) == pytest.approx(
        sum(line.minutes for line in estimate.plan.lines)
    )
