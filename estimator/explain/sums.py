"""Sums that can be shown: a number together with the arithmetic on plain numbers that gives it."""

import math
from dataclasses import dataclass

from estimator.display import figure
from estimator.money import round_money

CENTS = 2
SLACK_DIGITS = 9
ATOM, PRODUCT, TOTAL = 3, 2, 1


@dataclass(frozen=True)
class Sum:
    """A value, the arithmetic that gives it, and how tightly that binds."""

    value: float
    text: str
    rank: int = ATOM

    @property
    def is_plain(self) -> bool:
        """Whether there is no arithmetic in it, only a number."""
        return self.rank == ATOM and not self.text.endswith(")")

    def __add__(self, other: "Sum") -> "Sum":
        return Sum(self.value + other.value, f"{self.text} + {other.text}", TOTAL)

    def __sub__(self, other: "Sum") -> "Sum":
        return Sum(self.value - other.value, f"{self.text} - {other._inside(PRODUCT)}", TOTAL)

    def __mul__(self, other: "Sum") -> "Sum":
        left, right = self._inside(PRODUCT), other._inside(PRODUCT)
        return Sum(self.value * other.value, f"{left} x {right}", PRODUCT)

    def __truediv__(self, other: "Sum") -> "Sum":
        left, right = self._inside(PRODUCT), other._inside(ATOM)
        return Sum(self.value / other.value, f"{left} / {right}", PRODUCT)

    def _inside(self, rank: int) -> str:
        return self.text if self.rank >= rank else f"({self.text})"


PI = Sum(math.pi, "pi")


def num(value: float) -> Sum:
    """Return a plain number."""
    return Sum(float(value), figure(value))


def ceil(inner: Sum) -> Sum:
    """Return the whole number at or above, but for rounding in the unit conversion."""
    return Sum(math.ceil(round(inner.value, SLACK_DIGITS)), f"ceil({inner.text})")


def floor(inner: Sum) -> Sum:
    """Return the whole number at or below, but for rounding."""
    return Sum(math.floor(round(inner.value, SLACK_DIGITS)), f"floor({inner.text})")


def nearest(inner: Sum) -> Sum:
    """Return the nearest whole number, half upwards."""
    return Sum(math.floor(round(inner.value, SLACK_DIGITS) + 0.5), f"round({inner.text})")


def to_cents(inner: Sum) -> Sum:
    """Return an amount of money rounded to cents, half away from zero."""
    return Sum(float(round_money(inner.value)), f"round({inner.text}, {CENTS})")


def greatest(one: Sum, other: Sum) -> Sum:
    """Return the greater of two."""
    return Sum(max(one.value, other.value), f"max({one.text}, {other.text})")


def total(parts: list[Sum]) -> Sum:
    """Return the sum of several, zero of none."""
    if not parts:
        return num(0)
    found = parts[0]
    for part in parts[1:]:
        found = found + part
    return found
