"""Earned value: where a job stands against its baseline, in hours or in money.

The formulas are the common textbook ones (PMBOK Guide, earned value analysis; Lipke's earned
schedule). The estimates at completion here stand beside the forecast and are no part of it.
"""

from bisect import bisect_right
from collections.abc import Sequence
from itertools import pairwise

from estimator.data_class import dataclass
from estimator.steps.marks import or_none, unless_zero
from estimator.steps.plain import difference, ratio
from estimator.steps.recorder import step


@step("EAC at the present cost", "BAC / CPI")
def at_present_cost(budget: float, earned: float, actual: float) -> float | None:
    """Return the estimate at completion if all that is left costs as what was done."""
    return unless_zero(earned * actual, lambda: budget * actual / earned)


@step("EAC as planned", "actual + BAC - earned")
def as_planned(budget: float, earned: float, actual: float) -> float:
    """Return the estimate at completion if all that is left costs as planned."""
    return actual + budget - earned


@step("EAC at cost and schedule", "actual + (BAC - earned) / (CPI x SPI)")
def at_cost_and_schedule(
    budget: float, earned: float, actual: float, cpi: float | None, spi: float | None
) -> float | None:
    """Return the estimate at completion with both indices."""
    both = or_none(cpi) * or_none(spi)
    return unless_zero(both, lambda: actual + (budget - earned) / both)


@step("TCPI", "(BAC - earned) / (BAC - actual)")
def to_complete_index(budget: float, earned: float, actual: float) -> float | None:
    """Return what each unit still in the budget must earn."""
    return unless_zero(budget - actual, lambda: (budget - earned) / (budget - actual))


@step("Duration at SPI(t)", "planned duration / SPI(t)")
def duration_at_index(
    planned_duration: float, earned_time: float, actual_time: float
) -> float | None:
    """Return the duration of the whole job at the present pace in time."""
    return unless_zero(
        earned_time * actual_time, lambda: planned_duration * actual_time / earned_time
    )


@dataclass(frozen=True)
class EarnedValue:
    """Planned, earned and actual amounts of one date, all in one unit (hours or money).

    A ratio is None where its divisor is zero: nothing was planned, earned or paid yet.
    """

    budget: float
    planned: float
    earned: float
    actual: float

    @property
    def cost_variance(self) -> float:
        """Earned less actual; negative is over cost."""
        return difference(self.earned, self.actual)

    @property
    def schedule_variance(self) -> float:
        """Earned less planned; negative is behind."""
        return difference(self.earned, self.planned)

    @property
    def cost_index(self) -> float | None:
        """CPI: earned for each unit spent."""
        return ratio(self.earned, self.actual)

    @property
    def schedule_index(self) -> float | None:
        """SPI: earned for each unit planned."""
        return ratio(self.earned, self.planned)

    @property
    def eac_at_present_cost(self) -> float | None:
        """Estimate at completion if all that is left costs as what was done: BAC / CPI."""
        return at_present_cost(self.budget, self.earned, self.actual)

    @property
    def eac_as_planned(self) -> float:
        """Estimate at completion if all that is left costs as planned: AC + BAC - EV."""
        return as_planned(self.budget, self.earned, self.actual)

    @property
    def eac_at_cost_and_schedule(self) -> float | None:
        """Estimate at completion with both indices: AC + (BAC - EV) / (CPI SPI)."""
        indices = self.cost_index, self.schedule_index
        return at_cost_and_schedule(self.budget, self.earned, self.actual, *indices)

    @property
    def to_complete_index(self) -> float | None:
        """TCPI: what each unit still in the budget must earn, (BAC - EV) / (BAC - AC)."""
        return to_complete_index(self.budget, self.earned, self.actual)

    def variance_at_completion(self, at_completion: float) -> float:
        """VAC: the budget less an estimate at completion."""
        return self.budget - at_completion

    def to_complete(self, at_completion: float) -> float:
        """ETC: what is still to be spent under an estimate at completion."""
        return at_completion - self.actual


def earned_schedule(planned: Sequence[float], earned: float) -> float:
    """Return the time at which the plan would have earned what is earned now.

    Parameters
    ----------
    planned : sequence of float
        Planned amount, cumulative, after each whole period; ``planned[0]`` belongs to period 1
        and nothing is planned at time 0. Must not fall.
    earned : float
        Earned amount to date, 0 or more.

    Returns
    -------
    float
        Periods from the start, linear inside a period; the whole duration once all is earned.
        Where the plan stands still, the end of the stand: no progress was due.

    Raises
    ------
    ValueError
        Where the planned amounts fall or the earned amount is negative.

    Examples
    --------
    >>> earned_schedule([50.0 * day for day in range(1, 21)], 350.0)
    7.0
    """
    curve = [0.0, *planned]
    if any(later < sooner for sooner, later in pairwise(curve)):
        raise ValueError("the planned amounts must not fall")
    if earned < 0:
        raise ValueError("the earned amount must not be negative")
    whole = bisect_right(curve, earned) - 1
    if whole >= len(planned):
        return float(_first(curve, curve[-1]))
    return whole + (earned - curve[whole]) / (curve[whole + 1] - curve[whole])


def _first(curve: Sequence[float], value: float) -> int:
    """Return the first period at whose end the curve has that value."""
    return next(number for number, amount in enumerate(curve) if amount >= value)


@dataclass(frozen=True)
class ScheduleInTime:
    """Earned schedule against the time that has passed, in periods."""

    earned_time: float
    actual_time: float
    planned_duration: float

    @property
    def index(self) -> float | None:
        """SPI(t): earned time over actual time; unlike SPI it does not end at 1 for a late job."""
        return ratio(self.earned_time, self.actual_time)

    @property
    def variance(self) -> float:
        """SV(t): earned time less actual time."""
        return difference(self.earned_time, self.actual_time)

    @property
    def duration(self) -> float | None:
        """Duration of the whole job at the present SPI(t)."""
        return duration_at_index(self.planned_duration, self.earned_time, self.actual_time)


@dataclass(frozen=True)
class LaborVariance:
    """Actual labor cost less baseline labor cost, by reason; the parts add up to the whole."""

    rate: float
    pace: float
    quantity: float
    weather: float

    @property
    def total(self) -> float:
        """Actual less baseline."""
        return self.rate + self.pace + self.quantity + self.weather


@dataclass(frozen=True)
class LaborActual:
    """What labor was to cost and did cost for the work of one run or of the job.

    ``standard_hours`` are the baseline hours of the work done, at its actual quantity;
    ``baseline_hours`` those of the quantity in the baseline; ``lost_hours`` paid hours lost to
    weather, part of ``actual_hours``.
    """

    standard_rate: float
    actual_rate: float
    baseline_hours: float
    standard_hours: float
    actual_hours: float
    lost_hours: float = 0.0

    @property
    def variance(self) -> LaborVariance:
        """Split the difference into rate, pace, quantity and weather.

        Hours lost to weather are priced at the standard rate and taken out of the pace, so that
        ``total = actual_hours actual_rate - baseline_hours standard_rate``.
        """
        worked = self.actual_hours - self.lost_hours
        return LaborVariance(
            rate=(self.actual_rate - self.standard_rate) * self.actual_hours,
            pace=(worked - self.standard_hours) * self.standard_rate,
            quantity=(self.standard_hours - self.baseline_hours) * self.standard_rate,
            weather=self.lost_hours * self.standard_rate,
        )
