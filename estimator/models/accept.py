"""What a field of a model takes: by its annotation, a function that returns a value or refuses it.

Numbers come as numbers, those of numpy too: a whole one serves as a float, a float without a
fraction as a count. A date may be ISO text, as JSON has it, a tuple any list, a model a mapping of
its fields. Texts lose the blanks around them. Infinity and NaN are no numbers.
"""

import datetime as dt
from collections.abc import Callable, Mapping
from functools import lru_cache
from math import isfinite
from numbers import Real
from types import NoneType, UnionType
from typing import Annotated, Any, Literal, Protocol, Union, get_args, get_origin

Accept = Callable[[Any], Any]


class Check(Protocol):
    """A rule beside the kind of a value, in ``Annotated``."""

    def check(self, text: str) -> str:
        """Return the text; raises ValueError where it breaks the rule."""


@lru_cache(maxsize=1024)
def accept(annotation: Any) -> Accept:  # noqa: ANN401
    """Return what takes a value for an annotation; the function raises ValueError to refuse.

    >>> accept(float)(3), accept(tuple[int, ...])([1, 2.0]), accept(str | None)(" R1 ")
    (3.0, (1, 2), 'R1')
    """
    if get_origin(annotation) in _BUILT:
        return _BUILT[get_origin(annotation)](*get_args(annotation))
    return _PLAIN.get(annotation) or _instance(annotation)


def refusal(wanted: str, value: object) -> ValueError:
    """Return the error for a value that is not what is wanted.

    >>> str(refusal("a number", "x"))
    "must be a number, got 'x'"
    """
    return ValueError(f"must be {wanted}, got {value!r}")


def _text(value: object) -> str:
    if not isinstance(value, str):
        raise refusal("text", value)
    return value.strip()


def _float(value: object) -> float:
    if not isinstance(value, int | float | Real) or isinstance(value, bool) or not isfinite(value):
        raise refusal("a number", value)
    return float(value)


def _int(value: object) -> int:
    number = _float(value)
    if not number.is_integer():
        raise refusal("a whole number", value)
    return value if type(value) is int else int(number)


def _bool(value: object) -> bool:
    if not isinstance(value, bool):
        raise refusal("true or false", value)
    return value


def _date(value: object) -> dt.date:
    if isinstance(value, dt.datetime):
        if value.time() == dt.time():
            return value.date()
    elif isinstance(value, dt.date):
        return value
    elif isinstance(value, str):
        return dt.date.fromisoformat(value)
    raise refusal("a date", value)


def _none(value: object) -> None:
    if value is not None:
        raise refusal("nothing", value)


def _as_it_is(value: object) -> object:
    return value


def _instance(kind: "type[Any]") -> Accept:
    from_mapping = getattr(kind, "model_validate", None)

    def take(value: object) -> object:
        if isinstance(value, kind):
            return value
        if from_mapping is not None and isinstance(value, Mapping):
            return from_mapping(value)
        raise refusal(kind.__name__, value)

    return take


def _literal(*allowed: object) -> Accept:
    def take(value: object) -> object:
        if value not in allowed:
            raise refusal(f"one of {', '.join(map(str, allowed))}", value)
        return value

    return take


def _annotated(inner: object, *checks: Check) -> Accept:
    first = accept(inner)

    def take(value: object) -> object:
        found = first(value)
        for one in checks:
            found = one.check(found)
        return found

    return take


def _union(*kinds: object) -> Accept:
    """Return what takes the first kind that fits; a value that is of a kind already is of that."""
    if len(kinds) == 2 and kinds[1] is NoneType:
        inner = accept(kinds[0])
        return lambda value: None if value is None else inner(value)

    def take(value: object) -> object:
        same = [kind for kind in kinds if kind is type(value)]
        for kind in (*same, *kinds):
            try:
                return accept(kind)(value)
            except ValueError:
                continue
        raise refusal(" or ".join(getattr(kind, "__name__", str(kind)) for kind in kinds), value)

    return take


def _tuple(*kinds: object) -> Accept:
    if kinds[-1] is Ellipsis:
        one = accept(kinds[0])
        return lambda value: tuple(map(one, _items(value)))
    each = [accept(kind) for kind in kinds]

    def take(value: object) -> object:
        found = _items(value)
        if len(found) != len(each):
            raise refusal(f"{len(each)} values", value)
        return tuple(one(item) for one, item in zip(each, found, strict=True))

    return take


def _items(value: object) -> "tuple[object, ...] | list[object]":
    if not isinstance(value, tuple | list):
        raise refusal("a list", value)
    return value


def _mapping(key: object, item: object) -> Accept:
    takes_key, takes_item = accept(key), accept(item)

    def take(value: object) -> object:
        if not isinstance(value, Mapping):
            raise refusal("a mapping", value)
        return {takes_key(one): takes_item(other) for one, other in value.items()}

    return take


_PLAIN: dict[Any, Accept] = {
    str: _text, float: _float, int: _int, bool: _bool, dt.date: _date, NoneType: _none,
    Any: _as_it_is,
}  # fmt: skip
_BUILT: dict[Any, Callable[..., Accept]] = {
    Literal: _literal, Annotated: _annotated, Union: _union, UnionType: _union, tuple: _tuple,
    dict: _mapping,
}  # fmt: skip
