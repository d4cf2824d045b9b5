"""Runs into the cells of a workbook's pipe schedule, in its own columns and units."""

from collections.abc import Iterator, Mapping, Sequence
from typing import Any

from estimator.data_class import dataclass
from estimator.display import segments_text
from estimator.errors import EstimatorError, InputError, Problem, WorkbookError, naming_file
from estimator.inputs.column import usual_unit
from estimator.inputs.dictionary import by_header, fields, input_tables, squeeze
from estimator.takeoff.columns import labels
from estimator.takeoff.runs import TakenRun
from estimator.takeoff.typed import Measured
from estimator.units import from_si, to_si
from estimator.workbook.package.package import Package
from estimator.workbook.package.table_rows import TableRows, Value
from estimator.workbook.read.cells import to_text
from estimator.workbook.read.columns import column_unit
from estimator.workbook.read.file_source import FileSource
from estimator.workbook.read.parse import parse_job, unit_system
from estimator.workbook.read.unit_text import labels_of_kind
from estimator.workbook.sheet.areas import parse_area
from estimator.workbook.sheet.source import CellValue, RawCell, RawTable, column_letters

SCHEDULE = next(table for table in input_tables() if table.table == "schedule")
FIGURES = 10
REPLACE, APPEND = "replace", "append"


@dataclass(frozen=True)
class Target:
    """The pipe schedule of a workbook: its columns by key, their units, and where rows can go."""

    data: bytes
    table: RawTable
    columns: Mapping[str, int]
    units: Mapping[str, str]
    filled: tuple[int, ...]

    @property
    def length_unit(self) -> str:
        """Unit of its lengths."""
        return self.units["segments_m"]

    @property
    def names(self) -> frozenset[str]:
        """Names of the runs that are there."""
        place = self.columns["run_id"] - self.table.headers[0].column
        rows = (row for row in self.table.rows if row[0].row in self.filled)
        return frozenset(to_text(row[place].value) for row in rows if row[place].value is not None)


def open_target(data: bytes, path: str) -> Target:
    """Return the pipe schedule of a workbook.

    Raises
    ------
    WorkbookError
        If it has none, or not as an Excel table.
    InputError
        If one of its unit cells names no unit of length.
    """
    with naming_file(path):
        source = FileSource(data)
        raw = source.table(SCHEDULE.excel_name)
    if raw is None or not raw.name:
        raise WorkbookError(
            f"{path} has no Excel table {SCHEDULE.excel_name}. Take a workbook made with "
            "estimator new"
        )
    known = by_header("schedule")
    columns = {
        known[name].key: cell.column
        for cell in raw.headers
        if (name := squeeze(to_text(cell.value))) in known
    }
    missing = [f.header for f in fields("schedule") if f.required and f.key not in columns]
    if missing:
        raise InputError([Problem(raw.headers[0].where, f"columns missing: {', '.join(missing)}")])
    filled = tuple(row[0].row for row in raw.rows if any(_typed_in(cell) for cell in row))
    return Target(data, raw, columns, _units(source, raw, columns), filled)


def _typed_in(cell: RawCell) -> bool:
    return cell.is_filled


def _units(source: FileSource, raw: RawTable, columns: Mapping[str, int]) -> dict[str, str]:
    units: dict[str, str] = {}
    problems = []
    system = unit_system(source)
    for field in fields("schedule"):
        if field.key not in columns:
            continue
        cell = raw.units[columns[field.key] - raw.headers[0].column]
        text = to_text(cell.value) if cell.value is not None else ""
        try:
            units[field.key] = column_unit(field, text) if text else usual_unit(field, system)
        except EstimatorError as error:
            problems.append(Problem(cell.where, f"{field.header}: {error}"))
    if problems:
        raise InputError(problems)
    return units


def first_free_row(target: Target, mode: str) -> int:
    """Return the sheet row where the first run goes.

    Raises
    ------
    InputError
        If rows are there and nobody said what becomes of them.
    """
    top = target.table.headers[0].row + 1
    if not target.filled or mode == REPLACE:
        return top
    if mode == APPEND:
        return target.filled[-1] + 1
    where = f"{target.table.sheet}!{column_letters(target.table.headers[0].column)}"
    first, last = target.filled[0], target.filled[-1]
    raise InputError(
        [
            Problem(
                f"{where}{first}",
                f"rows {first} to {last} are filled in. Say --replace to put the takeoff in "
                "their place, or --append to put it below them",
            )
        ]
    )


def cells_of(run: TakenRun, target: Target) -> Iterator[tuple[str, Value]]:
    """Yield the value of each cell of a run, by key of the schedule."""
    yield "run_id", run.name
    for key, value in run.values.items():
        if value is not None:
            yield key, _shown(key, value, target)
    if run.lengths:
        yield "segments_m", lengths_text([_in_unit(one, target.length_unit) for one in run.lengths])
    yield from ((key, number) for key, number in run.counts.items() if number)


def _shown(key: str, value: CellValue | Measured, target: Target) -> Value:
    if not isinstance(value, Measured):
        if isinstance(value, float):
            return _rounded(value)
        return value if isinstance(value, str | int) else to_text(value)
    unit = target.units.get(key, "")
    if key == "pipe_price":
        return _price(value, unit)
    return _in_unit(value, unit)


def _price(value: Measured, unit: str) -> Value:
    """Return a price per unit of length in the schedule's: a price per ft is less than per m."""
    if value.unit in ("", unit) or unit not in labels_of_kind("length"):
        return _rounded(value.number)
    return _rounded(value.number / from_si(to_si(1.0, value.unit), unit))


def _in_unit(value: Measured, unit: str) -> int | float:
    return _rounded(value.within(unit))


def _rounded(number: float) -> int | float:
    """Return a number without the noise of a conversion.

    >>> _rounded(99.99999999999), _rounded(2399.9343832021)
    (100, 2399.934383)
    """
    found = float(f"{number:.{FIGURES}g}")
    return int(found) if found.is_integer() else found


def lengths_text(lengths: Sequence[int | float]) -> Value:
    """Return lengths as the schedule holds them: a number, or segments as text.

    >>> lengths_text([60] * 14), lengths_text([95])
    ('14 x 60', 95)
    """
    return lengths[0] if len(lengths) == 1 else segments_text(lengths)


def with_runs(
    target: Target, runs: Sequence[TakenRun], mode: str
) -> tuple[bytes, Mapping[int, TakenRun]]:
    """Return the workbook with the runs in its schedule, and which run went to which row.

    Raises
    ------
    InputError
        If rows or formulas are in the way, or a column that the runs need is not there.
    WorkbookError
        If the file cannot be edited safely.
    """
    first = first_free_row(target, mode)
    values: list[dict[int, Value]] = []
    absent: dict[str, RawCell | None] = {}
    for run in runs:
        cells = dict(cells_of(run, target))
        absent.update({key: run.cells.get(key) for key in cells if key not in target.columns})
        values.append(
            {target.columns[k]: value for k, value in cells.items() if k in target.columns}
        )
    if absent:
        raise InputError([_no_column(key, cell, target) for key, cell in absent.items()])
    asked = TableRows(target.table.name, first, values, clear=mode == REPLACE)
    data = Package.open(target.data).put_table_rows(asked)
    return data, dict(enumerate(runs, first))


def _no_column(key: str, cell: RawCell | None, target: Target) -> Problem:
    where = cell.where if cell is not None else target.table.headers[0].where
    return Problem(
        where, f"{labels()[key]}: {target.table.sheet} has no such column. Add it with this header"
    )


def faults_of(
    data: bytes, target: Target, rows: Mapping[int, TakenRun], reported: frozenset[str]
) -> list[Problem]:
    """Return what the reader finds wrong with the runs as written, each at its foreign cell.

    ``reported`` are the foreign cells whose faults are reported already.
    """
    try:
        parse_job(FileSource(data))
    except InputError as error:
        found = error.problems
    else:
        return []
    keys = {column: key for key, column in target.columns.items()}
    problems = []
    for problem in found:
        sheet, _, address = problem.where.rpartition("!")
        if sheet != target.table.sheet:
            continue
        place = _place(address)
        run = rows.get(place[0])
        if run is None:
            continue
        key = keys.get(place[1], "")
        cell = run.cells.get(key) or run.cells.get("run_id")
        where = cell.where if cell is not None else run.name
        if where in reported:
            continue
        problems.append(Problem(where, f"run {run.name}: {problem.message}"))
    return problems


def _place(address: str) -> tuple[int, int]:
    area = parse_area(address)
    return (area.top, area.left) if area is not None else (0, 0)


def defaults_of(target: Target) -> dict[str, Any]:
    """Return what a run needs and takeoffs seldom give, from the defaults of the schedule."""
    found: dict[str, Any] = {}
    for field in fields("schedule"):
        unit = target.units.get(field.key, "")
        default = field.default("SI" if unit == "m" or target.length_unit == "m" else "US")
        if not default:
            continue
        measured = unit in labels_of_kind("length")
        found[field.key] = Measured(float(default), unit) if measured else default
    return found
