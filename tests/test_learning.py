"""Learned pace: by hand, against a truth that is known, and what one wild day does."""

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from estimator.progress.control_chart import p_chart
from estimator.progress.learning import (
    Observation,
    Prior,
    factor_from_count,
    factor_from_times,
    learn,
)
from estimator.progress.learning_draws import draw_paces, draw_shares

SIZE = "24 in"


def shifts(size, factors):
    return [Observation(size, factor) for factor in factors]


def test_without_observations_the_prior_stands():
    learned = learn([], Prior(pace=1.1))
    assert learned.size(SIZE).factor == pytest.approx(1.1)
    assert learned.size(SIZE).sd == pytest.approx(math.hypot(0.30, 0.08))


def test_one_size_by_hand():
    # Two shifts on the mark of 1.0: no distance, so every weight is 5/4 and stays there.
    # Variance: (8 x 0.12^2 + 0) / (8 + 2) = 0.01152; shifts count 2.5; size weight
    # 2.5 / (2.5 + 0.01152 / 0.0064) = 2.5 / 4.3 = 0.5814 (worked by hand).
    pace = learn(shifts(SIZE, [1.0, 1.0]), Prior()).size(SIZE)
    assert pace.weight == pytest.approx(2.5 / 4.3, abs=1e-9)
    assert pace.mean == pytest.approx(0.0, abs=1e-12)
    # The job: 1 / (1 / 0.09 + 1 / (0.0064 + 0.004608)) = 0.009808; the size: 0.0064 x 0.418605
    # + 0.418605^2 x 0.009808 = 0.004398, of which the root is 0.066316 (worked by hand).
    assert pace.sd == pytest.approx(0.066316, abs=1e-6)


def test_the_first_round_by_hand(monkeypatch):
    """One shift whose logarithm is 1, of weight 1 at first and a variance of 0.0144.

    The job is then at 48.0769 / (11.1111 + 48.0769) = 0.81228 and the size, of weight 1 / 3.25,
    at 0.87004: 0.016890 from it squared, 1.17292 variances, so that its weight is 5 / 5.17292 =
    0.96657. Variance: (8 x 0.0144 + 0.96657 x 0.016890) / 9 = 0.0146139.
    """
    monkeypatch.setattr("estimator.progress.learning.ROUNDS", 1)
    learned = learn(shifts(SIZE, [math.e]), Prior())
    assert learned.shift_sd**2 == pytest.approx(0.0146139, abs=1e-7)
    assert learned.size(SIZE).weight == pytest.approx(0.96657 / (0.96657 + 2.28342), abs=1e-5)


def test_sizes_that_do_not_differ_have_the_pace_of_the_job():
    """Its own shifts have no weight, and its spread is that of the job; none seen, none counted."""
    learned = learn(shifts(SIZE, [1.2, 1.3]), Prior(size_sd=0.0))
    pace = learned.size(SIZE)
    assert (pace.weight, pace.mean) == (0.0, learned.job_mean)
    assert pace.sd == pytest.approx(learned.job_sd)
    assert (pace.shifts, learned.size("10 in").shifts) == (2, 0)


@given(st.lists(st.floats(0.5, 2.0), min_size=1, max_size=20), st.floats(0.7, 1.4))
def test_the_pace_of_a_size_is_the_printed_mixture(factors, pace):
    learned = learn(shifts(SIZE, factors), Prior(pace=pace))
    size = learned.size(SIZE)
    mixed = size.weight * size.observed + (1 - size.weight) * learned.job_mean
    assert size.mean == pytest.approx(mixed)
    low, high = min([pace, *factors]), max([pace, *factors])
    assert low * (1 - 1e-9) <= size.factor <= high * (1 + 1e-9)


def test_the_pace_is_within_two_percent_of_the_truth_after_many_shifts():
    rng = np.random.default_rng(7)
    truth = {"10 in": 1.20, "24 in": 1.35}
    seen = [
        Observation(size, factor * math.exp(rng.normal(0, 0.10)))
        for size, factor in truth.items()
        for _ in range(150)
    ]
    learned = learn(seen, Prior())
    for size, factor in truth.items():
        assert learned.size(size).factor == pytest.approx(factor, rel=0.02)


def test_a_size_not_yet_begun_borrows_from_the_job():
    learned = learn(shifts("10 in", [1.3] * 20), Prior())
    assert 1.2 < learned.size("24 in").factor < 1.3
    assert learned.size("24 in").sd > learned.size("10 in").sd


def test_one_wild_day_moves_the_pace_little():
    usual = [0.95, 1.0, 1.05, 1.0, 0.98, 1.02, 1.0, 1.03, 0.97, 1.0]
    before = learn(shifts(SIZE, usual), Prior()).size(SIZE).factor
    after = learn(shifts(SIZE, [*usual, 3.0]), Prior()).size(SIZE).factor
    plain_mean = math.exp(math.log(3.0) / 11)
    assert after / before < 1 + (plain_mean - 1) / 3


@pytest.mark.parametrize("factor", [0.0, -1.0, math.nan])
def test_a_pace_must_be_above_zero(factor):
    with pytest.raises(ValueError, match="above 0"):
        learn(shifts(SIZE, [factor]), Prior())


def test_factors_from_times_and_counts_by_hand():
    # 500 min worked, 8 joints of 30 min machine time and 25 min crew time: 260 / 200 = 1.3
    assert factor_from_times(500.0, 8 * 30.0, 8 * 25.0) == pytest.approx(1.3)
    # 505 min, 10 joints: 505 / 10.5 - 30 = 18.095; over 19 gives 0.9524 (worked by hand)
    assert factor_from_count(505.0, 10, 30.0, 19.0) == pytest.approx(0.9524, abs=5e-5)
    assert factor_from_count(505.0, 20, 30.0, 19.0) is None
    with pytest.raises(ValueError, match="says nothing"):
        factor_from_times(200.0, 240.0, 100.0)


def test_counts_are_unbiased_on_average():
    rng = np.random.default_rng(3)
    factors = []
    for _ in range(4000):
        cycle = 30.0 + 25.0 * math.exp(rng.normal(0, 0.12))
        factors.append(factor_from_count(505.0, int(505.0 // cycle), 30.0, 25.0))
    assert np.exp(np.mean(np.log(factors))) == pytest.approx(1.0, abs=0.02)


def test_draws_have_the_learned_spread_and_move_together():
    learned = learn(shifts("10 in", [1.1] * 6), Prior())
    drawn = draw_paces(np.random.default_rng(1), learned, ["10 in", "24 in"], 40_000)
    logs = {size: np.log(values) for size, values in drawn.items()}
    assert logs["10 in"].mean() == pytest.approx(learned.size("10 in").mean, abs=2e-3)
    wider = learned.freedom / (learned.freedom - 2)
    assert logs["24 in"].var() == pytest.approx(learned.size("24 in").sd ** 2 * wider, rel=0.03)
    assert np.corrcoef(logs["10 in"], logs["24 in"])[0, 1] > 0.1


def test_shares_follow_what_was_seen():
    rng = np.random.default_rng(2)
    # Beta with 200 x 0.02 + 11 of 200 + 300 joints: mean 15 / 500 = 0.03 (worked by hand)
    assert draw_shares(rng, 0.02, 200, 11, 300, 40_000).mean() == pytest.approx(0.03, rel=0.02)
    assert draw_shares(rng, 0.0, 200, 0, 300, 5).tolist() == [0.0] * 5
    with pytest.raises(ValueError, match="not possible"):
        draw_shares(rng, 0.02, 200, 3, 2, 1)


def test_control_limits_by_hand():
    # 100 joints, 4 rejects: p = 0.04; 3 sqrt(0.04 x 0.96 / 50) = 0.08314 (worked by hand)
    joints = [False] * 46 + [True] * 4 + [False] * 50
    first, second = p_chart(joints)
    assert (first.share, second.share) == (0.08, 0.0)
    assert first.upper == pytest.approx(0.12314, abs=5e-6)
    assert first.lower == 0.0
    assert not first.out_of_control


def test_a_bad_group_is_out_of_control():
    joints = [False] * 450 + [True] * 12 + [False] * 38
    assert [point.out_of_control for point in p_chart(joints)] == [False] * 9 + [True]
    assert p_chart([]) == ()
    assert len(p_chart([False] * 70)) == 1
