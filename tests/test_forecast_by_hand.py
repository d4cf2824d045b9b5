"""What records say of pace, and what a forecast makes of it, on stand-ins worked by hand."""

import datetime as dt
import math
from dataclasses import replace
from decimal import Decimal
from types import SimpleNamespace

import numpy as np
import pytest

from estimator.joint import small_ends
from estimator.models.baseline import FITTING, STICK, TIE_IN, LumpSum, PieceTime
from estimator.models.calendar import MonthWeather
from estimator.models.kinds import BUTT_JOINT, LABOR, RISK_FACTORS
from estimator.models.risk_ranges import RiskRange
from estimator.models.site_records import DailyRow, LoggedJoint, LostTime, SiteRecords
from estimator.progress import forecast, observed, past, rest_surface, site_plan
from estimator.progress.forecast import LearnedShare, Range, _Forecaster
from estimator.progress.learning import SizePace
from estimator.progress.learning_draws import draw_paces, draw_shares
from estimator.progress.observed import DayPace, Seen, paces, rework_seen, weather_seen
from estimator.progress.rest import at_pace, rest_of
from estimator.progress.rest_surface import RestSurface, over_shifts
from estimator.risk.surface import Level
from tests.each import each
from tests.jobs import job, machine, run
from tests.test_progress_by_hand import RUNS
from tests.test_risk_by_hand import PlansByHand, drawn

MONDAY = dt.date(2027, 3, 1)
DAY = dt.timedelta(1)
A, B = (replace(one, band=band, times={**one.times, "saddles": PieceTime(9.0, 1.0)})
        for one, band in zip(RUNS, "BC", strict=True))  # fmt: skip
AWARD = SimpleNamespace(by_run={"A": A, "B": B}, runs=(A, B))


# What clocks and counts say


def clocked(number, start, kind="stick", run_id="A", crew=1, date=MONDAY):
    return LoggedJoint(joint_no=str(number), run_id=run_id, kind=kind, date=date, crew=crew,
                       heat_start_min=start, visual="pass")  # fmt: skip


def made(*joints, rows=(), from_log=("X",), lost=(), status=MONDAY, joints_made=0):
    judged = SimpleNamespace(joints=[SimpleNamespace(joint=one) for one in joints])
    records = SiteRecords(lost_time=lost)
    return SimpleNamespace(judged=judged, daily=rows, from_log=set(from_log), status=status,
                           records=records, joints_made=joints_made)  # fmt: skip


def counts(run_id="A", crew=1, paid=40.0, people=4.0, **pieces):
    return DailyRow(date=MONDAY, crew=crew, run_id=run_id, people=people, paid_hours=paid, **pieces)


@each("starts, factor, joints", [
    ((480.0, 492.0, 540.0, 551.0), (23 - 8) / 12, 2), ((480.0, 500.0), 16 / 6, 1),
    ((480.0, 500.1), None, 0), ((480.0, 480.0), None, 0),
    ((480.0, 480.0, 492.0), 8 / 6, 1), ((480.0, 480.5, 492.0), 4 / 12, 2),
    ((480.0, 484.0), None, 0), ((480.0, 484.5), 0.5 / 6, 1), ((0.0, 12.0), 8 / 6, 1),
])  # fmt: skip
def test_the_pace_of_a_clocked_joint_is_to_the_next_without_the_machine(starts, factor, joints):
    """A stick is 10 min, 4 of them the machine's. More than twice 10 is a break."""
    log = [clocked(number, start) for number, start in enumerate(starts)]
    found = list(observed._from_clock(made(*log), AWARD))
    assert [(one.factor, one.joints, one.size, one.from_clock) for one in found] == (
        [(pytest.approx(factor), joints, "B", True)] if joints else []
    )


@each("crew_min, paces_", [(0.5, [2.0]), (0.0, [])])
def test_a_joint_without_time_of_the_crew_has_no_pace(crew_min, paces_):
    """5 min from joint to joint, 4 of them the machine's, over half a minute of the crew's."""
    quick = replace(A, times={STICK: PieceTime(crew_min, 4.0)})
    at = made(clocked(1, 480.0), clocked(2, 485.0))
    found = observed._from_clock(at, SimpleNamespace(by_run={"A": quick}))
    assert [one.factor for one in found] == paces_


def test_a_joint_goes_on_past_midnight():
    gaps = observed._gaps([clocked(1, 1435.0), clocked(2, 5.0)], A)
    assert [minutes for minutes, _ in gaps] == [10.0]


def test_only_joints_of_known_runs_with_a_clock_are_timed():
    """Rework, a run that is not in the baseline, a joint without a clock or a crew's own."""
    log = (
        clocked(1, 480.0, crew=None), clocked(2, 490.0, crew=None), clocked(3, 485.0, "rework"),
        clocked(4, 485.0, run_id="C"), clocked(5, None), clocked(6, 600.0, "tie-in", crew=2),
        clocked(7, 640.0, crew=2), clocked(8, 481.0, date=None), clocked(9, 491.0, date=None),
        clocked(10, 10.0),
    )  # fmt: skip
    found = list(observed._from_clock(made(*log), AWARD))
    assert [(one.crew, one.factor, one.joints) for one in found] == [
        (0, 1.0, 1), (2, pytest.approx((40 - 20) / 30), 1),
    ]  # fmt: skip


def test_a_shift_by_numbers_alone():
    """600 min paid to each, 95 of them start-up, breaks and wrap-up, 30 lost; two saddles are 20,
    a move 30, a trial and rework 40 each: 345 are left for 20 joints and a half, 4 min each the
    machine's."""
    row = counts(stick_joints=20, saddles=2, moves=1, test_joints=1, rework_joints=1)
    lost = (LostTime(date=MONDAY, crew=1, minutes=30.0, cause="other"),
            LostTime(date=MONDAY, crew=2, minutes=99.0, cause="other"))  # fmt: skip
    (found,) = paces(made(rows=(row,), lost=lost), AWARD, job())
    assert found.factor == pytest.approx((345 / 20.5 - 4) / 6)
    assert (found.joints, found.from_clock, found.size) == (20, False, "B")


def test_a_shift_on_two_sizes_is_shared_out_by_planned_minutes():
    """505 min for ten sticks and a tie-in of A, 150, and ten sticks of B, 150: half of it each. A
    run of the log, one not in the baseline and what takes no crew time say nothing."""
    rows = (counts(stick_joints=10, tie_in_joints=1, paid=20.0),
            counts("B", stick_joints=10, paid=20.0), counts("C", stick_joints=9, paid=0.0),
            counts("X", stick_joints=9, paid=0.0))  # fmt: skip
    a, b = paces(made(rows=rows), AWARD, job())
    assert (a.size, a.joints) == ("B", 11)
    assert a.factor == pytest.approx((252.5 / 11.5 - 60 / 11) / (90 / 11))
    assert b.factor == pytest.approx((252.5 / 10.5 - 4) / 11)
    logged = made(rows=rows, from_log=("A", "B"))
    assert paces(logged, AWARD, job()) == ()


def test_what_clocks_say_goes_before_counts_of_the_same_size():
    log = (clocked(1, 480.0), clocked(2, 490.0))
    rows = (counts(stick_joints=20), counts("B", crew=2, stick_joints=20))
    found = paces(made(*log, rows=rows), AWARD, job())
    assert [(one.crew, one.size, one.from_clock) for one in found] == [
        (1, "B", True), (2, "C", False),
    ]  # fmt: skip


@each("rejects, replaced, total, hits", [(2, 1, 9, 6), (2, 1, 5, 5), (0, 0, 9, 3)])
def test_rework_is_what_was_rejected_replaced_or_counted(rejects, replaced, total, hits):
    """Two rejected, one of them and another replaced; three counted where no log is kept."""
    log = [LoggedJoint(joint_no=str(n), run_id="A", kind="stick",
                       rework_as="9" if n in (0, 5) and replaced else None)
           for n in range(6)]  # fmt: skip
    found = made(*log, rows=(counts(rework_joints=3), counts("X", rework_joints=7), counts("B")),
                 joints_made=total)  # fmt: skip
    bad = [SimpleNamespace(joint=one) for one in log[:rejects]]
    found.judged.with_verdict = lambda *verdicts: bad
    assert rework_seen(found) == Seen(hits, total)


@each("minutes, crews, hits", [
    (600.0, 1, 1), (1200.0, 2, 1), (290.0, 1, 0), (310.0, 1, 1), (60_000.0, 1, 5),
])  # fmt: skip
def test_weather_is_whole_days_of_the_open_ones_gone_by(minutes, crews, hits):
    """Ten hours are a day of a crew; Monday to Friday are five open days."""
    lost = [LostTime(date=date, crew=1, minutes=number, cause=cause) for date, number, cause in (
        (MONDAY + 4 * DAY, minutes, "weather"), (MONDAY, 999.0, "other"),
        (MONDAY + 5 * DAY, 999.0, "weather"))]  # fmt: skip
    at = made(lost=tuple(lost), status=MONDAY + 4 * DAY)
    assert weather_seen(at, job(crews=crews), MONDAY) == Seen(hits, 5)


# The rest of the job


def test_runs_under_way_go_on_first_and_passed_sections_are_not_tested_again():
    rows = [run("A", priority=5, test_section="t1"), run("B", priority=2), run("C")]
    at = SimpleNamespace(tests_passed=("T1",), not_left={"A": {STICK: 3}}, status=MONDAY + 4 * DAY)
    found = rest_of(job(*rows), at)
    assert [(one.priority, one.test_section) for one in found.runs] == [
        (1, None), (3, None), (None, None),
    ]  # fmt: skip
    assert found.dates.start == MONDAY + 5 * DAY
    assert [(one.run_id, one.pieces) for one in found.done] == [("A", {STICK: 3})]
    other = rest_of(job(run("A", test_section="T2")), at).runs[0]
    assert other.test_section == "T2"


def test_only_the_crews_own_time_takes_its_pace():
    plain = job(machine_move_min=30.0, rework_extra_min=20.0)
    found = at_pace(plain, dict(zip("ABCDE", (1.0, 2.0, 3.0, 4.0, 5.0), strict=True)), 1.5)
    for before, after in zip(plain.task_times, found.task_times, strict=True):
        paced = before.paced_by == "crew" and before.applies_to == BUTT_JOINT
        assert after.min_c == before.min_c * (3.0 if paced else 1.0)
    assert [band.size_change_min for band in found.size_bands] == [20, 60, 120, 200, 300]
    assert (found.input("machine_move_min"), found.input("rework_extra_min")) == (45.0, 30.0)
    few = at_pace(plain.model_copy(update={"task_times": ()}), {"B": 2.0}, 1.5)
    assert [band.size_change_min for band in few.size_bands] == [30, 60, 60, 75, 90]


# Parts of the forecast


def forecaster(made_job=None, **parts):
    found = object.__new__(_Forecaster)
    found.job, found.draws = made_job or job(), 2
    for name, part in parts.items():
        found.__dict__[name] = part
    return found


def test_the_pace_begins_at_the_mean_of_its_range():
    """1.0, four times 1.2 and 2.0 are 7.8 of 6."""
    span = RiskRange(factor="productivity", low=1.0, likely=1.2, high=2.0, shape="PERT")
    other = RiskRange(factor="wages", low=1.0, likely=9.0, high=9.0, shape="PERT")
    for ranges, pace in (((other, span), 1.3), ((other,), 1.0), ((), 1.0)):
        made_job = job().model_copy(update={"risk_ranges": ranges})
        assert forecaster(made_job)._prior_pace() == pytest.approx(pace)


def test_weather_as_planned_is_the_mean_of_the_open_days_gone_by():
    """Friday 26 February, Monday 1 and Tuesday 2 March: 0.1 and twice 0.4."""
    months = tuple(MonthWeather(month=name, lost_share=share)
                   for name, share in (("Feb", 0.1), ("Mar", 0.4)))  # fmt: skip
    start = MONDAY - 3 * DAY
    for status, share in ((MONDAY + DAY, 0.3), (start, 0.1), (start - DAY, 0.0)):
        known = SimpleNamespace(baseline=SimpleNamespace(head=SimpleNamespace(start=start)),
                                made=SimpleNamespace(status=status))  # fmt: skip
        one = forecaster(job().model_copy(update={"weather": months}), known=known)
        assert one._planned_weather() == pytest.approx(share)
    bare = forecaster(job().model_copy(update={"weather": ()}), known=known)
    known.made.status = MONDAY
    assert bare._planned_weather() == 0.0


def test_minutes_that_are_left_are_those_of_butt_joints_or_of_connections(monkeypatch):
    """Three sticks at 6 and a tie-in at 30 in band B; with none of these two saddles at 9."""
    monkeypatch.setattr(forecast, "piece_times", lambda sized: A.times)
    monkeypatch.setattr(forecast, "piece_counts", lambda counts: counts)
    for pieces, found in (
        ({STICK: 3, TIE_IN: 1, FITTING: 0, "saddles": 2}, {"B": 48.0}),
        ({STICK: 0, "saddles": 2}, {"B": 18.0}), ({STICK: 0}, {}),
    ):  # fmt: skip
        left = [SimpleNamespace(cycle=SimpleNamespace(band="B"), counts=pieces)]
        monkeypatch.setattr(forecast, "_left", lambda rest, shared, left=left: left)
        assert forecaster(rest=None, shared=None).weights == found


def shared_out(planned, worth=100.0, hits=0, out_of=0):
    return LearnedShare(planned, worth, Seen(hits, out_of))


@each("weather, lost, rework, found", [
    (shared_out(0.1, hits=30, out_of=100), 0.2, 0.5, (0.4, 0.5)),
    (shared_out(0.0, hits=30, out_of=100), 0.2, 2.0, (0.35, 1.0)),
    (shared_out(0.1, hits=90, out_of=100), 0.3, 0.5, (0.9, 0.5)),
])  # fmt: skip
def test_the_rest_has_the_weather_and_rework_that_were_learned(weather, lost, rework, found):
    """0.1 planned and 0.3 seen are 0.2: twice as much. Where none was planned what was seen is
    added; nine tenths of a month and all joints are the most."""
    made_job = job().model_copy(update={"weather": (MonthWeather(month="Jan", lost_share=lost),)})
    one = forecaster(weather=weather, rework=SimpleNamespace(mean=rework))
    changed = one._with_shares(made_job)
    assert changed.weather[0].lost_share == pytest.approx(found[0])
    assert changed.counting.rework_share == found[1]


def test_draws_of_pace_rework_and_weather(monkeypatch):
    """30 min at 1.1 and 10 at 1.3 are 1.15, of 30 at 1.0 and 10 at 2.0 that are 1.25: 0.92. Over
    four worked shifts a deviation of 0.2 is one of 0.1. 7 joints and 5 days are left, or one where
    none is."""
    monkeypatch.setattr(forecast, "draw_paces", lambda rng, learned, sizes, draws: {
        "B": np.full(2, 1.1), "C": np.full(2, 1.3)})  # fmt: skip
    rng = SimpleNamespace(standard_normal=lambda draws: np.array([0.0, 1.0]))
    one = forecaster(rng=rng, learned=SimpleNamespace(shift_sd=0.2), weights={"B": 30.0, "C": 10.0},
                     median={"B": 1.0, "C": 2.0}, rework="rework", weather="weather",
                     _share_factor=lambda share, trials: (share, trials))  # fmt: skip
    kinds = ["work"] * 4 + ["weather"] * 3
    plan = SimpleNamespace(crew_days=[SimpleNamespace(kind=kind) for kind in kinds], work_days=5)
    runs = [SimpleNamespace(counts=SimpleNamespace(butt_joints=number)) for number in (3, 4)]
    found = one._draws(SimpleNamespace(plan=plan, runs=runs))
    assert set(found) == set(RISK_FACTORS)
    assert [*found["productivity"]] == pytest.approx([0.92, 0.92 * math.exp(0.1)])
    assert (found["rework"], found["weather"]) == (("rework", 7), ("weather", 5))
    assert [*found["wages"]] == [1.0, 1.0]
    idle = SimpleNamespace(plan=SimpleNamespace(crew_days=[], work_days=0), runs=[])
    none = one._draws(idle)
    assert (none["rework"][1], none["weather"][1]) == (1, 1)
    assert none["productivity"][1] == pytest.approx(0.92 * math.exp(0.2))


def test_a_share_is_drawn_over_the_trials_that_are_left(monkeypatch):
    """0.5, and at most 1, of ten: twice and four times the mean of 0.25."""
    monkeypatch.setattr(forecast, "draw_shares", lambda *asked: np.array([0.5, 2.0]))
    rng = SimpleNamespace(binomial=lambda trials, share: trials * share)
    one = forecaster(rng=rng)
    assert [*one._share_factor(shared_out(0.25), 10)] == [2.0, 4.0]
    assert [*one._share_factor(shared_out(0.0), 10)] == [1.0, 1.0]


def test_labor_and_cost_of_a_draw():
    """100 at plain wages and 50 besides: without wages 50."""

    def at(drawn):
        return None, {"labor": 100.0 * drawn["wages"], "other": np.full(2, 50.0)}, None

    drawn = {"wages": np.ones(2)}
    labor, whole = forecaster()._money(SimpleNamespace(at=at), drawn, None)
    assert ([*labor], [*whole]) == ([100.0] * 2, [150.0] * 2)
    assert [*drawn["wages"]] == [1.0, 1.0]


def amount(cost_type, value):
    return SimpleNamespace(cost_type=cost_type, amount=Decimal(value))


@each("actual, labor, low", [(7.0, 200, 12.0), (None, 200, 25.0), (7.0, 0, 7.0)])
def test_hours_at_completion_are_those_spent_and_what_labor_buys(actual, labor, low):
    """20 hours cost 200: 50 more buy 5. Without a record what was earned stands for it: 20."""
    accepted = {"A": {STICK: 5, TIE_IN: 1}}
    known = SimpleNamespace(actual_hours=actual, made=SimpleNamespace(accepted=accepted),
                            baseline=AWARD)  # fmt: skip
    plan = SimpleNamespace(cost_lines=[amount(LABOR, labor), amount("Fuel", 999)],
                           total_labor_hours=20.0)  # fmt: skip
    found = forecaster(known=known)._hours(np.array([50.0, 60.0]), plan)
    assert found.low == pytest.approx(low)
    accepted["A"] = {STICK: 50, TIE_IN: 9}
    assert forecaster(known=known)._earned_hours() == 40.0


def test_cost_at_completion_is_spent_what_the_rest_takes_and_what_is_to_come():
    """100 spent, 50 for the rest, of which 20 of materials are counted with what is to come: 30."""
    known = SimpleNamespace(actual_cost=100.0)
    one = forecaster(known=known, _not_earned=lambda: 30.0)
    lines = [amount("Materials", 20), amount(LABOR, 7)]
    assert one._cost(np.array([50.0, 50.0]), lines) == Range(160.0, 160.0, 160.0)
    known.actual_cost = None
    assert one._cost(np.array([50.0, 50.0]), lines) is None


@each("begun, left", [(True, 150 + 50 + 4), (False, 150 + 50 + 7 + 4)])
def test_what_is_to_come_is_kept_for_what_is_not_made(begun, left):
    """Materials of 200 for A, of which 0.25 is made, and 50 for a run that the baseline lacks; 4 to
    end the job, 7 to begin it; the test T1 is passed, overhead goes by the day, damages do not
    count."""
    names = ("Materials", LABOR, "Mobilization")
    allocations = [SimpleNamespace(cost_type=name) for name in names]
    costs = [SimpleNamespace(run_id=name, amounts=tuple(map(Decimal, (value, 999, 999))))
             for name, value in (("A", 200), ("C", 50))]  # fmt: skip
    lumps = [LumpSum(name, rule, MONDAY, MONDAY, Decimal(cost)) for name, rule, cost in (
        ("In", "start", 7), ("Out", "finish", 4), ("t1", "test", 30), ("Overhead", "time", 90),
        ("Liquidated damages", "finish", 500))]  # fmt: skip
    at = SimpleNamespace(accepted={"A": {STICK: 5}}, tests_passed=("T1",), days=range(begun))
    known = SimpleNamespace(
        estimate=SimpleNamespace(by_run=SimpleNamespace(runs=costs, allocations=allocations)),
        baseline=SimpleNamespace(by_run=AWARD.by_run, lump_sums=lumps), made=at,
    )  # fmt: skip
    assert forecaster(known=known)._not_earned() == left
    at.accepted["A"] = {STICK: 50, TIE_IN: 9}
    assert forecaster(known=known)._not_earned() == left - 150


def test_a_finish_on_the_day_of_the_deadline_is_in_time():
    dates = SimpleNamespace(number=lambda day: 10)
    days = np.array([9.0, 10.4, 10.6, 12.0])
    one = forecaster(job(deadline=MONDAY))
    assert one._deadline_share(days, dates) == 0.5
    assert forecaster()._deadline_share(days, dates) is None


def test_the_band_of_a_size_and_the_mean_of_some():
    """1.2816 deviations of 0.1 either side of no change; 30 at 1.1 and 10 at 1.5: 1.2."""
    pace = SizePace(1, 0.0, 0.0, 0.0, 0.1)
    found = forecaster(learned=SimpleNamespace(size=lambda band: pace))._band("B")
    assert found == pytest.approx((math.exp(-0.12816), 1.0, math.exp(0.12816)))
    assert forecast._weighted({"B": 30.0, "C": 10.0}, {"B": 1.1, "C": 1.5}) == pytest.approx(1.2)


def test_a_tenth_of_the_draws_end_before_and_a_tenth_after():
    """Of ten the first, fifth and ninth; days are whole, those of the ends inwards, none the
    other side of the middle."""
    assert forecast._range(np.arange(10.0)[::-1]) == (0.0, 4.0, 8.0)
    assert forecast._range(np.array([3.0])) == (3.0, 3.0, 3.0)
    assert forecast._range(np.array([1.0, 2.0, 3.0])) == (1.0, 2.0, 3.0)
    dates = SimpleNamespace(date=lambda day: day)
    ten = np.array([1.4, *[4.6] * 7, 7.7, 9.0])
    assert forecast._dates(ten, dates) == (2, 5, 7)
    assert forecast._dates(np.full(3, 4.4), dates) == (4, 4, 4)
    assert forecast._dates(np.full(3, 0.2), dates) == (1, 1, 1)
    assert [forecast._whole(days) for days in (0.0, 0.6, 1.4)] == [1, 1, 1]
    level = Level(productivity=1.5, rework=1.0, weather=1.0)
    assert forecast._at_level(job(), level).task_times != job().task_times


@each("left", [True, False])
def test_where_nothing_is_left_there_is_no_forecast(left):
    patch = pytest.MonkeyPatch()
    surface = SimpleNamespace(at=lambda drawn: ("days", None, None))
    for name in ("lay_out_job", "plan_job", "price_job", "rework_cost"):
        patch.setattr(forecast, name, lambda *asked: SimpleNamespace(cost_lines=()))
    patch.setattr(forecast, "Plans", lambda *asked: SimpleNamespace(dates="dates"))
    patch.setattr(forecast, "RestSurface", lambda *asked: surface)
    patch.setattr(forecast, "_dates", lambda days, dates: (days, dates))
    one = forecaster(weights={"B": 1.0} if left else {}, shared=None, rest=job(), median={"B": 1.0},
                     learned=SimpleNamespace(shift_sd=0.1), _base=lambda: None,
                     _draws=lambda plan: {})  # fmt: skip
    found = one.finish()
    patch.undo()
    assert found == (("days", "dates") if left else None)
    assert left or one.forecast() is None


# The surface of the rest


def test_paces_reach_over_the_draws_and_the_shifts():
    """Of logarithms from 0 to 1 the inner nine tenths are 0.05 to 0.95, and 0.1 for the shifts
    either side of them and of 0: 1.15 in steps of 0.08 are twelve at most."""
    found = rest_surface._log_paces(np.exp(np.linspace(0.0, 1.0, 101)), 0.1)
    assert (found[0], found[-1], len(found)) == (pytest.approx(-0.1), pytest.approx(1.05, abs=1e-3),
                                                 12)  # fmt: skip
    slow = rest_surface._log_paces(np.exp(np.linspace(-0.3, -0.1, 101)), 0.05)
    assert (slow[0], slow[-1]) == pytest.approx((-0.34, 0.05), abs=1e-3)
    assert len(slow) == 2 + int(0.39 / 0.08)


def test_figures_over_shifts_count_joints_made():
    """Twice as long where it is slower: a fast shift counts twice. Just before the edge 9 of 17
    shifts are fast and 8 slow, each by its chance."""
    chances = np.exp(-(np.linspace(-2.0, 2.0, 17) ** 2) / 2)
    shifts = np.array([chances[:9].sum() / 10, chances[9:].sum() / 20])
    rows = np.array([[10.0, 1.0], [10.0, 1.0], [20.0, 3.0], [20.0, 3.0]])
    found = over_shifts(np.array([-9.0, -1e-9, 1e-9, 9.0]), rows, 0.5)
    assert [*found[0]] == pytest.approx([10.0, 1.0])
    assert found[1, 1] == pytest.approx((shifts * [1.0, 3.0]).sum() / shifts.sum(), abs=1e-6)


def surface(minutes, days, damages=None):
    """The rest of a job between its pace and one twice as slow, each drawn as often."""
    plans = PlansByHand(days, minutes, damages)
    return RestSurface(plans, {"productivity": np.array([1.0, 2.0] * 50)}, 0.0, 0.0)


def test_more_rework_slows_the_rest_by_its_minutes():
    """100 to 200 min, 10 to 20 days; at three times the rework a fifth more, at twice a tenth: of
    100 it is 110, a tenth of the way to the slower pace; beyond it its days hold."""
    one = surface(lambda at: 100 * (1 + math.log2(at.productivity)) * (1 + (at.rework - 1) / 10),
                  lambda at: 10 + 10 * math.log2(at.productivity))  # fmt: skip
    paces, rework = np.array([1.0, 1.0, 2.0]), np.array([1.0, 2.0, 3.0])
    days, _, _ = one.at(drawn(productivity=paces, rework=rework))
    assert days == pytest.approx([10.0, 11.0, 20.0])


def test_weather_multiplies_each_figure_that_there_is():
    """Dry 10 days and 5 of damages, at half of it 8 and 5, at three times 15 and 10; what is
    nothing as planned stays."""
    by_weather = {0.5: (8.0, 5.0, 7.0), 1.0: (10.0, 5.0, 0.0), 3.0: (15.0, 10.0, 7.0)}
    late, none = (
        surface(lambda at: 100 * at.productivity, lambda at: by_weather[at.weather][0],
                lambda at, column=column: by_weather[at.weather][column])
        for column in (1, 2)
    )  # fmt: skip
    weather = drawn(weather=[0.5, 1.0, 3.0, 2.0])
    days, _, damages = late.at(weather)
    assert days == pytest.approx([8.0, 10.0, 15.0, 12.5])
    assert damages == pytest.approx([5.0, 5.0, 10.0, 7.5])
    assert none.at(weather)[2].tolist() == [0.0] * 4


def test_a_surface_is_read_at_its_draws(monkeypatch):
    monkeypatch.setattr(rest_surface, "figures_of", lambda found, drawn, cost: (found, drawn, cost))
    monkeypatch.setattr(rest_surface, "over_shifts", lambda logs, rows, sd: rows)
    monkeypatch.setattr(rest_surface, "_log_paces", lambda paces, sd: np.log([1.0, 2.0]))
    plans = SimpleNamespace(at=lambda level: SimpleNamespace(
        minutes=100.0 * level.productivity * (1 + 0.1 * (level.rework - 1)),
        row=(10.0 * level.productivity * level.weather, 5.0)))  # fmt: skip
    drawn = {"productivity": np.array([1.0, 2.0]), "rework": np.ones(2),
             "weather": np.array([1.0, 2.0])}  # fmt: skip
    found, _, cost = RestSurface(plans, drawn, 0.1, 7.0).at(drawn)
    assert found.tolist() == [[10.0, 5.0], [40.0, 5.0]]
    assert cost == 7.0


# Draws of what was learned


def test_paces_are_drawn_together_with_that_of_the_job():
    """A deviation of 0.5, of which half of 0.6 is shared: 0.4 of its own. Shared and own move as
    they are drawn, widened by the root of 8 over 2."""
    normals = iter((np.array([1.0, 0.0]), np.array([0.0, 1.0])))
    rng = SimpleNamespace(chisquare=lambda freedom, draws: 2.0,
                          standard_normal=lambda draws: next(normals))  # fmt: skip
    learned = SimpleNamespace(freedom=8.0, job_sd=0.6, size=lambda name: SizePace(
        3, 0.0, 0.5, 0.1, 0.5))  # fmt: skip
    found = draw_paces(rng, learned, ["B"], 2)["B"]
    assert [*np.log(found)] == pytest.approx([0.1 + 2 * 0.5 * 0.6, 0.1 + 2 * 0.4])


@each("planned, seen, out_of, drawn", [
    (0.1, 3, 10, (13.0, 97.0)), (0.0, 0, 10, 0.0), (1.0, 10, 10, 1.0), (0.0, 1, 10, (1.0, 109.0)),
    (1.0, 9, 10, (109.0, 1.0)), (0.001, 0, 10, (0.1, 109.9)), (0.999, 10, 10, (109.9, 0.1)),
])  # fmt: skip
def test_a_share_is_drawn_from_what_is_planned_and_seen(planned, seen, out_of, drawn):
    """A planned share counts for a hundred; none planned and none seen stays none, and all all."""
    asked = []
    rng = SimpleNamespace(beta=lambda hits, misses, draws: asked.append((hits, misses)))
    found = draw_shares(rng, planned, 100, seen, out_of, 1)
    if isinstance(drawn, tuple):
        assert asked == [pytest.approx(drawn)]
    else:
        assert [*found] == [drawn]


# Past jobs


def test_a_closed_job_teaches_the_minutes_of_its_crew(monkeypatch):
    """Tasks of 26.5 min in band C at a pace of 1.2, by 0.8 over 0.83."""
    pace = DayPace(MONDAY, 1, "C", 1.2, 9, from_clock=True)
    monkeypatch.setattr(past, "paces", lambda *asked: [pace])
    (found,) = past.of_closed_job("one", job(), None, None, 0.8)
    assert (found.band, found.joints) == ("C", 9)
    assert found.minutes == pytest.approx(26.5 * 1.2 * 0.8 / 0.83)
    (one,) = past.suggestions(job().task_times, [found])
    assert one.factor == pytest.approx(1.2 * 0.8 / 0.83)
    task = job().task_times[0]
    for minutes, count in ((0.0, 0), (0.5, 1)):
        alone = [task.model_copy(update={"min_c": minutes})]
        assert len(past.suggestions(alone, [found])) == count


# The records begun


def sized(plain=3, fittings=2, small_ends=1, tie_ins=1, rework=0):
    counts_ = SimpleNamespace(plain_joints=plain, fitting_joints=fittings, small_ends=small_ends,
                              tie_in_joints=tie_ins, rework_joints=rework)  # fmt: skip
    return SimpleNamespace(counts=counts_)


def limits(name):
    fusion = SimpleNamespace(soak_s=1.0, open_close_max_s=2.0, bead_min_mm=3.0)
    return SimpleNamespace(name=name, fusion=fusion, misalignment_max_mm=4.0, base_gauge_mpa=5.0)


@each("asked, trials, kinds", [
    (sized(), 1, ["trial fusion", *["stick"] * 3, *["fitting"] * 2, "tie-in", "rework", "rework"]),
    (sized(0, 0, 0, 0), 0, []), (sized(1, 0, 0, 0, rework=3), 0, ["stick", *["rework"] * 3]),
])  # fmt: skip
def test_joints_are_numbered_by_kind_with_two_rows_for_rework_at_least(asked, trials, kinds):
    """The small end of a reducer keeps the limits of its own size."""
    sizes = {"8": limits("large"), "6": limits("small")}
    found = list(site_plan._numbered(run("A", size="8", reduce_to="6"), asked, sizes, trials))
    assert [one.kind for one in found] == kinds
    assert [one.joint_no for one in found] == [f"A-{n:04d}" for n in range(1, len(kinds) + 1)]
    assert sum(one.pipe == "small" for one in found) == asked.counts.small_ends
    plain = list(site_plan._numbered(run("A", size="8"), asked, {"8": limits("large")}, trials))
    assert {one.pipe for one in plain} <= {"large"}


def test_a_run_is_planned_with_its_joints_and_minutes(monkeypatch):
    """Fittings and small ends are counted together."""
    monkeypatch.setattr(site_plan, "CONNECTIONS", ())
    monkeypatch.setattr(site_plan, "test_minutes", lambda plain, counting: 9.0)
    time = SimpleNamespace(period_min=7.0)
    monkeypatch.setattr(site_plan, "REWORK", SimpleNamespace(
        name="rework", time=lambda cycle, counting: time))  # fmt: skip
    asked = sized(rework=4)
    asked.cycle = SimpleNamespace(plain=time, fitting=time, tie_in=time)
    asked.machine = SimpleNamespace(class_id="M3")
    found = site_plan._planned(None, run("A"), asked, "P", 5)
    assert (found.stick_joints, found.fitting_joints, found.tie_in_joints) == (3, 2, 1)
    assert (found.rework_joints, found.test_joints, found.test_min) == (4, 5, 9.0)


def test_a_small_end_has_its_own_limits_and_only_where_there_is_one(monkeypatch):
    monkeypatch.setattr(site_plan, "pipe_limits", lambda job, run, sized, size: size)
    for reduce_to, reducers, found in (("6", 1, ["8", "6"]), ("6", 0, ["8"]), (None, 1, ["8"])):
        asked = site_plan.limits_by_size(
            None, run(size="8", reduce_to=reduce_to, reducers=reducers), sized()
        )
        assert [*asked] == found
    assert site_plan.misalignment_max_mm(30.0) == pytest.approx(3.0)


def test_limits_are_those_of_the_size_and_of_the_machine_without_drag(monkeypatch):
    small = SimpleNamespace(od_mm=1.0, wall_mm=10.0)
    monkeypatch.setattr(small_ends, "pipe_geometry", lambda *of: small)
    monkeypatch.setattr(small_ends, "fusion_parameters", lambda *asked: asked[1])
    monkeypatch.setattr(site_plan, "gauge_range", lambda machine, geometry, fusion, drag:
                        (drag, 2.0) if geometry.wall_mm > 10 else None)  # fmt: skip
    asked = SimpleNamespace(geometry=SimpleNamespace(od_mm=2.0, wall_mm=20.0),
                            timing=SimpleNamespace(ambient_c=9.0),
                            machine=SimpleNamespace(class_id="M3"))  # fmt: skip
    for size, wall, base in (("8", 20.0, 2.0), ("6", 10.0, None)):
        found = site_plan.pipe_limits(job(), run(size="8"), asked, size)
        assert (found.geometry.wall_mm, found.base_gauge_mpa) == (wall, base)
        assert found.misalignment_max_mm == pytest.approx(wall / 10)


def test_the_gauge_of_the_limits_is_without_drag(monkeypatch):
    drags = []
    monkeypatch.setattr(small_ends, "fusion_parameters", lambda *asked: None)
    monkeypatch.setattr(site_plan, "gauge_range", lambda machine, geometry, fusion, drag:
                        drags.append((machine.class_id, drag)))  # fmt: skip
    asked = SimpleNamespace(geometry=SimpleNamespace(od_mm=2.0, wall_mm=20.0),
                            timing=SimpleNamespace(ambient_c=9.0),
                            machine=SimpleNamespace(class_id="M4"))  # fmt: skip
    made_job = job(machines=(machine("M3"), machine("M4")))
    site_plan.pipe_limits(made_job, run(size="8"), asked, "8")
    assert drags == [("M4", 0.0)]


def test_cooling_of_a_pipe_is_written_once(monkeypatch):
    monkeypatch.setattr(site_plan, "tests_by_run", lambda plan: {"A": 1, "B": 2})
    monkeypatch.setattr(
        site_plan, "limits_by_size", lambda job, run, sized: {run.size: limits("P")}
    )
    monkeypatch.setattr(site_plan, "cooling_of", lambda fusion, of: (f"cooling of {of.name}",))
    monkeypatch.setattr(site_plan, "_planned", lambda counting, run, sized, *rest: rest)
    monkeypatch.setattr(site_plan, "_numbered", lambda run, sized, sizes, trials: [run.run_id])
    monkeypatch.setattr(site_plan, "SiteRecords", lambda **tables: tables)
    pairs = [(run(name), None) for name in "AB"]
    found = site_plan.site_plan(SimpleNamespace(plan=None, pairs=pairs, job=job()))
    assert found == {"joint_log": ("A", "B"), "planned_runs": (("P", 1), ("P", 2)),
                     "cooling_by_air": ("cooling of P",)}  # fmt: skip
