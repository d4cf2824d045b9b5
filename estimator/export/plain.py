"""Results as plain data, field by field, for JSON."""

import datetime as dt
from collections.abc import Mapping
from dataclasses import fields, is_dataclass
from decimal import Decimal
from typing import Any

from pydantic import BaseModel

from estimator.version import VERSION


def plain(value: object) -> Any:  # noqa: ANN401
    """Return a result as JSON holds it: by field, money as numbers, dates as ISO text.

    >>> plain((Decimal("9.50"), dt.date(2027, 3, 1), None))
    [9.5, '2027-03-01', None]
    """
    if value is None or isinstance(value, str | int | float):
        return value
    if isinstance(value, Decimal):
        return float(value)
    if isinstance(value, dt.date):
        return value.isoformat()
    if isinstance(value, Mapping):
        return {str(key): plain(one) for key, one in value.items()}
    if isinstance(value, BaseModel):
        return {key: plain(one) for key, one in value}
    if is_dataclass(value):
        return {one.name: plain(getattr(value, one.name)) for one in fields(value)}
    if isinstance(value, tuple) and hasattr(value, "_asdict"):
        return plain(value._asdict())
    if isinstance(value, tuple | list):
        return [plain(one) for one in value]
    message = f"{type(value).__name__} is no plain result"
    raise TypeError(message)


def with_version(**found: object) -> dict[str, Any]:
    """Return results as plain data, the version of the program first."""
    return {"version": VERSION, **plain(found)}
