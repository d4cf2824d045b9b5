"""What rules look at: input tables with their entries, wherever they come from."""

import datetime as dt
from collections.abc import Callable, Iterator, Sequence
from typing import Any, Protocol

from estimator.data_class import dataclass
from estimator.inputs.dictionary import fields

LETTERS_SHOWN = 40


class Entry(Protocol):
    """One row of an input table, or the named cells of a sheet; a faulty value is left out."""

    def get(self, key: str) -> Any:  # noqa: ANN401
        """Return a value as a job holds it, None where it is blank or left out."""

    def blank(self, key: str) -> bool:
        """Return whether a value was left blank, rather than left out as faulty."""

    def show(self, key: str) -> str:
        """Return a value as the user gave it, a number with its unit."""

    def where(self, key: str) -> str:
        """Return the place of a value as the user reads it."""


class Sheets(Protocol):
    """All input tables."""

    def has(self, table: str) -> bool:
        """Return whether a table is there, empty or not."""

    def rows(self, table: str) -> Sequence[Entry]:
        """Return the entries of a table, none if it is not there."""


@dataclass(frozen=True)
class Broken:
    """One broken rule, or with ``warning`` something doubtful.

    Without an entry it is of the table as a whole.
    """

    table: str
    entry: Entry | None
    key: str
    message: str
    warning: bool = False


Rule = Callable[[Sheets], Iterator[Broken]]


def header(table: str, key: str) -> str:
    """Return the header of a field."""
    return next(field.header for field in fields(table) if field.key == key)


def broken(table: str, entry: Entry, key: str, message: str, *, warning: bool = False) -> Broken:
    """Return a broken rule of one value, its header before the message."""
    return Broken(table, entry, key, f"{header(table, key)}: {message}", warning)


def above(entry: Entry, key: str, other: str) -> bool:
    """Return whether a value is above another one; no if either is missing."""
    value, limit = entry.get(key), entry.get(other)
    return value is not None and limit is not None and bool(value > limit)


def describe(value: object) -> str:
    """Return a value as a message shows it.

    >>> describe("foo"), describe(5000.0), describe(True)
    ("'foo'", '5,000', 'TRUE')
    """
    if isinstance(value, str):
        text = " ".join(value.split())
        return repr(text if len(text) <= LETTERS_SHOWN else f"{text[: LETTERS_SHOWN - 3]}...")
    if isinstance(value, bool):
        return str(value).upper()
    if isinstance(value, int | float):
        return f"{value:,.10g}"
    if isinstance(value, dt.date):
        return f"the date {value:%Y-%m-%d}"
    if isinstance(value, dt.time):
        return f"the time {value}"
    return "a blank cell" if value is None else repr(value)
