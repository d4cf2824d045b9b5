"""What the site records begin with: the joints of an estimate numbered, with limits and minutes."""

from collections.abc import Iterator

from estimator.cost import tests_by_run
from estimator.data_class import dataclass
from estimator.joint.butt_kinds import BUTT_KINDS, REWORK, SMALL_END
from estimator.joint.cooling_by_air import cooling_by_air
from estimator.joint.cycle import test_minutes
from estimator.joint.fusion import fusion_options, fusion_parameters
from estimator.joint.machines import gauge_range
from estimator.joint.small_ends import pipe_at, sizes_of
from estimator.models.estimate import PricedJob
from estimator.models.job import Job, Run
from estimator.models.job_inputs import CountingInputs, FusionInputs
from estimator.models.joint import FusionParameters, PipeGeometry
from estimator.models.kinds import CONNECTIONS
from estimator.models.site_records import CoolingByAir, LoggedJoint, PlannedRun, SiteRecords
from estimator.models.sized_run import SizedRun
from estimator.progress.joint_log import TRIAL
from estimator.standards import tables
from estimator.standards.pipe_names import pipe_label

LEAST_REWORK = 2
"""Rows for rework of every run, whatever the share of the Job sheet leaves it."""
KINDS = {"stick": "stick", "fitting": "fitting", "small end": "fitting", "tie-in": "tie-in"}
"""Kind in the log of each kind of joint that is planned."""


@dataclass(frozen=True)
class PipeLimits:
    """What every joint of one pipe must keep, as the method and the planned machine ask it.

    ``label`` is size and ratio, ``name`` that with the material.
    """

    label: str
    material: str
    ambient_c: float
    geometry: PipeGeometry
    fusion: FusionParameters
    base_gauge_mpa: float | None

    @property
    def name(self) -> str:
        """Size, ratio and material."""
        return f"{self.label} {self.material}"

    @property
    def misalignment_max_mm(self) -> float:
        """Largest misalignment: a share of the wall, common practice."""
        return misalignment_max_mm(self.geometry.wall_mm)


def misalignment_max_mm(wall_mm: float) -> float:
    """Return the largest misalignment of a joint [mm], a tenth of the wall.

    References
    ----------
    ``f2620_times.csv``, row misalignment, common practice; other methods are taken alike.

    Examples
    --------
    >>> misalignment_max_mm(30.0)
    3.0
    """
    return tables.number(misalignment_row(), "value") / 100 * wall_mm


def misalignment_row() -> tables.Row:
    """Return the row of the largest misalignment: per cent of the wall, and how sure it is."""
    return tables.find_row("f2620_times", "item", "misalignment")


def pipe_limits(job: Job, run: Run, sized: SizedRun, size: str) -> PipeLimits:
    """Return the limits of a run's joints at its own size, or the smaller one of its reducers."""
    geometry, fusion = pipe_at(job.fusion, run, sized, size)
    machine = next(one for one in job.machines if one.class_id == sized.machine.class_id)
    gauge = gauge_range(machine, geometry, fusion, 0.0)
    return PipeLimits(
        label=pipe_label(run.od_system, size, run.dr),
        material=run.material,
        ambient_c=sized.timing.ambient_c,
        geometry=geometry,
        fusion=fusion,
        base_gauge_mpa=None if gauge is None else gauge[1],
    )


def limits_by_size(job: Job, run: Run, sized: SizedRun) -> dict[str, PipeLimits]:
    """Return the limits of a run's joints by size: its own, and the small ends of reducers."""
    return {size: pipe_limits(job, run, sized, size) for size in sizes_of(run)}


def cooling_of(fusion: FusionInputs, limits: PipeLimits) -> tuple[CoolingByAir, ...]:
    """Return the least cooling of a pipe by air temperature, the job's own figures applied."""
    method, pipe, options = fusion.method, limits.geometry, fusion_options(fusion)

    def cool_s(ambient_c: float) -> float:
        return fusion_parameters(method, pipe.od_mm, pipe.wall_mm, ambient_c, options).cool_s

    return cooling_by_air(limits.name, method, cool_s)


def site_plan(priced: PricedJob) -> SiteRecords:
    """Return the site records of a job before its first joint.

    Joints are numbered by run: trial fusions, joints between sticks, at fittings, tie-ins, and
    rows for rework.
    """
    trials = tests_by_run(priced.plan)
    planned: list[PlannedRun] = []
    joints: list[LoggedJoint] = []
    cooling: dict[str, tuple[CoolingByAir, ...]] = {}
    for run, sized in priced.pairs:
        sizes = limits_by_size(priced.job, run, sized)
        for limits in sizes.values():
            if limits.name not in cooling:
                cooling[limits.name] = cooling_of(priced.job.fusion, limits)
        pipe, counting = sizes[run.size].name, priced.job.counting
        planned.append(_planned(counting, run, sized, pipe, trials[run.run_id]))
        joints += _numbered(run, sized, sizes, trials[run.run_id])
    return SiteRecords(
        joint_log=tuple(joints),
        planned_runs=tuple(planned),
        cooling_by_air=tuple(band for bands in cooling.values() for band in bands),
    )


def _planned(
    counting: CountingInputs, run: Run, sized: SizedRun, pipe: str, trials: int
) -> PlannedRun:
    cycle = sized.cycle
    numbers = {"stick": 0, "fitting": 0, "tie-in": 0}
    for kind in BUTT_KINDS:
        if kind.name in KINDS:
            numbers[KINDS[kind.name]] += kind.number(sized.counts)
    return PlannedRun(
        run_id=run.run_id,
        pipe=pipe,
        machine=sized.machine.class_id,
        stick_joints=numbers["stick"],
        fitting_joints=numbers["fitting"],
        tie_in_joints=numbers["tie-in"],
        rework_joints=sized.counts.rework_joints,
        test_joints=trials,
        stick_min=cycle.plain.period_min,
        fitting_min=cycle.fitting.period_min,
        tie_in_min=cycle.tie_in.period_min,
        rework_min=REWORK.time(cycle, counting).period_min,
        test_min=test_minutes(cycle.plain, counting),
        **{f"{kind.key}_min": cycle.other_min[kind.key] for kind in CONNECTIONS},
    )


def _numbered(
    run: Run, sized: SizedRun, sizes: dict[str, PipeLimits], trials: int
) -> Iterator[LoggedJoint]:
    small = sizes.get(run.reduce_to or "", sizes[run.size])
    wanted = [(TRIAL, sizes[run.size])] * trials
    for kind in BUTT_KINDS:
        if kind.name in KINDS:
            limits = small if kind is SMALL_END else sizes[run.size]
            wanted += [(KINDS[kind.name], limits)] * kind.number(sized.counts)
    if wanted:
        rework = max(LEAST_REWORK, sized.counts.rework_joints)
        wanted += [(REWORK.name, sizes[run.size])] * rework
    for number, (kind_name, limits) in enumerate(wanted, 1):
        yield LoggedJoint(
            joint_no=f"{run.run_id}-{number:04d}",
            run_id=run.run_id,
            kind=kind_name,
            pipe=limits.name,
            soak_min_s=limits.fusion.soak_s,
            open_close_max_s=limits.fusion.open_close_max_s,
            bead_min_mm=limits.fusion.bead_min_mm,
            misalignment_max_mm=limits.misalignment_max_mm,
            base_gauge_mpa=limits.base_gauge_mpa,
        )
