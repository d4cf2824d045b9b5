"""Input tables and named cells into rows of converted values, each with its cell."""

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import field
from typing import Any

from estimator.data_class import dataclass
from estimator.display import UnitSystem
from estimator.errors import EstimatorError, InputError, Problem
from estimator.input_errors.entries import Broken, describe
from estimator.input_errors.values import BLANK
from estimator.inputs.column import Column, measured_kind, usual_unit
from estimator.inputs.dictionary import (
    WORKED,
    Field,
    InputTable,
    by_header,
    fields,
    squeeze,
)
from estimator.workbook.read import columns
from estimator.workbook.read.cells import CellError, is_blank, shows_error, to_text
from estimator.workbook.read.findings import Finding, Findings
from estimator.workbook.read.headers import check_headers
from estimator.workbook.read.outside import left_outside, no_entry, strange_values
from estimator.workbook.sheet.source import (
    InputSource,
    RawCell,
    RawTable,
    column_letters,
    first_named_cell,
)

ROWS_NAMED = 8
MOST_ROWS = 20_000
"""Rows of a table; an estimate takes some 20 kB of memory for each run."""
UNCALCULATED = (
    "The formula has no saved result. Open the file in a spreadsheet program, let it calculate, "
    "and save it"
)


@dataclass(frozen=True)
class Settings:
    """What holds for the whole workbook while it is read."""

    system: UnitSystem
    dates_1904: bool


@dataclass(frozen=True)
class Slot:
    """Where in a row an input stands; its column is None if the unit is faulty."""

    position: int
    column: Column | None


@dataclass(frozen=True)
class Row:
    """Values of one table row, or of all named cells of a sheet; a faulty value is left out."""

    values: Mapping[str, Any]
    cells: Sequence[RawCell]
    slots: Mapping[str, Slot]

    def cell(self, key: str) -> RawCell:
        """Return the cell of a value, the first cell of the row where it has none."""
        return self.cells[self.slots[key].position if key in self.slots else 0]

    def get(self, key: str) -> Any:  # noqa: ANN401
        """Return a value as the job holds it, None where it is blank or faulty."""
        return self.values.get(key)

    def blank(self, key: str) -> bool:
        """Return whether a value was left blank, rather than left out as faulty."""
        return key in self.values and self.values[key] is None

    def show(self, key: str) -> str:
        """Return a value as its cell shows it, a number with its unit."""
        value = self.cell(key).value
        unit = "" if isinstance(value, str) else self.unit(key)
        return f"{describe(value)} {unit}".strip()

    def where(self, key: str) -> str:
        """Return the place of a value's cell."""
        return self.cell(key).where

    @property
    def defaulted(self) -> Iterator[str]:
        """Yield the keys of blank cells that were read as their default."""
        for key, slot in self.slots.items():
            if self.values.get(key) is not None and is_blank(self.cells[slot.position].value):
                yield key

    def unit(self, key: str) -> str:
        """Return the unit of a value as its cell shows it, empty where it has none."""
        column = self.slots[key].column if key in self.slots else None
        return column.number_unit if column is not None else ""


@dataclass(frozen=True)
class TableData:
    """One input table as read; ``head`` is the cell at which faults of the whole are reported."""

    table: InputTable
    head: RawCell
    rows: tuple[Row, ...]
    ranges: Mapping[str, str] = field(default_factory=dict)


@dataclass(frozen=True)
class Inputs:
    """Every input that was found; a table that is missing is left out."""

    tables: Mapping[str, TableData]

    def has(self, table: str) -> bool:
        """Return whether a table is there, empty or not."""
        return table in self.tables

    def rows(self, table: str) -> tuple[Row, ...]:
        """Return the rows of a table, none if the table is missing."""
        return self.tables[table].rows if table in self.tables else ()

    def finding(self, broken: Broken) -> Finding:
        """Return a broken rule with its cell, the head of the table where all of it is at fault."""
        row = broken.entry
        place = row.cell(broken.key) if isinstance(row, Row) else self.tables[broken.table].head
        return Finding(place, broken.message, broken.warning)

    def named(self, table: str) -> Row:
        """Return the named cells of a sheet."""
        return self.tables[table].rows[0]


def read_cell(column: Column, cell: RawCell, default: object, row: Mapping[str, Any]) -> object:
    """Return the value of a cell as the job holds it, the default for an optional blank.

    Raises
    ------
    EstimatorError
        If the cell has no usable value.
    """
    if is_blank(cell.value):
        if cell.error:
            raise shows_error(cell.error)
        if cell.uncached:
            raise CellError(UNCALCULATED)
        if column.field.required:
            raise CellError(BLANK)
        return default
    return columns.read_value(cell.value, column, row)


class TableReader:
    """Reads the rows of one table, or the named cells of one sheet."""

    def __init__(self, table: InputTable, settings: Settings, findings: Findings) -> None:
        self.table, self.settings, self.findings = table, settings, findings
        self.fields = tuple(field for field in fields(table.table) if field.kind != WORKED)
        self.defaults = {f.key: columns.value_if_blank(f, settings.system) for f in self.fields}
        self.absent = {f.key: columns.value_if_absent(f, settings.system) for f in self.fields}

    def named(self, source: InputSource) -> TableData:
        """Return the named cells of a sheet as a table of one row."""
        cells: list[RawCell] = []
        slots: dict[str, Slot] = {}
        for named in self.fields:
            cell = first_named_cell(source, named.cell_names)
            if cell is not None:
                self.findings.announce(cell.sheet)
                slots[named.key] = Slot(len(cells), self._column(named, source.unit_beside(cell)))
                cells.append(cell)
        self._report_missing_names(slots)
        self.findings.add(strange_values(source, cells))
        ranges = {key: cells[slot.position].reference for key, slot in slots.items()}
        head = cells[0] if cells else RawCell(self.table.sheet, 1, 1)
        return TableData(self.table, head, (self._row(cells, slots),), ranges)

    def _report_missing_names(self, slots: Mapping[str, Slot]) -> None:
        missing = [f for f in self.fields if f.required and f.key not in slots]
        if not slots:
            example = missing[0].cell_name
            message = (
                f"This sheet has none of its named cells. Restore {example} and the "
                "others, or copy your inputs into a new workbook"
            )
            self.findings.error(self.table.sheet, message)
            return
        for named in missing:
            message = (
                f"{named.header}: no cell is named {named.cell_name}. Define that name for one cell"
            )
            self.findings.error(self.table.sheet, message)

    def body(self, raw: RawTable) -> TableData:
        """Return the rows of a table that are not blank."""
        index = self._find_columns(raw.headers)
        self.findings.add(check_headers(self.table, raw, self.settings.system))
        slots = {
            f.key: Slot(index[f.key], self._column(f, raw.units[index[f.key]]))
            for f in self.fields
            if f.key in index
        }
        self.findings.add_outside(left_outside(table=self.table, raw=raw))
        filled = [cells for cells in raw.rows if not _is_empty(cells, index)]
        _refuse_too_many(self.table, filled)
        entries = self._without_spare_formulas(filled, index)
        used = [cells for cells in entries if self._is_entry(raw, cells, index)]
        rows = tuple(self._row(cells, slots) for cells in used)
        self._warn_of_hidden_rows(raw, used)
        ranges = {key: _body_range(raw, i) for key, i in index.items()} if raw.rows else {}
        return TableData(self.table, raw.headers[0], rows, ranges)

    def _without_spare_formulas(
        self, rows: Sequence[Sequence[RawCell]], index: Mapping[str, int]
    ) -> Sequence[Sequence[RawCell]]:
        """Return the rows without those that hold formulas never calculated and no entry.

        A formula filled down into spare rows has no result where a program wrote the workbook; a
        row that lacks a required value can be no entry, whatever its formulas give.
        """
        needed = [(f.header, index[f.key]) for f in self.fields if f.required and f.key in index]
        spare: list[RawCell] = []
        used: list[Sequence[RawCell]] = []
        headers: dict[str, None] = {}
        for cells in rows:
            filled = [cells[i] for i in index.values() if cells[i].is_filled]
            lacking = [header for header, i in needed if not cells[i].is_filled]
            if lacking and all(cell.uncached for cell in filled):
                spare.append(filled[0])
                headers[lacking[0]] = None
            else:
                used.append(cells)
        if spare:
            lacks = " or ".join(headers)
            text = f"nothing but formulas without a saved result, and no {lacks}; read as blank"
            self.findings.warn(spare[0], f"{_rows_named(spare)}: {text}")
        return used

    def _is_entry(self, raw: RawTable, cells: Sequence[RawCell], index: Mapping[str, int]) -> bool:
        """Return whether a row is an entry; a heading or a total is reported once, as a whole."""
        needed = [cells[index[f.key]] for f in self.fields if f.required and f.key in index]
        found = no_entry(raw.headers, cells, needed)
        if found is not None:
            self.findings.add([found])
        return found is None

    def _find_columns(self, headers: Sequence[RawCell]) -> dict[str, int]:
        index: dict[str, int] = {}
        wanted = by_header(self.table.table)
        for i, cell in enumerate(headers):
            known = wanted.get(squeeze(to_text(cell.value)))
            if known is None or known.kind == WORKED:
                continue
            if known.key in index:
                first = headers[index[known.key]].where
                self.findings.error(
                    cell, f"{known.header}: this header is already used at {first}. Keep one"
                )
            index.setdefault(known.key, i)
        for missing in (f for f in self.fields if f.required and f.key not in index):
            self.findings.error(
                headers[0],
                (f"{missing.header}: the column is missing. Add a column with this header"),
            )
        return index

    def _warn_of_hidden_rows(self, raw: RawTable, used: Sequence[Sequence[RawCell]]) -> None:
        hidden = [cells[0] for cells in used if cells[0].row in raw.hidden_rows]
        if not hidden:
            return
        rows = "1 hidden row is" if len(hidden) == 1 else f"{len(hidden)} hidden rows are"
        self.findings.warn(hidden[0], f"{rows} included ({_rows_named(hidden)})")

    def _column(self, known: Field, unit: RawCell) -> Column | None:
        """Return the column with its unit; None, with an error noted, if the unit is faulty."""
        try:
            return Column(known, self._unit(known, unit), self.settings.dates_1904)
        except CellError as error:
            self.findings.error(unit, f"{known.header}: {error}")
            return None

    def _unit(self, known: Field, cell: RawCell) -> str:
        if not columns.has_unit(known):
            return ""
        if cell.error or cell.uncached:
            fault = shows_error(cell.error) if cell.error else UNCALCULATED
            usual = known.unit_text(self.settings.system)
            raise CellError(f"The unit cell: {fault}. The usual unit is {usual}")
        if is_blank(cell.value):
            usual = usual_unit(known, self.settings.system)
            if measured_kind(known):
                self.findings.warn(
                    cell, (f"{known.header}: the unit cell is blank. Read as {usual}")
                )
            return usual
        return columns.column_unit(known, to_text(cell.value))

    def _row(self, cells: Sequence[RawCell], slots: Mapping[str, Slot]) -> Row:
        values: dict[str, Any] = {}
        for item in self.fields:
            key, slot = item.key, slots.get(item.key)
            if slot is None:
                if not item.required:
                    values[key] = self.absent[key]
                continue
            if slot.column is None:
                continue
            cell = cells[slot.position]
            try:
                values[key] = read_cell(slot.column, cell, self.defaults[key], values)
            except EstimatorError as error:
                self.findings.error(cell, f"{item.header}: {error}")
        return Row(values, cells, slots)


def _rows_named(cells: Sequence[RawCell]) -> str:
    named = ", ".join(str(cell.row) for cell in cells[:ROWS_NAMED])
    more = f" and {len(cells) - ROWS_NAMED} more" if len(cells) > ROWS_NAMED else ""
    return f"{'row' if len(cells) == 1 else 'rows'} {named}{more}"


def _refuse_too_many(table: InputTable, filled: Sequence[Sequence[RawCell]]) -> None:
    """Refuse a table that no estimate could hold, before its values are looked at."""
    if len(filled) > MOST_ROWS:
        first, last = filled[0][0], filled[-1][-1]
        where = f"{first.where}:{column_letters(last.column)}{last.row}"
        text = (
            f"{table.title} has {len(filled):,} rows. Use {MOST_ROWS:,} or fewer; split the job "
            "into several workbooks"
        )
        raise InputError([Problem(where, text)])


def _is_empty(cells: Sequence[RawCell], index: Mapping[str, int]) -> bool:
    return all(
        is_blank(cells[i].value) and not cells[i].error and not cells[i].uncached
        for i in index.values()
    )


def _body_range(raw: RawTable, i: int) -> str:
    first, last = raw.rows[0][i], raw.rows[-1][i]
    return f"{first.reference}:${column_letters(last.column)}${last.row}"
