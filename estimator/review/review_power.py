"""What the user should know of the power supply before trusting it."""

from collections.abc import Iterator

from estimator.errors import Problem
from estimator.models.estimate import Estimate
from estimator.models.places import Places
from estimator.power.machine_power import NO_SUPPLY


def cables_to_settle(estimate: Estimate, places: Places) -> Iterator[Problem]:
    """Name machine classes whose cable the tables do not settle."""
    own = {machine.class_id for machine in estimate.job.machines if machine.self_powered}
    for class_id, need in estimate.fleet.power.items():
        if class_id in own or need.cable_note in {"", NO_SUPPLY}:
            continue
        drop = "" if need.cable_drop is None else f" ({need.cable_drop:.1%} lost)"
        yield Problem(
            places.where("job", "", "cable_length"),
            f"cable to class {class_id}: {need.cable_note}{drop}",
        )
