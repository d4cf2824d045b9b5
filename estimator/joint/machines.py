"""Choice of the fusion machine class of a run, with a reason for each class not taken."""

from collections.abc import Sequence

from estimator.data_class import dataclass
from estimator.joint.fusion import fusion_force_n, gauge_mpa
from estimator.models.choice import Rejection
from estimator.models.equipment import Machine
from estimator.models.job import Job, Run
from estimator.models.joint import FusionParameters, PipeGeometry
from estimator.models.sized_run import MachineChoice
from estimator.units import OD_SLACK_MM, at_least, at_most

GaugeRange = tuple[float, float, float]
SMALL = "small_length"


@dataclass(frozen=True)
class Spot:
    """Where a joint is made, for a question without a job."""

    placement: str
    machine: str | None = None
    fleet_class: str | None = None


@dataclass(frozen=True)
class Demand:
    """What a job asks of every machine class: drag allowance [MPa], and how many at once."""

    drag_mpa: float
    machines_per_crew: int = 1

    @staticmethod
    def of(job: Job) -> "Demand":
        """Return what a job asks."""
        return Demand(job.fusion.drag_mpa, job.resources.machines_per_crew)


def gauge_range(
    machine: Machine, geometry: PipeGeometry, fusion: FusionParameters, drag_mpa: float
) -> GaugeRange | None:
    """Return gauge pressure at low, nominal and high interfacial pressure, None for a lever."""
    if machine.drive == "manual" or machine.piston_area_mm2 is None:
        return None
    low, nominal, high = (
        gauge_mpa(geometry.joint_area_mm2, pressure, machine.piston_area_mm2, drag_mpa)
        for pressure in fusion.interfacial_mpa
    )
    return low, nominal, high


def holds(machine: Machine, od_mm: float) -> bool:
    """Return whether a class takes pipe of this outside diameter."""
    return not (_is_too_small(machine, od_mm) or _is_too_large(machine, od_mm))


def _is_too_small(machine: Machine, od_mm: float) -> bool:
    return not at_least(od_mm, machine.od_min_mm, OD_SLACK_MM)


def _is_too_large(machine: Machine, od_mm: float) -> bool:
    return not at_most(od_mm, machine.od_max_mm, OD_SLACK_MM)


def obstacle(
    machine: Machine,
    run: Run | Spot,
    geometry: PipeGeometry,
    fusion: FusionParameters,
    demand: Demand,
) -> Rejection | None:
    """Return why this class cannot make the joint, or None if it can."""

    def because(text: str, kind: str = "", need: float = 0.0, limit: float = 0.0) -> Rejection:
        return Rejection(class_id=machine.class_id, text=text, kind=kind, need=need, limit=limit)

    if _is_too_small(machine, geometry.od_mm):
        return because(
            "smallest pipe {limit}, this pipe is {need}", SMALL, geometry.od_mm, machine.od_min_mm
        )
    if _is_too_large(machine, geometry.od_mm):
        return because(
            "largest pipe {limit}, this pipe is {need}", SMALL, geometry.od_mm, machine.od_max_mm
        )
    if "any" not in machine.placements and run.placement not in machine.placements:
        return because(f"not for {run.placement} work")
    if machine.stock < demand.machines_per_crew:
        return because(f"{demand.machines_per_crew} needed at once, only {machine.stock} in stock")
    gauge = gauge_range(machine, geometry, fusion, demand.drag_mpa)
    if gauge is None:
        return None
    low, _, high = gauge
    if machine.max_gauge_mpa is not None and not at_most(high, machine.max_gauge_mpa):
        return because(
            "needs {need}, max gauge pressure {limit}", "pressure", high, machine.max_gauge_mpa
        )
    if machine.min_gauge_mpa is not None and not at_least(low, machine.min_gauge_mpa):
        return because(
            "needs only {need}, gauge is readable from {limit}",
            "pressure",
            low,
            machine.min_gauge_mpa,
        )
    return None


def choose_machine(
    machines: Sequence[Machine],
    run: Run | Spot,
    geometry: PipeGeometry,
    fusion: FusionParameters,
    demand: Demand,
) -> MachineChoice | None:
    """Choose the feasible class with the lowest four-week rate, None if no class can do it.

    The class that the schedule asks for is taken in its place, None if it is not feasible; the
    class that the choice over the job gives the run, if it is. Ties go to the class listed
    first. A feasible class that is not taken is listed among the rejected ones with both rates.
    """
    obstacles = {m.class_id: obstacle(m, run, geometry, fusion, demand) for m in machines}
    feasible = [m for m in machines if obstacles[m.class_id] is None]
    allowed = [m for m in feasible if run.machine in (None, m.class_id)]
    if not allowed:
        return None
    allowed = [m for m in allowed if m.class_id == run.fleet_class] or allowed
    best = min(allowed, key=lambda m: m.four_week_rate.amount)
    why, why_not = _reasons(run, best)
    left = [
        Rejection(
            class_id=m.class_id,
            text=f"fits, but {why_not}: {m.four_week_rate.amount:,.0f} against "
            f"{best.four_week_rate.amount:,.0f} per 4 weeks",
        )
        for m in feasible
        if m is not best
    ]
    unfit = [reason for reason in obstacles.values() if reason is not None]
    return MachineChoice(
        class_id=best.class_id,
        force_n=fusion_force_n(geometry.joint_area_mm2, fusion.interfacial_mpa[1]),
        gauge_mpa=gauge_range(best, geometry, fusion, demand.drag_mpa),
        rejected=(*unfit, *left),
        why=why,
    )


def _reasons(run: Run | Spot, taken: Machine) -> tuple[str, str]:
    """Return why a class is taken for a run, and why not another one that fits."""
    if run.machine is not None:
        return "required by the schedule", f"the schedule requires {run.machine}"
    if run.fleet_class == taken.class_id:
        return "least total cost", f"{run.fleet_class} costs less over the whole job"
    return "lowest 4-week rate that fits", "costs more"


def closest_miss(
    machines: Sequence[Machine],
    run: Run | Spot,
    geometry: PipeGeometry,
    fusion: FusionParameters,
    demand: Demand,
) -> Rejection | None:
    """Return why the class that comes nearest cannot make the joint, None if one can.

    Nearest is the first class that takes the diameter; if none does, the class whose range ends
    closest to it.
    """
    reasons = [obstacle(m, run, geometry, fusion, demand) for m in machines]
    missed = [why for why in reasons if why is not None]
    if not missed or len(missed) < len(reasons):
        return None
    return min(missed, key=lambda why: abs(why.need - why.limit) if why.kind == SMALL else -1.0)
