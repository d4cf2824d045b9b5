"""Money and quantities, rounded as a spreadsheet does it."""

from decimal import ROUND_HALF_UP, Decimal

CENT = Decimal("0.01")


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
