"""What shows that an input was changed after the estimate, alike in every spreadsheet program.

Each watched input has what it was as estimated, stored with the results, and a formula beside it
that says what it is now. Nothing in it depends on the language of the user: numbers are never
joined to text, and letters never turned into codes.

A single cell is compared with a copy of itself. A table has its number of rows, of each column a
sum of whole numbers (``column_sum``) that is exact in any order of adding, and its texts row by
row, joined, which the program itself compares. Of money and markups, which the Cost and Bid
sheets follow by themselves, only a change from or to nothing makes the results stale; a changed
rental rate or fuel price may also call for another choice.

Not seen are: in a table, a number changed beyond its sixth decimal or by a multiple of 0.999983,
and a ``TEXT_MARK`` that moves with its text to a neighboring column; two changes of one column
whose weighted sizes happen to be equal and opposite; in a single cell, a change beyond the
fifteenth digit.
"""

import datetime as dt
import re
from collections.abc import Iterable, Iterator, Mapping, Sequence
from decimal import ROUND_HALF_UP, Decimal
from typing import Literal, cast

from estimator.data_class import dataclass
from estimator.inputs.dictionary import TEXT as NO_RESULT
from estimator.inputs.dictionary import Field, InputTable, fields, input_tables, squeeze
from estimator.models.kinds import MARKUP_TYPES
from estimator.models.places import Places
from estimator.models.rental_kinds import FLEET_TABLES
from estimator.workbook.read.columns import has_unit
from estimator.workbook.sheet.cell_text import EPOCHS, serial_number
from estimator.workbook.sheet.names import literal
from estimator.workbook.sheet.source import (
    CellValue,
    InputSource,
    RawCell,
    RawTable,
    first_named_cell,
)
from estimator.workbook.sheet.spec import LONGEST_ARRAY_FORMULA

NEEDS_NO_ESCAPE = re.compile(r"[\w .,/%-]+")
DECIMALS = 6
VALUE_MODULUS, ROW_STEP, ROW_MODULUS = 999_983, 7919, 20_011
"""Primes: weights of rows differ up to row 10,005, and sums stay whole numbers below 1e15."""
BLANK, TEXT, FIRST_NUMBER = 0, 1, 2
"""What a cell counts as in the sum of its column."""
TEXT_MARK = "\N{SYMBOL FOR UNIT SEPARATOR}"
"""Between the joined texts of a row: a visible sign that nobody types."""
LONGEST_JOINED = 30_000
"""Letters of the joined texts of a row that still leave room below a cell's limit of 32,767."""
TEXT_KINDS = frozenset({"text", "choice", "choices", "size", "segments", "any"})
EXACT_BELOW = 1e15
FAR_FROM_HALF = 0.49

NOT_LIVE = frozenset({("rates", "rental_day_hours")})
"""Rates that decide a quantity: the hours beyond each day are counted by the estimate alone."""
BLANK_IS_LIVE = frozenset(
    ("rates", f"{markup}_{of_type}")
    for markup in ("overhead", "contingency", "profit")
    for of_type in MARKUP_TYPES
)
"""Markups of a type of cost: the price follows them from and to a blank too."""
LIVE_PERCENTS = frozenset({("crew", "burden"), ("crew", "overtime_multiple")})
RENTAL_TABLES = frozenset(FLEET_TABLES.values())
FUEL_PRICE = ("rates", "fuel_price")


Plain = str | int | float | bool | None
"""What a cell holds once dates are numbers."""
Shown = Literal["text", "date", "percent", "number"]
"""How the value of a single cell is shown."""


@dataclass(frozen=True)
class CellWatch:
    """A single input cell: its value as estimated, for the program to compare."""

    label: str
    reference: str
    stored: Plain
    shown: Shown = "number"
    only_choice: bool = False
    """Whether a change moves the price as it should and only the choice may be another."""

    def now(self) -> str:
        """Return the formula of what the cell holds now."""
        return f'IF({self.reference}="","",{self.reference})'


@dataclass(frozen=True)
class BlankWatch:
    """An input that the prices follow by themselves: which of its cells are blank or zero."""

    label: str
    reference: str
    stored: int

    def now(self, row_above: str = "") -> str:
        """Return the formula of the sum of the rows, as places from 1, that are blank or zero.

        A single cell has no row above.
        """
        rows = f"(ROW({self.reference})-{row_above})" if row_above else "1"
        return f'SUMPRODUCT((({self.reference}=0)+({self.reference}="")>0)*{rows})'


@dataclass(frozen=True)
class ColumnWatch:
    """A table column: the sum of its cells as estimated."""

    label: str
    reference: str
    stored: int
    only_choice: bool = False

    def now(self, row_above: str) -> str:
        """Return the array formula of the sum; its twin is ``column_sum``."""
        cells = self.reference
        number = f"MOD(ROUND({cells}*10^{DECIMALS},0),{VALUE_MODULUS})+{FIRST_NUMBER}"
        counted = f'IF({cells}="",{BLANK},IF(ISTEXT({cells}),{TEXT},{number}))'
        weight = f"(MOD((ROW({cells})-{row_above})^2*{ROW_STEP},{ROW_MODULUS})+1)"
        return f"SUM({counted}*{weight})"


@dataclass(frozen=True)
class TextWatch:
    """Columns of a table with the texts of each row as estimated, joined."""

    label: str
    references: tuple[str, ...]
    texts: tuple[str, ...]

    def now(self, texts: str) -> str:
        """Return the formula of how many rows differ from the range that holds the texts."""
        # REPT with 0 leaves out what is no text: IF would need an array formula.
        parts = (f"REPT({cells},1*ISTEXT({cells}))" for cells in self.references)
        joined = f'&"{TEXT_MARK}"&'.join(parts)
        return f"SUMPRODUCT(1-EXACT({joined},{texts}))"


@dataclass(frozen=True)
class TableWatch:
    """An input table: its rows, and what is watched of its columns."""

    label: str
    reference: str
    row_above: int
    row_above_now: str
    rows: int
    columns: tuple[ColumnWatch | BlankWatch, ...]
    texts: tuple[TextWatch, ...]

    def now(self) -> str:
        """Return the formula of the number of rows."""
        return f"ROWS({self.reference})"


@dataclass(frozen=True)
class UnitWatch:
    """The unit cells of a table, or of the named cells of a sheet, with their texts."""

    label: str
    references: tuple[str, ...]
    stored: tuple[str, ...]

    def now(self) -> str:
        """Return the formula of how many differ; a cell that is no text counts as blank."""
        pairs = zip(self.references, self.stored, strict=True)
        return "+".join(f"1-EXACT(T({cell}),{literal(text)})" for cell, text in pairs)


Watch = CellWatch | BlankWatch | TableWatch | UnitWatch


def watches(source: InputSource, places: Places) -> Iterator[Watch]:
    """Yield what watches the inputs whose change makes the results stale."""
    for table in input_tables():
        used = [
            field
            for field in fields(table.table)
            if (table.table, field.key) in places.columns and field.use != NO_RESULT
        ]
        if table.form != "table":
            for field in used:
                yield from _cell_watches(source, table, field, places)
            cells = {f: first_named_cell(source, f.cell_names) for f in used}
            units = {f: source.unit_beside(cell) for f, cell in cells.items() if cell is not None}
        else:
            raw = source.table(table.excel_name)
            if raw is None or not used:
                continue
            yield _table_watch(raw, table, used, places, source.dates_1904)
            units = {field: raw.units[_place_of(raw, field)] for field in used}
        yield from _unit_watch(table, units)


def _label(table: InputTable, what: str) -> str:
    """Return what is watched with its sheet, and its table where the sheet holds others."""
    alone = [one.sheet for one in input_tables()].count(table.sheet) == 1
    within = "" if alone or table.title == table.sheet else f"{table.title}, "
    return f"{table.sheet}: {within}{what}"


def _unit_watch(table: InputTable, units: Mapping[Field, RawCell]) -> Iterator[UnitWatch]:
    cells = [cell for field, cell in units.items() if has_unit(field)]
    if cells:
        texts = tuple(cell.value if isinstance(cell.value, str) else "" for cell in cells)
        references = tuple(cell.reference for cell in cells)
        yield UnitWatch(_label(table, "units that differ"), references, texts)


def _cell_watches(
    source: InputSource, table: InputTable, field: Field, places: Places
) -> Iterator[Watch]:
    cell = first_named_cell(source, field.cell_names)
    if cell is None:
        return
    label, where = _label(table, field.header), places.columns[table.table, field.key]
    value = _plain(cell.value, source.dates_1904)
    if is_live(field) and (table.table, field.key) not in BLANK_IS_LIVE:
        yield BlankWatch(f"{label}, blank or zero", where, blank_sum([value]))
    if not is_live(field) or decides_choice(field):
        yield CellWatch(label, where, value, _shown(field), is_live(field))


def _shown(field: Field) -> Shown:
    if field.kind in ("date", "percent"):
        return cast(Shown, field.kind)
    return "text" if field.kind in TEXT_KINDS else "number"


def _table_watch(
    raw: RawTable, table: InputTable, used: Sequence[Field], places: Places, dates_1904: bool
) -> TableWatch:
    columns: list[ColumnWatch | BlankWatch] = []
    texts: dict[str, list[str]] = {}
    for field in used:
        place = _place_of(raw, field)
        reference = _reference(raw, raw.headers[place], places.columns[table.table, field.key])
        label = _label(table, field.header)
        values = [_plain(value, dates_1904) for value in raw.values(place)]
        if is_live(field):
            columns.append(BlankWatch(f"{label}, blank or zero", reference, blank_sum(values)))
        if not is_live(field) or decides_choice(field):
            columns.append(ColumnWatch(label, reference, column_sum(values), is_live(field)))
            if any(type(value) is str for value in values):
                texts[reference] = [value if type(value) is str else "" for value in values]
    first = columns[0].reference
    return TableWatch(
        label=_label(table, "rows"),
        reference=first,
        row_above=raw.headers[0].row,
        row_above_now=_row_above(raw, first),
        rows=len(raw.rows),
        columns=tuple(columns),
        texts=tuple(_text_watches(table, texts)),
    )


def _text_watches(table: InputTable, texts: dict[str, list[str]]) -> Iterator[TextWatch]:
    """Yield the columns in groups whose joined texts fit into a cell."""
    group: list[str] = []
    room = 0
    for reference, column in texts.items():
        longest = max(map(len, column)) + len(TEXT_MARK)
        if group and longest > room:
            yield _text_watch(table, group, texts)
            group = []
        room = (room if group else LONGEST_JOINED) - longest
        group.append(reference)
    if group:
        yield _text_watch(table, group, texts)


def _text_watch(table: InputTable, group: Sequence[str], texts: dict[str, list[str]]) -> TextWatch:
    rows = zip(*(texts[reference] for reference in group), strict=True)
    joined = tuple(TEXT_MARK.join(row) for row in rows)
    return TextWatch(_label(table, "rows whose texts differ"), tuple(group), joined)


def differs(stored: str, now: str) -> str:
    """Return the formula of 0 where two cells are the same, in text and in kind, and 1 if not."""
    return f"IF(EXACT({stored},{now})*(ISNUMBER({stored})=ISNUMBER({now})),0,1)"


def is_live(field: Field) -> bool:
    """Return whether the Cost and Bid sheets follow this input without a new estimate."""
    place = (field.table, field.key)
    if place in NOT_LIVE:
        return False
    return field.table == "rates" or field.kind == "money" or place in LIVE_PERCENTS


def decides_choice(field: Field) -> bool:
    """Return whether this price also decides which class is taken and how it is billed."""
    rental = field.kind == "money" and field.table in RENTAL_TABLES
    return rental or (field.table, field.key) == FUEL_PRICE


def _place_of(raw: RawTable, field: Field) -> int:
    return next(i for i, c in enumerate(raw.headers) if squeeze(str(c.value)) in field.headers)


def _reference(raw: RawTable, head: RawCell, where: str) -> str:
    """Return the reference of a column by name, so that rows added to the table are seen too.

    By its cells where it has no name, or one that a formula cannot hold.
    """
    header = str(head.value)
    if not raw.name or not NEEDS_NO_ESCAPE.fullmatch(header):
        return where
    named = ColumnWatch("", f"{raw.name}[{header}]", 0)
    fits = len(named.now("$F$99999")) <= LONGEST_ARRAY_FORMULA
    return named.reference if fits else where


def _row_above(raw: RawTable, reference: str) -> str:
    """Return the formula of the number of the row above the first one, wherever it moves."""
    if reference.startswith(f"{raw.name}["):
        header = reference.removeprefix(f"{raw.name}[")
        return f"ROW({raw.name}[[#Headers],[{header}])"
    return f"ROW({reference.partition(':')[0]})-1"


def blank_sum(values: Iterable[Plain]) -> int:
    """Return the sum of the places, from 1, of what is blank or zero."""
    return sum(place for place, value in enumerate(values, 1) if value in (None, "", 0))


def column_sum(values: Iterable[Plain]) -> int:
    """Return what the formula of ``ColumnWatch`` gives for these values of a column.

    >>> column_sum([None]), column_sum(["x"]), column_sum([0])
    (0, 7920, 15840)
    """
    total = 0
    for row, value in enumerate(values, 1):
        if value is None or value == "":
            continue
        counted = TEXT if isinstance(value, str) else _scaled(value) % VALUE_MODULUS + FIRST_NUMBER
        total += counted * (row * row * ROW_STEP % ROW_MODULUS + 1)
    return total


def _scaled(value: float) -> int:
    """Return a number in millionths, halves rounded away from zero at fifteen digits."""
    scaled = value * 10.0**DECIMALS
    near = round(scaled)
    if abs(scaled - near) < FAR_FROM_HALF or not -EXACT_BELOW < scaled < EXACT_BELOW:
        return near
    return int(Decimal(format(scaled, ".15g")).quantize(Decimal(1), ROUND_HALF_UP))


def _plain(value: CellValue, dates_1904: bool) -> Plain:
    """Return a value as a cell holds it: times and dates as the number of days."""
    if isinstance(value, dt.date | dt.time | dt.timedelta):
        return serial_number(value, EPOCHS[dates_1904])
    return None if value == "" else value
