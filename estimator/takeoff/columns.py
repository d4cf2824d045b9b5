"""Which column of a foreign table is what: its header row, the names in it, and the units."""

import re
from collections.abc import Iterator, Mapping, Sequence
from functools import cache

from estimator.data_class import dataclass
from estimator.errors import InputError, Problem
from estimator.inputs.dictionary import Field, by_header, fields, squeeze
from estimator.takeoff import typed, words
from estimator.takeoff.answers import COLUMN, FILE, HEADER_ROW, Answer, Answers
from estimator.takeoff.foreign import ForeignTable
from estimator.workbook.read.cells import to_text
from estimator.workbook.read.unit_text import labels_of_kind, unit_label
from estimator.workbook.sheet.source import CellValue, RawCell, column_letters

NOT_USED, NO_HEADER = "not used", "none"
OTHER_COLUMNS: Mapping[str, str] = {
    "quantity": "Quantity",
    "quantity_unit": "Unit of quantity",
    "item_no": "Item number",
    "from_station": "From station",
    "to_station": "To station",
    "fittings": "Fittings in words",
}
"""What a foreign column may be beside a column of the pipe schedule."""
LENGTH_KEYS = frozenset({"segments_m", "quantity", "stick_length_m", "string_length_m"})
STATION_KEYS = frozenset({"from_station", "to_station"})
SUMMED = frozenset(field.key for field in fields("schedule") if field.kind == "count") - {
    "priority",
    "crew",
}
"""Counts of pieces: several foreign columns may add up to one."""
LOOKED_AT, LEAST_MATCHES, CONTAINED = 40, 2, 5
_BRACKETS = re.compile(r"[(\[]([^)\]]*)[)\]]")
_MONEY_PER = re.compile(
    r"(?:[$\u20ac\u00a3]|us\$|usd|eur|gbp|dollars?)\s*(?:/|per\b)\s*\S+", re.IGNORECASE
)
_LAST_WORD = re.compile(r"^(.*\S)[\s,/-]+(\S+)$")


@dataclass(frozen=True)
class ForeignColumn:
    """One column that is used: where it stands, what it is, and the unit of its numbers."""

    position: int
    key: str
    unit: str


@dataclass(frozen=True)
class Layout:
    """Where the entries of a table begin, and what its columns are."""

    first_row: int
    columns: tuple[ForeignColumn, ...]
    headers: tuple[str, ...]
    decimal_comma: bool
    length_unit: str
    header_rows: range
    header_texts: tuple[tuple[str, ...], ...]
    """The texts of each header row by column, squeezed."""


@cache
def labels() -> Mapping[str, str]:
    """Return what each key is called: the headers of the schedule, and the other columns."""
    return {**{field.key: field.header for field in fields("schedule")}, **OTHER_COLUMNS}


def find_layout(table: ForeignTable, answers: Answers, usual_length: str) -> Layout:
    """Return the layout of a table; each guess in it goes to the answers.

    Parameters
    ----------
    table : ForeignTable
        The table.
    answers : Answers
        Takes the guesses.
    usual_length : str
        Unit of lengths where the table names none: that of the workbook.
    """
    first, last = _header_rows(table, answers)
    units = _unit_row(table, last + 1) if last else None
    start = last + 1 + (units is not None)
    headers = tuple(_headers(table, first, last))
    columns = tuple(_columns(table, headers, units or {}, start, answers, usual_length))
    return Layout(
        first_row=start,
        columns=columns,
        headers=headers,
        decimal_comma=_decimal_comma(table, start, answers),
        length_unit=usual_length,
        header_rows=range(first, last + 1),
        header_texts=tuple(
            tuple(squeeze(text) for text in _headers(table, row, row))
            for row in range(first, last + 1)
            if row
        ),
    )


def split_header(text: str) -> tuple[str, str]:
    """Return the name in a header, and the length or price unit that it states.

    >>> split_header("Nom. Dia. (in)"), split_header("Length, LF"), split_header("Lin Ft")
    (('Nom. Dia.', 'in'), ('Length', 'ft'), ('Lin Ft', 'ft'))
    """
    for inside in _BRACKETS.findall(text):
        if _unit(inside):
            return _BRACKETS.sub(" ", text).strip(), _unit(inside)
    whole = _unit(text)
    found = _LAST_WORD.match(text)
    if whole or found is None or not _unit(found[2]):
        return text, whole
    return found[1].strip(" ,"), _unit(found[2])


def _unit(text: str) -> str:
    """Return the label of the length that a unit, or a price per unit, is for; else empty."""
    label = unit_label(text.rpartition("/")[2].strip())
    lengths = (*labels_of_kind("length"), *labels_of_kind("small_length"))
    return label if label in lengths else ""


def match(header: str) -> str:
    """Return the key that a header stands for, empty if none.

    >>> match("$/ft"), match("USD per LF"), match("$/joint")
    ('pipe_price', 'pipe_price', '')
    """
    found = _word(header)
    return found.meaning if found is not None else ""


def _word(header: str) -> words.Word | None:
    name, _ = split_header(header)
    own = by_header("schedule").get(squeeze(name)) or by_header("schedule").get(squeeze(header))
    if own is not None:
        return words.Word(name, own.key, 0)
    if _MONEY_PER.fullmatch(header.strip()) and split_header(header)[1]:
        return words.Word(header, "pipe_price", 1)
    for text in (header, name):
        exact = words.exactly("column").get(words.plain(text))
        if exact is not None:
            return exact
    fitting = words.find("fitting", name)
    if fitting is not None:
        return fitting
    return words.find_last("column", name, weaker=CONTAINED)


def _header_rows(table: ForeignTable, answers: Answers) -> tuple[int, int]:
    guess = Answer(HEADER_ROW, "", _guess_header(table), note="the row with the most known names")
    said = answers.settle(guess).meaning
    if squeeze(said) == NO_HEADER:
        return 0, 0
    found = re.fullmatch(r"(\d+)(?:\s*(?:to|-)\s*(\d+))?", said.strip())
    rows = (int(found[1]), int(found[2] or found[1])) if found else (0, 0)
    if not 1 <= rows[0] <= rows[1] <= len(table.rows):
        use = f"Give a row such as 3, two rows such as 3 to 4, or {NO_HEADER}"
        raise InputError([Problem(HEADER_ROW, f"{said!r} is not a row of {table.name}. {use}")])
    return rows


def _guess_header(table: ForeignTable) -> str:
    count = min(LOOKED_AT, len(table.rows))
    scores = {row: len(set(_keys(table, row, row))) for row in range(1, count + 1)}
    row = max(scores, key=lambda one: (scores[one], -one), default=0)
    if not row or scores[row] < LEAST_MATCHES:
        return NO_HEADER
    for first in (row - 1, row):
        if first < 1 or first + 1 > count or _has_numbers(table, first + 1):
            continue
        both = len(set(_keys(table, first, first + 1)))
        if both > scores[row] and _unit_row(table, first + 1) is None:
            return f"{first} to {first + 1}"
    return str(row)


def _keys(table: ForeignTable, first: int, last: int) -> Iterator[str]:
    return (key for header in _headers(table, first, last) if (key := match(header)))


def _has_numbers(table: ForeignTable, row: int) -> bool:
    return any(
        any(letter.isdigit() for letter in to_text(cell.value)) for cell in _filled(table, row)
    )


def _filled(table: ForeignTable, row: int) -> list[RawCell]:
    return [cell for cell in table.cells(row) if cell.value is not None]


def _headers(table: ForeignTable, first: int, last: int) -> Iterator[str]:
    """Yield the text above each column, of two rows joined; empty where there is none."""
    for column in range(1, table.width + 1):
        rows = range(first, last + 1) if first else ()
        values = [table.cell(row, column).value for row in rows]
        yield " ".join(to_text(value) for value in values if value is not None)


def _unit_row(table: ForeignTable, row: int) -> Mapping[int, str] | None:
    """Return the units by column if a row holds nothing but units, None if it is no such row."""
    if row > len(table.rows):
        return None
    cells = _filled(table, row)
    texts = [to_text(cell.value).strip("()[]") for cell in cells]
    known = [bool(_unit(text)) or squeeze(text) in NO_UNIT for text in texts]
    if not any(_unit(text) for text in texts) or not all(known):
        return None
    return {cell.column: _unit(text) for cell, text in zip(cells, texts, strict=True)}


NO_UNIT = frozenset({"-", "--", "n/a", "ea", "each", "no", "no.", "pcs"})


def _columns(
    table: ForeignTable,
    headers: Sequence[str],
    units: Mapping[int, str],
    start: int,
    answers: Answers,
    usual_length: str,
) -> Iterator[ForeignColumn]:
    guessed = _without_doubles(headers, start, table)
    no_lengths = {"segments_m", "quantity_unit"}.isdisjoint(guessed.values())
    names = {squeeze(label): key for key, label in labels().items()}
    choices = (*labels().values(), NOT_USED)
    for position, header in enumerate(headers, 1):
        used = any(len(row) >= position and row[position - 1] for row in table.rows[start - 1 :])
        if not used:
            continue
        key = guessed.get(position, "")
        usual = usual_length if key != "quantity" or no_lengths else ""
        unit, why = _unit_of(key, header, units.get(position, ""), usual)
        meaning = labels()[key] if key else NOT_USED
        found = header or f"column {column_letters(position)}"
        if headers.count(header) > 1:
            found = f"{found} (column {column_letters(position)})"
        guess = Answer(COLUMN, found, meaning, unit, why, choices=choices)
        answer = answers.settle(guess)
        said = names.get(squeeze(answer.meaning), "")
        if said:
            usual = usual_length if said != "quantity" or no_lengths else ""
            unit = answer.unit or _unit_of(said, header, units.get(position, ""), usual)[0]
            yield ForeignColumn(position, said, _checked_unit(answer, said, unit))


def _checked_unit(answer: Answer, key: str, unit: str) -> str:
    """Return the label of a unit that fits a column."""
    small = labels_of_kind("small_length") if key == "size" else ()
    allowed = (*labels_of_kind("length"), *small)
    label = _unit(unit)
    if unit and label not in allowed:
        place = f"{answer.what} {answer.found!r}"
        message = f"{unit!r} is not a unit for this column. Use one of: {', '.join(allowed)}"
        raise InputError([Problem(place, message)])
    return label


def _unit_of(key: str, header: str, below: str, usual: str) -> tuple[str, str]:
    """Return the unit of a column and where it comes from."""
    if key not in LENGTH_KEYS | {"size", "pipe_price"}:
        return "", ""
    stated = split_header(header)[1] or below
    if key == "size" and not stated and words.plain(header).startswith("dn"):
        return "mm", "DN counts millimeters"
    if stated:
        return stated, "unit from the header" if not below else "unit from the row of units"
    if key == "size" or not usual:
        return "", ""
    return usual, f"no unit in the header: {usual}, as in the workbook, where a cell has none"


def _without_doubles(headers: Sequence[str], start: int, table: ForeignTable) -> Mapping[int, str]:
    """Return the key of each column; of two for one key the surer is kept, counts add up."""
    found = {i: word for i, header in enumerate(headers, 1) if header and (word := _word(header))}
    if not any(headers):
        return _without_headers(table, start)
    best: dict[str, int] = {}
    for i, word in found.items():
        kept = best.get(word.meaning)
        if kept is None or word.rank < found[kept].rank:
            best[word.meaning] = i
    return {
        i: word.meaning
        for i, word in found.items()
        if word.meaning in SUMMED or best[word.meaning] == i
    }


def _without_headers(table: ForeignTable, start: int) -> Mapping[int, str]:
    """Return the column of a list without headers that holds the most text: the description."""
    letters = [
        sum(len(str(row[i])) for row in table.rows[start - 1 :] if len(row) > i and row[i])
        for i in range(table.width)
    ]
    return {letters.index(max(letters)) + 1: "description"} if letters else {}


def _decimal_comma(table: ForeignTable, start: int, answers: Answers) -> bool:
    values: Iterator[CellValue] = (value for row in table.rows[start - 1 :] for value in row)
    if not any(typed.has_comma_decimals(value) for value in values):
        return False
    guess = Answer(
        FILE,
        "decimal mark",
        "comma",
        note="commas stand before decimals",
        choices=("comma", "point"),
    )
    return answers.settle(guess).meaning == "comma"


def field_of(key: str) -> Field | None:
    """Return the schedule's field of a key, None for the other columns."""
    return next((field for field in fields("schedule") if field.key == key), None)
