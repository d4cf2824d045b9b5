"""What must be ready before a crew comes or a test begins, in words, and who sees to it."""

import datetime as dt
from collections.abc import Iterator, Mapping, Sequence
from typing import NamedTuple

from estimator.display import UnitSystem, counted, show, show_day_of_year
from estimator.models.estimate import Estimate
from estimator.models.job import Run
from estimator.models.rental import RentalSpan
from estimator.models.weeks import GearMove, LookAhead, Readiness, ReadyItem
from estimator.plan.by_week import (
    FINISHED,
    OPEN_TRENCH,
    PIPE,
    RESTRAINED,
    STICK,
    STRINGS_OF,
    WATER,
)
from estimator.standards.pipe_names import pipe_label
from estimator.workbook.results.names_in_short import in_stretches

PIPE_SUPPLY, EARTHWORK, SUPERINTENDENT = "Pipe supply", "Earthwork", "Superintendent"
BUYER, RENTAL_SUPPLIER = "Buyer", "Rental supplier"

DONE_BEFORE = {
    FINISHED: "{} finished",
    RESTRAINED: "{} finished and restrained",
    STRINGS_OF: "Strings of {} joined, for the tie-ins",
}


class Due(NamedTuple):
    """One thing to have ready: by when, for whom, and who usually sees to it.

    ``run_id`` is the run that waits for it, None for tests and rented gear; ``waits`` is who waits;
    ``before`` the date on which the work begins, None for rented gear; ``whom`` leaves it out.
    """

    by: dt.date
    what: str
    needed_for: str
    who: str
    run_id: str | None = None
    waits: str = "crew"
    before: dt.date | None = None
    whom: str = ""


def all_due(estimate: Estimate, ahead: LookAhead) -> list[Due]:
    """Return what must be ready or delivered in some weeks, by date.

    Parameters
    ----------
    estimate : Estimate
        The job, for its units and its pipe.
    ahead : LookAhead
        The weeks.
    """
    system = estimate.job.cover.unit_system
    order = {run.run_id: place for place, run in enumerate(estimate.job.runs)}
    found = [
        _due(ready, what, who, system)
        for ready in ahead.ready
        for what, who in _ready(estimate, ready, order)
    ]
    found += _delivered(ahead.deliveries)
    return sorted(found, key=lambda one: one.by)


def _due(ready: Readiness, what: str, who: str, system: UnitSystem) -> Due:
    crew = f"{'test crew' if ready.is_test else 'crew'} {ready.crew}"
    whom = f"{ready.name}, {crew}"
    needed_for = f"{whom}, {show_day_of_year(ready.before, system)}"
    run_id, waits = (None, "test") if ready.is_test else (ready.name, "crew")
    return Due(ready.by, what, needed_for, who, run_id, waits, ready.before, whom)


def _delivered(moves: Sequence[GearMove]) -> Iterator[Due]:
    names: dict[tuple[dt.date, int], list[str]] = {}
    for move in moves:
        names.setdefault((move.date, move.crew), []).append(gear(move))
    for (date, crew), of in names.items():
        whom = f"Crew {crew}"
        yield Due(date, f"{', '.join(of)} delivered", whom, RENTAL_SUPPLIER, whom=whom)


def gear(move: GearMove | RentalSpan) -> str:
    """Return what is on rent, delivered or collected, such as ``2 M5``."""
    number = f"{move.quantity} " if move.quantity > 1 else ""
    return f"{number}{move.class_id}"


def _ready(
    estimate: Estimate, ready: Readiness, order: Mapping[str, int]
) -> Iterator[tuple[str, str]]:
    """Yield what must be ready for one run or test section, pipe first, and who sees to it."""
    items = {item.what: item for item in ready.items}
    if STICK in items:
        run = next(run for run in estimate.job.runs if run.run_id == ready.name)
        yield (_pipe(estimate, run, items), PIPE_SUPPLY)
    pieces = [item for item in ready.items if not (item.unit or item.name or item.what == STICK)]
    if pieces:
        text = ", ".join(counted(int(item.quantity), item.what) for item in pieces)
        yield (text, PIPE_SUPPLY)
    if OPEN_TRENCH in items:
        yield (f"Trench open, {_length(estimate, items[OPEN_TRENCH])}", EARTHWORK)
    if WATER in items:
        volume = show(items[WATER].quantity, "volume", estimate.job.cover.unit_system)
        yield (f"{volume} of test water", BUYER)
    for what, text in DONE_BEFORE.items():
        if runs := [item.name for item in ready.items if item.what == what]:
            yield (text.format(in_stretches(runs, order)), SUPERINTENDENT)


def _pipe(estimate: Estimate, run: Run, items: Mapping[str, ReadyItem]) -> str:
    sticks = counted(int(items[STICK].quantity), "stick")
    pipe = pipe_label(run.od_system, run.size, run.dr)
    return f"{sticks} of {pipe} strung, {_length(estimate, items[PIPE])}"


def _length(estimate: Estimate, item: ReadyItem) -> str:
    return show(item.quantity, "length", estimate.job.cover.unit_system)
