"""What a crew takes in hand at a time: a run, or each segment of a run that has several."""

from collections.abc import Iterator, Mapping, Sequence
from typing import NamedTuple

from estimator.models.job import Run, by_name
from estimator.models.sized_run import JointCount, SegmentCount, SizedRun

BETWEEN = "\x1f"
"""Stands between the name of a run and the number of its segment; in no name of a run."""


def row_of(name: str) -> str:
    """Return the run that a unit is of, by the unit's name."""
    return name.partition(BETWEEN)[0]


class Unit(NamedTuple):
    """A run or a segment of one, under a name of its own, and the run that it is of."""

    row: str
    run: Run
    sized: SizedRun


def units_of(runs: Sequence[Run], sized: Sequence[SizedRun]) -> list[Unit]:
    """Return what crews take in hand, in the order of names.

    A run of several segments is laid out like as many runs of one: the last of them has its
    fittings, the other connections and the tie-ins to other pipe. Runs that come after it, or are
    joined to it, wait for all of them.
    """
    of_run = {one.run_id: one for one in sized}
    parts = {
        run_id: [f"{run_id}{BETWEEN}{n}" for n in range(1, len(one.counts.by_segment) + 1)]
        for run_id, one in of_run.items()
        if len(one.counts.by_segment) > 1
    }
    found: list[Unit] = []
    for run in sorted(runs, key=by_name):
        one = of_run[run.run_id]
        named = _naming_parts(run, parts) if parts else run
        if run.run_id in parts:
            found += _segments(named, one, parts[run.run_id])
        else:
            found.append(Unit(run.run_id, named, one))
    return found


def _naming_parts(run: Run, parts: Mapping[str, Sequence[str]]) -> Run:
    """Return a run that comes after, and is joined to, all parts of the runs that it names."""
    after = _parts_of(run.followed_runs, parts)
    joins = _parts_of([name for name in run.joined_runs if name != run.run_id], parts)
    if (after, joins) == (run.followed_runs, run.joined_runs):
        return run
    return run.model_copy(update={"after": "; ".join(after), "joins": "; ".join(joins)})


def _parts_of(names: Sequence[str], parts: Mapping[str, Sequence[str]]) -> tuple[str, ...]:
    return tuple(part for name in names for part in parts.get(name, (name,)))


def _segments(run: Run, sized: SizedRun, names: Sequence[str]) -> Iterator[Unit]:
    counts = sized.counts
    for name, segment in zip(names, counts.by_segment, strict=True):
        last = name == names[-1]
        part = run.model_copy(update={"run_id": name} | ({} if last else {"joins": None}))
        own = _last_segment(counts, segment) if last else _segment(counts, segment)
        yield Unit(run.run_id, part, sized._replace(run_id=name, counts=own))


def _segment(counts: JointCount, segment: SegmentCount) -> JointCount:
    """Return the joints of a segment that is not the last one."""
    joints = segment.plain + segment.tie_ins
    return counts._replace(
        stick_joints=joints,
        fitting_joints=0,
        small_ends=0,
        outside_tie_ins=0,
        tie_in_joints=segment.tie_ins,
        butt_joints=joints,
        rework_joints=segment.rework,
        others=dict.fromkeys(counts.others, 0),
        by_segment=(segment,),
    )


def _last_segment(counts: JointCount, segment: SegmentCount) -> JointCount:
    """Return the joints of the last segment, which has all that is not between two sticks."""
    joints = segment.plain + segment.tie_ins
    return counts._replace(
        stick_joints=joints,
        tie_in_joints=segment.tie_ins + counts.outside_tie_ins,
        butt_joints=joints + counts.fitting_joints + counts.outside_tie_ins,
        rework_joints=segment.rework,
        by_segment=(segment,),
    )
