"""Where a small award stands on its second day, each figure worked by hand; see ``award``.

Run A: ten sticks at 10 min and two tie-ins at 50, 40 labor-hours; run B: twenty sticks, 60. Monday
and Tuesday take half of A each, Wednesday all of B. On Monday half of A and two fifths of B are
made: 20 and 24 of 100 labor-hours.
"""

import datetime as dt
from dataclasses import replace
from decimal import Decimal
from types import SimpleNamespace

import pytest

from estimator.errors import EstimatorError
from estimator.models.baseline import STICK, TIE_IN, Baseline, BaselineDay, LumpSum
from estimator.models.changes import Change
from estimator.models.kinds import EQUIPMENT, LABOR
from estimator.models.plan import PlanLine
from estimator.models.site_records import (
    ActualCost,
    Coupon,
    DailyRow,
    LostTime,
    Operator,
    PassedTest,
    SiteRecords,
)
from estimator.progress import change_price, standing, status
from estimator.progress.earned_value import LaborVariance
from estimator.progress.made import lost_labor_hours, made_up_to
from estimator.progress.standing import next_week, standing_of
from estimator.progress.status import cents_of, status_of
from tests.each import each
from tests.jobs import job
from tests.test_joint_log import joint
from tests.test_progress_by_hand import RUNS, day

MONDAY = dt.date(2027, 3, 1)
DAY = dt.timedelta(1)
TUESDAY = MONDAY + DAY
NOTHING = Decimal(0)


def award():
    """A and B at 10 an hour; 100 to begin, 50 to end, 30 a test, 90 by the day for three days."""
    runs = tuple(replace(run, labor=Decimal(10 * run.labor_hours)) for run in RUNS)
    half = {STICK: 5, TIE_IN: 1}
    days = tuple(
        BaselineDay(MONDAY + n * DAY, 1, run_id, pieces, 0, 0, hours, Decimal(10 * hours))
        for n, run_id, pieces, hours in ((0, "A", half, 20), (1, "A", half, 20),
                                         (2, "B", {STICK: 20}, 60))
    )  # fmt: skip
    last = MONDAY + 2 * DAY
    lumps = tuple(
        LumpSum(name, rule, MONDAY, MONDAY if rule == "start" else last, Decimal(cost))
        for name, rule, cost in (("In", "start", 100), ("Out", "finish", 50), ("T1", "test", 30),
                                 ("Overhead", "time", 90))
    )  # fmt: skip
    head = SimpleNamespace(start=MONDAY, finish=last, system="SI", currency="$")
    return Baseline(head=head, days=days, runs=runs, lump_sums=lumps, items=())


HALF = (day("A", 5, 1), day("B", 8))


def stand(rows=HALF, date=TUESDAY, baseline=None, **tables):
    records = SiteRecords(daily_record=rows, **tables)
    return status_of(job(), baseline or award(), made_up_to(records, date))


def paid(amount, cost_type="Materials", date=MONDAY):
    return ActualCost(date=date, cost_type=cost_type, amount=amount)


def test_hours_and_money_on_the_second_day(monkeypatch):
    """44 of 40 planned and 80 paid hours. Earned 440, 100 to begin, 60 by the day; planned 400 and
    the same. Paid 500, and 80 hours at 10, no labor being entered; rent of 70 likewise."""
    found = stand(actual_cost=(paid(500.0), paid(9.0, date=MONDAY + 2 * DAY)))
    assert (found.joints_planned, found.joints_accepted, found.joints_made) == (12, 14, 14)
    hours, money = found.hours, found.money
    assert (hours.budget, hours.planned, hours.earned, hours.actual) == (100.0, 40.0, 44.0, 80.0)
    assert (money.budget, money.planned, money.earned) == (1270.0, 560.0, 600.0)
    assert money.actual == 1300.0
    assert (found.hours_known, found.money_known, found.not_accepted) == (True, True, 0)
    with_labor = stand(actual_cost=(paid(500.0), paid(880.0, LABOR, TUESDAY)))
    assert with_labor.money.actual == 1380.0
    monkeypatch.setattr(status, "rent_to_date", lambda *asked: Decimal(70))
    assert stand(actual_cost=(paid(500.0),)).money.actual == 1370.0
    assert stand(actual_cost=(paid(500.0, EQUIPMENT),)).money.actual == 1300.0


def test_schedule_in_days_and_the_finish_that_it_gives():
    """44 hours are planned for 2 days and 4 of 60: 2.067 in 2 days of 3, that is 2.9 days. Of more
    than all hours all count; without a minute gone by there is no pace."""
    found = stand()
    assert found.schedule.earned_time == pytest.approx(2 + 4 / 60)
    assert (found.schedule.actual_time, found.schedule.planned_duration) == (2.0, 3.0)
    assert found.textbook_finish == MONDAY + 2 * DAY
    assert stand((day("A", 0),)).textbook_finish is None
    whole = stand((day("A", 10, 2), day("B", 20)))
    assert whole.schedule.earned_time == 3.0
    first, _, third = award().days
    gap = stand(baseline=replace(award(), days=(first, third)))
    assert gap.schedule.earned_time == pytest.approx(2 + 24 / 60)


def test_labor_is_over_by_rate_pace_and_quantity():
    """80 hours at 11 in place of 40 at 10: 80 for the rate, 360 for the pace and 40 for what more
    was made; two hours of weather for four people are 80 out of the pace."""
    found = stand(actual_cost=(paid(880.0, LABOR),))
    assert found.variance == LaborVariance(80.0, 360.0, 40.0, 0.0)
    lost = (LostTime(date=MONDAY, crew=1, minutes=120.0, cause="weather"),)
    wet = stand(actual_cost=(paid(880.0, LABOR), paid(5.0)), lost_time=lost)
    assert wet.variance == LaborVariance(80.0, 280.0, 40.0, 80.0)
    assert stand(actual_cost=(paid(5.0),)).variance == LaborVariance(0.0, 360.0, 40.0, 0.0)
    joints = (joint("A1", run_id="A", date=MONDAY),)
    assert stand((), joint_log=joints).variance is None
    assert cents_of(LaborVariance(0.004, 1.0, 0.004, 0.004), Decimal("1.01")) == (
        LaborVariance(0.0, 1.01, 0.0, 0.0)
    )


def test_everything_is_earned_with_the_last_work_and_its_tests():
    """1,000 of the runs, 100 and 50, 90 by the third day; 30 with the test, whatever its case."""
    rows = (day("A", 10, 2), day("B", 25))
    tests = (PassedTest(section="t1", date=MONDAY),)
    last = MONDAY + 2 * DAY
    assert stand(rows, last, tests_passed=tests).money.earned == 1270.0
    assert stand(rows, last).money.earned == 1240.0
    assert stand((day("A", 10, 2), day("B", 19)), last).money.earned == 400 + 570 + 100 + 90
    idle = replace(award(), runs=(*award().runs, replace(award().runs[0], run_id="C", pieces={})))
    assert stand(rows, last, idle).money.earned == 1240.0 + 0


def test_runs_by_their_hours():
    """A: 40 paid for 20 earned, B 40 for 24; B has a note, once, and an hour lost for two people
    of four."""
    noted = replace_row(HALF[1], note="rock", paid_hours=40.0)
    rows = (HALF[0], noted, replace_row(noted, stick_joints=0, paid_hours=0.0))
    lost = (LostTime(date=MONDAY, crew=1, minutes=60.0, cause="weather"),)
    found = stand(rows, lost_time=lost)
    a, b = found.runs
    assert (a.accepted, a.planned, a.planned_hours, a.earned_hours) == (6, 12, 40.0, 20.0)
    assert (b.accepted, b.planned, b.planned_hours, b.earned_hours) == (8, 20, 0.0, 24.0)
    assert (a.actual_hours, b.actual_hours, a.why, b.why) == (40.0, 40.0, "", "rock")
    assert (a.lost_hours, b.lost_hours) == (2.0, 2.0)
    assert (a.over_hours, a.ratio, b.over_hours) == (20.0, 2.0, 16.0)
    assert [one.run.run_id for one in found.worst] == ["A", "B"]
    alone = stand((day("A", 5, 1),)).runs[1]
    assert (alone.actual_hours, alone.lost_hours) == (0.0, 0.0)
    fitted = stand((day("A", 5, 1).model_copy(update={"fitting_joints": 3}),))
    assert fitted.runs[0].earned_hours == 20.0
    logged = stand((), joint_log=(joint("A1", run_id="A", date=MONDAY),))
    assert {one.actual_hours for one in logged.runs} == {None}
    assert {one.over_hours for one in logged.runs} == {one.ratio for one in logged.runs} == {None}
    assert logged.worst == ()


def replace_row(row, **changes):
    return row.model_copy(update=changes)


def test_the_worst_runs_are_six_and_those_over_three_minutes():
    """Over by 0.05 h is as planned; of seven over the six most."""
    for over, worst in (((3, 1, 7, 2, 6, 5, 4), [7, 6, 5, 4, 3, 2]),
                        ((0.05, None, 0.06, 1.0), [1.0, 0.06])):  # fmt: skip
        runs = [SimpleNamespace(over_hours=hours) for hours in over]
        found = status.Status.worst.fget(SimpleNamespace(runs=runs))
        assert [one.over_hours for one in found] == worst


def test_lost_time_by_cause_and_who_bears_it():
    """An hour and a half of weather, two of stops of which the owner bears one; none of later."""
    lines = [LostTime(date=date, crew=1, minutes=minutes, cause=cause, charge_to=whose)
             for date, minutes, cause, whose in (
                 (MONDAY, 30.0, "weather", "us"), (TUESDAY, 60.0, "weather", "us"),
                 (MONDAY, 120.0, "other", "us"), (MONDAY, 60.0, "other", "client"),
                 (TUESDAY + DAY, 600.0, "weather", "us"))]  # fmt: skip
    assert [tuple(line) for line in stand(lost_time=tuple(lines)).lost] == [
        ("other", "us", 2.0), ("weather", "us", 1.5), ("other", "client", 1.0),
    ]  # fmt: skip


def test_the_curve_has_the_day_before_each_week_and_the_status_date():
    """Sunday, Tuesday, and the next Sunday, on which nothing is known yet."""
    found = [((one.date - MONDAY).days, one.planned, one.earned, one.actual)
             for one in stand().curve]  # fmt: skip
    assert found == [(-1, 0, 0.0, 0.0), (1, 40, 44.0, 80.0), (6, 100, None, None)]
    late = stand(date=MONDAY + 8 * DAY).curve
    assert [(one.date - MONDAY).days for one in late] == [-1, 6, 8, 13]
    sunday = stand((*HALF, day("A", 1, date=MONDAY + 6 * DAY)), MONDAY + 6 * DAY).curve
    assert [((one.date - MONDAY).days, one.actual) for one in sunday] == [(-1, 0.0), (6, 120.0)]
    logged = stand((), joint_log=(joint("A1", run_id="A", date=MONDAY),)).curve
    assert {one.actual for one in logged} == {None}
    more = stand((day("A", 40, 2), day("B", 40)))
    assert more.curve[1].earned == 100.0
    unknown = stand((*HALF, day("C", 5)))
    assert unknown.curve[1].earned == 44.0


def test_joints_planned_and_made_by_day():
    later = day("B", 3, date=MONDAY + 2 * DAY)
    assert [tuple(one) for one in stand((*HALF, later)).joints_by_day] == [
        (MONDAY, 6, 14), (TUESDAY, 6, 0),
    ]  # fmt: skip


def test_a_date_before_the_baseline_has_no_standing():
    assert stand(date=MONDAY).date == MONDAY
    with pytest.raises(EstimatorError, match="28 Feb 2027 is before the baseline begins"):
        stand((), MONDAY - DAY)


# What needs a decision, and what is missing


def decided(*joints, date=TUESDAY, rows=HALF, **tables):
    log = tuple(replace_row(one, run_id="A", date=MONDAY) for one in joints)
    return stand(rows, date, joint_log=log, **tables).decisions


def test_rejects_holds_and_what_is_not_entered_need_a_decision():
    rejects = [joint(str(n), visual="reject", cause="cold") for n in range(1, 8)]
    assert decided(rejects[0]) == ("1 reject not yet cut out: 1",)
    assert decided(*rejects[:6]) == ("6 rejects not yet cut out: 1, 2, 3, 4, 5, 6",)
    assert decided(*rejects) == ("7 rejects not yet cut out: 1, 2, 3, 4, 5, 6 and 1 more",)
    held = [joint(str(n), visual="hold", cause=cause) for n, cause in enumerate("aab")]
    assert decided(*held) == ("2 joints on hold, a: 0, 1", "1 joint on hold, b: 2")
    assert decided(joint("1", visual=None)) == ("1 joint not fully entered: 1",)


@each("due, said", [
    (1, "Coupon of A. Reyes, M-7, 24 in DR 11: due on 2 Mar 2027 after C1"),
    (2, "Next coupon is due by Wed 3 Mar, after C1"),
    (8, "Next coupon is due by Tue 9 Mar, after C1"), (9, None),
])  # fmt: skip
def test_a_coupon_is_due_now_or_within_a_week(due, said):
    coupon = Coupon(coupon="C1", joint_no="1", kind="bend", date=MONDAY, result="pass",
                    next_due=MONDAY + due * DAY)  # fmt: skip
    assert decided(joint("1"), coupons=(coupon,)) == ((said,) if said else ())


@each("days, verb", [(0, "was"), (1, "is"), (8, "is"), (9, None)])
def test_a_card_that_ends_within_a_week_is_named(days, verb):
    until = MONDAY + days * DAY
    card = Operator(operator="A. Reyes", qualified_until=until)
    found = [text for text in decided(joint("1"), operators=(card,)) if "qualified" in text]
    wanted = f"A. Reyes {verb} qualified until {until:%a} {until.day} Mar only"
    assert found == ([wanted] if verb else [])


@each("state, days, price, date, said", [
    ("raised", 1, 1234.0, TUESDAY, "raised, not agreed: $1,234, 1 day"),
    ("priced", None, 9.0, MONDAY, "priced, not agreed: $9"),
    ("raised", 2, None, MONDAY, "raised, not agreed: 2 days"),
    ("raised", None, None, MONDAY, "raised, not agreed"), ("agreed", 1, 9.0, MONDAY, None),
    ("raised", 1, 9.0, TUESDAY + DAY, None),
])  # fmt: skip
def test_a_change_that_is_not_agreed_needs_a_decision(state, days, price, date, said):
    change = Change(number="7", date=date, what="Road", status=state, days_asked=days,
                    price_asked=price)  # fmt: skip
    assert stand(changes=(change,)).decisions == ((f"Change 7 {said}",) if said else ())


def test_more_joints_than_planned_and_runs_that_are_not_in_the_baseline():
    """Twelve of twelve are none too many, thirteen are one."""
    assert stand((day("A", 10, 2),)).decisions == ()
    assert stand((day("A", 11, 2), day("C", 1))).decisions == (
        "Run A: 13 joints accepted of 12 in the baseline. Agree the change and rebase",
        "Not in the baseline, so it earns nothing: C. Rebase",
    )


def test_tables_that_are_not_kept_are_named():
    """Each alone; with labor among the cost nothing is said of its rate."""
    lost = (LostTime(date=MONDAY, crew=1, minutes=5.0, cause="other"),)
    log = (joint("1", run_id="A", date=MONDAY),)
    both = (paid(5.0), paid(5.0, LABOR))
    assert stand(joint_log=log, lost_time=lost, actual_cost=both).missing == ()
    for rows, tables, word in (
        (HALF, {"lost_time": lost, "actual_cost": both}, "No joint in the Joint log"),
        ((), {"joint_log": log, "lost_time": lost, "actual_cost": both}, "No Daily record"),
        (HALF, {"joint_log": log, "lost_time": lost}, "No Actual cost"),
        (HALF, {"joint_log": log, "lost_time": lost, "actual_cost": both[:1]}, "No Labor in"),
        (HALF, {"joint_log": log, "actual_cost": both}, "No Lost time"),
    ):  # fmt: skip
        (said,) = stand(rows, **tables).missing
        assert said.startswith(word)


# What was made


def test_joints_of_the_log_earn_by_their_verdict():
    """Of A six are made: a stick and the rework of a reject earn, a tie-in on hold and a stick
    without a date may yet; rework of nothing earns nothing and a trial is no joint of the run."""
    on = joint("0").date
    log = (
        joint("0", kind="trial fusion", visual="reject", cause="cold", rework_as="5"),
        joint("1", kind="stick"),
        joint("2", kind="stick", visual="reject", cause="cold", rework_as="5"),
        joint("3", kind="tie-in", visual="hold"), joint("4", kind="fitting", date=on + DAY),
        joint("5", kind="rework"), joint("6", kind="rework"), joint("7", kind="trial fusion"),
        joint("9", kind="trial fusion"),
        joint("8", kind="stick", date=None, crew=None),
    )  # fmt: skip
    rows = (
        DailyRow(date=on, crew=1, run_id="R1", people=4.0, paid_hours=1.0, stick_joints=9,
                 ef_closures=2),
        DailyRow(date=on, crew=2, run_id="R2", people=4.0, paid_hours=1.0, stick_joints=3,
                 tie_in_joints=1, rework_joints=2, bolt_ups=1, fitting_joints=0),
        DailyRow(date=on + DAY, crew=2, run_id="R2", people=4.0, paid_hours=1.0, stick_joints=5),
        DailyRow(date=on, crew=3, run_id="R3", people=4.0, paid_hours=1.0, saddles=1),
    )  # fmt: skip
    tests = (PassedTest(section="T1", date=on), PassedTest(section="T2", date=on + DAY))
    made = made_up_to(SiteRecords(joint_log=log, daily_record=rows, tests_passed=tests), on)
    assert [(one.crew, one.run_id, one.accepted, one.pending, one.made) for one in made.days] == [
        (0, "R1", {}, {STICK: 1}, 1),
        (1, "R1", {STICK: 2, "ef_closures": 2}, {TIE_IN: 1}, 5),
        (2, "R2", {STICK: 3, TIE_IN: 1, "bolt_ups": 1}, {}, 6),
        (3, "R3", {"saddles": 1}, {}, 0),
    ]  # fmt: skip
    assert (made.joints_made, made.joints_accepted, made.tests_passed) == (12, 6, ("T1",))
    assert (made.accepted["R1"][STICK], made.not_left["R1"][STICK]) == (2, 3)
    assert (len(made.daily), made.from_log) == (3, {"R1"})


@each("minutes, found", [
    (120.0, {"A": 6.0, "B": 2.0}), (1200.0, {"A": 30.0, "B": 10.0}), (0.0, {"A": 0.0, "B": 0.0}),
])  # fmt: skip
def test_weather_takes_hours_of_the_most_people_shared_out_by_pay(minutes, found):
    """Two hours for four people are 8 of 40; never more than was paid. What else stopped them and
    another shift do not count."""
    rows = (day("A", 1).model_copy(update={"paid_hours": 30.0, "people": 3.0}),
            day("B", 1).model_copy(update={"paid_hours": 10.0}))  # fmt: skip
    lost = [LostTime(date=MONDAY, crew=1, minutes=minutes / 2, cause="weather")] * 2
    other = [LostTime(date=MONDAY, crew=1, minutes=60.0, cause=cause, shift=shift)
             for cause, shift in (("other", "day"), ("weather", "night"))]  # fmt: skip
    records = SiteRecords(lost_time=(*lost, *other))
    assert lost_labor_hours(rows, records) == found
    unpaid = [day("A", 1).model_copy(update={"paid_hours": 0.0})]
    assert lost_labor_hours(unpaid, records) == {"A": 0.0}


# The next week, the band of the forecast, and the weeks before


def planned(*lines, days=(), tests=()):
    crew_days = [SimpleNamespace(date=MONDAY + n * DAY, crew=crew, kind=kind, labor_hours=hours)
                 for n, crew, kind, hours in days]  # fmt: skip
    sections = [SimpleNamespace(days=[SimpleNamespace(date=MONDAY + n * DAY)]) for n in tests]
    return SimpleNamespace(plan=SimpleNamespace(lines=lines, crew_days=crew_days), tests=sections)


@each("today", [0, 1, 6])
def test_the_next_week_is_that_of_the_next_monday(today):
    """From Monday 8 to Sunday 14 March: crew 1 makes 3 and 1 again of A, then closes B (+); weather
    takes the day on which it makes nothing; the Monday after and this week do not count."""
    at = [MONDAY + n * DAY for n in (7, 7, 13, 14, 6)]
    lines = (
        PlanLine(at[0], 1, "A", "M", joints=3, rework_joints=1),
        PlanLine(at[0], 1, "A", "M", joints=3, rework_joints=1, shift="night"),
        PlanLine(at[2], 1, "B", "M"), PlanLine(at[3], 1, "C", "M", joints=9),
        PlanLine(at[4], 1, "C", "M", joints=9), PlanLine(at[0], 2, "D", "M", joints=2),
    )  # fmt: skip
    days = ((7, 1, "work", 10.0), (8, 1, "weather", 2.0), (13, 1, "work", 10.0),
            (13, 1, "weather", 1.0), (14, 1, "work", 9.0), (6, 1, "work", 9.0),
            (7, 2, "work", 5.0))  # fmt: skip
    found = next_week(planned(*lines, days=days, tests=(9, 14, 6)), MONDAY + today * DAY)
    assert [(date - MONDAY).days for date in found.dates] == [7, 8, 9, 13]
    assert [tuple(crew) for crew in found.crews] == [
        (1, ("A: 4", "weather", "", "B: +"), 8, 23.0), (2, ("D: 2", "", "", ""), 2, 5.0),
    ]  # fmt: skip
    tested = next_week(planned(tests=(6, 7, 13, 14)), MONDAY + today * DAY)
    assert [(date - MONDAY).days for date in tested.dates] == [7, 13]


def band(*finish, last=4, curve=(2,), earned=40.0):
    hours = SimpleNamespace(budget=100.0, earned=earned)
    points = [SimpleNamespace(date=MONDAY + n * DAY) for n in (-7, 0, *curve)]
    made = planned(days=[(1, 1, "work", 10.0), (2, 1, "work", 15.0), (2, 2, "work", 5.0),
                         (4, 1, "work", 30.0)])  # fmt: skip
    made.finish = MONDAY + last * DAY
    forecast = SimpleNamespace(plan=made, finish=tuple(MONDAY + n * DAY for n in finish))
    asked = SimpleNamespace(hours=hours, curve=points, date=MONDAY)
    return [((date - MONDAY).days, *rest) for date, *rest in standing._bands(asked, forecast)]


def test_the_band_of_the_forecast_stretches_its_plan():
    """Of 60 hours left 10, 30 and 60 are done after 1, 2 and 4 days. An end after 4, 8 or 12 days
    of 8 halves the days or makes half more: on the second 60, 30 or 10 are done."""
    found = band(4, 8, 12)
    assert [row[0] for row in found] == [0, 2, 9, 16]
    assert found[0] == (0, 40.0, 40.0, 40.0)
    assert found[1] == (2, 50.0, 70.0, 100.0)
    assert found[-1] == (16, 100.0, 100.0, 100.0)
    assert band(0, 0, 0, last=0, curve=())[0] == (0, 40.0, 40.0, 40.0)
    assert band(1, 1, 1, last=1)[1] == (2, 70.0, 70.0, 70.0)
    assert [row[0] for row in band(4, 4, 9, curve=(9,))] == [0, 9]


def test_the_band_is_that_of_a_plan_that_ends_after_the_middle():
    """The plan ends on day 8, the middle of the draws on day 4: its days are halved."""
    assert band(4, 4, 8, last=8, curve=(2,))[1][1:] == (70.0, 100.0, 100.0)


@each("runs, start, weeks", [(300, -60, 4), (301, -60, 0), (300, -14, 2), (300, -15, 2)])
def test_the_finish_is_worked_out_again_for_six_weeks_before(runs, start, weeks):
    """Of six one has nothing made and one cannot be laid out; none lies before the baseline."""
    patch = pytest.MonkeyPatch()
    patch.setattr(standing, "made_up_to", lambda records, date: SimpleNamespace(
        days=date != MONDAY - 42 * DAY, status=date))  # fmt: skip

    def finish(known, shared):
        if known.made.status == MONDAY - 35 * DAY:
            raise EstimatorError("no")
        return known.made.status

    patch.setattr(standing, "forecast_finish", finish)
    estimate = SimpleNamespace(job=SimpleNamespace(runs=range(runs)))
    head = SimpleNamespace(head=SimpleNamespace(start=MONDAY + start * DAY))
    known = standing.Known(estimate, head, SimpleNamespace(status=MONDAY))
    found = list(standing._before(known, None, None))
    patch.setattr(standing, "forecast_finish", lambda *asked: None)
    none = list(standing._before(known, None, None))
    patch.undo()
    assert [(MONDAY - date).days for date, _ in found] == [28, 21, 14, 7][4 - weeks :]
    assert none == []


def test_equipment_that_nothing_needs_is_named_whatever_its_case(monkeypatch):
    spans = [SimpleNamespace(class_id="m3")]
    plan = SimpleNamespace(fleet=SimpleNamespace(spans=spans))
    monkeypatch.setattr(standing, "still_there", lambda table, date: ["M3", "G1"])
    asked = SimpleNamespace(on_rent=()), SimpleNamespace(plan=plan), MONDAY
    assert list(standing._idle(*asked)) == [
        "G1 is on rent and nothing that is left needs it: end its rent"
    ]


@each("forecast, days, why", [
    ("found", 1, ""), (None, 1, "Nothing is left to fuse"),
    (EstimatorError("first\nsecond"), 1, "What is left cannot be laid out: first"),
    ("found", 0, None),
])  # fmt: skip
def test_a_job_stands_with_its_forecast_or_why_there_is_none(forecast, days, why):
    patch, seen = pytest.MonkeyPatch(), []

    def asked(known, shared):
        seen.append((known.actual_hours, known.actual_cost))
        if isinstance(forecast, EstimatorError):
            raise forecast
        return None if forecast is None else SimpleNamespace(plan="plan")

    patch.setattr(standing, "made_up_to", lambda *of: SimpleNamespace(days=range(days)))
    patch.setattr(standing, "status_of", lambda *of: replaced)
    patch.setattr(standing, "forecast", asked)
    patch.setattr(standing, "replace", lambda one, **changes: SimpleNamespace(**changes))
    for name, answer in (("_idle", ["idle"]), ("_bands", ["band"]), ("_before", ["before"])):
        patch.setattr(standing, name, lambda *of, answer=answer: iter(answer))
    patch.setattr(standing, "next_week", lambda plan, date: (plan, date))
    figures = SimpleNamespace(actual=7.0)
    replaced = SimpleNamespace(hours=figures, hours_known=True, money=figures, money_known=False,
                               decisions=("one",))  # fmt: skip
    head = SimpleNamespace(head=SimpleNamespace(system="SI"))
    asking = SimpleNamespace(job=None), head, None, MONDAY, None
    if not days:
        with pytest.raises(EstimatorError, match="Nothing was made up to 1 Mar 2027"):
            standing_of(*asking)
        patch.undo()
        return
    found = standing_of(*asking)
    patch.undo()
    assert seen == [(7.0, None)]
    assert found.no_forecast == why
    if forecast == "found":
        assert found.status.decisions == ("one", "idle")
        assert (found.next_week, found.bands, found.before) == (("plan", MONDAY), ("band",),
                                                                ("before",))  # fmt: skip
    else:
        assert (found.next_week, found.bands, found.before) == (None, (), ())


@each("date, laid_out", [(None, ["old", "new"]), (MONDAY, ["rest of old", "rest of new"])])
def test_a_change_is_priced_over_the_job_or_what_is_left_of_it(date, laid_out):
    patch = pytest.MonkeyPatch()
    patch.setattr(change_price, "made_up_to", lambda records, at: at)
    patch.setattr(change_price, "rest_of", lambda one, made: f"rest of {one}")
    patch.setattr(change_price, "plan_job", lambda one, shared: one)
    patch.setattr(change_price, "price_job", lambda one: one)
    found = change_price.change_price("old", "new", None, date, None)
    patch.undo()
    assert [found.without, found.with_it] == laid_out
