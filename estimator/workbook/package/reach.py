"""Where the references of a workbook's formulas lead: to which sheets and which of their cells."""

from collections.abc import Collection, Iterator, Sequence
from functools import cached_property, lru_cache
from typing import NamedTuple

from lxml import etree

from estimator.workbook.package.formula_cells import FormulaCell
from estimator.workbook.package.index import SheetEntry, TableEntry, list_tables
from estimator.workbook.package.names import names_by_sheet
from estimator.workbook.package.references import (
    LAST_COLUMN,
    LAST_ROW,
    Cells,
    Corner,
    InTable,
    Named,
    Reference,
    Unknown,
    only_cell,
    references,
)
from estimator.workbook.package.zip_file import ZipMembers
from estimator.workbook.sheet.areas import Area, parse_area

EVERYWHERE = Area(1, 1, LAST_ROW, LAST_COLUMN)
WHOLE_SHEET = (Corner(None, None, True, True), Corner(None, None, True, True))
DEEPEST_NAME = 20
"""Names that are defined by names, one after the other, are followed as far as this."""
MOST_KEPT = 4096
"""Formulas of which it is kept what they refer to: a column mostly holds one all the way down."""


class Spot(NamedTuple):
    """A cell of the workbook; the name of its sheet in lower case."""

    sheet: str
    row: int
    column: int


class Reach:
    """Follows references through sheets, defined names and tables.

    Parameters
    ----------
    members : ZipMembers
        The file.
    workbook : lxml element
        Root of its workbook part.
    sheets : sequence of SheetEntry
        All of its sheets.
    unsure : collection of str
        Sheets, in lower case, that count as reached where only a calculation could show.
    """

    def __init__(
        self,
        members: ZipMembers,
        workbook: etree._Element,
        sheets: Sequence[SheetEntry],
        unsure: Collection[str],
    ) -> None:
        self._members, self._sheets, self._unsure = members, sheets, unsure
        self._order = [entry.name.casefold() for entry in sheets]
        self._names = names_by_sheet(workbook, self._order)

    def areas(self, spot: Spot, formula: FormulaCell) -> Iterator[tuple[str, Area]]:
        """Yield the areas that a formula depends on; one of ours for what cannot be known."""
        for found in _each_once(formula.text):
            if isinstance(found, Cells):
                yield from self._on_sheets(found.moved(*formula.moved), spot)
            elif isinstance(found, Named):
                yield from self._of_name(found, spot, DEEPEST_NAME)
            elif isinstance(found, InTable):
                yield from self._of_table(found, spot)
            else:
                yield from self._anywhere()

    def _on_sheets(self, cells: Cells, spot: Spot) -> Iterator[tuple[str, Area]]:
        first, _, last = (cells.sheet.casefold() or spot.sheet).partition(":")
        last = last or first
        if first in self._order and last in self._order:
            start, end = sorted((self._order.index(first), self._order.index(last)))
            for sheet in self._order[start : end + 1]:
                yield sheet, cells.area
        elif first in self._unsure or last in self._unsure:
            yield from self._anywhere()

    def _of_name(self, named: Named, spot: Spot, deep: int) -> Iterator[tuple[str, Area]]:
        text = self._meaning(named, spot)
        if text is None:
            return
        for found in references(text):
            if isinstance(found, Cells):
                if found.is_fixed:
                    yield from self._on_sheets(found, spot)
                else:
                    whole = Cells(found.sheet, *WHOLE_SHEET)
                    yield from self._on_sheets(whole, spot)
            elif isinstance(found, InTable):
                yield from self._of_table(found, spot)
            elif isinstance(found, Unknown) or not deep:
                yield from self._anywhere()
            else:
                yield from self._of_name(found, spot, deep - 1)

    def _meaning(self, named: Named, spot: Spot) -> str | None:
        sheet, name = named.sheet.casefold() or spot.sheet, named.name.casefold()
        return self._names.get((sheet, name)) or self._names.get(("", name))

    def _of_table(self, part: InTable, spot: Spot) -> Iterator[tuple[str, Area]]:
        table = self._tables.get(part.name.casefold())
        area = None if table is None else parse_area(table.ref)
        if table is None or area is None:
            return
        sheet = table.sheet.casefold()
        if part.own_row and sheet == spot.sheet and area.top <= spot.row <= area.bottom:
            area = Area(spot.row, area.left, spot.row, area.right)
        yield sheet, area

    def source(self, spot: Spot, formula: FormulaCell) -> Spot | None:
        """Return the cell that a formula shows as it is, None if it does anything else."""
        if formula.fills is not None:
            return None
        found = only_cell(formula.text)
        if isinstance(found, Named):
            found = only_cell(self._meaning(found, spot) or "")
            if isinstance(found, Cells) and not found.is_fixed:
                return None
        if not isinstance(found, Cells) or ":" in found.sheet:
            return None
        area = found.moved(*formula.moved).area
        return Spot(found.sheet.casefold() or spot.sheet, area.top, area.left)

    def _anywhere(self) -> Iterator[tuple[str, Area]]:
        for sheet in self._unsure:
            yield sheet, EVERYWHERE

    @cached_property
    def _tables(self) -> dict[str, TableEntry]:
        return {
            table.name.casefold(): table
            for entry in self._sheets
            for table in list_tables(self._members, entry)
        }


@lru_cache(maxsize=MOST_KEPT)
def _each_once(formula: str) -> tuple[Reference, ...]:
    """Return what a formula refers to, each only once."""
    return tuple(dict.fromkeys(references(formula)))
