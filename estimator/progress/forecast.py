"""When a job ends and what it takes, learned from what was made; needs numpy.

Pace by size, rework and weather are learned, each with what is left unknown about it. The planner
lays out the rest of the job at some levels of them, and all draws are read off between these plans.
"""

import datetime as dt
import math
from collections import defaultdict
from collections.abc import Mapping, Sequence
from functools import cached_property
from typing import NamedTuple

import numpy as np

from estimator.data_class import dataclass
from estimator.joint.left import left_of
from estimator.joint.shared import Shared
from estimator.models.bands import BANDS, Band
from estimator.models.baseline import BUTT_PIECES, Baseline
from estimator.models.estimate import CostLine, Estimate, PricedJob
from estimator.models.job import Job
from estimator.models.kinds import (
    LABOR,
    LIQUIDATED_DAMAGES,
    OF_NO_JOINT,
    RISK_FACTORS,
    WITH_PLAN,
    RiskFactor,
    cost_type,
)
from estimator.models.sized_run import SizedRun
from estimator.progress.baseline import piece_counts, piece_times
from estimator.progress.learning import Learned, Prior, SizePace, learn
from estimator.progress.learning_draws import draw_paces, draw_shares
from estimator.progress.made import MadeWork
from estimator.progress.observed import (
    DayPace,
    Seen,
    observations,
    paces,
    rework_seen,
    weather_seen,
)
from estimator.progress.rest import at_pace, rest_of
from estimator.progress.rest_surface import RestSurface
from estimator.risk.draws import Floats
from estimator.risk.figures import rework_cost
from estimator.risk.surface import MOST_LOST_SHARE, Dates, Level, Plans, job_at
from estimator.stages import LaidOut, lay_out_job, plan_job, price_job
from estimator.steps.kinds import Share
from estimator.steps.recorder import step
from estimator.working_time.working_days import MONTH_NAMES, WorkingCalendar

DRAWS, SEED = 400, 20_270_101
SHARES = (0.1, 0.5, 0.9)
REWORK_WORTH, WEATHER_WORTH = 200.0, 40.0
"""How many joints and days the planned shares count for; assumptions."""


class Range(NamedTuple):
    """A figure at 10, 50 and 90 %."""

    low: float
    middle: float
    high: float


class Finish(NamedTuple):
    """The date that half of the draws end by, and those inside which 80 % of them end."""

    low: dt.date
    middle: dt.date
    high: dt.date


@step("Learned share", "(planned x counts for + seen) / (counts for + out of)")
def learned_share(planned: Share, worth: float, seen: float, out_of: float) -> Share:
    """Return a share between the planned and the seen one, weighted by what each is worth."""
    return (planned * worth + seen) / (worth + out_of)


@dataclass(frozen=True)
class LearnedShare:
    """A share as planned, as seen, and as forecast: a weighted mean of the two."""

    planned: float
    worth: float
    seen: Seen

    @property
    def mean(self) -> float:
        """Planned and seen share, weighted by what the planned one is worth."""
        return learned_share(self.planned, self.worth, self.seen.hits, self.seen.out_of)


@dataclass(frozen=True)
class Forecast:
    """What is left, and when it ends; ``plan`` is the rest at the learned pace.

    Labor-hours and cost are at completion; cost is None where no actual cost is known.
    """

    finish: Finish
    labor_hours: Range
    cost: Range | None
    deadline_share: float | None
    learned: Learned
    days: tuple[DayPace, ...]
    bands: Mapping[str, Range]
    rework: LearnedShare
    weather: LearnedShare
    plan: PricedJob
    plans: int
    draws: int

    def pace(self, size: str) -> SizePace:
        """Return the learned pace of a size."""
        return self.learned.size(size)


@dataclass(frozen=True)
class Known:
    """What a forecast starts from.

    ``actual_hours`` and ``actual_cost`` what was spent to date,
    None where it is not known.
    """

    estimate: Estimate
    baseline: Baseline
    made: MadeWork
    actual_hours: float | None = None
    actual_cost: float | None = None


def forecast(known: Known, shared: Shared, draws: int = DRAWS) -> Forecast | None:
    """Return when the job ends and what it takes; None where nothing is left to join.

    Raises
    ------
    InputError
        If the rest cannot be laid out, such as by crews that have left.
    """
    return _Forecaster(known, shared, draws).forecast()


def forecast_finish(known: Known, shared: Shared, draws: int = DRAWS) -> Finish | None:
    """Return the finish of ``forecast`` alone, in a fraction of its time: no rest is priced.

    Raises
    ------
    InputError
        If the rest cannot be laid out.
    """
    return _Forecaster(known, shared, draws).finish()


class _Forecaster:
    def __init__(self, known: Known, shared: Shared, draws: int) -> None:
        self.known, self.shared, self.draws = known, shared, draws
        self.rng = np.random.default_rng(SEED)
        self.job = known.estimate.job
        self.rest = rest_of(self.job, known.made)
        self.days = paces(known.made, known.baseline, self.job)
        self.learned = learn(observations(self.days), Prior(pace=self._prior_pace()))
        self.rework = LearnedShare(
            self.job.counting.rework_share, REWORK_WORTH, rework_seen(known.made)
        )
        self.weather = LearnedShare(
            self._planned_weather(),
            WEATHER_WORTH,
            weather_seen(known.made, self.job, known.baseline.head.start),
        )

    def finish(self) -> Finish | None:
        if not self.weights:
            return None
        laid = lay_out_job(self._base(), self.shared)
        drawn = self._draws(laid)
        plans = Plans(laid, self.shared, _at_level)
        surface = RestSurface(plans, drawn, self.learned.shift_sd, 0.0)
        days, _, _ = surface.at(drawn)
        return _dates(days, plans.dates)

    def forecast(self) -> Forecast | None:
        weights = self.weights
        if not weights:
            return None
        plan = price_job(plan_job(self._base(), self.shared))
        drawn = self._draws(plan)
        plans = Plans(plan, self.shared, _at_level)
        surface = RestSurface(plans, drawn, self.learned.shift_sd, rework_cost(plan))
        days, _, _ = surface.at(drawn)
        labor, cost = self._money(surface, drawn, plan)
        return Forecast(
            finish=_dates(days, plans.dates),
            labor_hours=self._hours(labor, plan),
            cost=self._cost(cost, plan.cost_lines),
            deadline_share=self._deadline_share(days, plans.dates),
            learned=self.learned,
            days=self.days,
            bands={band: self._band(band) for band in sorted({*weights, *self.learned.sizes})},
            rework=self.rework,
            weather=self.weather,
            plan=plan,
            plans=len(plans),
            draws=self.draws,
        )

    def _base(self) -> Job:
        """Return the rest of the job at the learned pace and shares."""
        return self._with_shares(at_pace(self.rest, self.median, self.mean_pace))

    @cached_property
    def median(self) -> Mapping[Band, float]:
        """The learned pace of each size."""
        return {band: self.learned.size(band).factor for band in BANDS}

    @property
    def mean_pace(self) -> float:
        """The learned pace of what is left."""
        return _weighted(self.weights, self.median)

    def _prior_pace(self) -> float:
        """Return the mean of the range of productivity on Risk inputs, 1 without one."""
        span = next((x for x in self.job.risk_ranges if x.factor == "productivity"), None)
        return 1.0 if span is None else (span.low + 4 * span.likely + span.high) / 6

    def _planned_weather(self) -> float:
        """Return the share of the open days gone by that the plan gave to weather."""
        months = {row.month: row.lost_share for row in self.job.weather}
        start, status = self.known.baseline.head.start, self.known.made.status
        calendar = WorkingCalendar.of(self.job)
        days = [start + dt.timedelta(n) for n in range((status - start).days + 1)]
        shares = [
            months.get(MONTH_NAMES[day.month - 1], 0.0) for day in days if calendar.is_open(day)
        ]
        return sum(shares) / len(shares) if shares else 0.0

    @cached_property
    def weights(self) -> Mapping[Band, float]:
        """Crew-paced minutes of the butt joints that are left, by size.

        With connections alone left, those stand for them; empty where nothing is left.
        """
        joints: dict[Band, float] = defaultdict(float)
        others: dict[Band, float] = defaultdict(float)
        for run in _left(self.rest, self.shared):
            times = piece_times(run)
            for kind, number in piece_counts(run.counts).items():
                if number:
                    found = joints if kind in BUTT_PIECES else others
                    found[run.cycle.band] += number * times[kind].crew_min
        return joints or others

    def _with_shares(self, job: Job) -> Job:
        """Return the job with the learned rework and weather."""
        planned = self.weather.planned
        change = self.weather.mean / planned if planned else 1.0
        extra = 0.0 if planned else self.weather.mean
        months = tuple(
            row.model_copy(
                update={"lost_share": min(MOST_LOST_SHARE, row.lost_share * change + extra)}
            )
            for row in job.weather
        )
        changed = job.changed(rework_share=min(1.0, self.rework.mean))
        return changed.model_copy(update={"weather": months})

    def _draws(self, rest: PricedJob | LaidOut) -> Mapping[RiskFactor, Floats]:
        """Return draws of every factor, each over what the plan of the rest has.

        What is unknown about a share comes with the chance of the days and joints that are left.
        """
        weights, plan = self.weights, rest.plan
        sizes = tuple(weights)
        drawn = draw_paces(self.rng, self.learned, sizes, self.draws)
        pace = sum(weights[size] * drawn[size] for size in sizes) / sum(weights.values())
        pace = pace / self.mean_pace
        shifts = max(1, sum(day.kind == "work" for day in plan.crew_days))
        noise = self.learned.shift_sd / math.sqrt(shifts)
        pace = pace * np.exp(noise * self.rng.standard_normal(self.draws))
        joints = max(1, sum(run.counts.butt_joints for run in rest.runs))
        factors: dict[RiskFactor, Floats] = {name: np.ones(self.draws) for name in RISK_FACTORS}
        factors["productivity"] = pace
        factors["rework"] = self._share_factor(self.rework, joints)
        factors["weather"] = self._share_factor(self.weather, max(1, plan.work_days))
        return factors

    def _share_factor(self, share: LearnedShare, trials: int) -> Floats:
        if not share.mean:
            return np.ones(self.draws)
        seen = share.seen
        drawn = draw_shares(
            self.rng, share.planned, share.worth, seen.hits, seen.out_of, self.draws
        )
        return self.rng.binomial(trials, np.minimum(drawn, 1.0)) / trials / share.mean

    def _money(
        self, surface: RestSurface, drawn: Mapping[RiskFactor, Floats], plan: PricedJob
    ) -> tuple[Floats, Floats]:
        """Return labor cost, and all cost of the rest, of each draw."""
        silent = dict(drawn)
        _, with_labor, _ = surface.at(silent)
        silent["wages"] = np.zeros(self.draws)
        _, without, _ = surface.at(silent)
        whole, rest = (np.sum(list(each.values()), axis=0) for each in (with_labor, without))
        return whole - rest, whole

    def _hours(self, labor: Floats, plan: PricedJob) -> Range:
        """Return labor-hours at completion; they follow the labor cost of the rest."""
        cost = sum(float(x.amount) for x in plan.cost_lines if x.cost_type == LABOR)
        hours = labor * (plan.total_labor_hours / cost if cost else 0.0)
        spent = self.known.actual_hours
        so_far = self._earned_hours() if spent is None else spent
        return _range(so_far + hours)

    def _earned_hours(self) -> float:
        accepted = self.known.made.accepted
        return sum(
            run.labor_hours * min(1.0, run.share(accepted.get(run.run_id, {})))
            for run in self.known.baseline.runs
        )

    def _cost(self, cost: Floats, cost_lines: Sequence[CostLine]) -> Range | None:
        """Return cost at completion: spent, what the rest takes, and what is not earned yet."""
        if self.known.actual_cost is None:
            return None
        planned_in_full = sum(
            float(line.amount)
            for line in cost_lines
            if cost_type(line.cost_type).paid not in WITH_PLAN
        )
        return _range(self.known.actual_cost + cost - planned_in_full + self._not_earned())

    def _not_earned(self) -> float:
        """Return the cost of pipe, materials, tests and the like that is still to come."""
        estimate, accepted = self.known.estimate, self.known.made.accepted
        baseline = self.known.baseline
        by_run = estimate.by_run
        left = 0.0
        for cost in by_run.runs:
            run = baseline.by_run.get(cost.run_id)
            share = 0.0 if run is None else min(1.0, run.share(accepted.get(cost.run_id, {})))
            kept = sum(
                float(amount)
                for each, amount in zip(by_run.allocations, cost.amounts, strict=True)
                if cost_type(each.cost_type).paid not in (*WITH_PLAN, *OF_NO_JOINT)
            )
            left += kept * (1 - share)
        passed = {name.casefold() for name in self.known.made.tests_passed}
        begun = bool(self.known.made.days)
        for one in baseline.lump_sums:
            earned = (one.rule == "start" and begun) or one.name.casefold() in passed
            if one.rule != "time" and not earned and one.name != LIQUIDATED_DAMAGES:
                left += float(one.cost)
        return left

    def _deadline_share(self, days: Floats, dates: Dates) -> float | None:
        deadline = self.job.dates.deadline
        if deadline is None:
            return None
        return float(np.mean(np.rint(days) <= dates.number(deadline)))

    def _band(self, band: str) -> Range:
        pace = self.learned.size(band)
        reach = 1.2816 * pace.sd
        return Range(*(math.exp(pace.mean + sign * reach) for sign in (-1, 0, 1)))


def _at_level(job: Job, level: Level) -> Job:
    """Return the rest of a job at a level; pace changes the crew-paced time of butt joints alone.

    Connections stay as planned: nothing shows their pace, and one must fit in a shift.
    """
    return job_at(
        job, Level(handling=level.productivity, rework=level.rework, weather=level.weather)
    )


def _left(rest: Job, shared: Shared) -> list[SizedRun]:
    return left_of(shared.sizer(rest).size_all(), rest.done)


def _weighted(weights: Mapping[Band, float], paces_: Mapping[Band, float]) -> float:
    return sum(weights[band] * paces_[band] for band in weights) / sum(weights.values())


def _dates(days: Floats, dates: Dates) -> Finish:
    """Return the dates inside which 80 % of the draws end: one in ten before, one in ten after."""
    low, middle, high = _range(days)
    at = _whole(middle)
    return Finish(
        dates.date(min(math.ceil(low), at)), dates.date(at), dates.date(max(math.floor(high), at))
    )


def _whole(days: float) -> int:
    """Return the working day on which so many are over; plans count the last one whole."""
    return max(1, round(days))


def _range(values: Floats) -> Range:
    """Return the values that 10, 50 and 90 % of the draws do not exceed."""
    found = np.sort(values)
    places = [max(0, math.ceil(round(share * len(found), 6)) - 1) for share in SHARES]
    return Range(*(float(found[place]) for place in places))
