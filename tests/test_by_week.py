"""The plan by week and by day ahead, against a job worked by hand and the totals of whole jobs."""

import datetime as dt
import itertools
from types import SimpleNamespace

import pytest
from hypothesis import given, settings

from estimator.models.calendar import Hold
from estimator.models.choice import Reason
from estimator.models.hydrotest import HydroDay, HydroHours, HydroTest
from estimator.models.plan import CrewDay, Plan
from estimator.models.rental import Fleet, RentalSpan, TierMix
from estimator.models.weeks import ReadyItem
from estimator.pipeline import estimate
from estimator.plan.by_week import _ByDate, days_ahead, look_ahead, weeks
from tests.jobs import job, run
from tests.test_on_site import jobs_on_and_off

MONDAY = dt.date(2027, 3, 1)
DAY = dt.timedelta(days=1)
NO_TESTS = {"test_joint_rule": "none", "rework_share": 0.0}


def two_weeks():
    """One crew of 2.5 people, 10 h a day: R1 on its days and R2 after it, tested at the end."""
    first = run("R1", segments_m=(1212.0,), elbows=2, test_section="S1")
    second = run("R2", segments_m=(120.0,), placement="surface", after="R1", joins="R1", tie_ins=1)
    return estimate(job(first, second, **NO_TESTS))


def test_first_week_by_hand():
    """A joint of 8 in DR 11 at 20 C takes the cycle of the job; a full day makes the joints of a
    shift, five days five times as many, for 2.5 people x 10 h x 5 days = 125 hours."""
    found = two_weeks()
    a_day = found.runs[0].cycle.joints_per_shift
    before, first, *_ = weeks(found)
    assert (before.first, before.last) == (dt.date(2027, 2, 22), dt.date(2027, 2, 28))
    assert (before.work_days, before.people, before.labor_hours) == (0, 0, 0)
    assert [(move.date, move.kind) for move in before.deliveries] == [
        (dt.date(2027, 2, 26), kind) for kind in ("machine", "generator", "lifting")
    ]
    assert (first.first, first.work_days, first.people) == (MONDAY, 5, 2.5)
    assert first.labor_hours == 125.0
    assert (first.joints, first.tie_ins) == (5 * a_day, 0)
    assert first.begun == ("R1",)
    assert (first.runs, first.lost_days) == (("R1",), 0)
    assert not first.collections


def test_fuel_of_a_week_is_that_of_its_days():
    """Each day has the same engine hours, so that five days of a span of n have 5 / n of it."""
    found = two_weeks()
    _, first, *_ = weeks(found)
    spans = found.fleet.spans
    assert {len(span.used) for span in spans} == {len({n.date for n in found.plan.lines})}
    assert first.fuel_l == pytest.approx(sum(s.fuel_l for s in spans) * 5 / len(spans[0].used))


def test_what_must_be_ready_before_the_crew_comes():
    """R1 begins on Monday 1 March: 101 sticks for 1,212 m, two elbows, an open trench by Friday."""
    first, *later = days_ahead(two_weeks())
    assert (first.date, first.kind) == (dt.date(2027, 2, 26), "open")
    (ready,) = first.ready
    assert (ready.by, ready.before, ready.crew, ready.name) == (first.date, MONDAY, 1, "R1")
    assert [tuple(item) for item in ready.items] == [
        ("stick", 101, "", ""), ("pipe", 1212.0, "m", ""), ("elbow", 2, "", ""),
        ("open trench", 1212.0, "m", ""),
    ]  # fmt: skip
    (second,) = [one for day in later for one in day.ready if one.name == "R2"]
    assert [(item.what, item.quantity, item.name) for item in second.items] == [
        ("stick", 10, ""), ("pipe", 120.0, ""), ("run finished", 1, "R1"),
        ("strings of run", 1, "R1"),
    ]  # fmt: skip
    (test,) = [one for day in later for one in day.ready if one.is_test]
    assert (test.name, test.items[0].what, test.items[0].unit) == ("S1", "water", "L")
    assert test.items[1] == ("run finished and restrained", 1, "", "R1")


def test_strings_to_tie_in_to_are_needed_for_the_tie_in_not_for_the_pipe():
    """Both crews begin on Monday; R2 is tied in to R1 when that is strung, on Monday a week later.

    Strung on that day itself they are needed then, not on the Friday before."""
    first = run("R1", segments_m=(1212.0,), crew=1)
    second = run("R2", segments_m=(120.0,), crew=2, joins="R1", tie_ins=1)
    found = estimate(job(first, second, crews=2, **NO_TESTS))
    tied = [line.date for line in found.plan.lines if line.tie_in_joints]
    strung = max(line.date for line in found.plan.lines if line.run_id == "R1")
    assert tied == [strung]
    pipe, strings = [one for one in look_ahead(found).ready if one.name == "R2"]
    assert (pipe.by, pipe.before) == (MONDAY - 3 * DAY, MONDAY)
    assert (strings.by, strings.before) == (strung, strung)
    assert [item.what for item in strings.items] == ["strings of run"]
    assert all(item.what != "strings of run" for item in pipe.items)


def test_days_ahead_are_three_weeks_from_any_date():
    days = days_ahead(two_weeks(), dt.date(2027, 3, 3))
    assert [day.date for day in days] == [dt.date(2027, 3, 3) + DAY * n for n in range(21)]
    assert [day.kind for day in days[:5]] == ["work", "work", "work", "off", "off"]
    assert days[0].lines
    assert days[0].crews[0].people == 2.5


def test_look_ahead_is_of_whole_weeks_with_what_must_be_ready_before_them():
    """R1 begins on the first Monday: what it needs stands first though it is due on the Friday
    before. R2 begins after its rest in the third week, the test later: only R2 is due as well."""
    found = two_weeks()
    ahead = look_ahead(found)
    assert (ahead.days[0].date, ahead.days[-1].date) == (MONDAY, MONDAY + 20 * DAY)
    begun = {line.run_id: line.date for line in reversed(found.plan.lines)}
    due = [name for name, date in begun.items() if date <= MONDAY + 20 * DAY]
    assert sorted(one.name for one in ahead.ready if not one.is_test) == sorted(due)
    assert ahead.ready[0].by == MONDAY - 3 * DAY
    assert {move.date for move in ahead.deliveries} == {MONDAY - 3 * DAY}
    later = look_ahead(found, dt.date(2027, 3, 11))
    assert later.days[0].date == dt.date(2027, 3, 8)
    assert "R1" not in [one.name for one in later.ready]
    assert not later.deliveries


def hydrotest(section, crew, people, hours):
    phases = HydroHours(setup=hours, fill=0, bleed=0, raising=0, expansion=0, hold=0, drain=0)
    day = HydroDay(date=MONDAY, crew=crew, section=section, work=("setup",), hours=hours)
    return HydroTest(
        section=section,
        run_ids=("R1",),
        length_m=1.0,
        highest_dr=11.0,
        volume_l=1.0,
        people=people,
        hours=phases,
        ready=MONDAY,
        pressure_date=MONDAY,
        days=(day,),
    )


def paid(kind, heads, hours):
    return CrewDay(date=MONDAY, crew=1, kind=kind, heads=heads, straight_hours=hours,
                   overtime_hours=0.0, run_minutes=())  # fmt: skip


def test_a_date_with_two_shifts_and_two_hydrotests_by_hand():
    """2.5 people for 10 h, one held for 8, three for 4 and two for 1.5: 8.5 people and 48 h.

    The lifter comes on the Friday before and is used on this Friday, not before the next Monday.
    """
    shifts = (paid("work", (1.0, 1.5), 10.0), paid("hold", (1.0,), 8.0))
    friday = MONDAY + 4 * DAY
    span = RentalSpan(
        kind="lifting",
        class_id="L1",
        crew=1,
        quantity=1,
        on_rent=MONDAY - 3 * DAY,
        off_rent=MONDAY + 8 * DAY,
        used=(friday, MONDAY + 7 * DAY),
        fuel_l=0.0,
        rate_periods=TierMix(days=0, weeks=2, four_weeks=0, cost=0.0),
        why=Reason(text=""),
    )
    planned = SimpleNamespace(
        job=job(), plan=Plan((), shifts), runs=(), fleet=Fleet(spans=(span,), power={}),
        tests=(hydrotest("S1", 1, 3, 4.0), hydrotest("S2", 2, 2, 1.5)),
    )  # fmt: skip
    ahead = look_ahead(planned, MONDAY, 1)
    day = ahead.days[0]
    assert (day.date, day.kind, day.people, day.labor_hours) == (MONDAY, "work", 8.5, 48.0)
    assert [(crew.people, crew.labor_hours) for crew in day.crews] == [(2.5, 33.0)]
    assert [move.date for move in ahead.deliveries] == [MONDAY - 3 * DAY]
    assert not ahead.collections


def test_strings_that_are_joined_on_the_day_of_the_tie_ins_are_needed_then():
    """A is joined on that Monday, B was before: it must be there on the Sunday. Where no tie-in is
    planned, the first day of the run counts."""
    strings = [ReadyItem("strings of run", 1, name=name) for name in "AB"]
    by_date = SimpleNamespace(
        lines={MONDAY: [SimpleNamespace(run_id="A")]}, _tied_in_on=lambda run: MONDAY,
        day_before=lambda date: date - DAY, spans={"R": (MONDAY, MONDAY + DAY)},
    )  # fmt: skip
    one_run = SimpleNamespace(
        run_id="R", counts=SimpleNamespace(tie_in_joints=1, outside_tie_ins=0)
    )
    found = [*_ByDate._for_tie_ins(by_date, one_run, 1, strings)]
    assert [(one.items[0].name, one.by) for one in found] == [("A", MONDAY), ("B", MONDAY - DAY)]
    by_date.lines = {}
    assert _ByDate._tied_in_on(by_date, one_run) == MONDAY


def test_day_on_which_all_stand_by_is_a_hold():
    hold = Hold(from_date=MONDAY + DAY, to_date=MONDAY + DAY, cause="permit")
    made = job(run(segments_m=(600.0,)), **NO_TESTS).model_copy(update={"holds": (hold,)})
    days = {day.date: day for day in days_ahead(estimate(made))}
    assert (days[MONDAY].kind, days[MONDAY + DAY].kind) == ("work", "hold")
    assert days[MONDAY + DAY].crews[0].labor_hours == pytest.approx(2 * 2.5)


@settings(max_examples=30, deadline=None)
@given(jobs_on_and_off())
def test_weeks_add_up_to_the_job(job_):
    found = estimate(job_)
    every = weeks(found)
    spans = found.fleet.spans
    assert sum(week.labor_hours for week in every) == pytest.approx(found.total_labor_hours)
    assert sum(week.joints for week in every) == found.butt_joints
    assert sum(week.fuel_l for week in every) == pytest.approx(sum(s.fuel_l for s in spans))
    assert sum(len(week.deliveries) for week in every) == len(spans)
    assert sum(len(week.collections) for week in every) == len(spans)
    assert [b for week in every for b in week.begun] == list(
        dict.fromkeys(line.run_id for line in found.plan.lines)
    )
    assert all(other.first - one.last == DAY for one, other in itertools.pairwise(every))
