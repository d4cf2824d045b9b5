"""The data dictionary of the result sheets."""

import csv
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import replace
from functools import cache
from importlib import resources
from types import MappingProxyType

from estimator.data_class import dataclass
from estimator.display import UNIT_LABELS, UnitSystem, convert
from estimator.inputs.trade_units import written
from estimator.models.kinds import CONNECTIONS

PLAIN_UNITS = {
    "minutes": "min",
    "min_s": "min:s",
    "seconds": "s",
    "hours": "h",
    "percent": "%",
    "count": "-",
    "days": "d",
    "kva": "kVA",
    "amps": "A",
    "per_shift": "a shift",
}

STYLES_BY_SYSTEM: Mapping[str, Mapping[UnitSystem, str]] = {
    "small_length": {"US": "num3", "SI": "num1"},
    "pressure": {"US": "int", "SI": "pressure"},
}

EACH_CONNECTION = "each connection"
"""Key of the row that stands for one column for each kind of connection."""


@dataclass(frozen=True)
class ResultColumn:
    """One column of a result table."""

    table: str
    key: str
    header: str
    kind: str
    style: str
    width: float
    group: str
    total: str
    note: str

    def unit(self, system: UnitSystem, currency: str) -> str:
        """Return the unit row's text."""
        if self.kind in UNIT_LABELS:
            return written(UNIT_LABELS[self.kind][system], system)
        if self.kind == "money":
            return currency
        return written(PLAIN_UNITS.get(self.kind, ""), system)

    def style_in(self, system: UnitSystem) -> str:
        """Return the cell style: the decimals of some kinds go by their unit."""
        own = STYLES_BY_SYSTEM.get(self.style)
        return own[system] if own else self.style

    def shown(self, value: float | None, system: UnitSystem) -> float | None:
        """Return an SI value in the unit of the column."""
        if value is None or self.kind not in UNIT_LABELS:
            return value
        return convert(value, self.kind, system)


@cache
def result_columns(table: str) -> tuple[ResultColumn, ...]:
    """Return the columns of one result table in their order."""
    return tuple(column for row in _rows().get(table, ()) for column in _columns_of(row))


@cache
def _rows() -> Mapping[str, Sequence[Mapping[str, str]]]:
    """Return the rows of the data dictionary by table."""
    text = resources.files(__package__).joinpath("result_columns.csv").read_text("utf-8")
    rows: dict[str, list[Mapping[str, str]]] = {}
    for row in csv.DictReader(text.splitlines()):
        rows.setdefault(row["table"], []).append(row)
    return MappingProxyType(rows)


def _columns_of(row: Mapping[str, str]) -> Iterator[ResultColumn]:
    """Yield the column of a row, or one for each kind of connection where the row says so."""
    column = ResultColumn(
        table=row["table"],
        key=row["key"],
        header=row["header"],
        kind=row["kind"],
        style=row["style"],
        width=float(row["width"]),
        group=row["group"],
        total=row["total"],
        note=row["note"],
    )
    if column.key != EACH_CONNECTION:
        yield column
        return
    for kind in CONNECTIONS:
        yield replace(column, key=kind.key, header=kind.heading, note=kind.note)
