"""The customary accuracy of an estimate by its class."""

from estimator.data_class import dataclass
from estimator.standards import tables
from estimator.steps.kinds import Amount, Money, Share
from estimator.steps.marks import cents, number
from estimator.steps.recorder import step

TABLE = "estimate_class"


@step("Price at the end of a range", "bid price x (1 + percent)")
def price_at(price: Amount, share: Share) -> Money:
    """Return the price at one end of a customary range, to the cent."""
    return cents(number(price) * (1 + share))


@dataclass(frozen=True)
class Accuracy:
    """One customary range of a class, as shares of the estimate, and how sure its figures are."""

    reach: str
    low: float
    high: float
    source: str
    confidence: str


def accuracy(estimate_class: int) -> tuple[Accuracy, ...]:
    """Return the narrow and the wide accuracy range of an estimate class.

    Parameters
    ----------
    estimate_class : int
        1 to 5; 1 is the furthest defined.

    Returns
    -------
    tuple of Accuracy
        Low ends are below zero.

    Raises
    ------
    OutsideStandardError
        If there is no such class.

    References
    ----------
    ``aace_18r_97``, accuracy range by class.
    """
    classes = [tables.number(row, TABLE) for row in tables.load(TABLE)]
    source = tables.source_name(tables.load(TABLE)[0])
    tables.require("estimate class", estimate_class, min(classes), max(classes), source)
    return tuple(
        Accuracy(
            reach=str(row["reach"]),
            low=tables.number(row, "low_share"),
            high=tables.number(row, "high_share"),
            source=tables.source_name(row),
            confidence=str(row["confidence"]),
        )
        for row in tables.find_rows(TABLE, estimate_class=float(estimate_class))
    )
