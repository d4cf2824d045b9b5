"""Figures of risk on a few made-up trials, each value worked by hand from its definition."""

import datetime as dt
from decimal import Decimal
from types import SimpleNamespace

import numpy as np
import pytest

from estimator.models.kinds import LABOR, LIQUIDATED_DAMAGES, RISK_FACTORS, cost_type
from estimator.models.risk import Bin
from estimator.models.risk_ranges import RiskRange
from estimator.risk import draws, figures, surface
from estimator.risk.draws import draw, draw_chunks
from estimator.risk.figures import (
    Trials,
    all_swings,
    finish_shares,
    p_line,
    price_bins,
    round_step,
    share_up_to,
    standard_error,
)
from estimator.risk.surface import REWORK_TYPE, SLOTS, Dates, Level, Surface, figures_of, job_at
from tests.jobs import job

MONDAY = dt.date(2027, 3, 1)
DAY = dt.timedelta(1)
BY_NUMBER = SimpleNamespace(date=lambda number: MONDAY + round(number) * DAY)


def span(shape="PERT", low=1.0, likely=2.0, high=5.0, factor="wages"):
    return RiskRange(factor=factor, low=low, likely=likely, high=high, shape=shape)


def test_a_draw_is_that_of_its_shape_between_the_ends():
    """PERT from 1 over 3 to 5: beta of 1 + 4 x 2/4 twice; from 1 over 2, of 1 + 4 x 1/4 and 1 + 4 x
    3/4. Half of it is 3."""
    rng = SimpleNamespace(
        beta=lambda *asked: np.full(
            asked[2], 0.5 if asked[:2] in ((2.0, 4.0), (3.0, 3.0)) else np.nan
        ),
        triangular=lambda *asked: list(asked),
    )
    assert [*draw(rng, span(), 2)] == [*draw(rng, span(likely=3.0), 2)] == [3.0, 3.0]
    assert draw(rng, span("triangular"), 2) == [1.0, 2.0, 5.0, 2]
    assert [*draw(rng, span(low=2.0, high=2.0), 3)] == [2.0, 2.0, 2.0]


def test_trials_are_drawn_some_at_a_time(monkeypatch):
    """Ten by four: 4, 4 and 2; what has no range is as planned."""
    monkeypatch.setattr(draws, "CHUNK", 4)
    found = list(draw_chunks([span()], 10, 1))
    assert [len(chunk["wages"]) for chunk in found] == [4, 4, 2]
    for chunk in found:
        assert set(chunk) == set(RISK_FACTORS)
        assert {*chunk["weather"]} == {1.0}
        assert all(1.0 < value < 5.0 for value in chunk["wages"])


def test_the_place_that_a_share_of_the_trials_does_not_exceed():
    """Of ten: the first holds a tenth, the fifth half; 0.85 needs the ninth, 0 the first."""
    ten = np.arange(10.0)
    trials = Trials(ten, ten, ten)
    assert [trials.at(share) for share in (0.1, 0.5, 0.85, 0.9, 1.0, 0.0)] == [0, 4, 8, 8, 9, 0]


def test_the_error_of_a_share_is_a_quarter_of_what_lies_two_deviations_either_side():
    """A hundred values 4 apart. 0.5: 10 places either side, 80 together. 0.9: 6 either side. At the
    ends what there is: places 97 to 99, and 0 to 2."""
    values = 4.0 * np.arange(100)
    found = [standard_error(values, share) for share in (0.5, 0.9, 0.99, 0.01)]
    assert found == [20.0, 12.0, 2.0, 2.0]


def test_a_line_of_a_share_has_its_place_in_each_list():
    values = 4.0 * np.arange(100)
    line = p_line(Trials(values / 4, values + 1000, values), BY_NUMBER, 0.5)
    assert (line.finish, line.job_cost, line.price) == (MONDAY + 49 * DAY, 1196.0, 196.0)
    assert (line.finish_error_days, line.price_error) == (5.0, 20.0)


def test_a_share_counts_what_is_just_at_the_limit():
    values = np.array([1.0, 2.0, 3.0, 4.0])
    assert [share_up_to(values, limit) for limit in (0.9, 1.9, 2.0, 4.0)] == [0.0, 0.25, 0.5, 1.0]


@pytest.mark.parametrize(
    ("least", "step"),
    [(1.0, 1.0), (1.5, 2.0), (2.0, 2.0), (2.1, 5.0), (5.0, 5.0), (6.0, 10.0), (0.3, 0.5)],
)
def test_a_round_step_is_1_2_or_5_times_a_power_of_ten(least, step):
    assert round_step(least) == step


def counted(low, high, trials, share_so_far):
    return Bin(low=low, high=high, trials=trials, share_so_far=share_so_far)


def test_prices_are_counted_in_round_steps():
    """From 195 to 399 a twelfth is 17: steps of 20 from 180 to 400."""
    bins = price_bins(np.array([195.0, 381.0, 390.0, 399.0]))
    assert (bins[0], bins[1]) == (counted(180.0, 200.0, 1, 0.25), counted(200.0, 220.0, 0, 0.25))
    assert bins[-1] == counted(380.0, 400.0, 3, 1.0)
    assert len(bins) == 11
    assert price_bins(np.array([7.0, 7.0])) == (counted(7.0, 7.0, 2, 1.0),)


def test_classes_of_prices_are_few_enough_to_be_labeled():
    """From 3.85 to 5.63 million a twelfth is 148,333: ten steps of 200,000 from 3.8 to 5.8."""
    bins = price_bins(np.linspace(3_850_000.0, 5_630_000.0, 60))
    assert [bins[0].low, bins[-1].high, len(bins)] == [3_800_000.0, 5_800_000.0, 10]


def test_a_job_has_finished_on_the_day_that_is_begun():
    """2.5 days are over on the third; of 41 days every second or third is shown: 1, 3.05, 5.1."""
    found = finish_shares(np.array([1.0, 2.0, 2.5, 4.0]), BY_NUMBER)
    assert [((one.date - MONDAY).days, one.share_so_far) for one in found] == [
        (1, 0.25), (2, 0.5), (3, 0.75), (4, 1.0),
    ]  # fmt: skip
    many = finish_shares(np.array([1.0, 42.0]), BY_NUMBER)
    assert [(one.date - MONDAY).days for one in many][:3] == [1, 4, 6]
    assert (len(many), (many[-1].date - MONDAY).days) == (21, 42)


def test_the_widest_swing_comes_first(monkeypatch):
    prices = {("wages", 1.0): 90.0, ("wages", 5.0): 110.0, ("weather", 1.0): 70.0,
              ("weather", 5.0): 100.0}  # fmt: skip
    monkeypatch.setattr("estimator.risk.figures._end",
                        lambda *asked: (prices[asked[2:]], int(asked[3])))  # fmt: skip
    ranges = (span(), span(factor="weather"))
    swings = all_swings(
        SimpleNamespace(job=SimpleNamespace(risk_ranges=ranges)), SimpleNamespace(dates=BY_NUMBER)
    )
    assert [(one.factor, one.low_price, one.high_finish) for one in swings] == [
        ("weather", 70.0, MONDAY + 5 * DAY), ("wages", 90.0, MONDAY + 5 * DAY),
    ]  # fmt: skip


def test_working_days_by_number():
    """Monday to Friday: the weekend adds none, the next Monday is the sixth; a part counts."""
    days = Dates(job())
    numbers = [days.number(MONDAY + n * DAY) for n in (0, 4, 6, 7, -1)]
    assert numbers == [1, 5, 5, 6, 0]
    assert [days.date(number) for number in (1, 5.0, 5.2, 0)] == [
        MONDAY, MONDAY + 4 * DAY, MONDAY + 7 * DAY, MONDAY,
    ]  # fmt: skip


def test_no_more_than_all_joints_are_rework_and_nine_tenths_of_days_lost():
    """0.02 of joints 20 and 100 times; a month that loses a tenth, eight and twenty times."""
    plain = job()
    wet = tuple(month.model_copy(update={"lost_share": 0.1}) for month in plain.weather)
    plain = plain.model_copy(update={"weather": wet})
    for times, rework, lost in ((1, 0.02, 0.1), (8, 0.16, 0.8), (100, 1.0, 0.9)):
        found = job_at(plain, Level(rework=times, weather=times))
        assert found.counting.rework_share == pytest.approx(rework)
        assert {round(month.lost_share, 9) for month in found.weather} == {lost}


def test_costs_of_a_draw_by_type():
    """Each slot costs 1: those on a price twice that, and the 10 of rework three times."""
    row = np.array([[7.0, *(1.0 for _ in SLOTS), 4.0]])
    drawn = {factor: np.array([2.0]) for factor in RISK_FACTORS} | {"rework": np.array([3.0])}
    days, by_type, damages = figures_of(row, drawn, 10.0)
    assert (days[0], damages[0]) == (7.0, 4.0)
    for of_type, cost in by_type.items():
        slots = [2.0 if factor else 1.0 for factor, markup in SLOTS if markup == of_type]
        assert cost[0] == sum(slots) + (20.0 if of_type == REWORK_TYPE else 0.0)


def test_a_value_lies_between_two_levels():
    below, part = surface._place(np.array([0.5, 1.5, 3.0, 4.0, 5.0]), np.array([1.0, 2.0, 4.0]))
    assert [*below] == [0, 0, 1, 2, 2]
    assert [*part[:, 0]] == [0.0, 0.5, 0.5, 0.0, 0.0]
    assert surface._with_middles([1.0, 2.0], 2) == [1.0, 1.25, 1.5, 1.75, 2.0]
    assert surface._with_middles([1.0, 2.0], 0) == [1.0, 2.0]


def test_figures_between_four_plans():
    """0, 10 and 50 by minutes and 0, 1 and 7 by weather: half of the first steps is 5 + 0.5, of the
    second 30 + 4; a quarter of the first is 2.5; beyond the last all of it."""
    table = np.add.outer(np.array([0.0, 10.0, 50.0]), np.array([0.0, 1.0, 7.0]))[:, :, None]
    made = SimpleNamespace(_minutes_at=np.array([100.0, 200.0, 400.0]), _wet=[1.0, 2.0, 3.0],
                           _slow=[1.0, 2.0, 4.0], _table=table)  # fmt: skip
    minutes, wet = np.array([150.0, 300.0, 125.0, 900.0]), np.array([1.5, 2.5, 1.0, 9.0])
    assert [*Surface._interpolate(made, minutes, wet)[:, 0]] == [5.5, 34.0, 2.5, 57.0]


def test_minutes_of_three_factors_together():
    """150 at half as slow again; handling 20 more, times 1.5; rework 10 more of 100, of 150."""
    made = SimpleNamespace(_slow=[0.5, 1.0, 2.0], _minutes_at=[50.0, 100.0, 200.0], _base=100.0,
                           _handling=([1.0, 2.0], [100.0, 140.0]),
                           _rework=([1.0, 3.0], [100.0, 120.0]))  # fmt: skip
    drawn = {"productivity": 1.5, "cycle handling": 1.5, "rework": 2.0}
    found = Surface.minutes(made, {name: np.array([value]) for name, value in drawn.items()})
    assert found[0] == pytest.approx(150 + 30 + 15)


def test_levels_reach_as_far_as_all_factors_together():
    """Handling and rework add 40 and 10 %. A quarter slower takes a fifth longer, 0.8 of it: half
    more and a tenth are 1 + 0.55 / 0.8. At 0.8, with a tenth less handling: 0.8 - 0.11 / 0.8."""
    plans = SimpleNamespace(
        at=lambda level: SimpleNamespace(minutes=100 * (1 + 0.8 * (level.productivity - 1)))
    )

    def levels(ends, handling, rework):
        made = SimpleNamespace(plans=plans, _base=100.0, _ends=lambda factor: list(ends),
                               _handling=(None, handling), _rework=(None, rework),
                               _halvings=0)  # fmt: skip
        return Surface._slow_levels(made)

    assert levels([1.0], [100.0, 140.0], [100.0, 110.0]) == pytest.approx([1.0, 1.6875])
    assert levels([0.8, 1.0, 1.5], [90.0, 100.0], [100.0]) == pytest.approx([0.6625, 0.8, 1.0, 1.5])
    assert levels([0.8, 1.5], [100.0], [100.0]) == [0.8, 1.5]
    assert levels([1.0, 1.5], [100.0, 140.0], [100.0]) == pytest.approx([1.0, 1.5, 2.325])
    assert levels([0.8, 1.0], [50.0, 100.0], [100.0]) == pytest.approx([0.4, 0.8, 1.0])
    plans.at = lambda level: SimpleNamespace(minutes=100.0)
    assert levels([1.0], [100.0, 140.0], [100.0]) == [1.0]


def test_two_changes_at_once_multiply():
    """150 slower, 1.2 times in the rain: 180; what is nothing as planned adds up, 10 and 5."""
    rows = {Level(): (100.0, 0.0), Level(productivity=2.0): (150.0, 10.0),
            Level(weather=3.0): (120.0, 5.0)}  # fmt: skip
    made = SimpleNamespace(plans=SimpleNamespace(at=lambda at: SimpleNamespace(row=rows[at])),
                           _slow=[1.0, 2.0], _wet=[1.0, 3.0])  # fmt: skip
    assert Surface._crossed(made)[1, 1].tolist() == [180.0, 15.0]


def test_what_two_changes_do_beyond_their_product_is_planned_at_their_ends():
    """200 at the ends of both, 180 by the product: 20 more there, 10 halfway to either end, 5
    halfway to both; a level of productivity beyond its end has the 20 of the end."""
    rows = {(1.0, 1.0): 100.0, (2.0, 1.0): 150.0, (1.0, 3.0): 120.0, (2.0, 3.0): 200.0}
    at = lambda level: SimpleNamespace(row=(rows[level.productivity, level.weather],))  # noqa: E731
    ends = {"productivity": [1.0, 2.0], "weather": [1.0, 3.0]}
    made = SimpleNamespace(plans=SimpleNamespace(at=at), _ends=ends.get, _slow=[1.0, 1.5, 2.0, 4.0],
                           _wet=[1.0, 2.0, 3.0], _minutes_at=np.array([100.0, 150.0, 200.0, 400.0]),
                           _planned=lambda *of: Surface._planned(made, *of))  # fmt: skip
    crossed = np.full((4, 3, 1), 7.0)
    crossed[::2, ::2, 0] = [[100.0, 120.0], [150.0, 180.0]]
    found = Surface._joint_effect(made, crossed)[:, :, 0].tolist()
    assert found == [[0, 0, 0], [0, 5, 10], [0, 10, 20], [0, 10, 20]]


def test_a_short_job_is_planned_at_all_levels_and_a_long_one_with_one_change_at_a_time():
    def figures(days, runs):
        plans = SimpleNamespace(at=lambda level: SimpleNamespace(days=days), weight=runs)
        made = SimpleNamespace(plans=plans, _slow=(), _wet=(), _crossed=lambda: 1.0,
                               _planned=lambda slow, wet: "planned",
                               _joint_effect=lambda crossed: crossed * 4)  # fmt: skip
        return Surface._figures(made)

    assert [figures(40, 1), figures(41, 2000), figures(41, 2001)] == ["planned", 5.0, 1.0]


def test_steps_between_plans_are_finer_for_fewer_runs():
    made = [SimpleNamespace(plans=SimpleNamespace(weight=runs)) for runs in (19, 20, 66, 67)]
    assert [Surface._halvings.fget(one) for one in made] == [2, 1, 1, 0]


def test_as_planned_is_among_the_levels_of_each_factor():
    made = SimpleNamespace(_spans={"weather": (0.5, 2.0)})
    assert [Surface._ends(made, name) for name in ("weather", "rework")] == [[0.5, 1.0, 2.0], [1.0]]


def test_what_a_plan_gives():
    """100 and 50 of labor and 30 of damages, on two lines of 60 and 90 min; laid out, no cost."""
    lines = [SimpleNamespace(minutes=60.0), SimpleNamespace(minutes=90.0)]
    costs = [SimpleNamespace(cost_type=name, amount=Decimal(amount)) for name, amount in
             ((LABOR, 100), (LABOR, 50), (LIQUIDATED_DAMAGES, 30))]  # fmt: skip
    made = SimpleNamespace(plan=SimpleNamespace(lines=lines), finish=MONDAY + 2 * DAY,
                           cost_lines=costs)  # fmt: skip
    found = surface.outcome_of(Dates(job()), made)
    assert (found.minutes, found.days, found.damages) == (150.0, 3, 30.0)
    labor, late = (cost_type(name) for name in (LABOR, LIQUIDATED_DAMAGES))
    by_slot = dict(zip(SLOTS, found.costs, strict=True))
    assert (by_slot[labor.factor, labor.markup], by_slot[late.factor, late.markup]) == (150.0, 30.0)
    assert sum(found.costs) == 180.0
    plain = surface.dates_of(Dates(job()), made)
    assert (plain.minutes, plain.days, {*plain.costs}, plain.damages) == (150.0, 3, {0.0}, 0.0)


def test_consumables_of_rework(monkeypatch):
    """Two and three joints at 12."""
    monkeypatch.setattr(figures, "item_price", lambda *asked: SimpleNamespace(value=12.0))
    runs = [SimpleNamespace(counts=SimpleNamespace(rework_joints=joints),
                            cycle=SimpleNamespace(band="S")) for joints in (2, 3)]  # fmt: skip
    assert figures.rework_cost(SimpleNamespace(job=job(), runs=runs)) == 60.0


class OnePlan:
    """Plans of one level, without a date of their own."""

    dates = BY_NUMBER

    def __len__(self):
        return 1

    def at(self, level):
        return level


@pytest.mark.parametrize(
    ("job_cost", "needed", "share"),
    [(1_000, 250.0, 0.25), (2_000, 0.0, 0.0), (0, 1_250.0, 0.0), (1_249.9951, 0.0, 0.0)],
)
def test_the_contingency_that_a_share_of_the_trials_needs(monkeypatch, job_cost, needed, share):
    """Four fifths of ten trials cost 1,250 at most; nothing where the plan costs more, and a plan
    without a cost has no share; to the cent."""
    monkeypatch.setattr(figures, "_price_at", lambda *asked: 1_500.0)
    ten = np.arange(10.0)
    bid = SimpleNamespace(
        job_cost=Decimal(str(job_cost)), price=Decimal(6), contingency=Decimal(50)
    )
    made = job(risk_share=0.8, risk_seed=3)
    found = figures.figures(SimpleNamespace(bid=bid, job=made, finish=MONDAY), OnePlan(),
                            Trials(ten, 900 + 50 * ten, ten), ())  # fmt: skip
    assert found.needed_contingency == needed
    assert found.needed_contingency_share == pytest.approx(share, abs=1e-5)
    assert (found.covered_share, found.deadline_share, found.average_price) == (0.7, None, 4.5)


def test_a_slower_crew_takes_longer_for_all_but_the_machine():
    """Half as fast: twice the change of size and the moves, half the efficiency."""
    plain = job()
    found = job_at(plain, Level(productivity=2.0))
    assert [band.size_change_min for band in found.size_bands] == [
        2 * band.size_change_min for band in plain.size_bands
    ]
    assert found.input("machine_move_min") == 2 * plain.input("machine_move_min")
    assert found.shift.efficiency == plain.shift.efficiency / 2


def test_a_level_is_planned_once_and_priced_where_its_job_was(monkeypatch):
    asked = []
    monkeypatch.setattr(surface, "total_of", lambda job, shared: asked.append("price") or job)
    monkeypatch.setattr(
        surface, "lay_out_job", lambda job, shared, *, paid: asked.append(("dates", paid)) or job
    )
    for priced in (True, False):
        plans = object.__new__(surface.Plans)
        plans.job, plans._change, plans._shared = "base", lambda job, level: (job, level), None
        plans._priced, plans._known, plans._outcome = priced, {}, lambda made: made
        wet = Level(weather=2.0)
        assert plans.at(wet) == plans.at(wet) == ("base", wet)
    assert asked == ["price", ("dates", False)]
