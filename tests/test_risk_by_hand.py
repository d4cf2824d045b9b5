"""Figures of risk on a few made-up trials, each value worked by hand from its definition."""

import datetime as dt
from decimal import Decimal
from types import SimpleNamespace

import numpy as np
import pytest

from estimator.joint.shared import Shared
from estimator.models.kinds import LABOR, LIQUIDATED_DAMAGES, RISK_FACTORS, cost_type
from estimator.models.places import NO_PLACES
from estimator.models.risk import Bin
from estimator.models.risk_ranges import RiskRange
from estimator.pipeline import estimate
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
from estimator.risk.surface import (
    REWORK_TYPE,
    SLOTS,
    Dates,
    Level,
    Outcome,
    Plans,
    Surface,
    figures_of,
    job_at,
)
from estimator.stages import lay_out_job
from tests.each import each
from tests.jobs import job, run

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


class PlansByHand(Plans):
    """Plans whose outcome at a level is worked by hand; notes what is asked."""

    def __init__(self, days, minutes=lambda at: 100 * at.productivity, damages=None, runs=67):
        self.days, self.minutes = days, minutes
        self.damages = damages or (lambda at: 0.0)
        self.weight, self.asked = runs, set()

    def at(self, level):
        self.asked.add(level)
        return Outcome(self.minutes(level), self.days(level), (0.0,) * len(SLOTS),
                       self.damages(level))  # fmt: skip


def spans(**ends):
    return [span(low=low, likely=low, high=high, factor=factor.replace("_", " "))
            for factor, (low, high) in ends.items()]  # fmt: skip


def drawn(**factors):
    """Return factors of some trials, as planned where nothing is said."""
    given = {name.replace("_", " "): np.array(values) for name, values in factors.items()}
    (trials,) = {len(values) for values in given.values()}
    return dict.fromkeys(RISK_FACTORS, np.ones(trials)) | given


def days_of(made, **factors):
    return made.at(drawn(**factors))[0].tolist()


def minutes_of(made, **factors):
    return made.minutes(drawn(**factors)).tolist()


BY_WORK, BY_WEATHER = {0.5: 0, 1.0: 10, 2.0: 50}, {0.5: 0, 1.0: 1, 2.0: 7}


def test_figures_between_four_plans():
    """0, 10 and 50 days by productivity and 0, 1 and 7 by weather: half of the first steps is 5 +
    0.5, of the second 30 + 4; a quarter of the first is 2.5; at a level its own, beyond the last
    all of it."""
    plans = PlansByHand(lambda at: BY_WORK[at.productivity] + BY_WEATHER[at.weather])
    made = Surface(plans, spans(productivity=(0.5, 2.0), weather=(0.5, 2.0)), 0.0)
    work, weather = [0.75, 1.5, 0.625, 1.0, 9.0], [0.75, 1.5, 0.5, 2.0, 9.0]
    assert days_of(made, productivity=work, weather=weather) == [5.5, 34.0, 2.5, 17.0, 57.0]


def test_minutes_of_three_factors_together():
    """150 at half as slow again; handling 20 more, times 1.5; rework 10 more of 100, of 150."""
    plans = PlansByHand(lambda at: 1, lambda at: 100 * at.productivity + 40 * (at.handling - 1)
                        + 10 * (at.rework - 1))  # fmt: skip
    ranges = spans(productivity=(0.5, 2.0), cycle_handling=(1.0, 2.0), rework=(1.0, 3.0))
    made = Surface(plans, ranges, 0.0)
    found = minutes_of(made, productivity=[1.5], cycle_handling=[1.5], rework=[2.0])
    assert found == pytest.approx([150 + 30 + 15])


@each("work, handling, rework, least, most", [
    ((1.0, 1.0), (1.0, 2.0, 40.0), (1.0, 2.0, 10.0), 100, 155),
    ((0.8, 1.5), (0.5, 1.0, 20.0), (1.0, 1.0, 0.0), 73, 140),
    ((0.8, 1.5), (1.0, 1.0, 0.0), (1.0, 1.0, 0.0), 84, 140),
    ((1.0, 1.5), (1.0, 2.0, 40.0), (1.0, 1.0, 0.0), 100, 206),
    ((0.8, 1.0), (0.5, 1.0, 100.0), (1.0, 1.0, 0.0), 52, 100),
])  # fmt: skip
def test_plans_reach_as_far_as_all_factors_together(work, handling, rework, least, most):
    """A crew a quarter slower takes a fifth longer: 0.8 of it. The others' 40 and 10 % and a tenth
    of them more are 1 + 0.55 / 0.8; with 40 % from 1.5 on, 1.5 + 0.44 x 1.5 / 0.8 = 2.325. A tenth
    less from 0.8: 0.8 - 0.11 / 0.8 = 0.6625; half less would be 0.11, no less than 0.4 is planned.
    """
    plans = PlansByHand(
        lambda at: 1,
        lambda at: 20 + 80 * at.productivity + handling[2] * (at.handling - 1)
        + rework[2] * (at.rework - 1),
    )  # fmt: skip
    made = Surface(plans, spans(productivity=work, cycle_handling=handling[:2],
                                rework=rework[:2]), 0.0)  # fmt: skip
    assert minutes_of(made, productivity=[0.01, 99.0]) == pytest.approx([least, most])


def test_work_that_a_slower_crew_does_not_lengthen_is_planned_as_it_is():
    plans = PlansByHand(lambda at: 1, lambda at: 100 + 40 * (at.handling - 1))
    made = Surface(plans, spans(cycle_handling=(1.0, 2.0)), 0.0)
    assert minutes_of(made, productivity=[0.01, 99.0]) == [100.0, 100.0]


def one_change(base, slow, wet, both=None, by=(1.0, 3.0)):
    """Return figures at levels of productivity 1 to 2 and of weather: lines alone, ends by hand."""

    def figure(at):
        if at.productivity == 1.0 or at.weather == 1.0:
            share = (at.weather - by[0]) / (by[1] - by[0])
            return base + (slow - base) * (at.productivity - 1) + (wet - base) * share
        assert (at.productivity, at.weather) == (2.0, by[1]), "planned one change at a time"
        return both

    return figure


BOTH_ENDS = spans(productivity=(1.0, 2.0), weather=(1.0, 3.0))


def test_two_changes_at_once_multiply():
    """150 slower, 1.2 times in the rain: 180; what is nothing as planned adds up, 10 and 5."""
    plans = PlansByHand(one_change(100, 150, 120), damages=one_change(0, 10, 5), runs=2001)
    days, _, damages = Surface(plans, BOTH_ENDS, 0.0).at(drawn(productivity=[2.0], weather=[3.0]))
    assert (days[0], damages[0]) == (180.0, 15.0)


def test_what_two_changes_do_beyond_their_product_is_planned_at_their_ends():
    """200 at both ends, 180 by the product: 20 more there; 10 halfway to either end, on 125 x 1.2
    and 150 x 1.1; 5 halfway to both, on 125 x 1.1; none where one is as planned."""
    made = Surface(PlansByHand(one_change(100, 150, 120, both=200), runs=66), BOTH_ENDS, 0.0)
    found = days_of(made, productivity=[2.0, 1.5, 2.0, 1.5, 2.0, 1.0],
                    weather=[3.0, 3.0, 2.0, 2.0, 1.0, 3.0])  # fmt: skip
    assert found == pytest.approx([200.0, 160.0, 175.0, 142.5, 150.0, 120.0])


def test_beyond_the_ends_of_productivity_their_effect_holds():
    """Handling up to 40 % more reaches to 2 + 0.44 x 2 = 2.88: 194 x 1.2 and the 20 of the end."""
    plans = PlansByHand(one_change(100, 150, 120, both=200),
                        lambda at: 100 * at.productivity + 40 * (at.handling - 1))  # fmt: skip
    made = Surface(plans, [*BOTH_ENDS, *spans(cycle_handling=(1.0, 2.0))], 0.0)
    assert days_of(made, productivity=[2.88], weather=[3.0]) == pytest.approx([194 * 1.2 + 20])


@each("base, runs, both", [(40, 2001, 99.0), (41, 2000, 99.0), (41, 2001, 73.8), (41, 67, 99.0)])
def test_a_short_job_is_planned_at_all_levels_and_a_long_one_with_one_change_at_a_time(
    base, runs, both
):
    """Of 41 days 61.5 slower and 1.2 times in the rain are 73.8; the plan of both says 99."""
    plans = PlansByHand(one_change(base, 1.5 * base, 1.2 * base, both=99), runs=runs)
    found = days_of(Surface(plans, BOTH_ENDS, 0.0), productivity=[2.0], weather=[3.0])
    assert found == pytest.approx([both])


def test_a_short_job_is_planned_between_its_levels_too():
    """7 at 1.5 and 2, where one change at a time gives 11 x 1.1."""
    plans = PlansByHand(lambda at: 7 if (at.productivity, at.weather) == (1.5, 2.0) else 10,
                        runs=66)  # fmt: skip
    made = Surface(plans, BOTH_ENDS, 0.0)
    assert days_of(made, productivity=[1.5], weather=[2.0]) == [7.0]


@each("runs, work, weather", [
    (19, [1.0, 1.25, 1.5, 1.75, 2.0], [0.5, 0.625, 0.75, 0.875, 1.0, 1.25, 1.5, 1.75, 2.0]),
    (20, [1.0, 1.5, 2.0], [0.5, 0.75, 1.0, 1.5, 2.0]), (66, [1.0, 1.5, 2.0],
                                                        [0.5, 0.75, 1.0, 1.5, 2.0]),
    (67, [1.0, 2.0], [0.5, 1.0, 2.0]),
])  # fmt: skip
def test_steps_between_plans_are_finer_for_fewer_runs(runs, work, weather):
    """Twice halved, once, not at all; as planned is among the levels, and alone without a range."""
    plans = PlansByHand(lambda at: 50, runs=runs)
    Surface(plans, spans(productivity=(1.0, 2.0), weather=(0.5, 2.0)), 0.0)
    assert sorted({at.productivity for at in plans.asked}) == work
    assert sorted({at.weather for at in plans.asked}) == weather
    assert {(at.handling, at.rework) for at in plans.asked} == {(1.0, 1.0)}


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
    """Laid out alone, nothing is paid and nothing costs; the days are the same."""
    asked = []
    monkeypatch.setattr(surface, "lay_out_job", lambda *of, **how: asked.append(how) or (
        lay_out_job(*of, **how)
    ))  # fmt: skip
    made, shared, slow = job(run("A", segments_m=(600.0,))), Shared(NO_PLACES), Level(2.0)
    priced, laid = Plans(estimate(made), shared), Plans(lay_out_job(made, shared), shared)
    for plans, costs in ((priced, True), (laid, False)):
        one = plans.at(slow)
        assert plans.at(slow) is one
        assert (len(plans), any(one.costs)) == (2, costs)
        assert one.minutes > plans.at(Level()).minutes
    assert priced.at(slow).days == laid.at(slow).days
    assert asked == [{"paid": False}]
