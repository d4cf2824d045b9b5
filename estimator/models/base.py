"""The one pydantic configuration that all models share."""

from collections.abc import Iterable, Mapping
from typing import TYPE_CHECKING, Any, ClassVar, Self

from pydantic import BaseModel, ConfigDict, model_validator


class Model(BaseModel):
    """A frozen model that refuses unknown fields and non-finite numbers."""

    model_config = ConfigDict(
        frozen=True,
        extra="forbid",
        allow_inf_nan=False,
        str_strip_whitespace=True,
        defer_build=True,
    )


class RenamedModel(Model):
    """A model whose fields are known by their old names too, which programs may still use."""

    OLD_NAMES: ClassVar[Mapping[str, str]] = {}
    """Name of a field by its old name."""

    @model_validator(mode="before")
    @classmethod
    def _take_old_names(cls, values: Any) -> Any:  # noqa: ANN401 - whatever is validated
        if isinstance(values, dict) and not cls.OLD_NAMES.keys().isdisjoint(values):
            return cls._by_new_names(values)
        return values

    @classmethod
    def _by_new_names(cls, values: Mapping[str, Any]) -> dict[str, Any]:
        return {cls.OLD_NAMES.get(name, name): value for name, value in values.items()}

    def model_copy(self, *, update: Mapping[str, Any] | None = None, deep: bool = False) -> Self:
        """Return a copy with some fields changed."""
        return super().model_copy(update=update and self._by_new_names(update), deep=deep)

    if not TYPE_CHECKING:

        def __getattr__(self, name: str) -> Any:  # noqa: ANN401 - any field
            known = type(self).OLD_NAMES.get(name)
            return super().__getattr__(name) if known is None else getattr(self, known)


def joined(values: Iterable[object]) -> str:
    """Return the values that set a row apart from the others as one text; blanks are left out.

    >>> joined(["elbow", None, 17.0])
    'elbow, 17'
    """
    texts = (f"{value:g}" if isinstance(value, float) else str(value) for value in values
             if value is not None)  # fmt: skip
    return ", ".join(texts)
