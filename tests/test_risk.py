"""Risk: draws against closed forms, the model against the planner, figures against themselves."""

import subprocess
import sys
from dataclasses import replace
from itertools import pairwise

import numpy as np
import pytest
from hypothesis import example, given, settings
from hypothesis import strategies as st

from estimator import estimate
from estimator.cost import make_bid
from estimator.cost.markup import ALL_TYPES, markup
from estimator.cost.rates import DIRECT
from estimator.joint.shared import Shared
from estimator.models.estimate import CostLine, Quantity
from estimator.models.kinds import RISK_FACTORS
from estimator.models.places import Places
from estimator.models.risk import NoRisk, Risk
from estimator.models.risk_ranges import RiskRange
from estimator.risk import figures
from estimator.risk.draws import draw, draw_chunks
from estimator.risk.surface import Level, Plans, Surface, cost_by_type, job_at
from estimator.study import add_ranges
from tests.jobs import job, rate_of, rates, run

WIDE = {
    "productivity": (0.85, 1.4), "cycle handling": (0.9, 1.25), "rework": (0.5, 2.5),
    "weather": (0.5, 2.0), "fuel price": (0.85, 1.3), "rental": (0.95, 1.15),
    "wages": (0.97, 1.1),
}  # fmt: skip
SIZES = ("4", "8", "12", "24")


def span(factor="productivity", low=0.8, likely=1.0, high=1.2, shape="PERT"):
    return RiskRange(factor=factor, low=low, likely=likely, high=high, shape=shape)


def risky(spans, runs=12, **facts):
    """A job of several sizes with weather and ranges."""
    made = [
        run(f"R{i}", size=SIZES[i % 4], segments_m=(60.0 + 37 * (i % 9),), elbows=i % 3)
        for i in range(runs)
    ]
    plain = job(*made, **facts)
    wet = tuple(month.model_copy(update={"lost_share": 0.08}) for month in plain.weather)
    return plain.model_copy(update={"weather": wet, "risk_ranges": tuple(spans)})


def wide():
    return [span(factor, low, 1.0, high) for factor, (low, high) in WIDE.items()]


def drawn(spans, runs=12, **facts):
    found = add_ranges(estimate(risky(spans, runs, **facts)))
    assert isinstance(found.risk, Risk)
    return found


# Closed forms of the distributions: PERT mean (a + 4m + b) / 6; triangular mean (a + m + b) / 3 and
# sd = sqrt((a^2 + b^2 + m^2 - ab - am - bm) / 18). The variance of the beta form of PERT is
# (mean - a)(b - mean) / 7 (variance of a beta distribution whose parameters add up to 6).
@pytest.mark.parametrize(
    ("a", "m", "b"), [(0.8, 1.0, 1.2), (0.85, 1.0, 1.4), (1.0, 1.0, 2.0), (0.5, 1.9, 2.0)]
)
@pytest.mark.parametrize("shape", ["PERT", "triangular"])
def test_draws_have_the_moments_of_their_closed_form(a, m, b, shape):
    count = 200_000
    values = draw(np.random.default_rng(5), span(low=a, likely=m, high=b, shape=shape), count)
    if shape == "PERT":
        mean = (a + 4 * m + b) / 6
        variance = (mean - a) * (b - mean) / 7
    else:
        mean = (a + m + b) / 3
        variance = (a * a + b * b + m * m - a * b - a * m - b * m) / 18
    assert values.mean() == pytest.approx(mean, abs=5 * (variance / count) ** 0.5)
    assert values.var() == pytest.approx(variance, rel=0.02)
    assert a <= values.min()
    assert values.max() <= b


def test_streams_are_independent_and_chunks_join():
    chunks = list(draw_chunks(wide(), 45_000, 3))
    assert [len(chunk["wages"]) for chunk in chunks] == [20_000, 20_000, 5_000]
    whole = np.array([np.concatenate([chunk[f] for chunk in chunks]) for f in RISK_FACTORS])
    between = np.corrcoef(whole) - np.eye(len(RISK_FACTORS))
    assert np.abs(between).max() < 5 / 45_000**0.5
    fewer = next(draw_chunks([span("wages", *WIDE["wages"][:1], 1.0, 1.1)], 45_000, 3))
    assert (fewer["wages"] == chunks[0]["wages"]).all()
    assert (fewer["rental"] == 1).all()


shares = st.integers(0, 60).map(lambda n: n / 200)


@settings(max_examples=300)
@example(232104, 0.18, 0.295, 0.0, 0.2, "markup on cost")
@given(
    st.integers(0, 10**9), shares, shares, shares, shares,
    st.sampled_from(["markup on cost", "margin on price"]),
)  # fmt: skip
def test_vectorised_chain_is_that_of_the_bid(
    cost_cents, overhead, contingency, profit, bond, basis
):
    markups = rates(
        office_overhead=overhead, contingency=contingency, profit=profit, bond=bond,
        profit_basis=basis,
    )  # fmt: skip
    amount = cost_cents / 100
    line = CostLine(
        "k", DIRECT, "Fuel", "x", "y", Quantity(1.0), "L",
        rate_of(amount),
    )  # fmt: skip
    bid = make_bid(markups, [line])
    found = markup({ALL_TYPES: (many := np.array([amount, amount]))}, many, 0.0, markups).price
    assert found == pytest.approx([float(bid.price)] * 2, abs=1e-6)


def test_ranges_without_width_give_exactly_the_plan():
    found = drawn([span(factor, 1.0, 1.0, 1.0) for factor in RISK_FACTORS])
    got = found.risk
    assert {line.price for line in got.lines} == {got.bare_price}
    assert {line.finish for line in got.lines} == {found.plan.finish}
    assert {line.job_cost for line in got.lines} == {float(found.bid.job_cost)}
    assert got.average_price == got.bare_price
    assert got.needed_contingency == 0
    assert all(swing.low_price == swing.high_price == got.bare_price for swing in got.swings)
    assert got.price_bins[0].trials == got.trials


@pytest.mark.parametrize(
    ("jobs", "facts"),
    [((8,), {}), ((32, 36, 40, 44), {"crews": 3}), ((40,), {"machines_per_crew": 2}), ((90,), {}),
     ((91,), {})],
    ids=["small", "three crews", "two machines", "coarse steps", "one change at a time"],
)  # fmt: skip
def test_interpolation_stays_near_plans_made_anew(monkeypatch, jobs, facts):
    """Reference: the planner itself at drawn factors, with rental, fuel and labor of that plan.

    Jobs of so many runs. Where crews share them a plan more or less lucky moves all draws of a job
    by a percent or two, either way, and the finish of one draw in fifty by 3 to 6 days: the mean is
    that of several jobs.
    """
    most_days = 6.0 if "crews" in facts else 3.0
    monkeypatch.setattr("estimator.risk.surface.MOST_CROSSED", 90)
    names = ("productivity", "cycle handling", "rework", "weather")
    miss_days, miss_cost = [], []
    for runs in jobs:
        found = estimate(risky(wide(), runs, **facts))
        plans = Plans(found, Shared(Places()))
        surface = Surface(plans, found.job.risk_ranges, figures.rework_cost(found))
        for seed in (11, 12):
            some = next(draw_chunks(found.job.risk_ranges, 25, seed))
            days, by_type, _ = surface.at(some)
            costs = sum(by_type.values())
            for i in range(25):
                at = plans.at(Level(*(float(some[name][i]) for name in names)))
                true = sum(cost_by_type(at.costs, {name: some[name][i] for name in some}).values())
                miss_days.append(days[i] - at.days)
                miss_cost.append(costs[i] / true - 1)
                assert abs(miss_days[-1]) < max(most_days, 0.06 * days.max())
    assert abs(np.mean(miss_cost)) < 0.015
    assert np.abs(miss_cost).max() < 0.07
    assert np.mean(np.abs(miss_days) > max(3.0, 0.06 * days.max())) < 0.03
    assert abs(np.mean(miss_days)) < 1.0


def assert_nearly_alike(few, full, of_price):
    """Prices within a share of each other, finishes within three days, and the same swings."""
    assert few.swings == full.swings
    for one, other in zip(few.lines, full.lines, strict=True):
        assert one.price == pytest.approx(other.price, rel=of_price)
        assert abs((one.finish - other.finish).days) <= 3


@pytest.mark.parametrize(("runs", "facts"), [(30, {}), (40, {"machines_per_crew": 2})])
def test_one_change_at_a_time_gives_nearly_the_figures_of_all_levels_together(
    monkeypatch, runs, facts
):
    """Reference: the ranges from a plan of every level of productivity with every weather, which
    miss a full plan of each draw by 0.8 % of the price (root mean square)."""
    found = estimate(risky(wide(), runs, **facts))
    few = add_ranges(found).risk
    monkeypatch.setattr("estimator.risk.surface.SHORT_DAYS", 10_000)
    full = add_ranges(found).risk
    assert (few.plans, full.plans) == (21, 49)
    assert_nearly_alike(few, full, of_price=0.005)


def test_of_a_large_job_fewer_plans_give_nearly_the_same_figures(monkeypatch):
    """Reference: the ranges of the same job with the plans of all levels together."""
    found = estimate(risky(wide(), 200))
    full = add_ranges(found).risk
    monkeypatch.setattr("estimator.risk.surface.MOST_CROSSED", 199)
    few = add_ranges(found).risk
    assert (full.plans, few.plans) == (15, 11)
    assert_nearly_alike(few, full, of_price=0.003)


def test_levels_change_what_they_say_and_nothing_else():
    plain = risky([])
    assert job_at(plain, Level()) == plain
    slow = job_at(plain, Level(productivity=1.25))
    assert slow.shift.efficiency == pytest.approx(plain.shift.efficiency / 1.25)
    assert slow.moves.machine_move_min == pytest.approx(1.25 * plain.moves.machine_move_min)
    assert slow.task_times == plain.task_times
    handled = job_at(plain, Level(handling=2.0))
    for before, after in zip(plain.task_times, handled.task_times, strict=True):
        crew_paced = before.applies_to == "butt joint" and before.paced_by == "crew"
        assert after.min_c == before.min_c * (2 if crew_paced else 1)
    assert job_at(plain, Level(weather=50.0)).weather[0].lost_share == 0.9


def test_middle_is_near_the_plan_when_ranges_are_symmetric():
    found = drawn([span(f, 0.9, 1.0, 1.1) for f in RISK_FACTORS], runs=40)
    middle = next(line for line in found.risk.lines if line.share == 0.5)
    assert middle.price == pytest.approx(found.risk.bare_price, rel=0.015)
    assert abs((middle.finish - found.plan.finish).days) <= 4
    assert found.risk.lines[0].price < middle.price < found.risk.lines[-1].price


def test_another_seed_agrees_within_the_stated_error():
    results = [drawn(wide(), risk_seed=seed).risk for seed in (1, 2, 3, 4)]
    assert len({r.lines[1].price for r in results}) == 4
    for first, second in pairwise(results):
        for a, b in zip(first.lines, second.lines, strict=True):
            both = (a.price_error**2 + b.price_error**2) ** 0.5
            assert abs(a.price - b.price) < 4.5 * both
    again = drawn(wide(), risk_seed=1).risk
    assert again == results[0]


@pytest.mark.parametrize("share", [0.1, 0.5, 0.8])
def test_standard_error_is_that_of_repeated_samples(share):
    """Reference: the spread of the quantile over 400 samples of 2,000 skewed values each."""
    samples = np.sort(np.random.default_rng(7).gamma(4.0, size=(400, 2000)), axis=1)
    spread = samples[:, int(share * 2000) - 1].std(ddof=1)
    stated = np.mean([figures.standard_error(sample, share) for sample in samples])
    assert stated == pytest.approx(spread, rel=0.12)


@pytest.mark.parametrize("factor", RISK_FACTORS)
def test_price_rises_with_every_factor(factor):
    low, high = (
        drawn([span(factor, at, at, at)], runs=40).risk.lines[1].price for at in (1.0, 1.3)
    )
    assert high > low
    (swing,) = drawn([span(factor, 0.8, 1.0, 1.4)], runs=40).risk.swings
    assert swing.low_price < swing.high_price


def test_needed_contingency_covers_the_chosen_share():
    found = drawn(wide(), risk_share=0.9)
    p90 = next(line for line in found.risk.lines if line.share == 0.9)
    assert float(found.bid.job_cost) + found.risk.needed_contingency == pytest.approx(p90.job_cost)
    assert sum(b.trials for b in found.risk.price_bins) == found.risk.trials
    assert found.risk.price_bins[-1].share_so_far == pytest.approx(1.0)
    assert found.risk.finish_shares[-1].share_so_far == 1.0
    steps = [b.share_so_far for b in found.risk.price_bins]
    assert steps == sorted(steps)


def test_the_share_at_or_below_the_bid_is_the_share_that_the_contingency_covers():
    asked = risky(wide(), 12).model_copy(
        update={"rates": rates(contingency=0.06, office_overhead=0.1, profit=0.1)}
    )
    found = add_ranges(estimate(asked))
    plans = Plans(found, Shared(Places()))
    surface = Surface(plans, asked.risk_ranges, figures.rework_cost(found))
    trials = figures.run_trials(found, surface)
    covered = float(found.bid.job_cost) + float(found.bid.contingency)
    by_cost = np.mean(trials.job_cost <= covered + 1e-6)
    by_price = np.mean(trials.price <= float(found.bid.price) + 1e-6)
    assert 0.2 < by_cost < 0.98
    assert found.risk.covered_share == by_cost == by_price


def test_a_trial_price_by_hand():
    """Cost 1000, overhead 10 % 100, contingency 6 % 60, profit 10 %: bid 1276.00.

    A trial of 1060 uses up the contingency: (1060 + 100) x 1.1 = 1276.00, the bid price; without
    a contingency the plan itself comes to (1000 + 100) x 1.1 = 1210.00 (worked by hand).
    """
    rich = rates(contingency=0.06, office_overhead=0.1, profit=0.1, bond=0.0)
    whole = job().model_copy(update={"rates": rich})
    line = CostLine("k", DIRECT, "Fuel", "x", "y", Quantity(1.0), "L", rate_of(1000.0))
    found = replace(drawn(wide()), job=whole, bid=make_bid(whole.rates, [line]))
    assert float(found.bid.price) == 1276.0
    assert figures.price_of({"other": 1060.0}, 0.0, found) == 1276.0
    assert figures.price_of({"other": 1000.0}, 0.0, found) == 1210.0
    # Of it 100 liquidated damages without markup: (1060 + 100 - 100) x 1.1 + 100 = 1266.00.
    assert figures.price_of({"other": 1060.0}, 100.0, found) == 1266.0


def test_a_trial_price_by_hand_with_a_profit_by_type():
    """Wages 500 at 20 % profit, pipe 500 at 5 %; overhead 10 %, contingency 6 %.

    A trial with wages of 600: loaded 600 x 1.1 = 660 and 500 x 1.1 = 550, profit
    132 + 27.5 = 159.5 on 1210; overhead is that of the bid, 100: (1100 + 100) x 159.5 / 1210 =
    158.18, price 1358.18.
    """
    own = rates(contingency=0.06, office_overhead=0.1, profit=0.2, profit_materials=0.05, bond=0.0)
    whole = job().model_copy(update={"rates": own})
    lines = [CostLine("k", DIRECT, kind, "x", "y", Quantity(1.0), "L", rate_of(500.0))
             for kind in ("Labor", "Pipe")]  # fmt: skip
    found = replace(drawn(wide()), job=whole, bid=make_bid(whole.rates, lines))
    assert figures.price_of({"labor": 600.0, "materials": 500.0}, 0.0, found) == 1358.18


def test_ranges_without_width_give_the_plan_with_a_profit_by_type():
    plain = risky([span(factor, 1.0, 1.0, 1.0) for factor in RISK_FACTORS])
    own = plain.rates.model_copy(update={"profit_labor": 0.3, "contingency": 0.0})
    found = add_ranges(estimate(plain.model_copy(update={"rates": own})))
    assert {line.price for line in found.risk.lines} == {float(found.bid.price)}


def test_a_joint_that_no_longer_fits_a_shift_is_reported_and_not_guessed():
    found = add_ranges(estimate(risky([span("cycle handling", 1.0, 1.0, 10.0)])))
    assert isinstance(found.risk, NoRisk)
    assert "leaves only" in found.risk.reason


@pytest.mark.parametrize("change", [{"risk_trials": 0}, {}])
def test_no_ranges_or_no_trials_give_no_figures(change):
    spans = wide() if change else []
    found = add_ranges(estimate(risky(spans, **change)))
    assert isinstance(found.risk, NoRisk)
    assert "no ranges" in found.risk.reason


def test_numpy_is_loaded_only_for_risk():
    code = (
        "import sys, estimator, estimator.api, estimator.cli; "
        "assert 'numpy' not in sys.modules; from estimator.risk import figures; "
        "assert 'numpy' in sys.modules"
    )
    subprocess.run([sys.executable, "-c", code], check=True)
