"""What is left of the joints of a run when some are made already."""

from collections.abc import Mapping, Sequence

from estimator.models.job import DoneRun
from estimator.models.sized_run import JointCount, SegmentCount, SizedRun


def left_of(sized: Sequence[SizedRun], done: Sequence[DoneRun]) -> list[SizedRun]:
    """Return the runs without what is made already; as they are where nothing is.

    More than was planned counts as all of it.
    """
    made = {run.run_id: run.pieces for run in done}
    return [
        run._replace(counts=count_left(run.counts, made[run.run_id])) if run.run_id in made else run
        for run in sized
    ]


def count_left(counts: JointCount, made: Mapping[str, int]) -> JointCount:
    """Return what is left of the pieces of a run.

    Tie-ins between its strings are made before those to other pipe, joints at the small ends of
    reducers last. Rework is left in the proportion of the butt joints that are left.
    """
    plain = max(0, counts.plain_joints - made.get("stick", 0))
    fitting = max(0, counts.fitting_joints - made.get("fitting", 0))
    tie_ins = max(0, counts.tie_in_joints - made.get("tie_in", 0))
    outside = min(counts.outside_tie_ins, tie_ins)
    butt = plain + fitting + tie_ins
    rework = _in_proportion(counts.rework_joints, butt, counts.butt_joints)
    return counts._replace(
        sticks=max(0, counts.sticks - (counts.plain_joints - plain)),
        stick_joints=plain + tie_ins - outside,
        fitting_joints=fitting,
        small_ends=min(counts.small_ends, fitting),
        outside_tie_ins=outside,
        tie_in_joints=tie_ins,
        butt_joints=butt,
        rework_joints=rework,
        others={key: max(0, number - made.get(key, 0)) for key, number in counts.others.items()},
        by_segment=tuple(
            _segments_left(counts.by_segment, SegmentCount(plain, tie_ins - outside, rework))
        ),
    )


def _in_proportion(number: int, part: int, whole: int) -> int:
    """Return a number in proportion, to the nearest whole one, halves up."""
    return (2 * number * part + whole) // (2 * whole) if whole else 0


def _segments_left(segments: Sequence[SegmentCount], left: SegmentCount) -> list[SegmentCount]:
    """Return what is left of each segment: the first are made first.

    Rework that the segments with joints left have no room for comes with the last one.
    """
    found: list[SegmentCount] = []
    plain, tie_ins, rework = left
    for segment in reversed(segments):
        part = SegmentCount(min(segment.plain, plain), min(segment.tie_ins, tie_ins))
        again = min(segment.rework, rework) if part.plain or part.tie_ins else 0
        found.append(part._replace(rework=again))
        plain, tie_ins, rework = plain - part.plain, tie_ins - part.tie_ins, rework - again
    if found:
        found[0] = found[0]._replace(rework=found[0].rework + rework)
    return found[::-1]
