"""The one pydantic configuration that all models share."""

from collections.abc import Iterable, Sequence

from pydantic import AfterValidator, BaseModel, ConfigDict


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


def one_of(names: Sequence[str]) -> AfterValidator:
    """Return the check that a text is one of some names."""

    def check(text: str) -> str:
        if text not in names:
            message = f"must be one of {', '.join(names)}, got {text!r}"
            raise ValueError(message)
        return text

    return AfterValidator(check)
