"""Float of runs: networks worked by hand, and a brute force that plays every delay forward."""

import datetime as dt
from graphlib import CycleError

import pytest
from hypothesis import given
from hypothesis import strategies as st

from estimator.criticality import Stay, links, run_spans, stay_floats
from estimator.models.job import MonthWeather
from estimator.models.plan import CrewDay, Plan, PlanLine
from estimator.working_calendar import MONTH_NAMES
from tests.jobs import job, run

MONDAY = dt.date(2027, 3, 1)


def stay(run_id, crew, first, last):
    return Stay(run_id, crew, first, last)


def by_run(stays, follows):
    return dict(zip([s.run_id for s in stays], stay_floats(stays, follows), strict=True))


# Networks worked by hand


def test_crew_that_never_waits_has_no_float():
    """A on days 0 to 2, B on 2 to 5, C on 6: one crew without a free day; every slip shows."""
    stays = [stay("A", 1, 0, 2), stay("B", 1, 2, 5), stay("C", 1, 6, 6)]
    assert by_run(stays, links(job(), stays)) == {"A": 0, "B": 0, "C": 0}


def test_crew_that_is_done_sooner_has_the_days_until_the_finish():
    """Crew 1 works to day 9; crew 2 is done on day 6, three days sooner: D and E have 3."""
    stays = [stay("A", 1, 0, 9), stay("D", 2, 0, 3), stay("E", 2, 3, 6)]
    assert by_run(stays, links(job(), stays)) == {"A": 0, "D": 3, "E": 3}


def test_free_days_between_two_runs_take_up_slip_of_the_first_only():
    """A ends on day 2 and B may not start before day 6: days 3, 4 and 5 are free, so A has 3."""
    stays = [stay("A", 1, 0, 2), stay("B", 1, 6, 9)]
    assert by_run(stays, links(job(), stays)) == {"A": 3, "B": 0}


def test_run_that_others_wait_for_is_critical_through_another_crew():
    """Crew 1: A 0-3, then C 4-4. Crew 2: X 0-1, B after A on 4-9. C ends 5 days sooner.

    A pushes B, the last of the job: 0. C has 9 - 4 = 5. X pushes B after the free days 2 and 3: 2.
    """
    stays = [stay("A", 1, 0, 3), stay("C", 1, 4, 4), stay("X", 2, 0, 1), stay("B", 2, 4, 9)]
    waits = job(run("A"), run("C"), run("X"), run("B", after="A"))
    assert by_run(stays, links(waits, stays)) == {"A": 0, "B": 0, "C": 5, "X": 2}
    free = job(run("A"), run("C"), run("X"), run("B"))
    assert by_run(stays, links(free, stays)) == {"A": 5, "B": 0, "C": 5, "X": 2}


def test_stays_in_a_circle_are_refused():
    stays = [stay("A", 1, 0, 1), stay("B", 2, 0, 1)]
    with pytest.raises(CycleError, match="cycle"):
        stay_floats(stays, [(0, 1), (1, 0)])


# Dates


def line(run_id, crew, date, joints=1, machine="M3"):
    return PlanLine(date=date, crew=crew, run_id=run_id, machine=machine, joints=joints)


def plan_of(*lines):
    days = {(entry.date, entry.crew): entry for entry in lines}
    paid = tuple(
        CrewDay(date=date, crew=crew, kind="work", heads=(1.0, 1.5), straight_hours=8.0,
                overtime_hours=2.0, run_shares=((entry.run_id, 1.0),))
        for (date, crew), entry in days.items()
    )  # fmt: skip
    return Plan(lines=tuple(sorted(lines, key=lambda e: (e.date, e.crew))), crew_days=paid)


def day(number):
    return MONDAY + dt.timedelta(days=number)


def test_float_counts_working_days_over_a_weekend():
    """Crew 2 is done on Thursday, crew 1 on the Tuesday after: Fri, Mon, Tue are 3 working days."""
    plan = plan_of(*(line("A", 1, day(n)) for n in (0, 1, 2, 3, 4, 7, 8)), line("B", 2, day(3)))
    found = run_spans(job(run("A"), run("B"), crews=2), plan)
    assert {name: span.float_days for name, span in found.items()} == {"A": 0, "B": 3}
    assert (found["B"].is_critical, found["A"].is_critical) == (False, True)


def test_days_that_weather_takes_are_no_float():
    """At a lost share of one half every second working day from the first on is lost.

    Crew 1 works on Tuesday and Thursday, crew 2 on Tuesday: one working day between, not two.
    """
    weather = tuple(MonthWeather(month=month, lost_share=0.5) for month in MONTH_NAMES)
    lossy = job(run("A"), run("B"), crews=2).model_copy(update={"weather": weather})
    plan = plan_of(line("A", 1, day(1)), line("A", 1, day(3)), line("B", 2, day(1)))
    assert run_spans(lossy, plan)["B"].float_days == 1


def test_run_in_two_stays_has_the_least_float_of_them():
    """A is left on Tuesday for B and ended by the other crew on Friday, the last day of all."""
    plan = plan_of(line("A", 1, day(0)), line("B", 1, day(2)), line("A", 2, day(4), 3, "M4"))
    found = run_spans(job(run("A"), run("B"), crews=2), plan)
    assert found["A"].float_days == 0
    assert found["B"].float_days == 2
    assert (found["A"].crews, found["A"].machines) == ((1, 2), ("M3", "M4"))
    assert (found["A"].first, found["A"].last, found["A"].joints) == (day(0), day(4), 4)


# Brute force


@st.composite
def networks(draw):
    """Stays as a planner would lay them out: by crew in order, some after others, some waiting."""
    crews = draw(st.integers(1, 3))
    free = dict.fromkeys(range(crews), 0)
    stays, follows = [], []
    for number in range(draw(st.integers(1, 9))):
        crew = draw(st.integers(0, crews - 1))
        before = draw(st.sets(st.integers(0, number - 1), max_size=2)) if number else set()
        ends = [stays[place].last for place in before]
        first = max([free[crew], *ends]) + draw(st.integers(0, 3))
        last = first + draw(st.integers(0, 4))
        own = [place for place, other in enumerate(stays) if other.crew == crew]
        follows += [(place, number) for place in {*before, *own[-1:]}]
        stays.append(Stay(f"R{number}", crew, first, last))
        free[crew] = last
    return stays, follows


def finish_if_late(stays, follows, late, days):
    """Play the plan forward day by day; what waits starts as planned, or when it may, if later."""
    first, last = {}, {}
    for place, planned in enumerate(stays):
        start = planned.first + (days if place == late else 0)
        for before, later in follows:
            if later == place:
                same_day = stays[before].last == planned.first
                start = max(start, last[before] + (0 if same_day else 1))
        first[place], last[place] = start, start + planned.last - planned.first
    return max(last.values())


@given(networks())
def test_float_is_the_most_days_that_can_be_played_forward_without_moving_the_finish(network):
    stays, follows = network
    finish = max(stay.last for stay in stays)
    for place, days in enumerate(stay_floats(stays, follows)):
        assert finish_if_late(stays, follows, place, days) == finish
        assert finish_if_late(stays, follows, place, days + 1) > finish


@given(networks())
def test_something_is_critical_and_nothing_below_zero(network):
    floats = stay_floats(*network)
    assert min(floats) == 0
