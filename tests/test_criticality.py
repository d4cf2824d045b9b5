"""Float of runs: networks worked by hand, and a brute force that plays every delay forward."""

import datetime as dt

from hypothesis import given
from hypothesis import strategies as st

from estimator.models.calendar import MonthWeather
from estimator.models.plan import CrewDay, Plan, PlanLine
from estimator.plan import run_spans
from estimator.plan.total_float import Link, Stay, stay_floats
from estimator.working_time.working_days import MONTH_NAMES
from tests.jobs import job, run

MONDAY = dt.date(2027, 3, 1)


def stay(run_id, crew, first, last):
    return Stay(run_id, crew, first, last)


def floats_of(stays, pushes):
    """Return the float of each run, from pairs of run names with the free days between."""
    names = [s.run_id for s in stays]
    links = [Link(names.index(one), names.index(other), gap) for one, other, gap in pushes]
    return dict(zip(names, stay_floats(stays, links), strict=True))


# Networks worked by hand


def test_crew_that_never_waits_has_no_float():
    """A on days 0 to 2, B on 2 to 5, C on 6: one crew without a free day; every slip shows."""
    stays = [stay("A", 1, 0, 2), stay("B", 1, 2, 5), stay("C", 1, 6, 6)]
    assert floats_of(stays, [("A", "B", 0), ("B", "C", 0)]) == {"A": 0, "B": 0, "C": 0}


def test_crew_that_is_done_sooner_has_the_days_until_the_finish():
    """Crew 1 works to day 9; crew 2 is done on day 6, three days sooner: D and E have 3."""
    stays = [stay("A", 1, 0, 9), stay("D", 2, 0, 3), stay("E", 2, 3, 6)]
    assert floats_of(stays, [("D", "E", 0)]) == {"A": 0, "D": 3, "E": 3}


def test_free_days_between_two_runs_take_up_slip_of_the_first_only():
    """A ends on day 2 and B may not start before day 6: days 3, 4 and 5 are free, so A has 3."""
    stays = [stay("A", 1, 0, 2), stay("B", 1, 6, 9)]
    assert floats_of(stays, [("A", "B", 3)]) == {"A": 3, "B": 0}


def test_stays_that_push_each_other_share_the_least_float():
    stays = [stay("A", 1, 0, 1), stay("B", 2, 0, 1), stay("C", 1, 2, 4), stay("D", 2, 4, 5)]
    pushes = [("A", "B", 0), ("B", "A", 0), ("A", "C", 0), ("B", "D", 2)]
    assert floats_of(stays, pushes) == {"A": 1, "B": 1, "C": 1, "D": 0}


# Dates


def line(run_id, crew, date, joints=1, machine="M3", tie_ins=0):
    return PlanLine(date=date, crew=crew, run_id=run_id, machine=machine, joints=joints,
                    tie_in_joints=tie_ins)  # fmt: skip


def plan_of(*lines):
    days = {(entry.date, entry.crew): entry for entry in lines}
    paid = tuple(
        CrewDay(date=date, crew=crew, kind="work", heads=(1.0, 1.5), straight_hours=8.0,
                overtime_hours=2.0, run_minutes=((entry.run_id, 1.0),))
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


def lines(run_id, crew, first, last):
    """Return lines of a run on the days of one week, Monday 0 to Friday 4."""
    return [line(run_id, crew, day(number)) for number in range(first, last + 1)]


def floats_in(job_, *planned):
    return {name: s.float_days for name, s in run_spans(job_, plan_of(*planned)).items()}


def test_run_that_another_crew_waits_for_is_critical():
    """Crew 1: A on Monday, C on Tuesday. Crew 2: X on Monday, B after A Tuesday to Friday.

    A pushes B, the last of the job: 0. C is done three days sooner: 3. X pushes B: 0.
    Without the order A pushes only C and has 3 as well.
    """
    planned = [*lines("A", 1, 0, 0), *lines("C", 1, 1, 1), *lines("X", 2, 0, 0),
               *lines("B", 2, 1, 4)]  # fmt: skip
    waits = job(run("A"), run("C"), run("X"), run("B", after="A"), crews=2)
    assert floats_in(waits, *planned) == {"A": 0, "B": 0, "C": 3, "X": 0}
    free = job(run("A"), run("C"), run("X"), run("B"), crews=2)
    assert floats_in(free, *planned) == {"A": 3, "B": 0, "C": 3, "X": 0}


def test_strings_that_a_tie_in_waits_for_have_the_free_days_until_it():
    """Crew 2 has the strings of J on Monday; crew 1 ties A to them on Friday, the last day.

    Tuesday to Thursday are free: J has 3. Its float is 4 if A does not join it.
    """
    planned = [*lines("J", 2, 0, 0), *lines("A", 1, 0, 3), line("A", 1, day(4), 1, tie_ins=1)]
    joined = job(run("J"), run("A", tie_ins=1, joins="J"), crews=2)
    assert floats_in(joined, *planned) == {"J": 3, "A": 0}
    assert floats_in(job(run("J"), run("A", tie_ins=1), crews=2), *planned) == {"J": 4, "A": 0}


def test_tie_ins_that_came_after_a_run_began_do_not_push_it():
    """B follows the strings of A alone, as A is tied to B at last: the tie-in on Thursday."""
    planned = [*lines("A", 1, 0, 0), *lines("B", 2, 1, 2), line("A", 1, day(3), 1, tie_ins=1)]
    circle = job(run("A", tie_ins=1, joins="B"), run("B", after="A"), crews=2)
    assert floats_in(circle, *planned) == {"A": 0, "B": 0}


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
        stays.append(Stay(f"R{number}", crew, first, last))
        for place in {*before, *own[-1:]}:
            free_days = [n for n in range(first) if n > stays[place].last]
            follows.append(Link(place, number, len(free_days)))
        free[crew] = last
    return stays, follows


def finish_if_late(stays, follows, late, days):
    """Play the plan forward day by day; what waits starts as planned, or when it may, if later."""
    first, last = {}, {}
    for place, planned in enumerate(stays):
        start = planned.first + (days if place == late else 0)
        for before, later, _ in follows:
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
