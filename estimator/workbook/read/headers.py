"""Headers of a table that are not ours, and columns of ours that are not there.

A mistyped header would leave out what stands below it, so it is refused wherever it can be one:
a column of ours is missing that has a like name or could hold the same values.
"""

from collections.abc import Iterator, Mapping, Sequence

from estimator.display import UnitSystem
from estimator.errors import EstimatorError
from estimator.inputs.column import Column, usual_unit
from estimator.inputs.dictionary import TEXT, Field, InputTable, by_header, fields, squeeze
from estimator.workbook.read import columns
from estimator.workbook.read.cells import is_blank, to_text
from estimator.workbook.read.findings import Finding
from estimator.workbook.sheet.source import RawCell, RawTable

LIKE = 0.75
"""Least likeness of two names, from 0 to 1, at which one may be the other mistyped."""


def check_headers(table: InputTable, raw: RawTable, system: UnitSystem) -> Iterator[Finding]:
    """Yield what is wrong or doubtful about the headers of a table.

    Required columns that are missing are reported by whoever needs them.
    """
    known = by_header(table.table)
    there = {known[name].key for name in map(_name, raw.headers) if name in known}
    missing = [f for f in fields(table.table) if f.key not in there]
    extra = {
        i: cell
        for i, cell in enumerate(raw.headers)
        if not is_blank(cell.value) and _name(cell) not in known
    }
    plain = []
    for i, cell in extra.items():
        meant = _may_be(cell, [row[i] for row in raw.rows], missing, system)
        if meant:
            yield Finding(cell, _mistyped(table, to_text(cell.value), meant))
        else:
            plain.append(cell)
    if plain:
        names = ", ".join(to_text(cell.value) for cell in plain)
        yield Finding(plain[0], f"The estimate does not use these columns: {names}", warning=True)
    absent = [f.header for f in missing if not f.required and f.use != TEXT]
    if absent:
        yield Finding(raw.headers[0], _absent(absent), warning=True, serious=True)


def likeness(one: str, other: str) -> float:
    """Return how alike two names are, 1 for the same; a word of the other may stand for it all.

    >>> likeness("Elbow", "Elbows") > LIKE, likeness("Flanges", "Flange adapters") > LIKE
    (True, True)
    >>> likeness("Zone", "Elbows") > LIKE
    False
    """
    from difflib import SequenceMatcher  # seldom needed, and slow to import

    typed = squeeze(one)
    names = (squeeze(other), *map(squeeze, other.split()))
    return max(SequenceMatcher(None, typed, name).ratio() for name in names)


def _name(cell: RawCell) -> str:
    return squeeze(to_text(cell.value))


def _may_be(
    cell: RawCell, below: Sequence[RawCell], missing: Sequence[Field], system: UnitSystem
) -> list[str]:
    """Return the headers of missing columns that a column may be, the likeliest first."""
    filled = [item for item in below if not is_blank(item.value) or item.error or item.uncached]
    if not filled:
        return []
    typed = to_text(cell.value)
    ranked: Mapping[str, float] = {
        field.header: max(likeness(typed, name) for name in (field.header, *field.old_headers))
        for field in missing
        if field.use != TEXT
    }
    able = {field.header for field in missing if _could_hold(field, filled, system)}
    found = [name for name, like in ranked.items() if like >= LIKE or name in able]
    return sorted(found, key=lambda name: -ranked[name])


def _could_hold(field: Field, cells: Sequence[RawCell], system: UnitSystem) -> bool:
    """Return whether a column of this field could hold all these cells."""
    column = Column(field, usual_unit(field, system))
    try:
        for cell in cells:
            if cell.value is not None:
                columns.read_value(cell.value, column, {})
    except EstimatorError:
        return False
    return True


def _mistyped(table: InputTable, typed: str, meant: Sequence[str]) -> str:
    rename = meant[0]
    missing = f"the column {rename} is" if len(meant) == 1 else f"{', '.join(meant)} are"
    either = "" if len(meant) == 1 else ", or to the one that is meant"
    return (
        f"{table.title} has no column {typed!r}, and {missing} missing. Rename it to "
        f"{rename}{either}; if it is a column of your own, add the missing one, which may stay "
        "blank"
    )


def _absent(headers: Sequence[str]) -> str:
    one = len(headers) == 1
    return (
        f"{', '.join(headers)}: the {'column is' if one else 'columns are'} missing and "
        f"{'counts' if one else 'count'} as blank in every row. Add {'it' if one else 'them'}, "
        "even blank, to clear this warning"
    )
