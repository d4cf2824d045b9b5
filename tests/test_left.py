"""What is left of a run, and a job laid out anew from a status date."""

import datetime as dt
from collections import Counter, defaultdict

import pytest
from hypothesis import given
from hypothesis import strategies as st

from estimator.joint.left import count_left
from estimator.joint.shared import Shared
from estimator.models.job import DoneRun
from estimator.models.sized_run import JointCount, SegmentCount
from estimator.progress.baseline import piece_counts
from estimator.stages import plan_job
from tests.test_baseline import frozen

OTHERS = {"ef_closures": 2, "bolt_ups": 1, "saddles": 0}


def counts(segments=(10, 5), fitting=6, between=3, outside=2, rework=4):
    plain = sum(segments)
    return JointCount(
        sticks=plain + between + len(segments),
        strings=between + len(segments),
        stick_joints=plain + between,
        fitting_joints=fitting,
        small_ends=2,
        outside_tie_ins=outside,
        tie_in_joints=between + outside,
        butt_joints=plain + between + fitting + outside,
        rework_joints=rework,
        others=OTHERS,
        by_segment=shared_out(segments, between, rework),
    )


def shared_out(segments, between, rework):
    """The tie-ins between strings are in the first segment, rework is in the last."""
    first, *middle, last = (*segments, 0, 0) if len(segments) < 2 else segments
    return (SegmentCount(first, between), *map(SegmentCount, middle),
            SegmentCount(last, 0, rework))  # fmt: skip


# 26 butt joints with 4 of rework; 12 + 4 + 1 made leaves 3 + 2 + 4 = 9: 4 x 9 / 26 = 1.4, so 1.
def test_a_run_under_way_by_hand():
    left = count_left(counts(), {"stick": 12, "fitting": 4, "tie_in": 1, "bolt_ups": 1})
    assert left.by_segment == (SegmentCount(0, 2, 0), SegmentCount(3, 0, 1))
    assert (left.plain_joints, left.fitting_joints, left.small_ends) == (3, 2, 2)
    assert (left.tie_in_joints, left.outside_tie_ins) == (4, 2)
    assert (left.butt_joints, left.rework_joints) == (9, 1)
    assert left.others == {"ef_closures": 2, "bolt_ups": 0, "saddles": 0}


@given(st.lists(st.integers(0, 30), max_size=4), *[st.integers(0, 12)] * 4, st.data())
def test_made_and_left_are_the_run(segments, fitting, between, outside, rework, data):
    whole = counts(tuple(n for n in segments if n), fitting, between, outside, rework)
    whole = whole._replace(small_ends=min(2, fitting))
    pieces = piece_counts(whole)
    made = {kind: data.draw(st.integers(0, n)) for kind, n in pieces.items()}
    left = count_left(whole, made)
    assert piece_counts(left) == {kind: n - made[kind] for kind, n in pieces.items()}
    plain, tie_ins, rework_left = map(sum, zip(*left.by_segment, strict=True))
    assert plain == left.plain_joints
    assert tie_ins == left.tie_in_joints - left.outside_tie_ins
    assert rework_left == left.rework_joints
    assert left.butt_joints == left.stick_joints + left.fitting_joints + left.outside_tie_ins
    assert 0 <= left.outside_tie_ins <= left.tie_in_joints
    assert 0 <= left.rework_joints <= rework
    assert count_left(left, {}) == left


def test_nothing_left_of_a_run_that_is_done():
    left = count_left(counts(), piece_counts(counts()))
    assert not left.has_work
    assert left.rework_joints == 0


@pytest.mark.parametrize("name", ["raw_water_main", "plant_piping"])
@pytest.mark.parametrize("part", [0.2, 0.6])
def test_a_job_that_went_as_planned_ends_as_planned(name, part):
    """Moves and trial fusions may differ a little: each crew sets up anew on the first day."""
    _, found, made = frozen(name)
    status = made.days[int(part * len(made.days))].date
    done = defaultdict(Counter)
    for day in made.days:
        if day.date <= status:
            done[day.run_id].update(day.pieces)
    runs = tuple(run.model_copy(update={"test_section": None}) for run in found.job.runs)
    job = found.job.changed(start=status + dt.timedelta(1)).model_copy(
        update={
            "runs": runs,
            "done": tuple(DoneRun(run_id=run, pieces=dict(n)) for run, n in done.items()),
        }
    )
    rest = plan_job(job, Shared(frozen(name)[0].places))
    joints = sum(line.joints for line in rest.plan.lines)
    assert joints == made.joints - made.planned_joints(status)
    assert abs((rest.plan.finish - found.plan.finish).days) <= 4
    left = made.head.labor_hours - made.planned_hours(status)
    assert rest.total_labor_hours == pytest.approx(left, rel=0.12)
