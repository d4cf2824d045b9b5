"""What is typed where no input is read: beside and below tables, among named cells, in headings.

Nothing typed is lost unseen: it is an error with its cell, or a warning where it can only be a
note.
"""

from collections import Counter
from collections.abc import Iterator, Sequence
from itertools import groupby

from estimator.display import counted
from estimator.inputs.dictionary import InputTable, squeeze
from estimator.workbook.read.cells import is_blank, to_text
from estimator.workbook.read.findings import Finding
from estimator.workbook.sheet.source import InputSource, RawCell, RawTable

TOTALS = ("total", "subtotal", "sub-total", "grandtotal", "sum")
"""Words with which a row of sums begins, squeezed."""
LEAST_NEEDED = 3
"""Cells that an entry needs at least, for a row without them to be a heading or a stray value."""
MOVE = "extend the table over it, or move it away from the table"


def left_outside(table: InputTable, raw: RawTable) -> Iterator[Finding]:
    """Yield what stands below a table or touches its sides, row by row.

    Below a blank row a single text is a note, which is only warned of.
    """
    next_row = (raw.rows[-1] if raw.rows else raw.headers)[0].row + 1
    for row, group in groupby(sorted(raw.outside, key=_place), key=lambda cell: cell.row):
        cells = list(group)
        touching = row <= next_row
        next_row = max(next_row, row + 1) if touching else next_row
        names = _named(cells)
        if not touching and len(cells) == 1 and isinstance(cells[0].value, str):
            yield Finding(cells[0], f"{names}: below the table {table.title}, not read", True)
            continue
        yield Finding(cells[0], f"{names}: not in the table {table.title}, so not read; {MOVE}")


def _place(cell: RawCell) -> tuple[int, int]:
    return cell.row, cell.column


def _named(cells: Sequence[RawCell]) -> str:
    first = cells[0]
    text = repr(to_text(first.value)) if first.value is not None else "a formula or an error"
    return text + (f" and {len(cells) - 1} more in this row" if len(cells) > 1 else "")


def strange_values(source: InputSource, named: Sequence[RawCell]) -> Iterator[Finding]:
    """Yield the values in the column of the named cells that are no input.

    One that has a name of its own is the user's, and only warned of.
    """
    if not named:
        return
    (sheet, column), _ = Counter((cell.sheet, cell.column) for cell in named).most_common(1)[0]
    inputs = sorted(cell for cell in named if (cell.sheet, cell.column) == (sheet, column))
    known = {cell.row for cell in inputs}
    said = {fields_held(number) for number in range(1, len(inputs) + 1)}
    for cell in source.filled_below(inputs[0]):
        if cell.row in known or cell.value in said:
            continue
        own = source.is_named(cell)
        text = f"{to_text(cell.value)!r} is where {sheet} has no input, so not read"
        yield Finding(cell, text if own else f"{text}; move it to another sheet or column", own)


def fields_held(number: int) -> str:
    """Return what stands in the column of the inputs on the line of a group of so many."""
    return counted(number, "field")


def no_entry(
    headers: Sequence[RawCell], cells: Sequence[RawCell], needed: Sequence[RawCell]
) -> Finding | None:
    """Return what shows that a row is a heading or a total and no entry, None for an entry."""
    if all(cell.is_filled for cell in needed):
        return None if not _repeats(headers, cells) else _finding(cells, "a row of headers")
    filled = [cell for cell in cells if cell.is_filled]
    filled = [cell for cell in filled if not cell.uncached] or filled
    first = filled[0]
    if isinstance(first.value, str) and _is_total(first.value):
        return _finding(filled, "a row of totals")
    if _repeats(headers, cells):
        return _finding(filled, "a row of headers")
    if len(needed) < LEAST_NEEDED:
        return None
    if len(filled) == 1 and isinstance(first.value, str):
        return _finding(filled, "a heading")
    if not any(cell.is_filled for cell in needed):
        return _stray(headers, cells, filled)
    return None


def _stray(
    headers: Sequence[RawCell], cells: Sequence[RawCell], filled: Sequence[RawCell]
) -> Finding:
    """Return the one message for a row that has none of what an entry needs."""
    named = {cell: to_text(head.value) for head, cell in zip(headers, cells, strict=True)}
    first = filled[0]
    got = "an error" if first.value is None else repr(to_text(first.value))
    more = f" and {len(filled) - 1} more in this row" if len(filled) > 1 else ""
    return Finding(
        first,
        f"{named[first]}: {got}{more} in a row that is otherwise blank; clear it, or fill in "
        "the row",
    )


def _is_total(text: str) -> bool:
    """Return whether a text begins with a word for a sum; Summer and Summit are none.

    >>> [_is_total(text) for text in ("Grand total:", "Sum 3", "Summer holiday", "Summit line")]
    [True, True, False, False]
    """
    first, *rest = [squeeze(word).strip(":") for word in text.split()] or [""]
    return first in TOTALS or "".join([first, *rest[:1]]) in TOTALS


def _repeats(headers: Sequence[RawCell], cells: Sequence[RawCell]) -> bool:
    same = 0
    for header, cell in zip(headers, cells, strict=True):
        if is_blank(cell.value):
            continue
        if squeeze(to_text(cell.value)) != squeeze(to_text(header.value)):
            return False
        same += 1
    return same > 1


def _finding(cells: Sequence[RawCell], what: str) -> Finding:
    shown = to_text(cells[0].value)
    return Finding(cells[0], f"{shown!r} is {what}, not an entry. Delete this row")
