"""The one pydantic configuration that all models share."""

from collections.abc import Iterable

from pydantic import BaseModel, ConfigDict


class Model(BaseModel):
    """A frozen model that refuses unknown fields and non-finite numbers."""

    model_config = ConfigDict(
        frozen=True,
        extra="forbid",
        allow_inf_nan=False,
        str_strip_whitespace=True,
        defer_build=True,
    )


def joined(values: Iterable[object]) -> str:
    """Return the values that set a row apart from the others as one text; blanks are left out.

    >>> joined(["elbow", None, 17.0])
    'elbow, 17'
    """
    texts = (f"{value:g}" if isinstance(value, float) else str(value) for value in values
             if value is not None)  # fmt: skip
    return ", ".join(texts)
