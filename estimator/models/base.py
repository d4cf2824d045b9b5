"""The one base of all models: frozen, and checked when one is made.

Each press of a button starts a fresh Python, so a class of models costs next to nothing until its
first model is made; what takes its values is built then, from the annotations.
"""

import datetime as dt
import json
from collections.abc import Collection, Iterable, Mapping
from dataclasses import fields, is_dataclass
from typing import (
    TYPE_CHECKING,
    Any,
    ClassVar,
    Literal,
    NamedTuple,
    Self,
    dataclass_transform,
    get_origin,
    get_type_hints,
)

from estimator.errors import EstimatorError
from estimator.models.accept import Accept, accept

if TYPE_CHECKING:
    from pydantic import GetCoreSchemaHandler
    from pydantic_core import CoreSchema


class ModelError(EstimatorError, ValueError):
    """Values that a model does not take: all of them, each with its field."""


class ModelField(NamedTuple):
    """One field of a model; ``default`` is an Ellipsis where a value must be given."""

    annotation: Any
    default: Any
    accept: Accept


class _Fields:
    """Finds the fields of a class of models when they are first asked for."""

    def __get__(self, model: object, kind: "type[Model]") -> Mapping[str, ModelField]:
        found = {
            name: ModelField(hint, getattr(kind, name, ...), accept(hint))
            for name, hint in get_type_hints(kind, include_extras=True).items()
            if get_origin(hint) is not ClassVar
        }
        found |= kind.listed_fields(found)
        kind.model_fields = found
        return found


@dataclass_transform(kw_only_default=True, frozen_default=True)
class Model:
    """A frozen model that refuses unknown fields and what is not of a field's kind.

    It has no cached property: a changed copy would take the value along.
    """

    model_fields: ClassVar[Mapping[str, ModelField]]

    def __init_subclass__(cls) -> None:
        cls.model_fields = _Fields()  # type: ignore[assignment]

    def __init__(self, **values: Any) -> None:  # noqa: ANN401
        known, state, wrong = type(self).model_fields, self.__dict__, []
        for name, (_, default, takes) in known.items():
            value = values.get(name, default)
            if value is ...:
                wrong.append(f"{name} is missing")
            elif value is default:
                state[name] = value
            else:
                try:
                    state[name] = takes(value)
                except ValueError as error:
                    wrong.append(f"{name} {error}")
        wrong += [f"{name} is no field of it" for name in values.keys() - known.keys()]
        if wrong:
            raise ModelError(f"{type(self).__name__}: {'; '.join(wrong)}")

    @classmethod
    def listed_fields(cls, _declared: Collection[str]) -> "Mapping[str, ModelField]":
        """Return the fields that a list beside the code has besides those declared; here none."""
        return {}

    @classmethod
    def model_validate(cls, values: Mapping[str, Any]) -> Self:
        """Return the model of some values by field."""
        return cls(**values)

    def model_copy(self, *, update: Mapping[str, Any]) -> Self:
        """Return a copy with some fields changed; the new values are not checked."""
        made = object.__new__(type(self))
        made.__dict__.update(self.__dict__)
        made.__dict__.update(update)
        return made

    def model_dump(self, *, mode: Literal["python", "json"] = "python") -> dict[str, Any]:
        """Return the fields as plain values, those of the models in it too."""
        plain = _for_json if mode == "json" else _plain
        return {name: plain(value) for name, value in self.__dict__.items()}

    def model_dump_json(self) -> str:
        """Return the fields as JSON without blanks."""
        return json.dumps(self.model_dump(mode="json"), ensure_ascii=False, separators=(",", ":"))

    def __setattr__(self, name: str, value: object) -> None:
        raise AttributeError(f"{type(self).__name__} is frozen: {name} cannot be set")

    def __delattr__(self, name: str) -> None:
        raise AttributeError(f"{type(self).__name__} is frozen: {name} cannot be deleted")

    def __eq__(self, other: object) -> bool:
        return type(self) is type(other) and self.__dict__ == other.__dict__

    def __hash__(self) -> int:
        return hash((type(self), *self.__dict__.values()))

    def __repr__(self) -> str:
        values = ", ".join(f"{name}={value!r}" for name, value in self.__dict__.items())
        return f"{type(self).__name__}({values})"

    @classmethod
    def __get_pydantic_core_schema__(
        cls, source: object, handler: "GetCoreSchemaHandler"
    ) -> "CoreSchema":
        """Return the schema for who asks for it: that of JSON, which nothing else here loads."""
        from pydantic import ConfigDict, create_model

        asked: dict[str, Any] = {
            name: (field.annotation, field.default) for name, field in cls.model_fields.items()
        }
        config = ConfigDict(extra="forbid", allow_inf_nan=False)
        return handler(create_model(cls.__name__, __config__=config, __doc__=cls.__doc__, **asked))


class RenamedModel(Model):
    """A model whose fields are known by their old names too, which programs may still use."""

    OLD_NAMES: ClassVar[Mapping[str, str]] = {}
    """Name of a field by its old name."""

    def __init__(self, **values: Any) -> None:  # noqa: ANN401
        super().__init__(**self._by_new_names(values))

    @classmethod
    def _by_new_names(cls, values: Mapping[str, Any]) -> Mapping[str, Any]:
        if cls.OLD_NAMES.keys().isdisjoint(values):
            return values
        return {cls.OLD_NAMES.get(name, name): value for name, value in values.items()}

    def model_copy(self, *, update: Mapping[str, Any]) -> Self:
        """Return a copy with some fields changed; the new values are not checked."""
        return super().model_copy(update=self._by_new_names(update))

    if not TYPE_CHECKING:

        def __getattr__(self, name: str) -> Any:  # noqa: ANN401 - any field
            known = self.OLD_NAMES.get(name)
            if known is None:
                message = f"{type(self).__name__} has no field {name}"
                raise AttributeError(message)
            return getattr(self, known)


class KeyedModel(Model):
    """A row that several columns together set apart from the others, those of ``KEYS``."""

    KEYS: ClassVar[tuple[str, ...]]

    @property
    def row_name(self) -> str:
        """What sets the row apart from the others."""
        return joined(getattr(self, key) for key in self.KEYS)


def _plain(value: Any) -> Any:  # noqa: ANN401
    """Return a value with models and dataclasses as mappings."""
    if isinstance(value, Model):
        return value.model_dump()
    if is_dataclass(value) and not isinstance(value, type):
        return {one.name: _plain(getattr(value, one.name)) for one in fields(value)}
    if isinstance(value, dict):
        return {key: _plain(one) for key, one in value.items()}
    return tuple(map(_plain, value)) if isinstance(value, tuple) else value


def _for_json(value: Any) -> Any:  # noqa: ANN401
    """Return a plain value as JSON has it."""
    found = _plain(value)
    if isinstance(found, dict):
        return {key: _for_json(one) for key, one in found.items()}
    if isinstance(found, tuple):
        return [_for_json(one) for one in found]
    return found.isoformat() if isinstance(found, dt.date) else found


def joined(values: Iterable[object]) -> str:
    """Return the values that set a row apart from the others as one text; blanks are left out.

    >>> joined(["elbow", None, 17.0])
    'elbow, 17'
    """
    texts = (f"{value:g}" if isinstance(value, float) else str(value) for value in values
             if value is not None)  # fmt: skip
    return ", ".join(texts)
