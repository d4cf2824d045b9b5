"""What every cost line needs: the two sections, and rates that say how they came about."""

from estimator.models.base import Model
from estimator.models.estimate import Section
from estimator.models.rates import MoneyRate, Rates
from estimator.steps.kinds import Money
from estimator.steps.recorder import Worked, step

DIRECT: Section = "Direct cost"
INDIRECT: Section = "Indirect cost"


def amount_of(listed: Model, key: str) -> float:
    """Return a price of a row or sheet, which must not be blank."""
    amount: float = getattr(listed, key).amount
    return amount


@step("Price", "as given")
def given_price(listed: Model, key: str) -> Money:
    """Return a price of a row or sheet as it is given."""
    return amount_of(listed, key)


@step("Share", "as given")
def given_share(rates: Rates, key: str) -> float:
    """Return a share of the Rates sheet as it is given."""
    share: float = getattr(rates, key)
    return share


def rate_input(rates: Rates, key: str) -> Worked[float]:
    """Return a rate that is a cell of the Rates sheet."""
    value = getattr(rates, key)
    made = given_price if isinstance(value, MoneyRate) else given_share
    return made.worked(rates, key)
