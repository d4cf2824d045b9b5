"""What a joint log that was begun lacks: joints, runs and cooling that the job has by now."""

from collections import Counter, defaultdict
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import field

from estimator.data_class import dataclass
from estimator.models.site_records import CoolingByAir, LoggedJoint, PlannedRun, SiteRecords
from estimator.progress.made import REWORK
from estimator.progress.site_plan import LEAST_REWORK

LIMITS = (
    "soak_min_s", "open_close_max_s", "bead_min_mm", "misalignment_max_mm", "base_gauge_mpa",
)  # fmt: skip
"""What the method, the heater and the bead of the job and the planned machine ask of a joint."""


@dataclass(frozen=True)
class LogUpdate:
    """Rows for the tables of a log, and by run how many rows are more than the job has.

    ``planned`` holds every run of the job, in the order of the table and then the new ones.
    ``limits`` has each row that is there beside one like it as it would be begun today, and
    ``bands`` the cooling of each pipe that is there, as it would be today.
    """

    joints: tuple[LoggedJoint, ...]
    planned: tuple[PlannedRun, ...]
    cooling: tuple[CoolingByAir, ...]
    too_many: Mapping[str, int]
    limits: tuple[tuple[LoggedJoint, LoggedJoint], ...] = ()
    bands: Mapping[str, tuple[CoolingByAir, ...]] = field(default_factory=dict)

    @property
    def by_run(self) -> Mapping[str, int]:
        """New joints by run."""
        return Counter(joint.run_id for joint in self.joints)


def log_update(records: SiteRecords, wanted: SiteRecords) -> LogUpdate:
    """Return what the site records lack of those that would be begun today.

    A run gets as many rows of each kind as it has joints now, and keeps two rows for rework that
    are not used yet. Numbers go on from the highest of the run. What was made stays.

    Parameters
    ----------
    records : SiteRecords
        As they are in the workbook.
    wanted : SiteRecords
        As ``site_plan`` gives them for the job as it is now.
    """
    there, asked = _by_run(records.joint_log), _by_run(wanted.joint_log)
    joints: list[LoggedJoint] = []
    for run_id, rows in asked.items():
        joints += _missing(there.get(run_id, ()), rows)
    known = dict.fromkeys(band.pipe for band in records.cooling_by_air)
    return LogUpdate(
        joints=tuple(joints),
        planned=tuple(_in_order(records.planned_runs, wanted.planned_runs)),
        cooling=tuple(band for band in wanted.cooling_by_air if band.pipe not in known),
        too_many=_too_many(there, asked),
        limits=tuple(_limits(records.joint_log, wanted.joint_log)),
        bands={
            pipe: tuple(band for band in wanted.cooling_by_air if band.pipe == pipe)
            for pipe in known
        },
    )


def _limits(
    there: Sequence[LoggedJoint], asked: Sequence[LoggedJoint]
) -> Iterator[tuple[LoggedJoint, LoggedJoint]]:
    """Yield each row with one of its run and pipe as it would be begun today."""
    now = {(joint.run_id, joint.pipe): joint for joint in asked}
    for joint in there:
        found = now.get((joint.run_id, joint.pipe))
        if found is not None:
            yield joint, found


def _by_run(joints: Sequence[LoggedJoint]) -> Mapping[str, Sequence[LoggedJoint]]:
    found: dict[str, list[LoggedJoint]] = defaultdict(list)
    for joint in joints:
        found[joint.run_id].append(joint)
    return found


def _missing(there: Sequence[LoggedJoint], asked: Sequence[LoggedJoint]) -> Iterator[LoggedJoint]:
    """Yield the joints of one run that its log lacks, numbered."""
    number = max((_number(joint) for joint in there), default=0)
    left = Counter(_like(joint) for joint in there)
    free = sum(joint.kind == REWORK and not joint.made for joint in there)
    for joint in asked:
        if left[_like(joint)] > 0:
            left[_like(joint)] -= 1
            continue
        number += 1
        free += joint.kind == REWORK
        yield joint.model_copy(update={"joint_no": _named(joint, number)})
    pattern = next((joint for joint in asked if joint.kind == REWORK), None)
    while pattern is not None and free < LEAST_REWORK:
        number, free = number + 1, free + 1
        yield pattern.model_copy(update={"joint_no": _named(pattern, number)})


def _like(joint: LoggedJoint) -> tuple[str, str]:
    """Return what makes two rows of a run stand for the same joint."""
    return joint.kind, joint.pipe


def _number(joint: LoggedJoint) -> int:
    digits = joint.joint_no.rpartition("-")[2]
    return int(digits) if digits.isdecimal() else 0


def _named(joint: LoggedJoint, number: int) -> str:
    return f"{joint.run_id}-{number:04d}"


def _in_order(there: Sequence[PlannedRun], asked: Sequence[PlannedRun]) -> Iterator[PlannedRun]:
    """Yield the runs as planned now: those of the table in its order, then the new ones."""
    now = {run.run_id: run for run in asked}
    for run in there:
        yield now.pop(run.run_id, run)
    yield from now.values()


def _too_many(
    there: Mapping[str, Sequence[LoggedJoint]], asked: Mapping[str, Sequence[LoggedJoint]]
) -> Mapping[str, int]:
    """Return by run the rows not made yet, rework left out, that the job has no joints for."""
    found = {}
    for run_id, joints in there.items():
        wanted = Counter(_like(joint) for joint in asked.get(run_id, ()))
        have = Counter(_like(joint) for joint in joints if joint.kind != REWORK)
        blank = Counter(_like(joint) for joint in joints if not joint.made)
        over = sum(min(blank[kind], max(0, n - wanted[kind])) for kind, n in have.items())
        if over:
            found[run_id] = over
    return found
