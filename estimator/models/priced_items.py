"""What is bought or hired besides the crew's work: other costs, and fittings by size and DR."""

import re
from typing import ClassVar, Literal

from estimator.models.base import KeyedModel
from estimator.models.kinds import FittingKind
from estimator.models.rates import MoneyRate

Counted = Literal["lump sum", "by run", "by length", "by joint"]
LUMP_SUM: Counted = "lump sum"
OtherType = Literal["labor", "equipment", "materials", "other"]
FittingMake = Literal["molded", "fabricated"]


_DEGREES = r"(\d{1,3}(?:\.\d+)?)(?:[ -]+(\d)/(\d))?\s*(?:\u00b0|deg\.?|degrees)?"
_ANGLE = re.compile(rf"(?:(\d{{1,5}})\s*[x\u00d7*@]\s*)?{_DEGREES}", re.IGNORECASE)


def angles_in(text: str, elbows: int) -> tuple[tuple[float, int], ...]:
    """Return angles in degrees with the number of elbows of each; one alone is that of all.

    >>> angles_in("4 x 90; 2 x 22-1/2", 8), angles_in("45", 3), angles_in("", 5)
    (((90.0, 4), (22.5, 2)), ((45.0, 3),), ())

    Raises
    ------
    ValueError
        Names the piece that is no number of elbows times an angle.
    """
    pieces = [piece.strip() for piece in re.split(r"[;,]", text) if piece.strip()]
    counts: dict[float, int] = {}
    for piece in pieces:
        found = _ANGLE.fullmatch(piece)
        if found is None or (found[1] is None and len(pieces) > 1) or found[4] == "0":
            raise ValueError(piece)
        number, whole, above, below = found.groups()
        angle = float(whole) + (int(above) / int(below) if above else 0.0)
        counts[angle] = counts.get(angle, 0) + (elbows if number is None else int(number))
    return tuple(counts.items())


class OtherCost(KeyedModel):
    """A row of the table of other costs: a quantity, once or for each run, length or joint.

    ``counted`` says what the quantity is for: the whole, one run, one unit of length as the
    results show it, or one butt joint. With a ``run`` it is for that run alone.
    """

    TABLE: ClassVar[str] = "other_costs"
    ROW: ClassVar[str] = "row_name"
    KEYS: ClassVar[tuple[str, ...]] = ("item", "run")

    item: str
    quantity: float
    unit: str
    unit_price: MoneyRate
    counted: Counted = LUMP_SUM
    run: str | None = None
    cost_type: OtherType = "other"
    subcontract: bool = False
    bid_item: str | None = None
    basis: str | None = None


class FittingPrice(KeyedModel):
    """Price of one fitting of a kind, size and DR; ``to_size`` is the smaller end where it has one.

    Without ``made`` it is for molded and fabricated ones alike, without an ``angle`` for elbows of
    any; without a price it is still to be asked for.
    """

    TABLE: ClassVar[str] = "fitting_prices"
    ROW: ClassVar[str] = "row_name"
    KEYS: ClassVar[tuple[str, ...]] = (
        "kind", "od_system", "size", "to_size", "dr", "made", "angle",
    )  # fmt: skip

    kind: FittingKind
    od_system: str
    size: str
    to_size: str | None = None
    dr: float
    made: FittingMake | None = None
    angle: float | None = None
    price: MoneyRate | None = None
    basis: str | None = None
