"""How finish and cost of the rest of a job follow pace, rework and weather; needs numpy.

The planner lays out whole joints in every shift, each as long as the others: near an edge a hair
of pace is a joint in every shift of the plan, and the finish would jump by days. On site each
shift has a pace of its own, and such an edge comes in some shifts and not in others. So the rest
is laid out at some paces, and what is read at one is the mean over the paces of its shifts.
"""

import math
from collections.abc import Mapping

import numpy as np

from estimator.models.kinds import MarkupType, RiskFactor
from estimator.risk.draws import Floats
from estimator.risk.surface import Level, Plans, figures_of

OUTSIDE = 0.05
"""Share of the draws at either end that may read the figures of the last pace laid out there."""
LEAST_STEP, MOST_PACES = 0.08, 12
"""Step of the logarithm from pace to pace, and how many paces are laid out at most."""
MORE_REWORK = 3.0
"""Level of rework that shows what a joint more takes: minutes grow evenly with it."""
SHIFTS = np.linspace(-2.0, 2.0, 17)
"""Paces of shifts in standard deviations, and how likely each is."""
CHANCES = np.exp(-(SHIFTS**2) / 2) / np.exp(-(SHIFTS**2) / 2).sum()


class RestSurface:
    """Days and cost of the rest of a job for any pace, rework and weather.

    Parameters
    ----------
    plans : Plans
        The rest laid out, or priced, at any level; 1 is the learned pace.
    drawn : mapping of factor to array
        Draws of all factors, each over what the plan of the rest has.
    shift_sd : float
        Standard deviation of the logarithm of a shift's pace around that of its size.
    rework_cost : float
        Cost of consumables of the rework joints in the plan.
    """

    def __init__(
        self, plans: Plans, drawn: Mapping[RiskFactor, Floats], shift_sd: float, rework_cost: float
    ) -> None:
        self.plans, self.rework_cost = plans, rework_cost
        self._base = plans.at(Level())
        self._logs = _log_paces(drawn["productivity"], shift_sd)
        made = [plans.at(Level(productivity=math.exp(at))) for at in self._logs]
        self._minutes = np.maximum.accumulate([one.minutes for one in made])
        self._rows = over_shifts(self._logs, np.array([one.row for one in made]), shift_sd)

    def at(
        self, drawn: Mapping[RiskFactor, Floats]
    ) -> tuple[Floats, Mapping[MarkupType, Floats], Floats]:
        """Return days to the finish, job cost by type and the damages in it for each draw."""
        found = _between(self._slowed(drawn), self._logs, self._rows) * self._wetter(drawn)
        return figures_of(found, drawn, self.rework_cost)

    def _slowed(self, drawn: Mapping[RiskFactor, Floats]) -> Floats:
        """Return logarithms of the pace at which the same joints take what rework takes, too."""
        alone = np.interp(np.log(drawn["productivity"]), self._logs, self._minutes)
        more = self.plans.at(Level(rework=MORE_REWORK)).minutes / self._base.minutes - 1
        change = 1 + more * (drawn["rework"] - 1) / (MORE_REWORK - 1)
        found: Floats = np.interp(alone * change, self._minutes, self._logs)
        return found

    def _wetter(self, drawn: Mapping[RiskFactor, Floats]) -> Floats:
        """Return by how much the weather multiplies each figure."""
        base = np.array(self._base.row)
        weather = drawn["weather"]
        levels = np.array(sorted({float(weather.min()), 1.0, float(weather.max())}))
        wet = np.array([self.plans.at(Level(weather=float(at))).row for at in levels])
        change = np.divide(wet, base, out=np.ones_like(wet), where=base != 0)
        return _between(weather, levels, change)


def _log_paces(paces: Floats, shift_sd: float) -> Floats:
    """Return logarithms of paces that reach over the draws and the shifts around them."""
    low, high = np.log(np.quantile(paces, (OUTSIDE, 1 - OUTSIDE)))
    low, high = min(low, 0.0) - shift_sd, max(high, 0.0) + shift_sd
    return np.linspace(low, high, min(MOST_PACES, 2 + int((high - low) / LEAST_STEP)))


def over_shifts(logs: Floats, rows: Floats, shift_sd: float) -> Floats:
    """Return the figures where every shift has a pace of its own around each of these.

    Joints made a shift are what is meant, so a fast shift counts for more: the days at each pace
    come in by one over their number.
    """
    found = []
    for at in logs:
        shifts = _between(at + shift_sd * SHIFTS, logs, rows)
        weights = CHANCES / shifts[:, 0]
        found.append(weights @ shifts / weights.sum())
    return np.array(found)


def _between(values: Floats, levels: Floats, rows: Floats) -> Floats:
    """Return the rows at some values, between those of the levels; the ends hold."""
    return np.stack([np.interp(values, levels, column) for column in rows.T], axis=-1)
