"""The dates in the basis of figures, and which figures are older than a stated age."""

import datetime as dt
import re
from collections.abc import Iterator

from estimator.display import counted
from estimator.inputs.dictionary import fields
from estimator.workbook.read.findings import Finding
from estimator.workbook.read.parse_rows import Inputs, TableData
from estimator.workbook.sheet.source import BASIS_COLUMNS_ON, InputSource, RawCell, column_letters

BASIS = "basis"
OLDER, UNKNOWN = "older than", "date not known"
"""Words that mark a figure as old in its basis, and as one without a date."""
CELLS_NAMED = 8
_DATE = re.compile(r"(?<!\d)(\d{4}-\d{2}-\d{2})(?!\d)")
_MARK = re.compile(rf"\s*\({OLDER} \d+ months?: confirm\)$")


def date_of(basis: str) -> dt.date | None:
    """Return the date that a basis states, None if it states none.

    >>> date_of("quote, as of 2027-03-01")
    datetime.date(2027, 3, 1)
    """
    found = _DATE.search(basis)
    try:
        return dt.date.fromisoformat(found[1]) if found else None
    except ValueError:
        return None


def dated(basis: str, date: dt.date | None) -> str:
    """Return a basis with a date where it has none; what an earlier copy marked is taken off.

    >>> dated("quote", None), dated("", None)
    ('quote, date not known', 'own figure, date not known')
    """
    bare = _MARK.sub("", basis)
    if date_of(bare) is not None or UNKNOWN in bare:
        return bare
    said = UNKNOWN if date is None else f"as of {date:%Y-%m-%d}"
    return f"{bare or 'own figure'}, {said}"


def marked(basis: str, today: dt.date, months: int) -> str:
    """Return a basis, marked where its date is older than some months or not known."""
    date = date_of(basis)
    if date is not None and months_between(date, today) < months:
        return basis
    return f"{basis} ({OLDER} {counted(months, 'month')}: confirm)"


def is_marked(basis: str) -> bool:
    """Return whether a figure is marked as too old."""
    return _MARK.search(basis) is not None


def months_between(first: dt.date, last: dt.date) -> int:
    """Return the whole months from one date to another.

    >>> months_between(dt.date(2026, 3, 15), dt.date(2027, 3, 14))
    11
    """
    return 12 * (last.year - first.year) + last.month - first.month - (last.day < first.day)


def basis_text(cell: RawCell) -> str:
    """Return the text of a basis, empty where there is none."""
    return cell.value.strip() if isinstance(cell.value, str) else ""


def old_figures(inputs: Inputs, source: InputSource) -> Iterator[Finding]:
    """Yield a warning for each table with figures older than the Job sheet allows.

    The age counts to the estimate date, so that the same workbook always says the same.
    """
    job = inputs.named("job")
    until, months = job.get("estimate_date"), job.get("figures_old_months")
    if until is None or months is None:
        return
    for data in inputs.tables.values():
        old = [cell for cell in _bases(data, source) if _is_old(basis_text(cell), until, months)]
        if old:
            yield Finding(old[0], _message(old, until, months), warning=True)


def _bases(data: TableData, source: InputSource) -> Iterator[RawCell]:
    """Yield the basis of each figure of a table that has its column, or of the named cells."""
    if data.table.form == "table" and not any(BASIS in row.slots for row in data.rows):
        return
    based = {field.key for field in fields(data.table.table) if field.basis}
    for row in data.rows:
        if BASIS in row.slots:
            yield row.cell(BASIS)
            continue
        for key, slot in row.slots.items():
            if key in based or data.table.table == "rates":
                yield source.beside(row.cells[slot.position], BASIS_COLUMNS_ON)


def _is_old(basis: str, until: dt.date, months: int) -> bool:
    date = date_of(basis)
    if date is None:
        return is_marked(basis) or UNKNOWN in basis
    return months_between(date, until) >= months


def _message(cells: list[RawCell], until: dt.date, months: int) -> str:
    named = ", ".join(
        f"{column_letters(cell.column)}{cell.row} ({_said(cell)})" for cell in cells[:CELLS_NAMED]
    )
    more = f" and {len(cells) - CELLS_NAMED} more" if len(cells) > CELLS_NAMED else ""
    old = f"{counted(len(cells), 'figure')} {OLDER} {counted(months, 'month')}"
    return (
        f"{old} on {until}, or without a date: {named}{more}. "
        "Confirm each and write the date in its Basis, such as quote, as of 2026-03-01"
    )


def _said(cell: RawCell) -> str:
    date = date_of(basis_text(cell))
    return UNKNOWN if date is None else f"{date}"
