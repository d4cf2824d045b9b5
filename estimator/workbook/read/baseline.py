"""Reads a Baseline sheet back into the baseline that it was written from."""

import datetime as dt
from collections.abc import Iterator, Mapping, Sequence
from decimal import Decimal
from typing import Any, NamedTuple

from estimator.display import KEPT_BLANK
from estimator.errors import EstimatorError, InputError, Problem
from estimator.models.baseline import (
    PIECES,
    Baseline,
    BaselineDay,
    BaselineHead,
    BaselineItem,
    BaselineRun,
    LumpSum,
    PieceTime,
)
from estimator.models.job import split_names
from estimator.progress.baseline import must_add_up
from estimator.standards.pipe_names import as_called_now
from estimator.units import to_si
from estimator.workbook.sheet.source import CellValue, column_letters

Rows = Sequence[Sequence[CellValue]]
Record = Mapping[str, Any]
TOTAL = "Total"
"""What the row begins with that adds up a table."""
RESTORE = "Restore the sheet from a backup, or write a new one with estimator baseline --rebase"


class _Head(NamedTuple):
    """The header of a column: its place, counted from 0, and the unit below its noun."""

    place: int
    unit: str


class _Sheet:
    """The cells of a Baseline sheet, and where its parts begin."""

    def __init__(self, name: str, rows: Rows) -> None:
        self.name, self.rows = name, rows

    def value(self, row: int, column: int) -> CellValue:
        line = self.rows[row] if row < len(self.rows) else ()
        found = line[column] if column < len(line) else None
        return None if found == "" else found

    def fault(self, row: int, column: int, message: str) -> InputError:
        where = f"{self.name}!{column_letters(column + 1)}{row + 1}"
        return InputError([Problem(where, f"{message}. {RESTORE}")])

    def heads(self, row: int) -> Mapping[str, _Head]:
        """Return the headers of a row by their nouns."""
        cells = self.rows[row] if row < len(self.rows) else ()
        parted = (str(cell or "").partition("\n") for cell in cells)
        return {noun: _Head(place, unit) for place, (noun, _, unit) in enumerate(parted)}

    def is_total(self, row: int) -> bool:
        """Return whether a row adds up a table: it holds numbers alone beside its name."""
        first, *others = self.rows[row]
        return first == TOTAL and not any(
            isinstance(cell, str | dt.date) and cell != "" for cell in others
        )

    def row_of(self, label: str) -> int:
        for number in range(len(self.rows)):
            if self.value(number, 0) == label:
                return number
        raise self.fault(0, 0, f"{label!r} is missing")


def parse_baseline(
    name: str,
    rows: Rows,
    head_labels: Sequence[str],
    tables: Mapping[str, Sequence[tuple[str, str]]],
) -> Baseline:
    """Return the baseline on a sheet.

    Parameters
    ----------
    name : str
        Name of the sheet, for messages.
    rows : sequence of sequences
        Its values from A1 on.
    head_labels : sequence of str
        Labels of the lines of the head, in the order of ``BaselineHead`` as it is written.
    tables : mapping
        Title of each section, in the order runs, lump sums, items, days, with the key and header of
        its columns.

    Raises
    ------
    InputError
        Where the sheet was changed so that it does not add up, or a part of it is missing.
    """
    sheet = _Sheet(name, rows)
    head = {label: sheet.value(sheet.row_of(label), 1) for label in head_labels}
    runs, lumps, items, days = (list(_records(sheet, title, tables[title])) for title in tables)
    try:
        made = Baseline(
            head=_head([head[label] for label in head_labels]),
            days=tuple(_day(record) for record in days),
            runs=tuple(_run(record) for record in runs),
            lump_sums=tuple(_lump(record) for record in lumps),
            items=tuple(_item(record) for record in items),
        )
        must_add_up(made)
    except (TypeError, ValueError, ArithmeticError) as error:
        raise sheet.fault(0, 0, "A value of the baseline cannot be read") from error
    except EstimatorError as error:
        raise sheet.fault(0, 0, str(error)) from error
    return made


def _records(sheet: _Sheet, title: str, columns: Sequence[tuple[str, str]]) -> Iterator[Record]:
    head = sheet.row_of(title) + 1
    heads = sheet.heads(head)
    for _, header in columns:
        if header not in heads:
            raise sheet.fault(head, 0, f"The column {header!r} is missing")
    for row in _rows_below(sheet, head):
        record = {key: sheet.value(row, heads[header].place) for key, header in columns}
        if "length" in record:
            unit = heads[dict(columns)["length"]].unit
            record["length"] = to_si(_number(record["length"]), unit)
        yield record


def _rows_below(sheet: _Sheet, head: int) -> Iterator[int]:
    """Yield the rows of a table but its total; its header may stand again below a blank row."""
    row = head + 1
    while row < len(sheet.rows):
        if sheet.value(row, 0) is not None:
            if not sheet.is_total(row):
                yield row
            row += 1
        elif sheet.value(row + 1, 0) == sheet.value(head, 0):
            row += 2
        else:
            return


def _head(values: Sequence[Any]) -> BaselineHead:
    (number, reason, changes, estimate_date, start, finish, deadline, system, currency, checksum,
     hours, cost, price) = values  # fmt: skip
    if system not in ("US", "SI"):
        message = f"{system!r} is not a unit system. Use US or SI"
        raise ValueError(message)
    return BaselineHead(
        number=int(number),
        reason=str(reason),
        changes=split_names(str(changes or "")),
        estimate_date=_date(estimate_date),
        start=_date(start),
        finish=_date(finish),
        deadline=None if deadline is None else _date(deadline),
        system=system,
        currency=str(currency or ""),
        checksum=str(checksum),
        labor_hours=_number(hours),
        cost=_money(cost),
        price=_money(price),
    )


def _run(record: Record) -> BaselineRun:
    return BaselineRun(
        run_id=str(record["run_id"]),
        bid_item=str(record["bid_item"] or ""),
        pipe=as_called_now(str(record["pipe"]).replace(KEPT_BLANK, " ")),
        band=record["band"],
        length_m=record["length"],
        pieces={kind: int(_number(record[kind])) for kind in PIECES},
        times={
            kind: PieceTime(
                _number(record[f"{kind}_crew_min"]), _number(record[f"{kind}_machine_min"])
            )
            for kind in PIECES
        },
        labor_hours=_number(record["labor_hours"]),
        labor=_money(record["labor"]),
        equipment=_money(record["equipment"]),
        other=_money(record["other"]),
        price=_money(record["price"]),
    )


def _lump(record: Record) -> LumpSum:
    return LumpSum(
        name=str(record["name"]),
        rule=record["rule"],
        first=_date(record["first"]),
        last=_date(record["last"]),
        cost=_money(record["cost"]),
    )


def _item(record: Record) -> BaselineItem:
    return BaselineItem(
        number=str(record["number"] or ""),
        description=str(record["description"]),
        unit=str(record["unit"] or ""),
        quantity=_number(record["quantity"]),
        unit_price=_money(record["unit_price"]),
        rule=record["rule"],
        runs=split_names(str(record["runs"] or "")),
    )


def _day(record: Record) -> BaselineDay:
    return BaselineDay(
        date=_date(record["date"]),
        crew=int(_number(record["crew"])),
        run_id=str(record["run_id"]),
        pieces={kind: int(record[kind]) for kind in PIECES if record[kind]},
        rework=int(record["rework"] or 0),
        trial_fusions=int(record["trial_fusions"] or 0),
        labor_hours=_number(record["labor_hours"]),
        cost=_money(record["cost"]),
    )


def _number(value: CellValue) -> float:
    if isinstance(value, bool) or not isinstance(value, int | float):
        message = f"{value!r} is not a number"
        raise TypeError(message)
    return float(value)


def _money(value: CellValue) -> Decimal:
    return Decimal(f"{_number(value):.2f}")


def _date(value: CellValue) -> dt.date:
    if isinstance(value, dt.datetime):
        return value.date()
    if not isinstance(value, dt.date):
        message = f"{value!r} is not a date"
        raise TypeError(message)
    return value
