"""The one pydantic configuration that all models share."""

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
