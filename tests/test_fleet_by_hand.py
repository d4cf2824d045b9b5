"""The choice of classes and crews on stand-ins: prices of a day, the first answer and the texts."""

import datetime as dt
from dataclasses import replace
from decimal import Decimal
from types import SimpleNamespace

import pytest

from estimator.errors import EstimatorError
from estimator.models.bands import BANDS, BandShare
from estimator.models.fleet_outcome import AS_LISTED, Candidate, FleetOutcome
from estimator.optimize import day_prices, first_answer, from_estimate, pick
from estimator.optimize.day_prices import CountedPrices, DayPrices
from estimator.optimize.first_answer import search
from estimator.optimize.from_estimate import _Builder, run_minutes
from estimator.optimize.problem import FleetClass, FleetProblem, Hire, SizeSetUp, WorkItem, bundles
from estimator.optimize.solver import Solution
from tests.each import each
from tests.jobs import job, machine, money, run

MONDAY = dt.date(2027, 3, 1)
DAY = dt.timedelta(1)
SMALLEST = BandShare.inside(BANDS[0])


class OnStandIns(DayPrices):
    """Prices of a day in which each figure of the cost lines is given."""

    def __init__(self, work=4, weather=2, **values):
        kinds = ["work"] * work + ["weather"] * weather
        days = [SimpleNamespace(kind=kind) for kind in kinds]
        super().__init__(SimpleNamespace(job=job(**values), plan=SimpleNamespace(crew_days=days)))


class Counted(OnStandIns):
    """A working day costs 100 a date and 30 a crew, one of weather 40 and 10; a crew 7 once."""

    def _counted(self, at, kind):
        assert at == SMALLEST
        return CountedPrices(100.0, 7.0, 30.0) if kind == "work" else CountedPrices(40.0, 7.0, 10.0)

    def _teams(self, at, date, hours):
        return [(date, "paid")]

    def _lost_teams(self, at):
        return ["lost"]

    def _paid_for(self, days):
        return 80.0 if days == ["lost"] else 300.0 * len(set(days))


@each("work, weather, site_day, crew_day", [
    (4, 2, 120.0, 375.0), (1, 1, 140.0, 420.0), (0, 2, 180.0, 510.0), (3, 0, 100.0, 330.0),
])  # fmt: skip
def test_a_day_carries_its_share_of_weather_days(work, weather, site_day, crew_day):
    """Half a day of weather for each of four: 100 and half of 40; 300 paid and 30, half of 80 and
    10. Where no day was worked they count for one."""
    prices = Counted(work, weather)
    assert (prices.site_day, prices.crew_mobilization) == (site_day, 7.0)
    assert prices.crew_day(SMALLEST) == prices.crew_day(SMALLEST) == crew_day


def test_what_is_counted_by_date_and_by_crew_is_taken_apart():
    """1,000 for the job, 100 a date, 10 a crew and 1 for each crew on each date."""
    prices = OnStandIns()
    prices._counted_cost = lambda at, kind, crews, dates: (
        1000.0 + 100 * dates + 10 * crews + crews * dates
    )
    assert prices._counted(SMALLEST, "work") == (100.0, 10.0, 1.0)


def test_plans_of_some_crews_and_dates_are_counted_by_every_line(monkeypatch):
    """Two crews on three dates with a night team are twelve paid shifts; both lines count 9."""
    seen = []

    def line(planned):
        seen.append(planned["plan"].crew_days)
        return [SimpleNamespace(amount=Decimal(4)), SimpleNamespace(amount=Decimal("0.5"))]

    monkeypatch.setattr(day_prices, "COUNTED_LINES", (line, line))
    monkeypatch.setattr(day_prices, "replace", lambda planned, **parts: parts)
    assert OnStandIns(night_hours=8.0)._counted_cost(SMALLEST, "weather", 2, 3) == 9.0
    days = seen[0]
    assert {(day.date, day.crew, day.shift) for day in days} == {
        (MONDAY + n * DAY, crew, shift)
        for n in range(3) for crew in (0, 1) for shift in ("day", "night")
    }  # fmt: skip
    assert {(day.kind, day.straight_hours, day.overtime_hours) for day in days} == {
        ("weather", 0, 0)
    }
    OnStandIns()._counted_cost(SMALLEST, "work", 1, 1)
    assert len(days) == 12
    assert len(seen[-1]) == 1


def test_teams_of_a_day_that_weather_takes():
    for night_hours, shifts in ((8.0, ["day", "night"]), (0.0, ["day"])):
        found = OnStandIns(night_hours=night_hours)._lost_teams(SMALLEST)
        assert [(day.shift, day.kind) for day in found] == [(name, "weather") for name in shifts]


def test_a_hire_is_priced_by_the_day_the_week_and_four_weeks():
    prices, asked = OnStandIns(), []

    def rented(kind, item, quantity, tiers, excess_h=0.0):
        asked.append(tiers)
        return 1e6 * tiers.days + 1e4 * tiers.weeks + 100 * tiers.four_weeks + excess_h

    prices._rented = rented
    found = prices.hire("machine", machine(), 3)
    assert (found.day, found.week, found.four_weeks, found.delivery) == (1e6, 1e4, 100.0, 150.0)
    assert prices.beyond("machine", machine(), 1) == 0.0
    long = OnStandIns(shift_hours=12.0)
    long._rented = prices._rented
    long.job = long.job.model_copy(
        update={"rates": long.job.rates.model_copy(update={"rental_day_hours": 8.0})}
    )
    assert long.beyond("machine", machine(), 1) > 0.0
    assert {(one.days, one.weeks, one.four_weeks) for one in asked[-2:]} == {(0, 0, 1)}


def test_a_week_begins_on_its_monday():
    dates = job(start=MONDAY + 2 * DAY, workdays="Mon-Thu").dates
    assert day_prices._one_week(dates) == [MONDAY + n * DAY for n in range(4)]


# The first answer


def work(name, minutes=100.0, size="s", classes=("M1", "M2"), crews=(1, 2)):
    return WorkItem((name,), size, classes, crews, minutes, 100.0)


def problem(*items, crews=2, day=(10.0, 10.0, 10.0)):
    fleet = tuple(FleetClass(f"M{number}", (Hire(cost, cost, cost, 0.0),), 2)
                  for number, cost in enumerate(day, 1))  # fmt: skip
    sizes = {"s": SizeSetUp(0.0), "t": SizeSetUp(0.0)}
    return FleetProblem(items=items, classes=fleet, sizes=sizes, crews=crews, shift_min=500.0)


def test_work_begins_with_the_first_class_and_the_crew_that_has_least():
    """100 to the first crew, 60 and 30 to the second, 20 to it again and 5 to the first."""
    items = [work(str(minutes), minutes) for minutes in (100.0, 60.0, 30.0, 20.0, 5.0)]
    found = first_answer._start(problem(*items))
    assert found == (("M1", 1), ("M1", 2), ("M1", 2), ("M1", 2), ("M1", 1))


@each("crew", [1, 2])
def test_one_change_gives_an_item_or_a_size_another_class_or_crew(crew):
    """Two of one size and one of another: each alone, and the two together."""
    made = problem(work("a"), work("b"), work("c", size="t"))
    pair, others = ("M1", crew), [("M1", 3 - crew), ("M2", 1), ("M2", 2)]
    found = set(first_answer._changed(made, (pair, pair, pair)))
    assert found == {
        *((one, pair, pair) for one in others), *((pair, one, pair) for one in others),
        *((pair, pair, one) for one in others), *((one, one, pair) for one in others),
    }  # fmt: skip


def test_an_item_takes_only_what_it_may():
    made = problem(work("a", classes=("M1",), crews=(2,)))
    found = [first_answer._allowed(made, 0, ("M1", 1), wanted) for wanted in (("M2", 2), ("M1", 3))]
    assert found == [("M1", 2), ("M1", 1)]


def test_the_search_goes_to_what_costs_least_and_stays_where_nothing_costs_less():
    one = work("a", crews=(1,), classes=("M1", "M2", "M3"))
    assert search(problem(one, crews=1, day=(15.0, 10.0, 12.0))) == (("M2", 1),)
    assert search(problem(one, crews=1), (("M3", 1),)) == (("M3", 1),)


def test_what_a_problem_says_of_its_crews_and_shifts():
    """Two shifts of 500 are 1,000 min, a thousandth more begins a third."""
    assert problem(work("a"), work("b")).crews_are_alike
    assert not problem(work("a"), work("b", crews=(1,))).crews_are_alike
    assert [problem().whole_days(minutes) for minutes in (1000.0, 1000.001, 0.0)] == [2, 3, 0]
    assert problem().lowest_rate == 0.0


def test_alike_items_are_dealt_out_the_longest_first():
    """Five of one size for one crew in two bundles: 50 + 10, 40 + 30, then 20 to the shorter."""
    items = [work(str(n), 10.0 * n, crews=(1,)) for n in range(1, 6)]
    found = list(bundles(items, most_single=4))
    assert [(one.run_ids, one.minutes) for one in found] == [
        (("5", "2", "1"), 80.0), (("4", "3"), 70.0),
    ]  # fmt: skip
    assert list(bundles(items, most_single=5)) == items
    assert len(list(bundles(items, most_single=4, most_in_all=1))) == 1
    kinds = [work("a"), work("b", size="t"), work("c")]
    assert len(list(bundles(kinds, most_single=2, most_in_all=1))) == 2


def test_the_gap_of_a_solution_is_a_share_of_its_cost():
    gaps = [Solution((), cost, bound, finished=True).gap
            for cost, bound in ((100.0, 90.0), (100.0, 101.0), (0.0, 0.0))]  # fmt: skip
    assert gaps == [0.1, 0.0, 0.0]


# The job as a problem


def builder(made, **parts):
    found = object.__new__(_Builder)
    found.job, found.hours, found.hottest = made, 9.5, None
    for name, part in parts.items():
        setattr(found, name, part)
    return found


class Hired:
    """Prices that say what was hired; the hours beyond a rental day cost 5 each."""

    def hire(self, kind, item, quantity):
        return kind, quantity

    def beyond(self, kind, item, quantity):
        return 5.0


def test_a_day_has_the_hours_of_both_teams_without_their_breaks(monkeypatch):
    """10 and 8 hours less half an hour each, in the air of the hottest month worked."""
    monkeypatch.setattr(from_estimate, "DayPrices", lambda planned: None)
    ambient = SimpleNamespace(range_over=lambda worked: (-5.0, 35.0))
    monkeypatch.setattr(from_estimate, "MonthlyAmbient", SimpleNamespace(of=lambda job: ambient))
    planned = SimpleNamespace(job=job(night_hours=8.0), plan=SimpleNamespace(lines=()))
    one = _Builder(planned)
    assert (one.hours, one.hottest.ambient_c) == (17.0, 35.0)


@each("segments, minutes", [(0, 30.0), (1, 30.0), (3, 90.0)])
def test_each_segment_has_its_move_and_a_run_one_at_least(segments, minutes):
    sized = SimpleNamespace(counts=SimpleNamespace(by_segment=range(segments)))
    assert builder(job(machine_move_min=30.0))._moves_min(sized) == minutes


@each("shared, self_powered, hires, most, day_cost", [
    (False, True, [("machine", 2)], 2, 6.0 * 9.5 * 2 + 5),
    (False, False, [("machine", 2), ("generator", 2)], 2, (6.0 + 8.0) * 9.5 * 2 + 10),
    (True, False, [("machine", 2), ("generator", 1)], 2, (6.0 + 4.0) * 9.5 * 2 + 10),
])  # fmt: skip
def test_a_class_is_hired_with_its_sets(shared, self_powered, hires, most, day_cost):
    """Two of five: 3 L/h each, a set 4 L/h, for 9.5 h at 2 a liter, and hours beyond a day."""
    patch = pytest.MonkeyPatch()
    loads, sets = [], []
    patch.setattr(from_estimate, "electric_load", lambda item, power, on_set: loads.append(on_set))
    patch.setattr(from_estimate, "smallest_set", lambda *asked: sets.append(asked[1]) or "set")
    patch.setattr(from_estimate, "fuel_l_h", lambda item, load: 4.0)
    asked = "one shared" if shared else "one per machine"
    made = job(machines_per_crew=2, generators_per_crew=asked)
    rates = made.rates.model_copy(update={"fuel_price": money(2.0, "L")})
    one = builder(made.model_copy(update={"rates": rates}), prices=Hired(),
                  _mean_kw=lambda *of: 1.0)  # fmt: skip
    found = one._class(machine(stock=5, self_powered=self_powered, fuel_rate_l_h=3.0))
    none = one._class(machine(stock=5, self_powered=True, fuel_rate_l_h=None))
    patch.undo()
    assert (list(found.hires), found.most_crews) == (hires, most)
    assert found.day_cost == pytest.approx(day_cost)
    assert none.day_cost == 5.0
    assert (loads, sets) == ([], []) if self_powered else ([2 if shared else 1], [hires[1][1]])


def test_a_set_runs_its_heater_as_it_was_seen_or_at_its_losses(monkeypatch):
    monkeypatch.setattr(from_estimate, "mean_load_kw", lambda item, power, duty, on_set: duty)
    known = {"M3": SimpleNamespace(heater_duty=0.6)}
    one = builder(job(heater_loss_share=0.3),
                  found=SimpleNamespace(fleet=SimpleNamespace(power=known)))  # fmt: skip
    assert [one._mean_kw(machine(name), 1) for name in ("M3", "M4")] == [0.6, 0.3]


def test_the_dearest_lifter_on_rent_is_every_crews():
    made = job(lifters_per_crew=1)
    lifters = tuple(
        made.lifting[0].model_copy(
            update={"class_id": name, "four_week_rate": money(rate, "4 weeks")}
        )
        for name, rate in (("L1", 100), ("L2", 300), ("L3", 900))
    )
    made = made.model_copy(update={"lifting": lifters})
    spans = [SimpleNamespace(kind=kind, class_id=name) for kind, name in
             (("lifting", "L1"), ("lifting", "L2"), ("machine", "L3"))]  # fmt: skip
    prices = SimpleNamespace(hire=lambda kind, item, each: (kind, item.class_id, each))
    one = builder(made, prices=prices, found=SimpleNamespace(fleet=SimpleNamespace(spans=spans)))
    assert one._equipment() == (("lifting", "L2", 1),)
    one.found.fleet.spans = []
    assert one._equipment() == ()


@each("last, worked, share", [
    (4, 5, 28 / 20), (29, 5, 30 / 22), (4, 1, 28 / 4), (4, 0, 28.0),
])  # fmt: skip
def test_calendar_days_for_each_working_day_over_four_weeks_or_the_job(last, worked, share):
    """Five days a week, or one: of 28 days 20 or 4; of 30 from a Monday 22; none counts for one."""
    patch = pytest.MonkeyPatch()
    calendar = SimpleNamespace(kind=lambda day: "work" if day.weekday() < worked else "off")
    patch.setattr(from_estimate, "WorkingCalendar", SimpleNamespace(of=lambda job: calendar))
    one = builder(job(), found=SimpleNamespace(plan=SimpleNamespace(finish=MONDAY + last * DAY)))
    found = one._calendar_share()
    patch.undo()
    assert found == pytest.approx(share)


def test_one_worked_day_in_four_weeks_is_one(monkeypatch):
    calendar = SimpleNamespace(kind=lambda day: "work" if day == MONDAY else "off")
    monkeypatch.setattr(from_estimate, "WorkingCalendar", SimpleNamespace(of=lambda job: calendar))
    one = builder(job(), found=SimpleNamespace(plan=SimpleNamespace(finish=MONDAY)))
    assert one._calendar_share() == 28.0


def test_a_run_that_starts_late_is_not_over_before(monkeypatch):
    """14 days at 1.4 are 10 working days, and 2 shifts of work; one that may begin is not waited
    for, one without work neither."""
    made = job()
    monkeypatch.setattr(from_estimate, "run_minutes", lambda job, sized: sized.minutes)

    def pair(day, shifts, has_work=True):
        start = None if day is None else MONDAY + day * DAY
        return SimpleNamespace(earliest_start=start), SimpleNamespace(
            minutes=shifts * made.shift.working_min, counts=SimpleNamespace(has_work=has_work)
        )

    for pairs, days in (
        ([pair(14, 2), pair(0, 3), pair(None, 99), pair(50, 1, has_work=False)], 12.0),
        ([pair(-7, 3)], 3.0), ([], 0.0),
    ):  # fmt: skip
        one = builder(made, found=SimpleNamespace(pairs=pairs), _calendar_share=lambda: 1.4)
        assert one._least_days() == pytest.approx(days)


def test_days_allowed_count_both_ends():
    for deadline, days in ((MONDAY + 9 * DAY, 10), (None, None)):
        one = builder(
            job(deadline=deadline), found=SimpleNamespace(pairs=()), _class=None,
            _set_ups=lambda sizes: {}, _day_min=lambda: 500.0, _calendar_share=lambda: 1.4,
            _equipment=lambda: (), _least_days=lambda: 0.0,
            prices=SimpleNamespace(site_day=0.0, crew_mobilization=0.0),
        )  # fmt: skip
        assert one.problem().days_allowed == days


def test_each_pipe_that_is_tried_adds_to_its_size(monkeypatch):
    """Of one size two pipes are tried, 20 min each, and one twice; of another none."""
    monkeypatch.setattr(from_estimate, "pipe_to_try", lambda counting, sized: sized.pipe)
    monkeypatch.setattr(from_estimate, "test_minutes", lambda plain, counting: 20.0)

    def sized(od_mm, pipe):
        at = SimpleNamespace(of=lambda change: 7.0)
        return SimpleNamespace(geometry=SimpleNamespace(od_mm=od_mm), pipe=pipe,
                               cycle=SimpleNamespace(plain=None, at=at))  # fmt: skip

    found = builder(job())._set_ups(
        [sized(100.0, "a"), sized(100.0, "b"), sized(100.0, "a"), sized(200.0, None)]
    )
    assert found == {"100.000": SizeSetUp(7.0, 40.0), "200.000": SizeSetUp(7.0, 0.0)}


def test_a_joint_between_sticks_takes_its_part_of_a_shift(monkeypatch):
    """Ten joints of 50 min and 5 to spare for each in a shift of 505 with nine: 56.11 each."""
    for name in ("string", "closing", "tie_in"):
        monkeypatch.setattr(from_estimate, f"{name}_batches", lambda *asked: ())
    batch = SimpleNamespace(count=10, time=lambda cycle: SimpleNamespace(period_min=50.0))
    monkeypatch.setattr(from_estimate, "standing_batches", lambda count: (batch,))
    made = job()
    counts = SimpleNamespace(plain_joints=10)
    plain = SimpleNamespace(period_min=50.0)
    for joints, minutes in ((9, 10 * made.shift.working_min / 9), (0, 500.0)):
        sized = SimpleNamespace(
            counts=counts, cycle=SimpleNamespace(joints_per_shift=joints, plain=plain)
        )
        assert run_minutes(made, sized) == pytest.approx(minutes)


# What is kept, and what is said of it


def outcome(*candidates, kept=AS_LISTED, **values):
    return FleetOutcome(job(), kept, candidates, values.pop("items", 3), values.pop("runs", 3),
                        **values)  # fmt: skip


@each("cost, said", [
    (900, "It saves $100.00 compared"), (1000, "It saves $0.00 compared"),
    (1001, "It costs $1.00 more but stays within stock compared"), (999, "It saves $1.00"),
])  # fmt: skip
def test_what_was_kept_and_saved(cost, said):
    before, after = Candidate(AS_LISTED, Decimal(1000)), Candidate("other", Decimal(cost))
    lines = list(pick.sentences(outcome(before, after, kept="other"), job().cover))
    assert lines[0].startswith(f"Kept: other. {said}")
    assert len(lines) == 5


@each("values, said", [
    ({"note": "nothing"}, "Model: nothing"), ({"model_cost": 100.0, "note": "n"}, "Model: n"),
    ({"model_cost": 0.0, "bound": 0.0, "note": "n"}, "Model: n"),
    ({"model_cost": 100.0, "bound": 90.0, "finished": True},
     "Model of 3 runs: cost $100, lower bound $90, gap 10.00%; solved"),
    ({"model_cost": 100.0, "bound": 100.0, "items": 2},
     "Model of 3 runs in 2 groups: cost $100, lower bound $100, gap 0.00%; best found before the "
     "search ended"),
])  # fmt: skip
def test_what_the_model_found(values, said):
    assert pick._model_text(outcome(**values), "$") == said


@each("one, said", [
    (Candidate("x", why_not="no crew"), "Full estimate, x: not possible: no crew"),
    (Candidate("x", Decimal(9)), "Full estimate, x: not possible: "),
    (Candidate("x", None, MONDAY), "Full estimate, x: not possible: "),
    (Candidate("x", Decimal(9), MONDAY), "Full estimate, x: job cost $9.00, finish 1 Mar 2027"),
    (Candidate("x", Decimal(9), MONDAY, short_of_stock=True),
     "Full estimate, x: job cost $9.00, finish 1 Mar 2027; needs more than is in stock"),
])  # fmt: skip
def test_what_a_full_estimate_came_to(one, said):
    assert pick._candidate_text(one, job().cover) == said


@each("tried, kept", [
    ({"run by run": (100, False), "x": (100, False), "y": (99, True)}, "run by run"),
    ({"run by run": (100, True), "x": (120, False), "y": (None, False)}, "x"),
    ({"run by run": (100, False), "x": (90, False)}, "x"),
])  # fmt: skip
def test_the_cheapest_within_the_stock_is_kept_and_of_equals_the_first(tried, kept):
    patch = pytest.MonkeyPatch()
    patch.setattr(pick, "replace", lambda of, **changes: {**of, **changes})
    made = {name: (Candidate(name, cost, MONDAY, short), None if cost is None else {"name": name})
            for name, (cost, short) in tried.items()}  # fmt: skip
    found = pick._kept({}, made)
    patch.undo()
    assert found["name"] == found["fleet_outcome"]["kept"] == kept
    assert [one.name for one in found["fleet_outcome"]["candidates"]] == [*tried]


def test_a_job_that_cannot_be_laid_out_gives_its_first_reason(monkeypatch):
    def fails(*asked):
        raise EstimatorError("first\nsecond")

    monkeypatch.setattr(pick, "plan_job", fails)
    assert pick._tried("x", None, None) == (Candidate("x", why_not="first"), None)
    made = SimpleNamespace(bid=SimpleNamespace(job_cost=Decimal(9)), finish=MONDAY)
    monkeypatch.setattr(pick, "stock_exceeded", lambda *asked: [False, True])
    assert pick._candidate("x", made, SimpleNamespace(places=None)).short_of_stock


def test_runs_are_put_in_order_by_priority_then_class_then_size():
    """C has a priority; then the class of A with its sizes in turn, then B's class."""
    runs = [run("A", fleet_class="M1"), run("B", fleet_class="M2"), run("C", priority=2),
            run("D", fleet_class="M1")]  # fmt: skip
    assert [one.run_id for one in pick.in_order(runs)] == ["C", "A", "D", "B"]
    made = problem(work("A"), work("B"), work("C"), work("D", crews=(1,)))
    given = [("M1", 1), ("M2", 2), ("M2", 2), ("M1", 1)]
    (_, classes), (_, both) = pick.assigned_jobs(job(*(one.model_copy(
        update={"fleet_class": None}) for one in runs)), made, given)  # fmt: skip
    assert [one.fleet_class for one in classes.runs] == ["M1", "M2", "M2", "M1"]
    assert [(one.crew, one.priority) for one in both.runs] == [(1, 2), (2, 4), (2, 1), (1, 3)]
    alone = replace(made, items=made.items[:1])
    (_, classes), _ = pick.assigned_jobs(job(*runs), alone, given[:1])
    assert [one.fleet_class for one in classes.runs] == ["M1", None, None, None]
