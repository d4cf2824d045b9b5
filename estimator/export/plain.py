"""Results as JSON can hold them."""

import datetime as dt
from collections.abc import Mapping, Sequence
from dataclasses import fields, is_dataclass
from decimal import Decimal
from typing import Any

from estimator.models.base import Model


def plain(value: object) -> Any:  # noqa: ANN401
    """Return a result as JSON can hold it: its fields by name, money as a number.

    >>> plain((dt.date(2027, 3, 1), Decimal("2.50")))
    ['2027-03-01', 2.5]
    """
    if isinstance(value, str | float | int):
        return value
    if isinstance(value, Decimal):
        return float(value)
    if isinstance(value, dt.date):
        return value.isoformat()
    if is_dataclass(value) and not isinstance(value, type):
        return {one.name: plain(getattr(value, one.name)) for one in fields(value)}
    if isinstance(value, Model):
        return {key: plain(one) for key, one in value.model_dump().items()}
    if isinstance(value, tuple) and hasattr(value, "_asdict"):
        return {key: plain(one) for key, one in value._asdict().items()}
    if isinstance(value, Mapping):
        return {str(key): plain(one) for key, one in value.items()}
    if isinstance(value, Sequence):
        return [plain(one) for one in value]
    return value
