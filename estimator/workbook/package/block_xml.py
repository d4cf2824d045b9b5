"""Renders a block of rows as worksheet XML: one template for all of them, filled in row by row."""

import datetime as dt
import math
import re
from collections.abc import Iterator, Sequence

from estimator.workbook.package.cell_xml import LONGEST_FORMULA, CellWriter
from estimator.workbook.sheet.blocks import ABOVE, NOTHING, NUMBERS, OTHER, ROW, Block, Column
from estimator.workbook.sheet.cell_text import escape, fitting
from estimator.workbook.sheet.source import column_letters
from estimator.workbook.sheet.spec import needs_array

ROWS_AT_A_TIME = 1000
"""Rows whose printed numbers are held together."""
ROOM_FOR_NUMBERS = 1000
"""Letters of a formula that are kept free for the numbers of rows."""
MOST_DISTINCT = 4
"""A column with a quarter as many different numbers as rows is printed once for each of them."""
_MARKS = re.compile(f"([{ROW}{ABOVE}{OTHER}])")
_WITHOUT_NUMBERS = frozenset((str, NOTHING, dt.date))
"""Kinds of values of which no two are equal and yet written differently."""

Shown = Sequence[object] | None
"""What is filled in for each row, None where a template holds all of a cell."""


def block_rows(block: Block, cells: CellWriter) -> Iterator[str]:
    """Yield the XML of the rows of a block.

    Raises
    ------
    ValueError
        If a number is not finite, a text or formula is too long, or a date cannot be stored.
    """
    for some in block.slices(ROWS_AT_A_TIME):
        yield from _rows(some, cells)


def _rows(block: Block, cells: CellWriter) -> Iterator[str]:
    pieces: list[str] = []
    filled: list[Sequence[object]] = []
    heights = block.heights or (None,)
    if len(set(heights)) > 1:
        pieces.append(f'<row r="{ROW}"%s>')
        filled.append(list(map(_height, heights)))
    else:
        pieces.append(f'<row r="{ROW}"{_height(heights[0])}>')
    for number, column in enumerate(block.columns, 1):
        piece, shown = _column(block, column, column_letters(number), cells)
        pieces.append(piece)
        if shown is not None:
            filled.append(shown)
    template = "".join((*pieces, "</row>"))
    other = block.other if OTHER in template else ()
    rows = zip(*filled, strict=True) if filled else ((),) * block.count
    for row, values in enumerate(rows, block.first):
        made = (template % values).replace(ROW, str(row)).replace(ABOVE, str(row - 1))
        yield made.replace(OTHER, str(other[row - block.first])) if other else made


def _height(height: float | None) -> str:
    return "" if height is None else f' ht="{height:g}" customHeight="1"'


def _column(block: Block, column: Column, letters: str, cells: CellWriter) -> tuple[str, Shown]:
    """Return the piece of the template for a column, and what is filled in."""
    start, kinds = f'<c r="{letters}{ROW}"', column.kinds()
    if column.apart or not (column.formula is None or isinstance(column.formula, str)):
        return f"{start}%s", _one_by_one(block, column, letters, cells)
    style = f' s="{cells.ids.cells[column.style]}"'
    if column.formula is None and kinds <= _WITHOUT_NUMBERS:
        if kinds == {NOTHING}:
            return f"{start}{style}/>", None
        each = {
            value: cells.rest(value, column.style, None, f"{letters}{block.first}")
            for value in set(column.values)
        }
        return f"{start}%s", list(map(each.__getitem__, column.values))
    if kinds <= NUMBERS and _are_finite(column, kinds):
        made = _formula(column.formula, letters, block.first)
        return f"{start}{style}>{made}<v>%s</v></c>", _numbers(column, kinds)
    if kinds <= NUMBERS | {NOTHING} and column.formula is None and _are_finite(column, kinds):
        return f"{start}{style}%s", [
            "/>" if value is None else f"><v>{value!r}</v></c>" for value in column.values
        ]
    if kinds == {str} and column.formula is not None:
        made = _formula(column.formula, letters, block.first)
        texts = {value: escape(fitting(str(value))) for value in set(column.values)}
        piece = f'{start}{style} t="str">{made}<v>%s</v></c>'
        return piece, list(map(texts.__getitem__, column.values))
    return f"{start}%s", _one_by_one(block, column, letters, cells)


def _one_by_one(block: Block, column: Column, letters: str, cells: CellWriter) -> Sequence[object]:
    """Return each cell of a column of unlike cells, from after its address on."""
    made, texts = [], dict[tuple[str, str, str | None], str]()
    for at in range(block.count):
        value, style, formula = block.cell(column, at)
        place = f"{letters}{block.first + at}"
        if not isinstance(value, str) or (formula is not None and needs_array(formula)):
            made.append(cells.rest(value, style, formula, place))
            continue
        key = value, style, formula
        if key not in texts:
            texts[key] = cells.rest(value, style, formula, place)
        made.append(texts[key])
    return made


def _are_finite(column: Column, kinds: set[type]) -> bool:
    numbers = (value for value in column.values if value is not None)
    return float not in kinds or all(map(math.isfinite, numbers))  # type: ignore[arg-type]


def _numbers(column: Column, kinds: set[type]) -> Sequence[object]:
    """Return numbers as they are printed."""
    different = set(column.values) if len(kinds) == 1 else set()
    is_exact = kinds == {int} or 0.0 not in different  # 0.0 is -0.0, printed differently
    if different and is_exact and len(different) * MOST_DISTINCT <= len(column.values):
        each = {value: repr(value) for value in different}
        return list(map(each.__getitem__, column.values))
    return list(map(repr, column.values))


def _formula(formula: str | None, letters: str, first: int) -> str:
    """Return a formula for the template of a block, empty for none."""
    if formula is None:
        return ""
    place = f"{letters}{first}"
    if len(formula) > LONGEST_FORMULA - ROOM_FOR_NUMBERS:
        raise ValueError(f"formula in {place} must have {LONGEST_FORMULA} letters or less")
    if not formula or formula.startswith("="):
        raise ValueError(f"formula in {place} must be without '=', got {formula!r}")
    pieces = _MARKS.split(formula)
    text = "".join(piece if n % 2 else escape(piece) for n, piece in enumerate(pieces))
    opened = f'<f t="array" ref="{letters}{ROW}">' if needs_array(formula) else "<f>"
    return f"{opened}{text}</f>".replace("%", "%%")
