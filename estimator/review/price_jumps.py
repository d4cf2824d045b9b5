"""Where the cost of a joint jumps from one size to the next, and what is added there."""

from collections.abc import Iterator, Sequence
from dataclasses import field
from itertools import pairwise

from estimator.data_class import dataclass
from estimator.errors import Problem
from estimator.models.estimate import Estimate
from estimator.models.places import Places
from estimator.plan.paid_shifts import people_at

WORK = frozenset({"Labor", "Equipment", "Fuel", "Consumables"})
"""Cost types of joining itself: neither what is bought by size nor lump sums."""
JUMP, NEIGHBORS = 1.25, 1.35
"""A cost per joint this many times that of the size before is named; diameters further apart than
that are no neighbors."""
FEWEST_JOINTS = 10
"""With fewer, set-up and moves weigh more than the joint."""
TENTH = 0.1


@dataclass()
class _Size:
    """The runs of one size."""

    name: str
    od_mm: float
    run_id: str
    cost: float = 0.0
    joints: int = 0
    crew_min: float = 0.0
    joining_min: float = 0.0
    people: float = 0.0
    classes: set[str] = field(default_factory=set)

    @property
    def per_joint(self) -> float:
        return self.cost / self.joints

    @property
    def beside_min(self) -> float:
        """Paid crew time for each joint that is no joint."""
        return (self.crew_min - self.joining_min) / self.joints


def price_jumps(estimate: Estimate, places: Places) -> Iterator[Problem]:
    """Name neighboring sizes whose joints differ by more than a quarter in cost, and why."""
    currency = estimate.job.cover.currency
    sizes = [one for one in _sizes(estimate) if one.joints >= FEWEST_JOINTS]
    for small, large in pairwise(sizes):
        near = large.od_mm <= NEIGHBORS * small.od_mm
        if near and large.per_joint > JUMP * small.per_joint:
            yield Problem(
                places.where("schedule", large.run_id, "size"),
                f"From {small.name} to {large.name} the cost of joining rises from {currency} "
                f"{small.per_joint:,.0f} to {large.per_joint:,.0f} a joint: {_why(small, large)}",
            )


def _sizes(estimate: Estimate) -> Sequence[_Size]:
    work = [each.cost_type in WORK for each in estimate.by_run.allocations]
    found: dict[tuple[str, str], _Size] = {}
    for run, sized in estimate.pairs:
        name = f"{run.od_system} {run.size}"
        one = found.setdefault(
            (run.od_system, run.size), _Size(name, sized.geometry.od_mm, run.run_id)
        )
        amounts = estimate.by_run.by_run[run.run_id].amounts
        one.cost += sum(float(amount) for amount, is_of in zip(amounts, work, strict=True) if is_of)
        one.joints += sized.counts.butt_joints
        one.crew_min += 60.0 * estimate.crew_hours.get(run.run_id, 0.0)
        one.joining_min += sized.cycle.plain.period_min * sized.counts.butt_joints
        at, machines = sized.cycle.at, sized.cycle.plain.machines
        people = (people_at(role, at, machines) for role in estimate.job.crew)
        one.people = max(one.people, sum(people))
        one.classes.add(sized.machine.class_id)
    return sorted(found.values(), key=lambda one: one.od_mm)


def _why(small: _Size, large: _Size) -> str:
    added = sorted(large.classes - small.classes)
    more = large.people - small.people
    beside = large.beside_min - small.beside_min
    longer = large.joining_min / large.joints - small.joining_min / small.joints
    least = TENTH * small.crew_min / small.joints
    reasons = [
        f"machine class {', '.join(added)} is added" if added else "",
        f"{more:.1f} more people a crew" if more >= TENTH else "",
        f"{longer:.0f} min more for the joint itself (Task times, the wall)"
        if longer >= least
        else "",
        f"{beside:.0f} min more of paid crew time beside each joint (shifts not filled, moves, "
        "changes of size or machine, waiting)"
        if beside >= least
        else "",
    ]
    named = ", ".join(filter(None, reasons))
    return named or "no class and no person is added; it follows Task times and the wall"
