"""Kinds of butt joints stand in one table: what the plan makes, and what must fit in a shift."""

import pytest

from estimator import pipeline
from estimator.joint.butt_kinds import BUTT_KINDS, FITTING, longest_items
from estimator.plan.tasks import OUTSIDE_TIE_INS, STRING_TIE_INS, string_batches, tie_in_batches
from tests.jobs import job, run

EVERY_KIND = run(segments_m=(1000.0,), string_length_m=200.0, elbows=3, reducers=2, reduce_to="6",
                 tie_ins=1)  # fmt: skip


def sized():
    """Return a job of one run with every kind of butt joint, and that run sized."""
    made = job(EVERY_KIND, rework_share=0.05)
    return made, pipeline.estimate(made).runs[0]


def test_the_plan_makes_what_the_table_counts():
    made, found = sized()
    wanted = {kind.name: kind.number(found.counts) for kind in BUTT_KINDS}
    assert min(wanted.values()) > 0
    batches = [*string_batches(made.counting, found.counts)]
    for stage in (STRING_TIE_INS, OUTSIDE_TIE_INS):
        batches += tie_in_batches(made.counting, found.counts, stage)
    planned = dict.fromkeys(wanted, 0)
    for batch in batches:
        planned[batch.name] = planned.get(batch.name, 0) + batch.count
    assert planned == wanted


def test_the_small_end_of_a_reducer_must_fit_in_a_shift_too():
    """3 elbows and 2 reducers: 3 x 2 joints at the size of the run and 2 + 2 at reducers."""
    made, found = sized()
    assert FITTING.number(found.counts) + found.counts.small_ends == found.counts.fitting_joints
    slow = found.cycle._replace(small_end=found.cycle.fitting._replace(cycle_min=999.0))
    longest = longest_items(found.counts, slow, made.counting)
    assert longest["the joint at a reducer's small end"] == pytest.approx(999.0)
    assert longest["a fitting joint"] == found.cycle.fitting.cycle_min
