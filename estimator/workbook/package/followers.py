"""Formulas of the user that follow our sheets: their saved values must not be old ones.

A formula that only shows another cell is given the fresh value; a link that shows a text written
in it keeps that. Of every other that depends on our sheets, directly or through other cells, the
saved value is taken away, so that each program calculates it. These are the only bytes of the
user's sheets that change.
"""

from collections import defaultdict
from collections.abc import Iterable, Iterator, Sequence

from lxml import etree

from estimator.workbook.package.edit import PackageEdit
from estimator.workbook.package.formula_cells import (
    FormulaCell,
    Place,
    Saved,
    formula_cells,
    holds_formulas,
    readable,
    shows_its_own_text,
    with_saved_values,
)
from estimator.workbook.package.index import SheetEntry
from estimator.workbook.package.reach import Reach, Spot
from estimator.workbook.package.watched import Watched
from estimator.workbook.package.zip_file import ZipMembers
from estimator.workbook.sheet.areas import Area
from estimator.workbook.sheet.cell_text import stored
from estimator.workbook.sheet.spec import SheetSpec


class Followers:
    """The formulas outside our sheets that depend on them.

    Parameters
    ----------
    members : ZipMembers
        The file as it was.
    workbook : lxml element
        Root of its workbook part.
    sheets : sequence of SheetEntry
        All of its sheets.
    ours : iterable of str
        Names of our sheets in the workbook.
    """

    def __init__(
        self,
        members: ZipMembers,
        workbook: etree._Element,
        sheets: Sequence[SheetEntry],
        ours: Iterable[str],
    ) -> None:
        self._members = members
        self._ours = {name.casefold() for name in ours}
        self._parts = {
            entry.name.casefold(): entry.part
            for entry in sheets
            if entry.kind == "worksheet" and entry.name.casefold() not in self._ours
        }
        self._reach = Reach(members, workbook, sheets, self._ours)
        self._formulas = dict(self._read())
        self._stale = self._find_stale()
        self._shown: dict[Spot, Saved | None] = {}
        self._wanted = {
            spot for formula in self._stale if (spot := self._source(formula)) is not None
        }

    def take(self, spec: SheetSpec, name: str, *, dates_1904: bool) -> None:
        """Note the values of a fresh sheet of ours that the user's formulas show as they are."""
        for spot in self._wanted:
            if spot.sheet == name.casefold():
                self._shown[spot] = _shown(spec, spot, dates_1904=dates_1904)

    def write(self, edit: PackageEdit) -> None:
        """Set or take away the saved values that were old."""
        by_sheet: dict[str, dict[Place, Saved | None]] = defaultdict(dict)
        for spot in self._stale:
            by_sheet[spot.sheet][spot.row, spot.column] = self._value(spot)
        for sheet, values in by_sheet.items():
            part = self._parts[sheet]
            before = self._members.read(part)
            after = with_saved_values(readable(before, part), values)
            if after != before:
                edit.put(part, after)

    def _read(self) -> Iterator[tuple[Spot, FormulaCell]]:
        for sheet, part in self._parts.items():
            xml = readable(self._members.read(part), part)
            if holds_formulas(xml):
                for cell in formula_cells(xml):
                    spot = Spot(sheet, *cell.place)
                    if not self._is_same_link(spot, cell):
                        yield spot, cell

    def _is_same_link(self, spot: Spot, cell: FormulaCell) -> bool:
        """Return whether a cell is a link whose own text it shows, whatever ours hold."""
        return shows_its_own_text(cell.text) and all(
            sheet in self._ours for sheet, _ in self._reach.areas(spot, cell)
        )

    def _find_stale(self) -> set[Spot]:
        """Return the cells that our sheets reach, in as many steps as it takes."""
        cells: dict[Spot, list[Spot]] = defaultdict(list)
        areas: dict[str, Watched[Spot]] = defaultdict(Watched)
        open_spots: list[Spot] = []
        for spot, formula in self._formulas.items():
            for sheet, area in self._reach.areas(spot, formula):
                if sheet in self._ours:
                    open_spots.append(spot)
                elif area.is_cell:
                    cells[Spot(sheet, area.top, area.left)].append(spot)
                else:
                    areas[sheet].add(area, spot)
        stale: set[Spot] = set()
        while open_spots:
            spot = open_spots.pop()
            if spot in stale:
                continue
            stale.add(spot)
            shown_in = self._formulas[spot].fills if spot in self._formulas else None
            if shown_in is not None:
                open_spots += _spots(spot.sheet, shown_in)
            open_spots += cells.get(spot, ())
            open_spots += areas[spot.sheet].take(spot.row, spot.column)
        return stale

    def _source(self, spot: Spot) -> Spot | None:
        formula = self._formulas.get(spot)
        return None if formula is None else self._reach.source(spot, formula)

    def _value(self, spot: Spot) -> Saved | None:
        """Return the fresh value of a cell, through any number of cells that only show others."""
        seen = {spot}
        source = self._source(spot)
        while source is not None and source not in seen:
            if source.sheet in self._ours:
                return self._shown.get(source)
            seen.add(source)
            source = self._source(source)
        return None


def _shown(spec: SheetSpec, spot: Spot, *, dates_1904: bool) -> Saved | None:
    """Return what a formula shows that leads to a cell of ours; an empty one counts as 0."""
    cells = spec.rows[spot.row - 1].cells if spot.row <= len(spec.rows) else ()
    cell = cells[spot.column - 1] if spot.column <= len(cells) else None
    if cell is not None and cell.value is None and cell.formula is not None:
        return None
    value = 0 if cell is None or cell.value is None else cell.value
    return Saved(*stored(value, dates_1904=dates_1904))


def _spots(sheet: str, area: Area) -> Iterator[Spot]:
    for row in range(area.top, area.bottom + 1):
        for column in range(area.left, area.right + 1):
            yield Spot(sheet, row, column)
