"""Every machine class side by side for each pipe: what it would read, cost, or why it cannot."""

import datetime as dt
from collections.abc import Mapping, Sequence

from estimator.data_class import dataclass
from estimator.equipment.near_limits import Near, near_limits
from estimator.equipment.spans import Use, rent_cost, uses
from estimator.joint.machines import Demand, GaugeRange, gauge_range, obstacle
from estimator.models.choice import Reason, Rejection
from estimator.models.equipment import Machine
from estimator.models.estimate import Estimate
from estimator.models.job import Run
from estimator.models.sized_run import SizedRun
from estimator.standards.pipe_names import pipe_label

Joined = Mapping[str, Sequence[tuple[int, dt.date]]]
"""Crews and dates on which each run is joined."""


@dataclass(frozen=True)
class Option:
    """One class for one pipe: taken, another that fits (with its rent), or not possible."""

    machine: Machine
    taken: bool
    obstacle: Rejection | None
    gauge_mpa: GaugeRange | None
    rent: float | None
    near: tuple[tuple[Near, Reason], ...]


@dataclass(frozen=True)
class PipeOptions:
    """The classes for one pipe on one placement, and the days on which it is joined.

    ``pieces`` is how many machines are priced, those of each crew.
    """

    label: str
    placement: str
    run_ids: tuple[str, ...]
    force_n: float
    dates: tuple[dt.date, ...]
    pieces: int
    options: tuple[Option, ...]

    @property
    def taken(self) -> Option:
        """The class that the plan takes."""
        return next(option for option in self.options if option.taken)


def pipe_options(estimate: Estimate) -> tuple[PipeOptions, ...]:
    """Return the classes side by side for each pipe that is joined, in order of the schedule.

    The rent of a class is what it would cost over the days on which this pipe is joined, by the
    cheapest tiers, with delivery and for each crew that joins it, as if it came for this pipe
    alone; so the classes compare like with like.
    """
    groups: dict[tuple[str, str, str], list[tuple[Run, SizedRun]]] = {}
    for run, sized in estimate.pairs:
        label = pipe_label(run.od_system, run.size, run.dr)
        key = (label, run.placement, sized.machine.class_id)
        groups.setdefault(key, []).append((run, sized))
    joined: dict[str, list[tuple[int, dt.date]]] = {}
    for line in estimate.plan.lines:
        joined.setdefault(line.run_id, []).append((line.crew, line.date))
    return tuple(
        _options(estimate, label, members, joined)
        for (label, _, _), members in groups.items()
        if any(sized.counts.has_work for _, sized in members)
    )


def _options(
    estimate: Estimate, label: str, members: Sequence[tuple[Run, SizedRun]], joined: Joined
) -> PipeOptions:
    run, sized = members[0]
    uses = _uses(estimate, [when for run, _ in members for when in joined.get(run.run_id, ())])
    return PipeOptions(
        label=label,
        placement=run.placement,
        run_ids=tuple(run.run_id for run, _ in members),
        force_n=sized.machine.force_n,
        dates=tuple(sorted({date for use in uses for date in use.dates})),
        pieces=sum(use.quantity for use in uses),
        options=tuple(
            _option(estimate, machine, run, sized, uses) for machine in estimate.job.machines
        ),
    )


def _uses(estimate: Estimate, joined: Sequence[tuple[int, dt.date]]) -> list[Use]:
    dates: dict[int, set[dt.date]] = {}
    for crew, date in joined:
        dates.setdefault(crew, set()).add(date)
    return [use for crew, days in sorted(dates.items()) for use in uses(estimate.job, crew, days)]


def _option(
    estimate: Estimate, machine: Machine, run: Run, sized: SizedRun, uses: Sequence[Use]
) -> Option:
    why_not = obstacle(machine, run, sized.geometry, sized.fusion, Demand.of(estimate.job))
    gauge = gauge_range(machine, sized.geometry, sized.fusion, estimate.job.fusion.drag_mpa)
    near = near_limits(machine, sized.geometry.od_mm, gauge, estimate.job.equipment.near_limit)
    return Option(
        machine=machine,
        taken=machine.class_id == sized.machine.class_id,
        obstacle=why_not,
        gauge_mpa=gauge,
        rent=None if why_not else sum(rent_cost(estimate.job, machine, use) for use in uses),
        near=() if why_not else tuple(near),
    )
