"""Money: rounding to cents as a spreadsheet does it, and expressions that are also formulas."""

from collections.abc import Callable
from dataclasses import dataclass
from decimal import ROUND_HALF_UP, Decimal

CENT = Decimal("0.01")

RefText = Callable[[str, str, str], str | None]
"""Turns (table, row key, field key) into a formula reference, None where there is no cell."""


def to_decimal(value: float) -> Decimal:
    """Return the decimal number that a spreadsheet shows for a float: 15 significant digits.

    >>> to_decimal(1.005)
    Decimal('1.005')
    """
    return Decimal(format(value, ".15g"))


def round_money(value: float) -> Decimal:
    """Round to cents, half away from zero, as the spreadsheet function ROUND(x, 2) does.

    >>> round_money(1.005), round_money(-2.675)
    (Decimal('1.01'), Decimal('-2.68'))
    """
    return to_decimal(value).quantize(CENT, ROUND_HALF_UP)


def round_quantity(value: float, digits: int) -> float:
    """Round a quantity half away from zero, so that the cell holds what the page shows.

    >>> round_quantity(2.345, 2)
    2.35
    """
    return float(to_decimal(value).quantize(Decimal(1).scaleb(-digits), ROUND_HALF_UP))


def round_to_step(value: float, step: float | None) -> Decimal:
    """Round money to a step, half away from zero; to cents without one.

    >>> round_to_step(1234.56, 10), round_to_step(17.426, None)
    (Decimal('1230.00'), Decimal('17.43'))
    """
    if not step:
        return round_money(value)
    return round_money(round_quantity(value / step, 0) * step)


@dataclass(frozen=True)
class InputRef:
    """One input value, by table, row key and field key."""

    table: str
    row: str
    key: str
    value: float


@dataclass(frozen=True)
class Expr:
    """A number together with how it comes from the inputs.

    Build with ``Expr.of`` and the operators ``+``, ``-`` and ``*``; ``value`` is the result in
    Python and ``formula`` the same calculation over the workbook's own input cells.
    """

    value: float
    parts: tuple[str | InputRef, ...]

    @classmethod
    def of(cls, table: str, row: str, key: str, value: float) -> "Expr":
        """Return the expression that is just one input."""
        return cls(value, (InputRef(table, row, key, value),))

    @classmethod
    def one(cls) -> "Expr":
        """Return the neutral factor."""
        return cls(1.0, ("1",))

    def formula(self, reference: RefText) -> str | None:
        """Return the formula text without ``=``, or None if an input has no cell."""
        texts = []
        for part in self.parts:
            if isinstance(part, InputRef):
                ref = reference(part.table, part.row, part.key)
                if ref is None:
                    return None
                texts.append(ref)
            else:
                texts.append(part)
        return "".join(texts)

    def _join(self, sign: str, other: "Expr", value: float) -> "Expr":
        return Expr(value, ("(", *self.parts, sign, *other.parts, ")"))

    def __add__(self, other: "Expr") -> "Expr":
        return self._join("+", other, self.value + other.value)

    def __sub__(self, other: "Expr") -> "Expr":
        return self._join("-", other, self.value - other.value)

    def __mul__(self, other: "Expr") -> "Expr":
        return Expr(self.value * other.value, (*self.parts, "*", *other.parts))

    def __truediv__(self, other: "Expr") -> "Expr":
        return Expr(self.value / other.value, ("(", *self.parts, "/", *other.parts, ")"))
