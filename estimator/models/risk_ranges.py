"""How far the factors of a job may go: what the trials draw from."""

from typing import Literal

from estimator.models.base import Model
from estimator.models.kinds import RiskFactor


class RiskRange(Model):
    """How far a factor on the whole job may go; 1 is as planned."""

    factor: RiskFactor
    low: float
    likely: float
    high: float
    shape: Literal["PERT", "triangular"]
    basis: str | None = None
