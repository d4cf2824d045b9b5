"""Steps, and the recorder that notes how their numbers come about.

A step is a plain function of plain numbers and models. While a recorder is on, each call also
runs the function on marked numbers, so that words, sum and cell formula are its own arithmetic.
"""
# ruff: noqa: ANN401 - a result may be of any type

import inspect
from collections.abc import Callable, Iterator, Mapping
from contextlib import contextmanager
from contextvars import ContextVar
from functools import cached_property
from typing import Any, Generic, NamedTuple, ParamSpec, TypeVar, get_type_hints

from estimator.data_class import dataclass
from estimator.steps.kinds import kind_of
from estimator.steps.marks import Mark
from estimator.steps.views import Labels, marked

P = ParamSpec("P")
R = TypeVar("R")
R_co = TypeVar("R_co", covariant=True)
_ON: ContextVar["Recorder | None"] = ContextVar("recorder", default=None)
SLACK = 1e-9


def _no_labels(table: str, key: str) -> tuple[str, str]:
    """Return no header and no kind: an input goes by its key."""
    del table, key
    return "", ""


@dataclass(frozen=True)
class Recorded:
    """One call of a step: its key and name, its number, and its arithmetic as a tree.

    ``given`` are the plain arguments of the call.
    """

    key: str
    name: str
    how: str
    kind: str
    value: Any
    mark: Mark
    given: Mapping[str, Any]


class Step(Generic[P, R_co]):
    """A function with a name for the page; calls it, and has it recorded if anybody asks."""

    def __init__(self, fn: Callable[P, R_co], name: str, how: str) -> None:
        self.fn, self.name, self.how = fn, name, how
        self.key = fn.__name__
        self.__doc__, self.__name__, self.__wrapped__ = fn.__doc__, fn.__name__, fn

    def __call__(self, *args: P.args, **kwargs: P.kwargs) -> R_co:
        """Return the number; see the function itself."""
        recorder = _ON.get()
        if recorder is None:
            return self.fn(*args, **kwargs)
        return recorder.record(self, *args, **kwargs)

    def worked(self, *args: P.args, **kwargs: P.kwargs) -> "Worked[R_co]":
        """Return the number together with what it takes to show it later."""
        return Worked(self(*args, **kwargs), self, args, kwargs)

    @cached_property
    def signature(self) -> inspect.Signature:
        """Parameters of the function."""
        return inspect.signature(self.fn)

    @cached_property
    def kinds(self) -> Mapping[str, str]:
        """Physical kind or plain unit of each parameter and of the result."""
        hints = get_type_hints(self.fn, include_extras=True)
        names = {name: name for name in hints} | {"return": self.key}
        return {
            name: getattr(hint, "__metadata__", ("",))[0] or kind_of(names[name])
            for name, hint in hints.items()
        }


def step(name: str, how: str = "") -> Callable[[Callable[P, R]], Step[P, R]]:
    """Make a function a step; ``{parameter}`` in its texts is filled in with what is passed.

    Without ``how`` the words are the arithmetic itself on the names of the parameters.
    """
    return lambda fn: Step(fn, name, how)


class Worked(NamedTuple, Generic[R_co]):
    """A number and the call of the step that gave it, so that it can be shown at any time."""

    value: R_co
    step: Step[..., R_co]
    args: tuple[Any, ...]
    kwargs: Mapping[str, Any]

    def recorded(self, labels: Labels = _no_labels) -> Recorded:
        """Return how the number comes about."""
        recorder = Recorder(labels)
        recorder.record(self.step, *self.args, **self.kwargs)
        return recorder.steps[-1]


class Recorder:
    """Notes the steps of what runs inside ``with recorder.on():``."""

    def __init__(self, labels: Labels = _no_labels) -> None:
        self.steps: list[Recorded] = []
        self.labels = labels
        """Gives header and kind of an input by table and key."""

    @contextmanager
    def on(self) -> Iterator["Recorder"]:
        """Record until the end of the block."""
        token = _ON.set(self)
        try:
            yield self
        finally:
            _ON.reset(token)

    def record(self, made: Step[P, R], *args: P.args, **kwargs: P.kwargs) -> R:
        """Return the plain result of a step, and note it; steps inside it are part of it."""
        bound = made.signature.bind(*args, **kwargs)
        bound.apply_defaults()
        token = _ON.set(None)
        try:
            value = made.fn(*args, **kwargs)
            inputs = {
                name: marked(given, name, made.kinds.get(name, ""), self.labels)
                for name, given in bound.arguments.items()
            }
            shown = made.fn(**inputs)  # type: ignore[call-arg]
        finally:
            _ON.reset(token)
        mark = _checked(made, value, shown)
        name, how = (text.format_map(bound.arguments) for text in (made.name, made.how))
        kind = made.kinds.get("return", "").format_map(bound.arguments)
        self.steps.append(Recorded(made.key, name, how, kind, value, mark, bound.arguments))
        return value


def _checked(made: Step[..., Any], value: Any, shown: Any) -> Mark:
    """Return the tree of a result; raises where it is not the arithmetic of the result."""
    if not isinstance(shown, Mark):
        if value:
            raise AssertionError(f"{made.key} lost its arithmetic")
        return Mark.leaf(shown, made.key, made.kinds.get("return", ""))
    if value is None and shown.value is None:
        return shown
    given, worked = float(value), float(shown.value)
    if abs(given - worked) > SLACK * max(1.0, abs(worked)):
        raise AssertionError(f"{made.key}: {value} is shown as {shown.value}")
    return shown
