"""Which run a crew may take first where its next one is not ready, and what that takes."""

from collections import defaultdict
from collections.abc import Iterable, Iterator, Mapping, Sequence
from itertools import pairwise
from typing import NamedTuple

from estimator.joint.cycle import test_minutes
from estimator.models.planned_job import PlannedJob
from estimator.models.sized_run import SizedRun
from estimator.plan.crews import moves_from, pipe_to_try
from estimator.plan.total_float import RunSpan
from estimator.working_time.on_site import Holds


class OtherFirst(NamedTuple):
    """The run after next, which may come first, and the minutes of moves and trials that adds."""

    run_id: str
    more_min: float


def others_first(planned: PlannedJob, spans: Mapping[str, RunSpan]) -> dict[str, OtherFirst]:
    """Return, of each run that may change places with the next one of its crew, that next run.

    One crew works both, one after the other, with one machine class, and the schedule gives them
    one priority. The later run may start and waits for no run that is not finished; neither is
    held; nothing that waits for the earlier one, a hydrotest neither, begins before both are done.

    Parameters
    ----------
    planned : PlannedJob
        The job, planned and equipped.
    spans : mapping of str to RunSpan
        When each run is worked, in the order of their first lines.

    Returns
    -------
    dict of str to OtherFirst
        By the run that waits; without those whose place is fixed.

    Notes
    -----
    The number of moves stays; a change of sizes or a trial fusion may be added. Nothing is planned
    anew: whether the later run's pipe and trench are ready, the plan does not know.
    """
    swaps = _Swaps(planned, spans)
    return {one: found for one, found in swaps.all()}


class _Swaps:
    """Pairs of runs that may change places."""

    def __init__(self, planned: PlannedJob, spans: Mapping[str, RunSpan]) -> None:
        self.job, self.spans, self.tests = planned.job, spans, planned.tests
        self.runs = {run.run_id: run for run in planned.job.runs}
        self.sized = {one.run_id: one for one in planned.runs}
        self.holds = Holds.of(planned.job)
        self.size_change = {row.band: row.size_change_min for row in planned.job.size_bands}
        self.waiting: dict[str, list[str]] = defaultdict(list)
        for run in planned.job.runs:
            for name in (*run.followed_runs, *run.joined_runs):
                self.waiting[name].append(run.run_id)

    def all(self) -> Iterator[tuple[str, OtherFirst]]:
        by_crew: dict[int, list[RunSpan]] = defaultdict(list)
        for span in self.spans.values():
            for crew in span.crews:
                by_crew[crew].append(span)
        for order in by_crew.values():
            for at, (one, other) in enumerate(pairwise(order)):
                if self._is_alike(one, other) and self._is_free(one, other):
                    before, after = order[at - 1 : at] if at else [], order[at + 2 : at + 3]
                    planned = self._minutes([*before, one, other, *after], begins=not before)
                    swapped = self._minutes([*before, other, one, *after], begins=not before)
                    yield one.run_id, OtherFirst(other.run_id, max(0.0, swapped - planned))

    def _is_alike(self, one: RunSpan, other: RunSpan) -> bool:
        """Return whether one crew works both with one machine class, in an order not asked for."""
        return (
            one.crews == other.crews
            and one.machines == other.machines
            and len(one.crews) == len(one.machines) == 1
            and one.last <= other.first
            and self.runs[one.run_id].priority == self.runs[other.run_id].priority
        )

    def _is_free(self, one: RunSpan, other: RunSpan) -> bool:
        """Return whether dates, holds, other runs and tests leave the later run come first."""
        run = self.runs[other.run_id]
        needed = self._spans_of({*run.followed_runs, *run.joined_runs} - {run.run_id})
        waiting = self._spans_of({*self.waiting[one.run_id]} - {one.run_id})
        return (
            (run.earliest_start is None or run.earliest_start <= one.first)
            and all(_ends_before(span, one) for span in needed)
            and all(_ends_before(other, span) for span in waiting)
            and all(test.start > other.last for test in self.tests if one.run_id in test.run_ids)
            and not self._is_held(one, other)
        )

    def _spans_of(self, names: Iterable[str]) -> Iterator[RunSpan]:
        """Yield the spans of those runs that have work."""
        return (self.spans[name] for name in names if name in self.spans)

    def _is_held(self, one: RunSpan, other: RunSpan) -> bool:
        return any(
            hold.run in (None, one.run_id, other.run_id)
            and hold.from_date <= other.last
            and self.holds.last(hold) >= one.first
            for hold in self.holds
        )

    def _minutes(self, order: Sequence[RunSpan], *, begins: bool) -> float:
        """Return the minutes of the moves between some runs and of their trial fusions."""
        runs = [self.sized[span.run_id] for span in order]
        moves = [
            minutes
            for before, run in pairwise(runs)
            for _, minutes in moves_from(
                self.job.moves, before.machine.class_id, before.geometry.od_mm, run,
                self.size_change,
            )
        ]  # fmt: skip
        return sum(moves) + sum(self._trials(runs, begins=begins))

    def _trials(self, runs: Sequence[SizedRun], *, begins: bool) -> Iterator[float]:
        """Yield the minutes of the trial fusions: of the first run, if none is before it."""
        tried = None if begins else self._asked(runs[0])
        for run in runs:
            asked = self._asked(run)
            if asked is not None and asked != tried:
                yield test_minutes(run.cycle.plain, self.job.counting)
                tried = asked

    def _asked(self, run: SizedRun) -> tuple[str, tuple[float, ...]] | None:
        """Return the machine and the pipe of the trial fusion of a run, None for none."""
        pipe = pipe_to_try(self.job.counting, run)
        if pipe is None or not run.counts.butt_joints:
            return None
        return run.machine.class_id, pipe


def _ends_before(one: RunSpan, other: RunSpan) -> bool:
    """Return whether one run is over before another begins; a crew does both on one day."""
    if one.run_id == other.run_id:
        return False
    return one.last < other.first or (one.last == other.first and one.crews == other.crews)
