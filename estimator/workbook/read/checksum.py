"""Checksums of the inputs, stored with the results and kept live by formulas beside them.

A change of any input that the results rest on makes the live sum differ from the stored one.
Of money and markups, which the Cost and Bid sheets follow by themselves, only a change from or to
nothing makes the results stale; a changed rental rate or fuel price may also call for another
choice.
Only functions that every spreadsheet program since 2010 has are used, and of free text with
letters beyond ASCII only the length, because those have different codes on different systems.
"""

import datetime as dt
import re
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from decimal import Decimal
from functools import lru_cache

from estimator.equipment.kinds import FLEET_TABLES
from estimator.inputs.dictionary import Field, fields, input_tables, squeeze
from estimator.models.places import Places
from estimator.workbook.sheet.source import (
    CellValue,
    InputSource,
    RawCell,
    RawTable,
    column_letters,
    first_named_cell,
)

EPOCHS = {False: dt.datetime(1899, 12, 30), True: dt.datetime(1904, 1, 1)}
NEEDS_NO_ESCAPE = re.compile(r"[\w .,/%-]+")
ONE_DAY = dt.timedelta(days=1)
ROW_STEP, PLACE_STEP, MODULUS = 1009, 9176, 1000003
LETTERS = 15
LETTERS_OF_LISTS = 60
LISTS = frozenset({"after", "joins"})
NOT_LIVE = frozenset({("rates", "rental_day_hours")})
"""Rates that decide a quantity: the hours beyond each day are counted by the estimate alone."""
LIVE_PERCENTS = frozenset({("crew", "burden"), ("crew", "overtime_multiple")})
RENTAL_TABLES = frozenset(FLEET_TABLES.values())
FUEL_PRICE = ("rates", "fuel_price")
NOT_USED = frozenset(
    {"basis", "bid_to", "company", "description", "holiday", "note", "prepared_by"}
)
"""Inputs that no result rests on; the Bid sheet follows the names on it by itself."""


@dataclass(frozen=True)
class InputSum:
    """The checksum of one input column or cell: as estimated, and the formula that watches it."""

    label: str
    stored: int
    formula: str
    only_choice: bool = False
    """Whether a change moves the price as it should and only the choice may be another."""


@dataclass(frozen=True)
class Watched:
    """What a live checksum looks at, and the number of the row before its first."""

    reference: str
    row_before: str

    @property
    def rows(self) -> str:
        """Formula of the row numbers, from 1."""
        return f"(ROW({self.reference})-{self.row_before})"

    @classmethod
    def column(cls, table: str, header: str) -> "Watched":
        """Watch a table column by name, so that rows added to the table are seen too."""
        return cls(f"{table}[{header}]", f"ROW({table}[[#Headers],[{header}]])")

    @classmethod
    def cells(cls, where: str) -> "Watched":
        """Watch a range of cells."""
        sheet, _, address = where.rpartition("!")
        return cls(where, f"(ROW({sheet}!{address.partition(':')[0]})-1)")


def input_sums(source: InputSource, places: Places) -> Iterator[InputSum]:
    """Yield the checksum of every input whose change makes the results stale."""
    for table in input_tables():
        raw = source.table(table.excel_name) if table.form == "table" else None
        for field in fields(table.table):
            where = places.columns.get((table.table, field.key))
            if where is None or field.key in NOT_USED:
                continue
            cells, watched = _watched(source, field, raw, where)
            texts = [as_text(cell.value, source.dates_1904) for cell in cells]
            label = f"{table.sheet}: {field.header}"
            if is_live(field):
                yield InputSum(
                    label=f"{label}, blank or zero",
                    stored=sum(row for row, text in enumerate(texts, 1) if text in ("", "0")),
                    formula=f"SUMPRODUCT(({watched.reference}=0)*{watched.rows})",
                )
            if not is_live(field) or decides_choice(field):
                count = _letters(field, texts)
                yield InputSum(
                    label=label,
                    stored=checksum(texts, count),
                    formula=checksum_formula(watched, count),
                    only_choice=is_live(field),
                )


def _letters(field: Field, texts: Sequence[str]) -> int:
    """Return how many letters of each text count, 0 where only its length does."""
    if field.kind == "text" and not all(text.isascii() for text in texts):
        return 0
    lists = field.kind == "segments" or field.key in LISTS
    return LETTERS_OF_LISTS if lists else LETTERS


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


def _watched(
    source: InputSource, field: Field, raw: RawTable | None, where: str
) -> tuple[list[RawCell], Watched]:
    """Return the cells of an input and the references that its live formula watches."""
    if raw is None:
        cell = first_named_cell(source, field.cell_names)
        return ([] if cell is None else [cell]), Watched.cells(where)
    index = next(i for i, c in enumerate(raw.headers) if squeeze(str(c.value)) in field.headers)
    cells = [row[index] for row in raw.rows]
    header = str(raw.headers[index].value)
    if raw.name and NEEDS_NO_ESCAPE.fullmatch(header):
        return cells, Watched.column(raw.name, header)
    return cells, Watched.cells(where)


def checksum(texts: Iterable[str], letters: int) -> int:
    """Return what the checksum formula gives for these texts.

    Of each text the length counts by its row, and each of its first letters by a weight of its
    row and place that follows no line, so that edits do not cancel each other out.
    """
    total = 0
    for row, text in enumerate(texts, 1):
        total += row * (len(text.encode("utf-16-le")) // 2)
        weights = place_weights(row, letters)
        head = text[:letters]
        total += sum(ord(letter) * weight for letter, weight in zip(head, weights, strict=False))
        total += ord(" ") * sum(weights[len(head) :])
    return total


@lru_cache(maxsize=65536)
def place_weights(row: int, letters: int) -> tuple[int, ...]:
    """Return the weight of each letter place in a row."""
    return tuple(
        ((row * ROW_STEP + place * PLACE_STEP) ** 2) % MODULUS + 1
        for place in range(1, letters + 1)
    )


def checksum_formula(watched: Watched, letters: int) -> str:
    """Return the live formula of the checksum of a range, without ``=``."""
    length = f"SUMPRODUCT(LEN({watched.reference})*{watched.rows})"
    if not letters:
        return length
    places = f"COLUMN($A$1:${column_letters(letters)}$1)"
    padded = f'{watched.reference}&REPT(" ",{letters})'
    weights = f"(MOD(({watched.rows}*{ROW_STEP}+{places}*{PLACE_STEP})^2,{MODULUS})+1)"
    return f"{length}+SUMPRODUCT(CODE(MID({padded},{places},1))*{weights})"


def as_text(value: CellValue, dates_1904: bool = False) -> str:
    """Return the text that a spreadsheet makes of a value when it joins it to other text."""
    if value is None:
        return ""
    if isinstance(value, bool):
        return str(value).upper()
    if isinstance(value, int | float):
        return plain_number(float(value))
    if isinstance(value, str):
        return value
    return plain_number(serial_number(value, EPOCHS[dates_1904]))


def serial_number(value: dt.date | dt.time | dt.timedelta, epoch: dt.datetime) -> float:
    """Return the number of days that a spreadsheet keeps for a date or a time."""
    if isinstance(value, dt.time):
        value = dt.datetime.combine(epoch.date(), value)
    elif isinstance(value, dt.date) and not isinstance(value, dt.datetime):
        value = dt.datetime.combine(value, dt.time())
    return (value if isinstance(value, dt.timedelta) else value - epoch) / ONE_DAY


def plain_number(value: float) -> str:
    """Return a number with up to 15 digits and no exponent, as the General format joins it.

    >>> plain_number(8.0), plain_number(0.1 + 0.2)
    ('8', '0.3')
    """
    text = format(Decimal(format(value, ".15g")), "f")
    return text.rstrip("0").rstrip(".") if "." in text else text
