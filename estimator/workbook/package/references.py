"""Which cells a formula looks at, read from its text as the file holds it."""

import re
from collections.abc import Iterator
from typing import NamedTuple

from estimator.workbook.sheet.areas import Area, column_number

LAST_ROW, LAST_COLUMN = 1_048_576, 16_384
ANYWHERE = frozenset({"INDIRECT", "OFFSET"})
"""Functions that look at cells which their text does not name."""

_SHEET = (
    r"(?:'(?P<quoted>(?:[^']|'')+)'!|(?P<plain>(?:\[\d+\])?[^\W\d][\w.]*(?::[^\W\d][\w.]*)?)!)?"
)
_CELL, _COLUMN, _ROW = r"\$?[A-Za-z]{1,3}\$?\d{1,7}", r"\$?[A-Za-z]{1,3}", r"\$?\d{1,7}"
_TOKEN = re.compile(
    r'"(?:[^"]|"")*"'
    rf"|{_SHEET}(?:(?P<cells>{_CELL}(?::{_CELL})?|{_COLUMN}:{_COLUMN}|{_ROW}:{_ROW})(?![\w.(\[!])"
    r"|(?P<word>[^\W\d][\w.\\?]*)(?P<after>[(\[])?)"
    r"|\d[\d.]*(?:[Ee][+-]?\d+)?|."
    , re.DOTALL,
)  # fmt: skip
_CORNER = re.compile(r"(\$?)([A-Za-z]*)(\$?)(\d*)")
_OWN_ROW = re.compile(r"\[@|#This Row", re.IGNORECASE)


class Corner(NamedTuple):
    """One end of a reference; None stands for a whole row or column."""

    row: int | None
    column: int | None
    row_fixed: bool
    column_fixed: bool

    def moved(self, rows: int, columns: int) -> "Corner":
        """Return it as a formula has it that many cells further on."""
        row = self.row if self.row is None or self.row_fixed else self.row + rows
        column = self.column
        if column is not None and not self.column_fixed:
            column += columns
        return self._replace(row=row, column=column)


class Cells(NamedTuple):
    """A reference to cells, on a sheet or a range of sheets; no name is the formula's own."""

    sheet: str
    first: Corner
    last: Corner

    @property
    def area(self) -> Area:
        """The cells that it covers."""
        rows = sorted((self.first.row or 1, self.last.row or LAST_ROW))
        columns = sorted((self.first.column or 1, self.last.column or LAST_COLUMN))
        return Area(rows[0], columns[0], rows[1], columns[1])

    @property
    def is_fixed(self) -> bool:
        """Whether it stays where it is when the formula moves."""
        corners = (self.first, self.last)
        return all(
            (corner.row is None or corner.row_fixed)
            and (corner.column is None or corner.column_fixed)
            for corner in corners
        )

    def moved(self, rows: int, columns: int) -> "Cells":
        """Return it as a formula has it that many cells further on."""
        return self._replace(
            first=self.first.moved(rows, columns), last=self.last.moved(rows, columns)
        )


class Named(NamedTuple):
    """A defined name, perhaps one of a sheet of its own."""

    sheet: str
    name: str


class InTable(NamedTuple):
    """A part of a table, all of it unless it is the formula's own row."""

    name: str
    own_row: bool


class Unknown(NamedTuple):
    """Cells that only a calculation finds."""


Reference = Cells | Named | InTable | Unknown


def references(formula: str) -> Iterator[Reference]:
    """Yield what a formula refers to; what is in another workbook is left out.

    >>> [r.area.address for r in references("SUM(B5:$C$9)*2") if isinstance(r, Cells)]
    ['B5:C9']
    >>> list(references('Rate*tbl[[#This Row],[m]]&"B5"'))
    [Named(sheet='', name='Rate'), InTable(name='tbl', own_row=True)]
    """
    place, before = 0, ""
    while place < len(formula):
        match = _TOKEN.match(formula, place)
        if match is None:
            return
        place = match.end()
        if before == ":" or (match["cells"] and formula[place : place + 1] == ":"):
            yield Unknown()  # a range that a calculation ends
        if match["after"] == "[":
            inside, place = _bracket(formula, place)
            yield InTable(match["word"], _OWN_ROW.search(f"[{inside}") is not None)
        elif "[" not in (match["quoted"] or match["plain"] or ""):
            yield from _reference(match)
        before = match[0]


def only_cell(formula: str) -> Cells | Named | None:
    """Return the one cell or name that a formula shows as it is, None if it does more.

    >>> only_cell("+Bid!$G$3").area.address, only_cell("Bid!G3*2")
    ('G3:G3', None)
    """
    text = formula.strip().removeprefix("+")
    match = _TOKEN.fullmatch(text)
    if match is None or match["after"]:
        return None
    found = next(references(text), None)
    if isinstance(found, Cells):
        return found if found.area.is_cell else None
    return found if isinstance(found, Named) else None


def moved_formula(formula: str, rows: int) -> str:
    r"""Return a formula as it stands that many rows further down.

    >>> moved_formula("B6*$C$2+tbl[[#This Row],[B6]]&\"B6\"", 2)
    'B8*$C$2+tbl[[#This Row],[B6]]&"B6"'
    """
    pieces: list[str] = []
    place = 0
    while place < len(formula):
        match = _TOKEN.match(formula, place)
        if match is None:
            break
        end = match.end()
        if match["after"] == "[":
            _, end = _bracket(formula, end)
            pieces.append(formula[place:end])
        elif match["cells"]:
            corners = (_moved_corner(corner, rows) for corner in match["cells"].split(":"))
            before = match[0][: len(match[0]) - len(match["cells"])]
            pieces.append(before + ":".join(corners))
        else:
            pieces.append(match[0])
        place = end
    return "".join((*pieces, formula[place:]))


def _moved_corner(text: str, rows: int) -> str:
    corner = _corner(text)
    if corner.row is None or corner.row_fixed:
        return text
    return f"{text.rstrip('0123456789')}{corner.row + rows}"


def _reference(match: re.Match[str]) -> Iterator[Reference]:
    sheet = (match["quoted"] or "").replace("''", "'") or match["plain"] or ""
    if match["cells"]:
        first, _, last = match["cells"].partition(":")
        yield Cells(sheet, _corner(first), _corner(last or first))
    elif match["word"] and match["after"] != "(":
        yield Named(sheet, match["word"])
    elif match["word"] and match["word"].upper() in ANYWHERE:
        yield Unknown()


def _corner(text: str) -> Corner:
    match = _CORNER.fullmatch(text)
    if match is None:
        raise ValueError(f"no corner of a range: {text!r}")
    mark, letters, row_mark, row = match.groups()
    return Corner(
        int(row) if row else None,
        column_number(letters.upper()) if letters else None,
        bool(row_mark or (mark and not letters)),
        bool(mark),
    )


def _bracket(formula: str, place: int) -> tuple[str, int]:
    """Return what stands in brackets opened before a place, and the place after them."""
    depth, start = 1, place
    while place < len(formula) and depth:
        if formula[place] == "'":
            place += 1
        else:
            depth += {"[": 1, "]": -1}.get(formula[place], 0)
        place += 1
    return formula[start : place - 1], place
