"""What the user should know of the power supply before trusting it."""

from collections.abc import Iterator

from estimator.errors import Problem
from estimator.models.estimate import Estimate
from estimator.models.places import Places
from estimator.power.machine_power import NO_SUPPLY
from estimator.standards import tables


def cables_to_settle(estimate: Estimate, places: Places) -> Iterator[Problem]:
    """Name machine classes whose cable the tables do not settle."""
    own = {machine.class_id for machine in estimate.job.machines if machine.self_powered}
    for class_id, need in estimate.fleet.power.items():
        if class_id in own or need.cable_note in {"", NO_SUPPLY}:
            continue
        drop = "" if need.cable_drop is None else f" ({need.cable_drop:.1%} lost)"
        yield Problem(
            places.where("job", "", "cable_length_m"),
            f"cable to class {class_id}: {need.cable_note}{drop}",
        )


def sets_at_low_load(estimate: Estimate, places: Places) -> Iterator[Problem]:
    """Remark on generators whose average load is a small share of their rating."""
    row = tables.find_row("power_practice", "quantity", "least_load_share")
    least = tables.number(row, "value")
    for check in estimate.fleet.sets:
        if check.mean_kw is None or check.mean_kw >= least * check.rated_kw:
            continue
        yield Problem(
            places.where("generators", check.class_id, "rated_kw"),
            f"class {check.class_id} with crew {check.crew}: average load {check.mean_kw:.1f} kW "
            f"is {check.mean_kw / check.rated_kw:.0%} of its rating. A diesel set that runs below "
            f"{least:.0%} for long fouls ({row['confidence']}); {check.decides} asks for its size",
        )
