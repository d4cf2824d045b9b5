"""What every check of the inputs uses to tell what it found, and where."""

from estimator.inputs.dictionary import fields
from estimator.workbook.read.cells import describe
from estimator.workbook.read.findings import Finding
from estimator.workbook.read.parse_rows import Row


def header(table: str, key: str) -> str:
    """Return the header of a field."""
    return next(field.header for field in fields(table) if field.key == key)


def at(row: Row, table: str, key: str, message: str, warning: bool = False) -> Finding:
    """Return a finding at a value of a row, its header before the message."""
    return Finding(row.cell(key), f"{header(table, key)}: {message}", warning)


def shown(row: Row, key: str) -> str:
    """Return a value as its cell shows it, a number with its unit."""
    value = row.cell(key).value
    unit = "" if isinstance(value, str) else row.unit(key)
    return f"{describe(value)} {unit}".strip()


def above(row: Row, key: str, other: str) -> bool:
    """Return whether a value is above another one; no if either is missing."""
    value, limit = row.values.get(key), row.values.get(other)
    return value is not None and limit is not None and value > limit
