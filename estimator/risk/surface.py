"""How finish and cost follow the work and the weather: the planner itself at some levels."""

import datetime as dt
from collections.abc import Callable, Mapping, Sequence
from itertools import pairwise
from typing import TypeVar

import numpy as np

from estimator.data_class import dataclass
from estimator.joint.shared import Shared
from estimator.models.estimate import PricedJob
from estimator.models.job import Job
from estimator.models.kinds import (
    BUTT_JOINT,
    CONSUMABLES,
    COST_TYPES,
    LIQUIDATED_DAMAGES,
    MarkupType,
    RiskFactor,
    cost_type,
)
from estimator.models.risk_ranges import RiskRange
from estimator.plan.crews import ONE_DAY
from estimator.risk.draws import Floats
from estimator.stages import LaidOut, lay_out_job, total_of
from estimator.working_time.working_days import WorkingCalendar

MOST_LOST_SHARE = 0.9
REACH = 1.1
FINER_STEPS = ((19, 2), (66, 1))
"""Runs up to which each step between levels is halved so often, to bound the planning time."""
SHORT_DAYS = 40
"""Days of work up to which every level of productivity is planned with every weather: one day is
then much of the job, and what both do together jumps from level to level."""
MOST_CROSSED = 2000
"""Runs up to which the ends of productivity and weather are also planned together; a longer job has
more days and days that differ less, so that the two changes multiply closely."""
PROBE = 1.25
SLOTS = tuple(dict.fromkeys((kind.factor, kind.markup) for kind in COST_TYPES))
"""Parts of the job cost that one factor multiplies and that carry the same markups."""
REWORK_TYPE = cost_type(CONSUMABLES.cost_type).markup
Number = TypeVar("Number", float, Floats)


@dataclass(frozen=True)
class Level:
    """Factors on the work and the weather at which the job is planned; 1 is as planned."""

    productivity: float = 1.0
    handling: float = 1.0
    rework: float = 1.0
    weather: float = 1.0


@dataclass(frozen=True)
class Outcome:
    """What a plan gives: minutes of work, days to its finish, cost of each of ``SLOTS``.

    ``days`` counts the working days from the start to the finish, weather days among them.
    """

    minutes: float
    days: int
    costs: tuple[float, ...]
    damages: float
    """Liquidated damages, a part of the cost."""

    @property
    def row(self) -> tuple[float, ...]:
        """The figures that are interpolated."""
        return float(self.days), *self.costs, self.damages


class Dates:
    """Working days of a job by number, weather days among them; day 1 is the first."""

    def __init__(self, job: Job) -> None:
        self._calendar, self._day = WorkingCalendar.of(job), job.dates.start
        self._days: list[dt.date] = []

    def number(self, date: dt.date) -> int:
        """Return how many working days there are up to a date."""
        while self._day <= date:
            self._next()
        return sum(day <= date for day in self._days)

    def date(self, number: float) -> dt.date:
        """Return the day on which this many working days are over, parts counted as whole."""
        whole = max(1, int(np.ceil(round(number, 6))))
        while len(self._days) < whole:
            self._next()
        return self._days[whole - 1]

    def _next(self) -> None:
        if self._calendar.kind(self._day) != "off":
            self._days.append(self._day)
        self._day += ONE_DAY


def job_at(job: Job, level: Level) -> Job:
    """Return the job with its crew-paced times, rework joints and weather changed.

    Productivity multiplies all crew-paced time: of the tasks, of moves and changes, and the
    extra time of test and rework joints. Handling multiplies the crew-paced tasks of butt joints
    alone. Machine-paced time, start-up, wrap-up and breaks stay. A month loses at most nine
    tenths of its days.
    """
    slow = level.productivity
    changed: dict[str, object] = {
        key: job.input(key) * slow
        for key in ("machine_move_min", "machine_swap_min", "test_joint_extra_min",
                    "rework_extra_min")
    }  # fmt: skip
    changed |= {
        "efficiency": job.shift.efficiency / slow,
        "rework_share": min(1.0, job.counting.rework_share * level.rework),
    }
    tasks = tuple(
        task.scaled(level.handling)
        if task.applies_to == BUTT_JOINT and task.paced_by == "crew"
        else task
        for task in job.task_times
    )
    bands = [
        band.model_copy(update={"size_change_min": band.size_change_min * slow})
        for band in job.size_bands
    ]
    weather = [
        month.model_copy(
            update={"lost_share": min(MOST_LOST_SHARE, month.lost_share * level.weather)}
        )
        for month in job.weather
    ]
    return job.changed(**changed).model_copy(
        update={
            "task_times": tasks,
            "size_bands": tuple(bands),
            "weather": tuple(weather),
        }
    )


def dates_of(dates: Dates, laid: LaidOut) -> Outcome:
    """Return when a job that was laid out is done; nothing is said of its cost."""
    return Outcome(
        minutes=sum(line.minutes for line in laid.plan.lines),
        days=dates.number(laid.finish),
        costs=tuple(0.0 for _ in SLOTS),
        damages=0.0,
    )


def outcome_of(dates: Dates, priced: PricedJob) -> Outcome:
    """Return the figures of a priced job; hydrotests may finish after its plan."""
    costs = dict.fromkeys(SLOTS, 0.0)
    damages = 0.0
    for line in priced.cost_lines:
        kind = cost_type(line.cost_type)
        costs[kind.factor, kind.markup] += float(line.amount)
        damages += float(line.amount) if line.cost_type == LIQUIDATED_DAMAGES else 0.0
    return Outcome(
        minutes=sum(line.minutes for line in priced.plan.lines),
        days=dates.number(priced.finish),
        costs=tuple(costs.values()),
        damages=damages,
    )


def cost_by_type(
    costs: Sequence[Number], paid: Mapping[RiskFactor, Number]
) -> dict[MarkupType, Number]:
    """Return the cost of each type of markup: slots, each times the factor on its prices."""
    found: dict[MarkupType, Number] = {}
    for cost, (factor, of_type) in zip(costs, SLOTS, strict=True):
        priced = cost if factor is None else cost * paid[factor]
        found[of_type] = found[of_type] + priced if of_type in found else priced
    return found


def figures_of(
    rows: Floats, drawn: Mapping[RiskFactor, Floats], rework_cost: float
) -> tuple[Floats, Mapping[MarkupType, Floats], Floats]:
    """Return days to the finish, job cost by type and the damages in it, of a row for each draw.

    ``rework_cost`` is that of the consumables of the rework joints in the plan.
    """
    days, *costs, damages = np.moveaxis(rows, -1, 0)
    by_type = cost_by_type(costs, drawn)
    by_type[REWORK_TYPE] = by_type[REWORK_TYPE] + rework_cost * (drawn["rework"] - 1)
    return days, by_type, damages


class Plans:
    """Plans the job at any level, each level once; ``change`` is what a level makes of a job.

    A job that is only laid out is laid out at every level, without prices.
    """

    def __init__(
        self,
        base: PricedJob | LaidOut,
        shared: Shared,
        change: Callable[[Job, Level], Job] = job_at,
    ) -> None:
        self.job, self.dates = base.job, Dates(base.job)
        self._change = change
        self._shared = shared
        self._priced = isinstance(base, PricedJob)
        self.weight = base.plan.weight(len(base.job.runs))
        """For how many runs each plan counts in the time it takes."""
        self._known = {Level(): self._outcome(base)}

    def __len__(self) -> int:
        return len(self._known)

    def at(self, level: Level) -> Outcome:
        """Return what the planner gives at a level; raises what it raises."""
        if level not in self._known:
            job = self._change(self.job, level)
            self._known[level] = self._outcome(
                total_of(job, self._shared)
                if self._priced
                else lay_out_job(job, self._shared, paid=False)
            )
        return self._known[level]

    def _outcome(self, made: PricedJob | LaidOut) -> Outcome:
        if isinstance(made, PricedJob):
            return outcome_of(self.dates, made)
        return dates_of(self.dates, made)


class Surface:
    """Days and cost for any factors, interpolated between plans; at a plan itself exact.

    The three factors on the work act through the minutes of work that they give together. Plans
    at some levels of productivity, and of weather, show what that many minutes cost and when they
    are done. Both changes multiply; by how much they do not, plans at the ends of both show.
    """

    def __init__(
        self,
        plans: Plans,
        ranges: Sequence[RiskRange],
        rework_cost: float,
    ) -> None:
        self.plans, self.rework_cost = plans, rework_cost
        self._spans = {span.factor: (span.low, span.high) for span in ranges}
        self._base = plans.at(Level()).minutes
        self._handling = self._minutes("cycle handling", "handling")
        self._rework = self._minutes("rework", "rework")
        self._slow = self._slow_levels()
        self._wet = _with_middles(self._ends("weather"), self._halvings)
        row = [plans.at(Level(productivity=slow)).minutes for slow in self._slow]
        self._minutes_at = np.maximum.accumulate(np.array(row))
        self._table = self._figures()

    def _figures(self) -> Floats:
        """Return the figures at every level of productivity with every weather."""
        if self.plans.at(Level()).days <= SHORT_DAYS:
            return self._planned(self._slow, self._wet)
        found = self._crossed()
        return found + self._joint_effect(found) if self.plans.weight <= MOST_CROSSED else found

    def _planned(self, slow: Sequence[float], wet: Sequence[float]) -> Floats:
        at = self.plans.at
        return np.array([[at(Level(productivity=s, weather=w)).row for w in wet] for s in slow])

    def _joint_effect(self, crossed: Floats) -> Floats:
        """Return what the figures at all levels have beyond those of two changes that multiply.

        It is planned at the ends of productivity with those of weather, none where either is as
        planned, and interpolated between; beyond the ends of productivity theirs holds.
        """
        slow, wet = self._ends("productivity"), self._ends("weather")
        rows = [self._slow.index(at) for at in slow]
        columns = [self._wet.index(at) for at in wet]
        beyond = self._planned(slow, wet) - crossed[np.ix_(rows, columns)]
        i, along = _place(self._minutes_at, self._minutes_at[rows])
        j, across = _place(np.array(self._wet), np.array(wet))
        found: Floats = _between(beyond, (i[:, None], j[None, :]), (along[:, None], across))
        return found

    def _crossed(self) -> Floats:
        """Return figures at all levels from plans for one change at a time: both multiply.

        What is nothing as planned has no share that changes, so there both add up.
        """
        base = np.array(self.plans.at(Level()).row)
        slow = np.array([self.plans.at(Level(productivity=at)).row for at in self._slow])[:, None]
        wet = np.array([self.plans.at(Level(weather=at)).row for at in self._wet])
        change = np.divide(wet, base, out=np.ones_like(wet), where=base != 0)
        found: Floats = np.where(base != 0, slow * change, slow + wet)
        return found

    @property
    def _halvings(self) -> int:
        """How often each step between levels is halved: as often as some planning time allows."""
        return next((n for most, n in FINER_STEPS if self.plans.weight <= most), 0)

    def _ends(self, factor: RiskFactor) -> list[float]:
        return sorted({*self._spans.get(factor, ()), 1.0})

    def _minutes(self, factor: RiskFactor, name: str) -> tuple[list[float], list[float]]:
        levels = self._ends(factor)
        return levels, [self.plans.at(Level(**{name: at})).minutes for at in levels]

    def _slow_levels(self) -> list[float]:
        """Return levels of productivity whose minutes reach as far as all factors together."""
        known = self._ends("productivity")
        least, most = known[0], known[-1]
        for far, pick in ((least, min), (most, max)):
            extra = sum(pick(row) / self._base - 1 for _, row in (self._handling, self._rework))
            if extra:
                probe = far if far != 1 else PROBE
                minutes = self.plans.at(Level(productivity=probe)).minutes
                slope = (minutes / self._base - 1) / (probe - 1)
                reach = far + REACH * extra * max(1.0, far) / slope if slope > 0 else far
                known.append(max(reach, far / 2))
        return _with_middles(sorted(set(known)), self._halvings)

    def minutes(self, drawn: Mapping[RiskFactor, Floats]) -> Floats:
        """Return the minutes of work that the three factors give together."""
        slow = drawn["productivity"]
        alone = np.interp(slow, self._slow, self._minutes_at)
        handling = np.interp(drawn["cycle handling"], *self._handling) - self._base
        rework = np.interp(drawn["rework"], *self._rework) - self._base
        found: Floats = alone + handling * slow + rework * (alone / self._base)
        return found

    def at(
        self, drawn: Mapping[RiskFactor, Floats]
    ) -> tuple[Floats, Mapping[MarkupType, Floats], Floats]:
        """Return days to the finish, job cost by type and the damages in it for each trial."""
        found = self._interpolate(self.minutes(drawn), drawn["weather"])
        return figures_of(found, drawn, self.rework_cost)

    def _interpolate(self, minutes: Floats, wet: Floats) -> Floats:
        i, along = _place(minutes, self._minutes_at)
        j, across = _place(wet, np.array(self._wet))
        return _between(self._table, (i, j), (along, across))


def _between(
    table: Floats, below: tuple[np.ndarray, np.ndarray], parts: tuple[Floats, Floats]
) -> Floats:
    """Return figures between four of a table: the cells below, and how far on to the next ones."""
    (i, j), (along, across) = below, parts
    after_i, after_j = (
        np.minimum(at + 1, most - 1) for at, most in zip((i, j), table.shape[:2], strict=True)
    )
    dry = table[i, j] * (1 - along) + table[after_i, j] * along
    rainy = table[i, after_j] * (1 - along) + table[after_i, after_j] * along
    found: Floats = dry * (1 - across) + rainy * across
    return found


def _place(values: Floats, levels: Floats) -> tuple[np.ndarray, Floats]:
    """Return the level below each value, and how far it is on to the next; the ends hold."""
    below = np.clip(np.searchsorted(levels, values, side="right") - 1, 0, len(levels) - 1)
    above = np.minimum(below + 1, len(levels) - 1)
    step = levels[above] - levels[below]
    part = np.divide(values - levels[below], step, out=np.zeros_like(values), where=step > 0)
    return below, np.clip(part, 0.0, 1.0)[:, None]


def _with_middles(levels: list[float], halvings: int) -> list[float]:
    for _ in range(halvings):
        levels = sorted({*levels, *((a + b) / 2 for a, b in pairwise(levels))})
    return levels
