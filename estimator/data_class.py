"""``dataclass`` of the standard library, worked out when the first one of a class is made.

Writing the methods of a data class takes 0.3 ms. A press of a button loads two hundred of them in
a fresh Python, needs few of them soon, and some never.
"""

import dataclasses
from collections.abc import Callable
from typing import Any, TypeVar, dataclass_transform

Kind = TypeVar("Kind", bound=type)


@dataclass_transform(field_specifiers=(dataclasses.field,))
def dataclass(*, frozen: bool = False, kw_only: bool = False) -> Callable[[Kind], Kind]:
    """Return what makes a class without ``__init__`` and slots a data class, when it is used."""

    def put_off(kind: Kind) -> Kind:
        def make() -> None:
            del kind.__init__, kind.__dataclass_fields__  # type: ignore[misc, attr-defined]
            dataclasses.dataclass(frozen=frozen, kw_only=kw_only)(kind)

        def first(self: Any, *args: Any, **values: Any) -> None:  # noqa: ANN401
            make()
            kind.__init__(self, *args, **values)  # type: ignore[misc]

        kind.__init__ = first  # type: ignore[misc]
        kind.__dataclass_fields__ = _Fields(make)  # type: ignore[attr-defined]
        return kind

    return put_off


class _Fields:
    """Stands for the fields of a data class until somebody asks for them."""

    def __init__(self, make: Callable[[], None]) -> None:
        self.make = make

    def __get__(self, one: object, kind: Any) -> Any:  # noqa: ANN401
        self.make()
        return kind.__dataclass_fields__
