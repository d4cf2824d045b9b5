"""Models whose numbers come out marked, with the input from which each was read."""
# ruff: noqa: ANN401 - what a model holds may be of any type

import operator
from collections.abc import Callable, Mapping, Sequence
from decimal import Decimal
from functools import cached_property, partial
from typing import Any

from estimator.steps.kinds import kind_of
from estimator.steps.marks import Mark, Place, node

Labels = Callable[[str, str], tuple[str, str]]
"""Gives header and kind of an input by table and key."""


class Text(str):
    """A choice of the user with its place, where there is one; compared, it gives a mark."""

    place: Place | None

    def __eq__(self, other: object) -> Any:
        return node("=", operator.eq, Mark.leaf(str(self), place=self.place), str(other))

    __hash__ = str.__hash__


class View:
    """A model seen through marks: its numbers, properties and methods; a rate has its own cell."""

    def __init__(self, model: Any, labels: Labels, within: Place | None = None) -> None:
        kind = type(model)
        row = getattr(kind, "ROW", "")
        self._model, self._labels, self._within = model, labels, within
        self._table = getattr(kind, "TABLE", "")
        self._row = getattr(model, row) if row else ""

    def __getattr__(self, key: str) -> Any:
        own = getattr(type(self._model), key, None)
        if isinstance(own, property):
            return own.fget(self)  # type: ignore[misc]
        if isinstance(own, cached_property):
            return own.func(self)
        if own is not None and callable(own) and hasattr(own, "__code__"):
            return partial(own, self)
        value = getattr(self._model, key)
        if self._within is not None:
            label, _ = self._labels(self._within.table, self._within.key)
            return marked(value, label or self._within.key, "", self._labels, self._within)
        label, kind = self._labels(self._table, key) if self._table else (key, kind_of(key))
        found = self._marked(value, label or key, kind, self._place(key, value))
        if type(found) is Mark:
            known = getattr(self._model, "sources", ())
            found.sources = tuple(source for source in known if source.figure == key)
        return found

    def _marked(self, value: Any, label: str, kind: str, place: Place | None) -> Any:
        if value is None:
            return Mark.leaf(None, label, kind, place)
        if isinstance(value, str):
            text = Text(value)
            text.place = place
            return text
        return marked(value, label, kind, self._labels, place)

    def _place(self, key: str, value: Any) -> Place | None:
        """Return the place of a field; in a row of a table a default may stand for a blank."""
        if not self._table:
            return None
        field = type(self._model).model_fields[key]
        maybe_blank = bool(self._row) and value is not None and value == field.default
        return Place(self._table, self._row, key, live=not maybe_blank)


def marked(value: Any, label: str, kind: str, labels: Labels, place: Place | None = None) -> Any:
    """Return a value ready for a step: numbers as leaves, models as views, the rest as it is."""
    if isinstance(value, bool | str) or value is None or callable(value):
        return value
    if isinstance(value, int | float | Decimal):
        return Mark.leaf(value, label, kind, place)
    if isinstance(value, Mapping):
        return {k: marked(one, f"{label}.{k}", kind, labels, place) for k, one in value.items()}
    if isinstance(value, Sequence) and not hasattr(value, "_fields"):
        return tuple(marked(one, label, kind, labels, place) for one in value)
    return View(value, labels, place)
