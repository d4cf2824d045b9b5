"""Joint counts against a pipeline that is built piece by piece and counted by its links."""

import math
import random

import pytest
from hypothesis import given
from hypothesis import strategies as st

from estimator.joint.takeoff import count_job, count_joints, lengths_needed
from tests.jobs import job, run

MID_STICK, STICK_END = "cut in mid-stick", "set at stick end"
few = st.integers(0, 6)
lengths = st.lists(st.integers(1, 900), min_size=1, max_size=4)
LINKS_TO_OTHER_PIPE = {"tee": 1, "reducer": 1, "elbow": 0}


def build_line(run_, rule: str, seed: int) -> tuple[int, int]:
    """Lay the sticks and fittings of a run in order; return links between and fused ends.

    Every segment is a list of sticks and fittings, neighbors linked. A fitting in the line is
    put at a random place: in mid-stick it cuts that stick in two; at a stick end it goes
    between two sticks or at an end of the segment that joins on (then the next segment's pipe
    is its other neighbor, counted as a link to other pipe).
    """
    chance = random.Random(seed)
    lines = [["stick"] * lengths_needed(s, run_.stick_length_m) for s in run_.segments_m]
    outside = 0
    for kind, number in (("elbow", run_.elbows), ("tee", run_.tees)):
        for _ in range(number):
            line = chance.choice(lines)
            place = chance.randrange(len(line))
            if rule == MID_STICK:
                sticks = [i for i, piece in enumerate(line) if piece == "stick"]
                place = chance.choice(sticks)
                line[place : place + 1] = ["stick", kind, "stick"]
            else:
                line.insert(place + 1, kind)
            outside += LINKS_TO_OTHER_PIPE[kind]
    for kind, number in (
        ("reducer", run_.reducers),
        ("cap", run_.caps),
        ("adapter", run_.flange_adapters + run_.mj_adapters),
    ):
        for _ in range(number):
            chance.choice(lines).append(kind)  # one fused end towards this run's pipe
            outside += LINKS_TO_OTHER_PIPE.get(kind, 0)
    outside += run_.tie_ins
    links = sum(len(line) - 1 for line in lines) + outside
    fused_ends = sum(2 * len(line) - 2 for line in lines) + 2 * outside
    return links, fused_ends


@given(lengths, st.sampled_from([6, 12, 12.5, 18]), st.sampled_from([MID_STICK, STICK_END]),
       st.fixed_dictionaries({k: few for k in (
           "elbows", "tees", "reducers", "caps", "flange_adapters", "mj_adapters", "tie_ins")}),
       st.integers(0, 999))  # fmt: skip
def test_count_equals_the_links_of_the_line_laid_piece_by_piece(
    segments, stick, rule, fittings, seed
):
    run_ = run(segments_m=tuple(segments), stick_length_m=stick, reduce_to="6", **fittings)
    links, fused_ends = build_line(run_, rule, seed)
    count = count_joints(run_, rule)
    assert count.butt_joints == links
    assert 2 * count.butt_joints == fused_ends


# Chain rule and end table of the trade (common practice, no source).
@pytest.mark.parametrize(
    ("fittings", "added_mid_stick", "added_at_stick_end"),
    [({"elbows": 1}, 2, 1), ({"tees": 1}, 3, 2), ({"reducers": 1}, 2, 2), ({"caps": 1}, 1, 1),
     ({"flange_adapters": 1}, 1, 1), ({"mj_adapters": 2}, 2, 2), ({"branch_saddles": 3}, 0, 0),
     ({"ef_closures": 2}, 0, 0)],
)  # fmt: skip
def test_each_fitting_adds_its_ends(fittings, added_mid_stick, added_at_stick_end):
    run_ = run(segments_m=(300.0,), stick_length_m=12.0, **fittings)
    assert count_joints(run_, MID_STICK).butt_joints == 24 + added_mid_stick
    assert count_joints(run_, STICK_END).butt_joints == 24 + added_at_stick_end


def test_sticks_come_from_each_segment_not_from_the_sum():
    count = count_joints(run(segments_m=(13.0, 13.0), stick_length_m=12.0), MID_STICK)
    assert (count.sticks, count.stick_joints) == (4, 2)


@given(st.integers(1, 400), st.sampled_from([40, 50, 53, 60]))
def test_whole_sticks_in_feet_stay_whole_after_conversion(number, stick_ft):
    assert lengths_needed(number * stick_ft * 0.3048, stick_ft * 0.3048) == number


@given(lengths, st.integers(12, 400))
def test_strings_leave_one_tie_in_fewer_than_strings(segments, string):
    run_ = run(
        segments_m=tuple(segments), stick_length_m=12.0, string_length_m=float(string), tie_ins=2
    )
    count = count_joints(run_, MID_STICK)
    assert count.tie_in_joints == count.strings - len(segments) + 2
    whole = string // 12
    laid = [list(range(0, math.ceil(s / 12), whole)) for s in segments]
    assert count.strings == sum(map(len, laid))
    assert count.plain_joints >= 0


# By hand: 500 ft holds nine sticks of 53 ft, 477 ft; 1,000 ft is 19 sticks: 9 + 9 + 1. Sticks of
# 50 ft fill 500 ft: 20 sticks in two strings. A string is never less than a stick.
@pytest.mark.parametrize(
    ("stick_ft", "string_ft", "strings"), [(53, 500, 3), (50, 500, 2), (40, 250, 5), (40, 40, 25)]
)
def test_strings_hold_whole_sticks(stick_ft, string_ft, strings):
    run_ = run(
        segments_m=(304.8,), stick_length_m=stick_ft * 0.3048, string_length_m=string_ft * 0.3048
    )
    count = count_joints(run_, MID_STICK)
    assert (count.strings, count.tie_in_joints) == (strings, strings - 1)


@given(st.lists(st.integers(12, 5000), min_size=1, max_size=40), st.floats(0, 0.2))
def test_rework_joints_of_the_runs_add_up_to_the_job(run_lengths, share):
    runs = [run(f"R{i}", segments_m=(float(m),)) for i, m in enumerate(run_lengths)]
    counts = count_job(runs, job(rework_share=share).counting)
    total = sum(count.butt_joints for count in counts)
    assert sum(count.rework_joints for count in counts) == math.ceil(round(total * share, 9))
    assert all(count.rework_joints >= 0 for count in counts)


@given(st.integers(1, 2000), st.integers(1, 2000))
def test_longer_runs_never_have_fewer_joints(length, more):
    short = count_joints(run(segments_m=(float(length),)), MID_STICK)
    long = count_joints(run(segments_m=(float(length + more),)), MID_STICK)
    assert long.butt_joints >= short.butt_joints
