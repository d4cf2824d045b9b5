"""Where the cost of a joint jumps or falls from one size to the next, and what makes it."""

from collections.abc import Callable, Iterator, Sequence
from dataclasses import field
from functools import cache, partial
from itertools import pairwise

from estimator.data_class import dataclass
from estimator.display import money_text
from estimator.errors import Problem
from estimator.models.bands import BandShare
from estimator.models.crew import Role
from estimator.models.estimate import Estimate
from estimator.models.job import Run
from estimator.models.kinds import CONSUMABLES, cost_type
from estimator.models.places import Places
from estimator.plan import people_at
from estimator.standards.pipe_names import ratio_label, size_label

JUMP, FALL, NEIGHBORS = 1.25, 0.95, 1.35
"""A cost per joint this many times that of the size before is named, and of like pipe one that is
less than so many times it; diameters further apart than that are no neighbors."""
FEWEST_JOINTS = 10
"""With fewer, moves and shifts not filled weigh more than the joint: it is compared alone."""
TENTH, CAUSE = 0.1, 0.4
"""A cause is named from a tenth of the smaller size's figure on, or this part of the change."""


BESIDE = "outside it"
BESIDES = (
    "Time outside the joint is paid crew time: unfilled shifts, moves, changes of size or machine, "
    "waiting"
)


@dataclass()
class _Size:
    """The runs of one size."""

    od_system: str
    size: str
    od_mm: float
    run_id: str
    dr: float
    by_time: float = 0.0
    consumables: float = 0.0
    joints: int = 0
    crew_min: float = 0.0
    joining_min: float = 0.0
    people: float = 0.0
    classes: set[str] = field(default_factory=set)

    def per_joint(self, *, alone: bool) -> float:
        """Cost of a joint: of all paid crew time, or of the joint's own minutes alone."""
        share = min(1.0, self.joining_min / self.crew_min) if alone and self.crew_min else 1.0
        return (share * self.by_time + self.consumables) / self.joints

    @property
    def of_few(self) -> bool:
        return self.joints < FEWEST_JOINTS

    @property
    def joint_min(self) -> float:
        """Minutes of the joint itself."""
        return self.joining_min / self.joints

    @property
    def paid_min(self) -> float:
        """Paid crew time for each joint, moves and the rest of the shift with it."""
        return self.crew_min / self.joints

    @property
    def hourly(self) -> float:
        """Cost of a paid crew-hour."""
        return 60.0 * self.by_time / self.crew_min if self.crew_min else 0.0


def price_jumps(estimate: Estimate, places: Places) -> Iterator[Problem]:
    """Name neighboring sizes whose joints differ much in cost, and why.

    A rise by more than a quarter from size to size; a fall by more than some percent where the
    pipe is alike but for its size, and named: all pipe of that size may cost more.
    """
    for small, large in pairwise(_sizes(estimate, _any_wall)):
        yield from _named(estimate, places, small, large, _rises)
    by_kind: dict[tuple[object, ...], list[_Size]] = {}
    for key, one in _by_key(estimate, _like).items():
        by_kind.setdefault(key[1:], []).append(one)
    for sizes in by_kind.values():
        for small, large in pairwise(sorted(sizes, key=_od)):
            yield from _named(estimate, places, small, large, _falls)


def _rises(before: float, after: float) -> bool:
    return after > JUMP * before


def _falls(before: float, after: float) -> bool:
    return after < FALL * before


def _named(
    estimate: Estimate,
    places: Places,
    small: _Size,
    large: _Size,
    differs: Callable[[float, float], bool],
) -> Iterator[Problem]:
    alone = small.of_few or large.of_few
    before, after = (one.per_joint(alone=alone) for one in (small, large))
    if large.od_mm > NEIGHBORS * small.od_mm or not differs(before, after):
        return
    currency = estimate.job.cover.currency
    rises = after > before
    word = "rises" if rises else "falls"
    wall, like = ("", "") if rises else (f" {_wall(large)}", " of like pipe")
    scope = f" (its own minutes only: one size has under {FEWEST_JOINTS})" if alone else ""
    why = _why(small, large, alone=alone)
    alike = BESIDES if BESIDE in why else ""
    yield Problem(
        places.where("schedule", large.run_id, "size"),
        f"From {_from_to(small, large)}{wall} fusion {word} from {money_text(currency, before)} to "
        f"{money_text(currency, after)} a joint{like}{scope}: {why}"
        f"{f'. {alike}' if alike else ''}",
        alike=alike,
    )


def _from_to(small: _Size, large: _Size) -> str:
    """Return both sizes, of one system ``12 to 14 in IPS``."""
    if small.od_system == large.od_system:
        return size_label(small.od_system, f"{small.size} to {large.size}")
    return " to ".join(size_label(one.od_system, one.size) for one in (small, large))


def _wall(one: _Size) -> str:
    """Return what the wall of a size is called: ``SDR 11``."""
    return f"{ratio_label(one.od_system)} {one.dr:g}"


def _any_wall(run: Run) -> tuple[object, ...]:
    return run.size, run.od_system


def _like(run: Run) -> tuple[object, ...]:
    return run.size, run.od_system, run.dr, run.material, run.placement, run.access_factor


def _od(one: _Size) -> float:
    return one.od_mm


def _sizes(estimate: Estimate, key: Callable[[Run], tuple[object, ...]]) -> Sequence[_Size]:
    return sorted(_by_key(estimate, key).values(), key=_od)


def _by_key(
    estimate: Estimate, key: Callable[[Run], tuple[object, ...]]
) -> dict[tuple[object, ...], _Size]:
    costs = [each.cost_type for each in estimate.by_run.allocations]
    of_time = [i for i, kind in enumerate(costs) if cost_type(kind).paid == "by fusion"]
    bought = [i for i, kind in enumerate(costs) if kind == CONSUMABLES.cost_type]
    people = cache(partial(_people, estimate.job.crew))
    found: dict[tuple[object, ...], _Size] = {}
    for run, sized in estimate.pairs:
        if not sized.counts.butt_joints:
            continue
        first = _Size(run.od_system, run.size, sized.geometry.od_mm, run.run_id, run.dr)
        one = found.setdefault(key(run), first)
        amounts = estimate.by_run.by_run[run.run_id].amounts
        for i in of_time:
            one.by_time += float(amounts[i])
        for i in bought:
            one.consumables += float(amounts[i])
        one.joints += sized.counts.butt_joints
        one.crew_min += 60.0 * estimate.crew_hours.get(run.run_id, 0.0)
        one.joining_min += sized.cycle.plain.period_min * sized.counts.butt_joints
        one.people = max(one.people, people(sized.cycle.at, sized.cycle.plain.machines))
        one.classes.add(sized.machine.class_id)
    return found


def _people(crew: Sequence[Role], at: BandShare, machines: int) -> float:
    """Return the people of a crew on a diameter at a place among the bands."""
    return sum(people_at(role, at, machines) for role in crew)


def _why(small: _Size, large: _Size, *, alone: bool = False) -> str:
    """Return what lies behind a rise or a fall: each cause of it that has weight."""
    before, after = (one.per_joint(alone=alone) for one in (small, large))
    causes = _Causes(rises=after >= before, least=_least(before, after))
    causes.classes(small.classes, large.classes)
    people = round(large.people - small.people, 1)
    noun = "person" if abs(people) == 1 else "people"
    causes.add(people, TENTH, "{:g}", f"{noun} a crew", fewer="fewer")
    causes.add(
        large.joint_min - small.joint_min,
        causes.least * small.paid_min,
        "{:.0f} min",
        "for the joint itself (Task times, the wall)",
    )
    if not alone:
        causes.add(
            large.paid_min - large.joint_min - small.paid_min + small.joint_min,
            causes.least * small.paid_min,
            "{:.0f} min",
            BESIDE,
        )
    bought = large.consumables / large.joints - small.consumables / small.joints
    causes.add(bought, causes.least * before, "{:,.2f}", "of consumables per joint")
    if not causes.named:
        causes.add(
            large.hourly - small.hourly,
            causes.least * small.hourly,
            "{:,.0f}",
            "for each paid crew-hour (premiums, rent, fuel)",
        )
    return ", ".join(causes.named) or "nothing stands out; it follows Task times and the wall"


def _least(before: float, after: float) -> float:
    """Return the share from which a cause is named: a tenth, less where little changes."""
    return min(TENTH, CAUSE * abs(after / before - 1.0)) if before else TENTH


class _Causes:
    """The causes of a rise, or of a fall, in words; what works the other way is none."""

    def __init__(self, *, rises: bool, least: float) -> None:
        self.rises, self.least = rises, least
        self.named: list[str] = []

    def classes(self, before: set[str], after: set[str]) -> None:
        """Name the machine classes that one size has and the other has not."""
        added, gone = (", ".join(sorted(some)) for some in (after - before, before - after))
        if added and (self.rises or not gone):
            self.named.append(f"machine class {added} is added")
        elif added:
            self.named.append(f"machine class {added} in place of {gone}")
        elif gone:
            self.named.append(f"machine class {gone} no longer serves")

    def add(self, more: float, least: float, form: str, of: str, fewer: str = "less") -> None:
        """Name a difference that works in the direction of the whole."""
        if abs(more) >= least and (more > 0) is self.rises:
            word = "more" if more > 0 else fewer
            self.named.append(f"{form.format(abs(more))} {word} {of}")
