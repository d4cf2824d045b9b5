"""Marked numbers: a value with the tree of the arithmetic that gave it, and its readings."""
# ruff: noqa: ANN401 - a marked number stands in for a number of any type

import math
import operator
from collections.abc import Callable, Iterator, Sequence
from decimal import Decimal
from functools import reduce
from typing import Any, Generic, NamedTuple, ParamSpec, TypeVar, cast

from estimator.data_class import dataclass
from estimator.models.joint import Source
from estimator.money import round_money, round_quantity, to_decimal

N = TypeVar("N")
P = ParamSpec("P")
R = TypeVar("R")
DIGITS, SHOWN_DIGITS = 9, 15
MOST_TERMS, FIRST_TERMS = 400, 10
"""A sum of more numbers shows the first of them and the last on the page."""
PI = math.pi
NO_CELL = '""'
"""A blank input without a cell, where a formula asks whether it is blank."""
CONSTANTS = {PI: ("pi", "PI()")}
"""Numbers with a name: on the page, and in a cell."""


class Cells(Decimal):
    """An amount in a formula for many rows that stands for a range of cells."""


SIGNS = {"+": (1, operator.add), "-": (1, operator.sub), "*": (2, operator.mul),
         "/": (2, operator.truediv)}  # fmt: skip


class Place(NamedTuple):
    """An input by table, row and key; one that is not live may be blank, which counts as 0."""

    table: str
    row: str
    key: str
    live: bool = True


class Mark:
    """A number and how it came about. What cannot be shown fails, and never passes in silence."""

    __slots__ = ("args", "kind", "label", "op", "place", "sources", "value")

    def __init__(self, value: Any, op: str, args: tuple["Mark", ...]) -> None:
        self.value, self.op, self.args = value, op, args
        self.label, self.kind = "", ""
        self.place: Place | None = None
        self.sources: tuple[Source, ...] = ()

    @classmethod
    def leaf(
        cls, value: Any, label: str = "", kind: str = "", place: Place | None = None
    ) -> "Mark":
        """Return a number that is given."""
        found = cls(value, "", ())
        found.label, found.kind, found.place = label, kind, place
        return found

    def __bool__(self) -> bool:
        raise TypeError("a step that branches needs either(test, yes, no)")

    def __float__(self) -> float:
        raise TypeError("float(x) in a step loses how x came about")

    def __gt__(self, other: Any) -> "Mark":
        return node(">", operator.gt, self, other)

    def __lt__(self, other: Any) -> "Mark":
        return node("<", operator.lt, self, other)

    def __eq__(self, other: object) -> "Mark":  # type: ignore[override]
        return node("=", operator.eq, self, other)

    __hash__ = None  # type: ignore[assignment]

    def __neg__(self) -> "Mark":
        return node("-", operator.sub, 0, self)

    def __add__(self, other: Any) -> "Mark":
        return self if _of_nothing(other) else node("+", operator.add, self, other)

    def __radd__(self, other: Any) -> "Mark":
        return self if _of_nothing(other) else node("+", operator.add, other, self)

    def __sub__(self, other: Any) -> "Mark":
        return self if _of_nothing(other) else node("-", operator.sub, self, other)

    def __rsub__(self, other: Any) -> "Mark":
        return node("-", operator.sub, other, self)

    def __mul__(self, other: Any) -> "Mark":
        return node("*", operator.mul, self, other)

    def __rmul__(self, other: Any) -> "Mark":
        start_of_product = type(other) is int and other == 1
        return self if start_of_product else node("*", operator.mul, other, self)

    def __truediv__(self, other: Any) -> "Mark":
        return node("/", operator.truediv, self, other)

    def __rtruediv__(self, other: Any) -> "Mark":
        return node("/", operator.truediv, other, self)

    @property
    def taken(self) -> "Mark":
        """The tree without what the page does not show: branches not taken, inner rounding."""
        if self.op == "either":
            return self.args[1 if self.args[0].value else 2].taken
        return self.args[0].taken if self.op and FUNCTIONS[self.op].inside else self

    @property
    def is_given(self) -> bool:
        """Whether there is no arithmetic in it."""
        return not self.taken.op

    @property
    def is_times_one(self) -> bool:
        """Whether it is one number times 1, which is not worth a line."""
        factors = self.args if self.op == "*" else ()
        return any(factor.is_given and factor.value == 1 for factor in factors)

    @property
    def terms(self) -> list["Mark"]:
        """The terms of a sum, as many as there are; the number itself if it is no sum."""
        last, found = self, []
        while last.op == "+":
            last, term = last.args
            found.append(term)
        return [last, *reversed(found)]

    def leaves(self) -> Iterator["Mark"]:
        """Yield the numbers that the page shows."""
        for term in self.taken.terms:
            found = term.taken
            if found.op == "+":
                yield from found.leaves()
            elif found.op:
                for arg in found.args:
                    yield from arg.leaves()
            else:
                yield found

    def work(self, leaf: Callable[["Mark"], Any]) -> Any:
        """Return the result of the tree on other values of its leaves."""
        if not self.op:
            return leaf(self)
        if self.op == "either":
            return self.args[1 if self.args[0].value else 2].work(leaf)
        if self.op == "+":
            return reduce(operator.add, [term.work(leaf) for term in self.terms])
        return FUNCTIONS[self.op].on(*(arg.work(leaf) for arg in self.args))

    def write(self, leaf: Callable[["Mark"], str], style: str, rank: int = 0) -> str:
        """Return the tree as text, its leaves as given; style is ``page`` or ``cell``."""
        if not self.op:
            return leaf(self)
        if self.op == "+":
            return self._write_sum(leaf, style, rank)
        if self.op in SIGNS:
            own = SIGNS[self.op][0]
            left = self.args[0].write(leaf, style, own)
            right = self.args[1].write(leaf, style, own + (self.op in "-/"))
            right = f"({right})" if style == "page" and right.startswith("-") else right
            page = f"{left} {self.op.replace('*', 'x')} {right}"
            text = page if style == "page" else f"{left}{self.op}{right}"
            return f"({text})" if rank > own else text
        made = FUNCTIONS[self.op]
        if made.op == "either" and style == "page":
            return self.args[1 if self.args[0].value else 2].write(leaf, style, rank)
        if made.inside:
            return self.args[0].write(leaf, style, rank)
        texts = [arg.write(leaf, style, made.rank) for arg in self.args]
        if made.op == "blank" and texts == ["0"]:
            texts = [NO_CELL]
        text = (made.page if style == "page" else made.cell).format(*texts)
        return f"({text})" if rank > made.own_rank else text

    def _write_sum(self, leaf: Callable[["Mark"], str], style: str, rank: int) -> str:
        own = SIGNS["+"][0]
        texts = [term.write(leaf, style, own) for term in self.terms]
        if style == "page" and len(texts) > MOST_TERMS:
            texts = [*texts[:FIRST_TERMS], f"... ({len(texts):,} numbers)", texts[-1]]
        text = (" + " if style == "page" else "+").join(texts)
        return f"({text})" if rank > own else text


def _of_nothing(number: Any) -> bool:
    """Return whether a number is the start of a sum, or the sum of nothing."""
    return isinstance(number, int | Decimal) and not number


def node(op: str, fn: Callable[..., Any], *args: Any) -> Mark:
    """Return the marked result of a function on numbers, marked or plain."""
    marks = tuple(arg if type(arg) is Mark else Mark.leaf(arg) for arg in args)
    return Mark(fn(*(mark.value for mark in marks)), op, marks)


@dataclass(frozen=True)
class Function(Generic[P, R]):
    """A function that a step may use: on numbers, on the page and in a cell."""

    op: str
    on: Callable[P, R]
    page: str
    cell: str
    inside: bool = False
    """Whether page and cell show only what is in its brackets."""
    rank: int = 0
    """How tightly its arguments must bind: 3 puts every calculation in brackets."""
    own_rank: int = 3
    """How tightly its text binds: 2 for one that ends in a product."""

    def __call__(self, *args: P.args, **kwargs: P.kwargs) -> R:
        """Return the number, or the marked number of marked ones."""
        for arg in args:
            if type(arg) is Mark:
                return cast("R", node(self.op, self.on, *args))
        return self.on(*args, **kwargs)


def _rounded(many: Any) -> Any:
    """Round an array of amounts that are not negative, half up, at 15 significant digits."""
    import numpy as np

    scale = 10.0 ** (SHOWN_DIGITS - 1 - np.floor(np.log10(np.where(many > 0, many, 1.0))))
    return np.floor(np.rint(many * scale) / scale + 0.5)


def _cents(amount: float) -> float:
    if hasattr(amount, "__array__"):
        return cast("float", _rounded(amount * 100) / 100)
    return float(round_money(amount))


def _to_step(amount: float, size: float) -> float:
    if not size:
        return _cents(amount)
    if hasattr(amount, "__array__"):
        return _cents(_rounded(amount / size) * size)
    return _cents(round_quantity(amount / size, 0) * size)


def _ceil(x: float, least: int = 0) -> int:
    return max(least, math.ceil(round(x, DIGITS)))


def _floor(x: float, least: int | None = None) -> int:
    found = math.floor(round(x, DIGITS))
    return found if least is None else max(least, found)


def _rounded_quantity(x: float, digits: int) -> float:
    return round_quantity(x, int(digits))


def _nearest_step(x: float, size: float) -> float:
    return float(to_decimal(round_quantity(x / size, 0) * size))


def _ceil_step(x: float, size: float) -> float:
    return float(to_decimal(_ceil(x / size) * size))


def _share_of(part: float, whole: float) -> float:
    if hasattr(whole, "__array__"):
        import numpy as np

        return cast("float", np.divide(part, whole, out=np.zeros_like(whole), where=whole != 0))
    return part / whole if whole else 0.0


def _greatest(one: float, other: float) -> float:
    return one if one >= other else other


def _least(one: float, other: float) -> float:
    return one if one <= other else other


ceil = Function("ceil", _ceil, "ROUNDUP({0})", "ROUNDUP(ROUND({0},9),0)")
floor = Function("floor", _floor, "ROUNDDOWN({0})", "ROUNDDOWN(ROUND({0},9),0)")
greatest = Function("max", _greatest, "MAX({0}, {1})", "MAX({0},{1})")
least = Function("min", _least, "MIN({0}, {1})", "MIN({0},{1})")
cents = Function("cents", _cents, "ROUND({0}, 2)", "ROUND({0},2)")
rounded = Function("rounded", _rounded_quantity, "ROUND({0}, {1})", "ROUND({0},{1})")
"""A quantity to some decimals, half away from zero."""
to_step = Function("to_step", _to_step, "ROUND({0} / {1}) x {1}",
                   "ROUND(ROUND({0}/{1},0)*{1},2)", rank=3, own_rank=2)  # fmt: skip
"""An amount of money to a step, to cents where the step is 0."""
nearest_step = Function("nearest_step", _nearest_step, "ROUND({0} / {1}) x {1}",
                        "ROUND({0}/{1},0)*{1}", rank=2, own_rank=2)  # fmt: skip
ceil_step = Function("ceil_step", _ceil_step, "ROUNDUP({0} / {1}) x {1}",
                     "ROUNDUP(ROUND({0}/{1},9),0)*{1}", rank=2, own_rank=2)  # fmt: skip
"""A quantity to the nearest or the next step up; the step is one number."""
or_zero = Function("or_zero", lambda x: x or 0.0, "{0}", "{0}", inside=True)
"""A number that may be left blank in its cell, where it counts as 0."""
number = Function("number", float, "{0}", "{0}", inside=True)
"""An exact amount as the number that a product or quotient takes."""
share_of = Function("share_of", _share_of, "{0} / {1}", "IF({1}=0,0,{0}/{1})",
                    rank=3, own_rank=2)  # fmt: skip
"""A part of a whole, 0 of nothing."""
blank = Function("blank", lambda x: x is None, "{0} blank", '{0}=""')
"""Whether an input is left blank."""
exactly = Function("exactly", _cents, "{0}", "{0}", inside=True)
"""Amounts in whole cents added up; only what binary fractions leave is rounded off."""
_TOTAL = Function("total", lambda x: x, "{0}", "SUM({0})")
_PRODUCTS = Function(
    "products", lambda one, other: float(one) * other, "{0} x {1}", "SUMPRODUCT({1},{0})"
)
_EITHER = Function("either", lambda test, yes, no: yes if test else no, "", "IF({0},{1},{2})")
_UNLESS = Function(
    "unless", lambda tested, found: found if tested else None, "{1}", 'IF({0}=0,"",{1})'
)
or_none = Function("or_none", lambda x: x or 0.0, "{0}", "N({0})")
"""A result that may be missing, where it counts as 0."""
exp = Function("exp", math.exp, "EXP({0})", "EXP({0})")
ln = Function("ln", math.log, "LN({0})", "LN({0})")
_TESTS = (Function("=", operator.eq, "{0} = {1}", "{0}={1}"),
          Function(">", operator.gt, "{0} > {1}", "{0}>{1}"),
          Function("<", operator.lt, "{0} < {1}", "{0}<{1}"))  # fmt: skip
_ALL = (
    ceil,
    floor,
    greatest,
    least,
    cents,
    rounded,
    to_step,
    nearest_step,
    ceil_step,
    or_zero,
    exactly,
    number,
    share_of,
    blank,
    _TOTAL,
    _PRODUCTS,
    _EITHER,
    _UNLESS,
    or_none,
    exp,
    ln,
    *_TESTS,
)
FUNCTIONS: dict[str, Function[..., Any]] = {made.op: made for made in _ALL}
FUNCTIONS |= {sign: Function(sign, fn, "", "") for sign, (_, fn) in SIGNS.items()}


def total(amounts: Sequence[Decimal], start: Decimal) -> Decimal:
    """Return the sum of a row of amounts; in a formula for many rows it is a range."""
    if _is_cells(amounts):
        return cast("Decimal", node("total", _TOTAL.on, amounts[0]))
    return sum(amounts, start)


def total_of_products(amounts: Sequence[Decimal], factors: Sequence[float]) -> float:
    """Return the sum of amounts times factors; in a formula for many rows both are ranges."""
    if _is_cells(amounts):
        return cast("float", node("products", _PRODUCTS.on, amounts[0], factors[0]))
    pairs = zip(amounts, factors, strict=True)
    return sum(number(amount) * factor for amount, factor in pairs)


def _is_cells(row: Sequence[Any]) -> bool:
    return len(row) == 1 and type(row[0]) is Mark and type(row[0].value) is Cells


def either(test: bool, yes: Callable[[], N], no: Callable[[], N]) -> N:
    """Return one of two results; a cell holds both, so that it follows the input."""
    if isinstance(cast("object", test), Mark):
        return cast("N", node("either", _EITHER.on, test, yes(), no()))
    return yes() if test else no()


def unless_zero(tested: float, otherwise: Callable[[], N]) -> N | None:
    """Return a result, None (a blank cell) where the number that it depends on is 0."""
    if isinstance(cast("object", tested), Mark):
        value = cast("Mark", tested).value
        return cast("N", node("unless", _UNLESS.on, tested, otherwise() if value else None))
    return otherwise() if tested else None
