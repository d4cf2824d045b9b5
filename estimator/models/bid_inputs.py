"""What the owner's bid form asks for: its items, and the bidder's own terms."""

from typing import ClassVar, Literal

from estimator.models.base import Model
from estimator.models.rates import MoneyRate

TermPlace = Literal["condition", "not included", "how it is paid"]


class OwnerItem(Model):
    """How the owner numbers and words one of our bid items.

    Rows with the same ``owner_no`` make one item of the owner's.
    """

    TABLE: ClassVar[str] = "owner_items"
    ROW: ClassVar[str] = "item"

    item: str
    owner_no: str
    owner_text: str | None = None
    unit: str | None = None
    price: MoneyRate | None = None


class BidTerm(Model):
    """One line of our own among the conditions, the exclusions or the terms of payment."""

    TABLE: ClassVar[str] = "bid_terms"

    place: TermPlace
    text: str
