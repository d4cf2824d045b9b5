"""A data logger's CSV file, joined to the joint log by a table of its columns and ours."""

import csv
import datetime as dt
import hashlib
import re
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import replace
from typing import Any

from estimator.data_class import dataclass
from estimator.errors import EstimatorError, InputError, Problem
from estimator.input_errors.entries import describe
from estimator.input_errors.site_records import clock_text
from estimator.inputs.column import Column
from estimator.inputs.dictionary import Field, fields
from estimator.models.site_records import LoggedJoint, LoggerColumn
from estimator.units import DAY_MIN, MIN_S
from estimator.workbook.read import columns
from estimator.workbook.read.site_records import ParsedRecords

LOG = "joint_log"
BY = ("joint_no", "record_no")
"""What joins a row of the file to the log, the first that it has."""
SAME_SHARE, SAME_CLOCK_MIN = 0.005, 1.5 / MIN_S
"""A figure typed on site and that of the logger are the same within half a percent, or a second."""
DELIMITERS = ",;\t|"
NO_KEY = (
    "The Logger columns table names neither Joint no. nor Record no. Add a row for the one that "
    "the file has"
)
_CLOCK_AT_END = re.compile(r"[0-9]{1,2}:[0-9]{2}(?::[0-9]{2})?(?: ?[ap]m)?$", re.IGNORECASE)
Cells = dict[str, dict[str, Any]]
Values = dict[str, Any]


@dataclass(frozen=True)
class LoggerFile:
    """A file as it was handed in: its name, what stands in it, and the hash that proves it."""

    name: str
    header: Sequence[str]
    rows: Sequence[Sequence[str]]
    sha256: str
    decimal_comma: bool

    @staticmethod
    def parse(name: str, data: bytes) -> "LoggerFile":
        """Return the table that a CSV file holds.

        Raises
        ------
        EstimatorError
            If it is no text, or has no row below its headers.
        """
        try:
            text = data.decode("utf-8-sig")
        except UnicodeDecodeError:
            text = data.decode("cp1252", errors="replace")
        if "\0" in text:
            raise EstimatorError(f"{name} is no text file. Export it from the logger as CSV")
        first = text.partition("\n")[0]
        delimiter = max(DELIMITERS, key=first.count)
        rows = [row for row in csv.reader(text.splitlines(), delimiter=delimiter) if any(row)]
        if len(rows) < 2:
            raise EstimatorError(f"{name} has no row below its headers")
        header = [cell.strip() for cell in rows[0]]
        digest = hashlib.sha256(data).hexdigest()
        return LoggerFile(name, header, rows[1:], digest, decimal_comma=delimiter != ",")


@dataclass(frozen=True)
class Joined:
    """The cells that a file fills, by sheet and address, and the rows of it that fit no joint."""

    cells: Cells
    joints: int
    left_out: tuple[Problem, ...]


@dataclass(frozen=True)
class _Source:
    """One column of the file: where it stands, and which input of ours it is, in its unit."""

    at: int
    column: Column


def join_logger(parsed: ParsedRecords, file: LoggerFile) -> Joined:
    """Return what a logger's file fills in: blank cells only.

    Parameters
    ----------
    parsed : ParsedRecords
        The site records with the Logger columns table.
    file : LoggerFile
        The file.

    Raises
    ------
    InputError
        With every fault at once: a column that is not there, a value that cannot be read, or one
        that contradicts what was typed on site.
    """
    sources = _sources(parsed, file)
    by = next((key for key in BY if key in sources), None)
    if by is None:
        raise InputError([Problem("Logger columns", NO_KEY)])
    log = {str(getattr(joint, by)): joint for joint in parsed.records.joint_log}
    cells: Cells = {}
    problems: list[Problem] = []
    left_out: list[Problem] = []
    seen: dict[str, int] = {}
    for number, row in enumerate(file.rows, 2):
        where = f"{file.name} row {number}"
        values = dict(_values(sources, row, file, where, problems))
        name = values.get(by)
        joint = log.get(str(name))
        if name is None or joint is None:
            header = sources[by].column.field.header
            message = f"{header} {describe(name)} is not in the Joint log"
            left_out.append(Problem(where, f"{message}. The row is left out"))
            continue
        if joint.joint_no in seen:
            message = f"{joint.joint_no} is already in row {seen[joint.joint_no]}. Keep one"
            problems.append(Problem(where, message))
        seen.setdefault(joint.joint_no, number)
        own = {"logger_file": file.name, "logger_hash": file.sha256}
        _fill(parsed, joint, values | own, where, cells, problems)
    if problems:
        raise InputError(problems)
    return Joined(cells, len(seen), tuple(left_out))


def _sources(parsed: ParsedRecords, file: LoggerFile) -> Mapping[str, _Source]:
    """Return the columns of the file that are mapped, by our key; all faults at once."""
    by_header = {field.header: field for field in fields(LOG)}
    sources: dict[str, _Source] = {}
    problems = []
    for row in parsed.records.logger_columns:
        field = by_header[row.ours]
        where = parsed.places.where("logger_columns", row.ours, "theirs")
        if row.theirs not in file.header:
            known = ", ".join(file.header)
            message = f"Logger column: {row.theirs!r} is no column of {file.name}. It has: {known}"
            problems.append(Problem(where, message))
            continue
        try:
            column = _column(parsed, field, row)
        except EstimatorError as error:
            unit = parsed.places.where("logger_columns", row.ours, "unit")
            problems.append(Problem(unit, f"Unit: {error}"))
            continue
        sources[field.key] = _Source(file.header.index(row.theirs), column)
    if problems:
        raise InputError(problems)
    return sources


def _column(parsed: ParsedRecords, field: Field, row: LoggerColumn) -> Column:
    own = parsed.columns[LOG][field.key]
    return own if row.unit is None else replace(own, unit=columns.column_unit(field, row.unit))


def _values(
    sources: Mapping[str, _Source],
    row: Sequence[str],
    file: LoggerFile,
    where: str,
    problems: list[Problem],
) -> Iterator[tuple[str, Any]]:
    """Yield each value that a row of the file has, as the log holds it."""
    for key, source in sources.items():
        text = row[source.at].strip() if source.at < len(row) else ""
        if not text:
            continue
        field = source.column.field
        try:
            yield key, columns.read_value(_plain(text, field, file), source.column, {})
        except EstimatorError as error:
            problems.append(Problem(where, f"{file.header[source.at]}: {error}"))


def _plain(text: str, field: Field, file: LoggerFile) -> str:
    """Return a text of the file as one would type it: time or date alone, decimals by a point."""
    if field.kind == "clock":
        found = _CLOCK_AT_END.search(text)
        return found[0] if found else text
    if field.kind == "date":
        return re.split(r"[ T]", text)[0]
    return text.replace(",", ".") if file.decimal_comma and field.kind == "number" else text


def _fill(
    parsed: ParsedRecords,
    joint: LoggedJoint,
    values: Values,
    where: str,
    cells: Cells,
    problems: list[Problem],
) -> None:
    """Take up what a joint has blank; what it has otherwise is a fault."""
    for key, value in values.items():
        typed = getattr(joint, key)
        column = parsed.columns[LOG][key]
        if typed is None:
            sheet, _, address = parsed.places.where(LOG, joint.joint_no, key).rpartition("!")
            cells.setdefault(sheet, {})[address] = _typed(column, value)
        elif not _same(column, typed, value):
            place = parsed.places.where(LOG, joint.joint_no, key)
            message = (
                f"{column.field.header}: {_shown(column, typed)} is not the "
                f"{_shown(column, value)} of {where}. Correct or clear this cell"
            )
            problems.append(Problem(place, message))


def _same(column: Column, typed: Any, value: Any) -> bool:  # noqa: ANN401
    if isinstance(typed, str):
        return typed.casefold() == str(value).casefold()
    if isinstance(typed, dt.date):
        return bool(typed == value)
    if column.field.kind == "clock":
        return bool(abs(typed - value) <= SAME_CLOCK_MIN)
    return bool(abs(typed - value) <= SAME_SHARE * max(abs(typed), abs(value)))


def _typed(column: Column, value: Any) -> Any:  # noqa: ANN401
    """Return a value as it is typed into its cell."""
    if column.field.kind == "clock":
        return value / DAY_MIN
    if isinstance(value, float):
        return float(f"{column.show(value):.6g}")
    return value


def _shown(column: Column, value: Any) -> str:  # noqa: ANN401
    if column.field.kind == "clock":
        return clock_text(value)
    shown = describe(_typed(column, value))
    return f"{shown} {column.number_unit}".strip()
