"""How the cell of an argument of a cell function is read, by the rules of the input sheets."""

from collections.abc import Mapping, Sequence
from decimal import Decimal
from functools import cache, lru_cache
from typing import Any, Protocol, TypeAlias

from estimator.data_class import dataclass
from estimator.display import UnitSystem
from estimator.errors import EstimatorError
from estimator.input_errors.all_rules import broken_rules
from estimator.input_errors.entries import describe
from estimator.input_errors.values import outside
from estimator.inputs.column import usual_column
from estimator.inputs.dictionary import Field, fields, input_tables
from estimator.models.equipment import Machine
from estimator.workbook.read import cells, columns
from estimator.workbook.read.cells import CellError
from estimator.workbook.read.findings import Findings
from estimator.workbook.read.parse_rows import Inputs, Settings, TableReader
from estimator.workbook.sheet.source import CellValue, RawCell, RawTable

MACHINES = "machines"
ERROR_TEXTS = frozenset(
    {"#NULL!", "#DIV/0!", "#VALUE!", "#REF!", "#NAME?", "#NUM!", "#N/A", "#SPILL!", "#CALC!"}
)
ERROR_CODES = range(-2146826288, -2146826188)
"""Numbers under which error values reach Python where no text is known for them."""

Asked = Mapping[str, Any]
"""Arguments of one row that were read before, in SI; ``units`` is always the first."""


Held: TypeAlias = Any
"""What an argument holds: the value of a cell, or a ``Grid`` where it is a table."""


@dataclass(frozen=True)
class Grid:
    """Cells of a whole table, row by row; ``kinds`` keeps TRUE apart from 1."""

    rows: tuple[tuple[CellValue, ...], ...]
    kinds: tuple[type, ...]

    @classmethod
    def of(cls, rows: Sequence[Sequence[CellValue]]) -> "Grid":
        """Return the grid of these rows."""
        kept = tuple(tuple(row) for row in rows)
        return cls(kept, tuple(type(value) for row in kept for value in row))


class Reading(Protocol):
    """How the cell of an argument is read, and what stands in for a blank one."""

    def read(self, value: Held, asked: Asked) -> object:
        """Return the value in SI; raises EstimatorError if it is not usable."""

    def usual(self, system: UnitSystem) -> object:
        """Return what a blank cell means."""


@dataclass(frozen=True)
class Like:
    """Read as an input of the data dictionary: same unit, limits, spellings and default."""

    table: str
    key: str

    def read(self, value: CellValue, asked: Asked) -> object:
        """Return the value as a job holds it."""
        column = usual_column(field_of(self.table, self.key), asked["units"])
        return columns.read_value(value, column, asked)

    def usual(self, system: UnitSystem) -> object:
        """Return the default of the template."""
        return columns.default_value(field_of(self.table, self.key), system)


@dataclass(frozen=True)
class Number:
    """A number between two limits, in a unit that its text may name."""

    low: float
    high: float
    unit: str = ""
    whole: bool = False

    def read(self, value: CellValue, _asked: Asked) -> float:
        """Return the number, whole numbers as ``int``."""
        number = cells.to_count(value) if self.whole else cells.to_number(value, self.unit)
        if not self.low <= number <= self.high:
            span = f"{self.low:,g} to {self.high:,g} {self.unit}".rstrip()
            raise CellError(outside(describe(value), span))
        return number

    def usual(self, _system: UnitSystem) -> object:
        """Return nothing: a number of this kind is always given."""


@dataclass(frozen=True)
class Segments:
    """One length, or several as text with semicolons between them."""

    each: Number

    def read(self, value: CellValue, asked: Asked) -> tuple[float, ...]:
        """Return the lengths."""
        return tuple(self.each.read(length, asked) for length in cells.to_segments(value))

    def usual(self, _system: UnitSystem) -> object:
        """Return nothing: a length is always given."""


@dataclass(frozen=True)
class MachineTable:
    """The table of fusion machines, header row included."""

    def read(self, grid: Grid, asked: Asked) -> tuple[Machine, ...]:
        """Return the machines of the table."""
        return _machines(grid, asked["units"])

    def usual(self, _system: UnitSystem) -> object:
        """Return nothing: the table is always given."""


@cache
def field_of(table: str, key: str) -> Field:
    """Return an input of the data dictionary."""
    return next(field for field in fields(table) if field.key == key)


@lru_cache(maxsize=16)
def _machines(grid: Grid, system: UnitSystem) -> tuple[Machine, ...]:
    table = next(table for table in input_tables() if table.table == MACHINES)
    findings = Findings()
    data = TableReader(table, Settings(system, dates_1904=False), findings).body(_raw_table(grid))
    inputs = Inputs({MACHINES: data})
    findings.add(map(inputs.finding, broken_rules(inputs)))
    if findings.errors:
        first = findings.errors[0]
        raise EstimatorError(f"{first.where.partition('!')[2]}, {first.message}")
    return tuple(Machine(**row.values) for row in data.rows)


def _raw_table(grid: Grid) -> RawTable:
    head, *body = (
        tuple(_raw_cell(row, column, value) for column, value in enumerate(values, 1))
        for row, values in enumerate(grid.rows, 1)
    )
    units = tuple(RawCell(MACHINES, cell.row, cell.column) for cell in head)
    return RawTable(MACHINES, MACHINES, head, units, tuple(body))


def _raw_cell(row: int, column: int, value: CellValue) -> RawCell:
    error = error_in(value)
    return RawCell(MACHINES, row, column, None if error else plain(value), error)


def error_in(value: CellValue) -> str:
    """Return the error value that a cell holds, as text, empty for none.

    >>> error_in("#N/A"), error_in(-2146826246), error_in("#1 run")
    ('#N/A', '#...', '')
    """
    if isinstance(value, str):
        return value if value in ERROR_TEXTS else ""
    return "#..." if isinstance(value, int) and value in ERROR_CODES else ""


def plain(value: CellValue | Decimal) -> CellValue:
    """Return a value as other sources give it: cells in a currency format come as decimals."""
    return float(value) if isinstance(value, Decimal) else value
