"""Which pipe, machines or sticks each class on rent serves, in words."""

import datetime as dt
from bisect import bisect_left, bisect_right
from collections.abc import Iterable, Iterator, Sequence

from estimator.display import sentence, show
from estimator.models.equipment import Lifter, Machine
from estimator.models.estimate import Estimate
from estimator.models.job import Run
from estimator.models.plan import PlanLine
from estimator.models.rental import RentalSpan
from estimator.models.rental_kinds import rental_items
from estimator.standards.pipe_names import ratio_label, size_label, sizes_label

NEAR = "NEAR A LIMIT. "
"""What comes before a reason of a class that comes close to what it can do."""


def what_for(estimate: Estimate, spans: Sequence[RentalSpan]) -> str:
    """Return what a class is, as its fleet sheet describes it, and what its spans serve."""
    item = rental_items(estimate.job)[spans[0].kind, spans[0].class_id]
    described = item.description if isinstance(item, Machine | Lifter) else None
    return (
        f"{described}: {serves(estimate, spans)}"
        if described
        else sentence(serves(estimate, spans))
    )


def serves(estimate: Estimate, spans: Sequence[RentalSpan]) -> str:
    """Return what the spans of one class serve."""
    kind, system = spans[0].kind, estimate.job.cover.unit_system
    if kind == "lifting":
        need = show(max(span.why.need for span in spans), "mass", system)
        return f"lifts sticks up to {need}, reserve included"
    if kind == "generator":
        machines = _machines(estimate, spans)
        return f"machine{'s' * (len(machines) > 1)} {', '.join(machines)}"
    return sizes_with_walls(_runs(estimate, spans))


def sizes(estimate: Estimate, span: RentalSpan) -> str:
    """Return the sizes that a machine joins while it is on rent."""
    return sizes_label((run.od_system, run.size) for run in _runs(estimate, [span]))


def sizes_with_walls(runs: Iterable[Run]) -> str:
    """Return sizes in the order of the schedule, each with its wall ratios."""
    return "; ".join(
        f"{size} {ratio} {', '.join(f'{dr:g}' for dr in sorted(walls))}"
        for (size, ratio), walls in _by_size(runs).items()
    )


def _by_size(runs: Iterable[Run]) -> dict[tuple[str, str], set[float]]:
    """Return the wall ratios of each size, with what the size and the ratio are called."""
    found: dict[tuple[str, str], set[float]] = {}
    for run in runs:
        called = size_label(run.od_system, run.size), ratio_label(run.od_system)
        found.setdefault(called, set()).add(run.dr)
    return found


def _runs(estimate: Estimate, spans: Sequence[RentalSpan]) -> list[Run]:
    """Return the runs that are joined on these spans of a machine class."""
    joined = {line.run_id for line in _lines(estimate, spans) if line.machine == spans[0].class_id}
    return [estimate.job.runs[at] for at in sorted(estimate.place_of_run[name] for name in joined)]


def _machines(estimate: Estimate, spans: Sequence[RentalSpan]) -> list[str]:
    """Return the machine classes that these generators feed."""
    used = {line.machine for line in _lines(estimate, spans)}
    return [m.class_id for m in estimate.job.machines if m.class_id in used and not m.self_powered]


def _lines(estimate: Estimate, spans: Sequence[RentalSpan]) -> Iterator[PlanLine]:
    """Yield what the crew of each span does on the dates on which it is used."""
    for span in spans:
        lines, used = estimate.plan.by_crew[span.crew], set(span.used)
        first = bisect_left(lines, span.on_rent, key=_date)
        on_rent = lines[first : bisect_right(lines, span.off_rent, key=_date)]
        yield from (line for line in on_rent if line.date in used)


def _date(line: PlanLine) -> dt.date:
    return line.date
