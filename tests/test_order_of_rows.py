"""The order of the rows is no input: a schedule turned around, or split, costs the same."""

import random

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from estimator.joint.takeoff import count_job
from estimator.models.job import by_name
from estimator.pipeline import estimate
from estimator.units import FT_M
from tests.jobs import job, run

SIZES = ("4", "8", "12", "24")


def schedule(seed: int, count: int = 9):
    chance = random.Random(seed)
    return [
        run(
            f"R{number}",
            size=chance.choice(SIZES),
            segments_m=(round(chance.uniform(40, 700), 1),),
            elbows=chance.randint(0, 3),
            tie_ins=chance.randint(0, 2),
            priority=chance.choice((None, None, 1, 2)),
        )
        for number in range(1, count + 1)
    ]


def test_names_are_ordered_with_their_numbers():
    names = ["R10", "r2b", "R2", "A1"]
    ordered = sorted((run(name) for name in names), key=by_name)
    assert [one.run_id for one in ordered] == ["A1", "R2", "r2b", "R10"]


@settings(max_examples=25)
@given(st.integers(0, 10_000), st.integers(1, 3), st.randoms(use_true_random=False))
def test_the_price_does_not_depend_on_the_order_of_rows(seed, crews, shuffler):
    rows = schedule(seed)
    mixed = list(rows)
    shuffler.shuffle(mixed)
    first, second = (
        estimate(job(*some, crews=crews, rework_share=0.037)) for some in (rows, mixed)
    )
    assert first.bid == second.bid
    reworks = [
        {one.run_id: one.counts.rework_joints for one in found.runs} for found in (first, second)
    ]
    assert reworks[0] == reworks[1]


def test_rework_of_like_pipe_stands_where_the_joints_reach_a_whole_one():
    """3 % of 10, 50 and 100 joints are 0.3, 1.5 and 3.0: up to R1 1, up to R2 2, up to R3 3."""
    rows = [run(f"R{n}", segments_m=(6.0 * (joints + 1),), stick_length_m=6.0)
            for n, joints in ((1, 10), (2, 40), (3, 50))]  # fmt: skip
    for order in (rows, rows[::-1]):
        found = estimate(job(*order, rework_share=0.03))
        made = {one.run_id: one.counts.rework_joints for one in found.runs}
        assert made == {"R1": 1, "R2": 1, "R3": 1}


def test_rework_goes_by_size_from_the_largest_joints_on():
    """3 % of 30 joints of 12 in and 50 of 8 in, 2.4, 3 altogether: 12 in takes ceil(0.9) = 1, 8 in
    ceil(2.4) - 1 = 2. With 34 of 12 in it is ceil(1.02) = 2, and 8 in keeps ceil(2.52) - 2 = 1."""

    def made(joints):
        rows = [run("R1", size="8", segments_m=(6.0 * 51,), stick_length_m=6.0),
                run("R2", size="12", segments_m=(6.0 * (joints + 1),),
                stick_length_m=6.0)]  # fmt: skip
        found = estimate(job(*rows, rework_share=0.03))
        return {one.run_id: one.counts.rework_joints for one in found.runs}

    assert made(30) == {"R1": 2, "R2": 1}
    assert made(34) == {"R1": 1, "R2": 2}


@given(
    st.lists(st.tuples(st.sampled_from(SIZES), st.integers(1, 60)), min_size=2, max_size=6),
    st.floats(0.005, 0.3), st.data(),
)  # fmt: skip
def test_a_joint_more_never_takes_rework_from_a_dearer_pipe(rows, share, data):
    """Whatever one joint of a size costs, as long as that of a larger size costs no less."""
    runs = [run(f"R{n}", size=size, segments_m=(6.0 * (joints + 1),), stick_length_m=6.0)
            for n, (size, joints) in enumerate(rows)]  # fmt: skip
    at = data.draw(st.integers(0, len(rows) - 1))
    longer = [one.model_copy(update={"segments_m": (one.length[0] + 6.0,)}) if n == at else one
              for n, one in enumerate(runs)]  # fmt: skip
    counting = job(rework_share=share).counting
    few, more = (
        dict(zip((one.run_id for one in some), count_job(some, counting), strict=True))
        for some in (runs, longer)
    )
    from_size = 0
    for size in reversed(SIZES):
        names = [one.run_id for one in runs if one.size == size]
        from_size += sum(more[name].rework_joints - few[name].rework_joints for name in names)
        assert from_size in (0, 1)


@settings(max_examples=12, deadline=None)
@given(st.lists(st.sampled_from(SIZES), min_size=2, max_size=4), st.integers(2, 30), st.data())
def test_the_price_does_not_fall_when_a_joint_is_added(sizes, joints, data):
    runs = [run(f"R{n}", size=size, segments_m=(6.0 * (joints + n),), stick_length_m=6.0)
            for n, size in enumerate(sizes)]  # fmt: skip
    at = data.draw(st.integers(0, len(sizes) - 1))
    longer = [one.model_copy(update={"segments_m": (one.length[0] + 6.0,)}) if n == at else one
              for n, one in enumerate(runs)]  # fmt: skip
    few, more = (estimate(job(*some, rework_share=0.11)) for some in (runs, longer))
    assert more.bid.price > few.bid.price


def test_a_length_in_feet_costs_what_it_costs_in_meters():
    meters = [run(segments_m=(304.8,), stick_length_m=15.24), run("R2", segments_m=(609.6,))]
    feet = [
        run(segments_m=(1000 * FT_M,), stick_length_m=50 * FT_M),
        run("R2", segments_m=(2000 * FT_M,)),
    ]
    assert estimate(job(*meters)).bid == estimate(job(*feet)).bid


@pytest.mark.parametrize("count", [2, 5, 14])
def test_segments_of_one_row_cost_what_as_many_rows_cost(count):
    """The machine is moved between them all the same."""
    one = run("R1", segments_m=(60.0,) * count)
    rows = [run(f"R{number}", segments_m=(60.0,)) for number in range(1, count + 1)]
    in_row, in_rows = (estimate(job(*some, rework_share=0.0)) for some in ([one], rows))
    assert in_row.plan.crew_days[-1].date == in_rows.plan.crew_days[-1].date
    assert in_row.bid.price == in_rows.bid.price


def test_a_move_between_segments_takes_its_minutes():
    """Two segments of 11 joints beside one of 22: one move of 30 minutes more."""
    two, one = (
        estimate(job(run(length=lengths, stick_length_m=10.0), rework_share=0.0)).plan
        for lengths in ((120.0, 120.0), (230.0,))
    )
    spent = [sum(line.minutes for line in plan.lines) for plan in (two, one)]
    assert sum(line.joints for line in two.lines) == sum(line.joints for line in one.lines) == 22
    assert spent[0] - spent[1] == pytest.approx(30.0)
    assert [move for line in two.lines for move in line.moves] == ["move"]
