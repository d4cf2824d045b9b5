"""Reads the published tables: typed, checked against the data dictionary, read once."""

import csv
import math
from collections.abc import Mapping
from functools import cache
from importlib import resources
from types import MappingProxyType

from estimator.data_class import dataclass
from estimator.errors import EstimatorError, OutsideStandardError, UnknownNameError

Value = str | float | None
Row = Mapping[str, Value]

SHARED = "*"
SOURCES = "sources"
DICTIONARY = "columns"
PLACES = 9
CONFIDENCES = ("confirmed", "one source", "from memory", "common practice", "assumption")


@dataclass(frozen=True)
class Column:
    """One column of a table as the data dictionary describes it."""

    name: str
    unit: str
    number: bool
    optional: bool
    minimum: float
    maximum: float
    description: str

    def parse(self, text: str) -> Value:
        """Return the cell's value, None for an allowed blank; raises EstimatorError."""
        if not text:
            if self.optional:
                return None
            raise EstimatorError(f"{self.name} must not be blank")
        if not self.number:
            return text
        value = float(text)
        if not (math.isfinite(value) and self.minimum <= value <= self.maximum):
            raise OutsideStandardError(
                self.name, value, self.minimum, self.maximum, "data dictionary"
            )
        return value


def _records(name: str) -> list[dict[str, str]]:
    text = resources.files(__package__).joinpath(f"{name}.csv").read_text("utf-8")
    return list(csv.DictReader(text.splitlines()))


@cache
def _dictionary() -> Mapping[str, tuple[Column, ...]]:
    found: dict[str, list[Column]] = {}
    for row in _records(DICTIONARY):
        column = Column(
            name=row["column"],
            unit=row["unit"],
            number=row["dtype"].startswith("float"),
            optional=row["dtype"].endswith("?"),
            minimum=float(row["min"] or -math.inf),
            maximum=float(row["max"] or math.inf),
            description=row["description"],
        )
        found.setdefault(row["table"], []).append(column)
    shared = found.pop(SHARED)
    return {name: tuple(own if name == SOURCES else own + shared) for name, own in found.items()}


def table_names() -> tuple[str, ...]:
    """Return the names of all tables, the table of sources first."""
    return tuple(_dictionary())


def columns(name: str) -> tuple[Column, ...]:
    """Return the columns of a table in their order in the file.

    Parameters
    ----------
    name : str
        Name of a table.

    Returns
    -------
    tuple of Column

    Raises
    ------
    UnknownNameError
        If there is no such table.
    """
    if name not in _dictionary():
        raise UnknownNameError("table", name, table_names())
    return _dictionary()[name]


@cache
def load(name: str) -> tuple[Row, ...]:
    """Return the rows of a table, numbers as float, allowed blanks as None.

    Parameters
    ----------
    name : str
        Name of a table, such as ``pipe_od``.

    Returns
    -------
    tuple of Row
        One read-only mapping per row, keyed by column.

    Raises
    ------
    UnknownNameError
        If there is no such table.
    EstimatorError
        If the file and the data dictionary disagree.
    """
    known = columns(name)
    rows = []
    for number, record in enumerate(_records(name), start=2):
        if list(record) != [column.name for column in known]:
            raise EstimatorError(f"{name}.csv line {number}: columns must be as in the dictionary")
        try:
            row = {column.name: column.parse(record[column.name] or "") for column in known}
        except (EstimatorError, ValueError) as error:
            raise EstimatorError(f"{name}.csv line {number}: {error}") from error
        rows.append(MappingProxyType(row))
    return tuple(rows)


def number(row: Row, column: str) -> float:
    """Return a cell that must hold a number.

    Raises
    ------
    EstimatorError
        If the cell is blank or text.
    """
    value = row[column]
    if not isinstance(value, float):
        raise EstimatorError(f"{column} must be a number, got {value!r}")
    return value


@cache
def sources() -> Mapping[str, Row]:
    """Return the table of sources by key."""
    return {str(row["source"]): row for row in load(SOURCES)}


def source_name(row: Row) -> str:
    """Return the standard and edition that a row cites, as text."""
    cited = sources()[str(row["source"])]
    edition = f" ({cited['edition']})" if cited["edition"] else ""
    return f"{cited['standard']}{edition}"


def find_rows(name: str, **where: Value) -> tuple[Row, ...]:
    """Return the rows whose cells equal every value given; may be empty."""
    return tuple(
        row for row in load(name) if all(row[key] == value for key, value in where.items())
    )


def find_row(name: str, key: str, value: str) -> Row:
    """Return the row whose ``key`` column holds ``value``.

    Parameters
    ----------
    name : str
        Name of a table.
    key : str
        A column of text.
    value : str
        The text looked for.

    Returns
    -------
    Row

    Raises
    ------
    UnknownNameError
        If no row has it; the message lists what the table has.
    """
    for row in load(name):
        if row[key] == value:
            return row
    allowed = dict.fromkeys(str(row[key]) for row in load(name))
    raise UnknownNameError(key.replace("_", " "), value, tuple(allowed))


def require(
    quantity: str, value: float, low: float | None, high: float | None, source: str
) -> None:
    """Refuse a value outside a closed range; ``None`` leaves that side open.

    Compared to nine decimals, so that a limit converted between units still counts as inside.

    Raises
    ------
    OutsideStandardError
        If the value lies outside, or is not a number.
    """
    at = round(value, PLACES)
    above = not math.isnan(at) if low is None else at >= round(low, PLACES)
    if not (above and (high is None or at <= round(high, PLACES))):
        raise OutsideStandardError(quantity, value, low, high, source)


def require_within(quantity: str, value: float) -> None:
    """Refuse a value outside its row in the table of limits.

    Parameters
    ----------
    quantity : str
        A quantity of ``limits.csv``.
    value : float
        The value, in that row's unit.

    Raises
    ------
    OutsideStandardError
        If it lies outside, or is not a number.
    """
    row = find_row("limits", "quantity", quantity)
    low, high = (None if row[side] is None else number(row, side) for side in ("low", "high"))
    name = quantity if row["unit"] == "-" else f"{quantity} [{row['unit']}]"
    require(name, value, low, high, f"{source_name(row)}, {row['clause']}")


def band(name: str, keys: tuple[str, str], value: float, quantity: str, **where: Value) -> Row:
    """Return the row of a banded table into which a value falls.

    A row holds values above its lower key up to and including its upper key; the first row
    includes its lower key. Nothing is extrapolated.

    Parameters
    ----------
    name : str
        Name of a table whose rows rise without gaps.
    keys : tuple of str
        Columns of the lower and upper end; a blank upper end is open.
    value : float
        The value, in the unit of those columns.
    quantity : str
        What the value is, with its unit, for the message.
    **where : str
        Only rows with these cells count.

    Returns
    -------
    Row

    Raises
    ------
    OutsideStandardError
        If the value lies outside the table, or is not a number.
    """
    rows = find_rows(name, **where)
    low, high = number(rows[0], keys[0]), rows[-1][keys[1]]
    top = high if isinstance(high, float) else None
    require(quantity, value, low, top, f"{source_name(rows[0])}, table {name}")
    at = round(value, PLACES)
    return next(row for row in rows if row[keys[1]] is None or at <= number(row, keys[1]))
