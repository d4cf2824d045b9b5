"""Where in the workbook each input was found, so that formulas and messages can point there."""

from collections.abc import Mapping, Sequence
from dataclasses import field

from estimator.data_class import dataclass
from estimator.inputs.dictionary import keys_of

SPANS_NAMED = 8


@dataclass(frozen=True)
class Places:
    """Cell references of the inputs that were read from a workbook.

    ``cells`` maps (table, row key, field key) to a formula reference such as
    ``'Crew'!$H$6``; named cells have an empty row key. The row key is the first column's
    value (run id, class, role, month ...). ``columns`` maps (table, field key) to the body
    range of a table column, or to the cell of a named field. ``defaulted`` holds the (table,
    field key) of named cells that are blank and were read as their default. ``rows_read`` says
    by title of a table which rows of its sheet were read.
    """

    cells: Mapping[tuple[str, str, str], str] = field(default_factory=dict)
    columns: Mapping[tuple[str, str], str] = field(default_factory=dict)
    defaulted: frozenset[tuple[str, str]] = frozenset()
    rows_read: Mapping[str, tuple[int, ...]] = field(default_factory=dict)

    def cell(self, table: str, row: str, key: str) -> str | None:
        """Return the formula reference of one input, None where it was not read from a cell.

        Raises
        ------
        LookupError
            If no input table has such a field: a slip in the program, and no blank cell.
        """
        reference = self.cells.get((table, row, key))
        if reference is None and key not in keys_of(table):
            raise LookupError(f"{table}.{key} is no field of the input tables")
        return reference

    def live(self, table: str, row: str, key: str) -> str | None:
        """Return the reference of a cell that holds an input, None where a formula may not use it.

        A blank cell that was read as its default would count as 0 in a formula.
        """
        if not row and (table, key) in self.defaulted:
            return None
        return self.cell(table, row, key)

    def rows_read_text(self) -> Mapping[str, str]:
        """Return by title of a table how many rows were read and which, ``9: rows 6 to 14``."""
        return {title: rows_text(rows) for title, rows in self.rows_read.items()}

    def where(self, table: str, row: str, key: str) -> str:
        """Return the place as the user reads it, ``Pipe schedule!D17``, or the row's name."""
        reference = self.cell(table, row, key)
        if reference is None:
            return row or key
        sheet, _, address = reference.rpartition("!")
        return f"{sheet.strip(chr(39)).replace(chr(39) * 2, chr(39))}!{address.replace('$', '')}"


NO_PLACES = Places()
"""Those of a job that comes from no workbook."""


def rows_text(rows: Sequence[int]) -> str:
    """Return how many rows there are and which; each unbroken run of them is one span.

    >>> rows_text((6, 7, 8, 11)), rows_text((6,)), rows_text(())
    ('4: rows 6 to 8, 11', '1: row 6', 'none')
    """
    if not rows:
        return "none"
    spans: list[list[int]] = []
    for row in rows:
        if spans and row == spans[-1][1] + 1:
            spans[-1][1] = row
        else:
            spans.append([row, row])
    named = ", ".join(f"{a}" if a == b else f"{a} to {b}" for a, b in spans[:SPANS_NAMED])
    more = f" and more, to {rows[-1]}" if len(spans) > SPANS_NAMED else ""
    return f"{len(rows)}: row{'s' * (len(rows) > 1)} {named}{more}"
