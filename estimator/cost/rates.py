"""What every cost line needs: the two sections, and rates as expressions."""

from estimator.models.estimate import Section
from estimator.models.job import Job
from estimator.models.rates import MoneyRate
from estimator.money import Expr

DIRECT: Section = "Direct cost"
INDIRECT: Section = "Indirect cost"


def rate_input(job: Job, key: str) -> Expr:
    """Return a cell of the Rates sheet as an expression."""
    value = getattr(job.rates, key)
    return Expr.of("rates", "", key, value.amount if isinstance(value, MoneyRate) else value)
