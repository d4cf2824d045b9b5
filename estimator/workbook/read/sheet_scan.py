"""What the XML of a sheet shows and its values do not: errors, hidden rows, unsaved results."""

import io
from collections.abc import Mapping
from dataclasses import field
from typing import cast

from lxml import etree

from estimator.data_class import dataclass
from estimator.errors import WorkbookError
from estimator.workbook.sheet.areas import Area, column_number, parse_area

TRUE = frozenset({"1", "true"})

_SPECIAL = etree.XPath("*[@t='e' or *[local-name()='f']]")
_LAST_FILLED = etree.XPath("*[*][last()]")


@dataclass()
class SheetMarks:
    """What was found on one sheet; cells by row and column."""

    errors: dict[tuple[int, int], str] = field(default_factory=dict)
    uncached: set[tuple[int, int]] = field(default_factory=set)
    hidden_rows: set[int] = field(default_factory=set)
    merged: dict[tuple[int, int], Area] = field(default_factory=dict)
    last_row: int = 0
    last_column: int = 0


def scan_sheet(xml: bytes) -> SheetMarks:
    """Return the marks of a sheet; one row of it is in memory at a time.

    Raises
    ------
    WorkbookError
        If the XML is broken.
    """
    marks = SheetMarks()
    number = 0
    parts = etree.iterparse(
        io.BytesIO(xml), tag=("{*}row", "{*}mergeCell"), resolve_entities=False,
        remove_comments=True, remove_pis=True,
    )  # fmt: skip
    try:
        for _, element in parts:
            if etree.QName(element).localname == "row":
                number = int(element.get("r") or number + 1)
                _scan_row(element, number, marks)
            else:
                _note_merged(element.get("ref", ""), marks)
            _forget(element)
    except (etree.XMLSyntaxError, ValueError) as error:
        raise WorkbookError(f"The file is damaged in one of its sheets: {error}") from error
    return marks


def _scan_row(row: etree._Element, number: int, marks: SheetMarks) -> None:
    if row.get("hidden") in TRUE:
        marks.hidden_rows.add(number)
    columns = _Columns(row)
    for cell in _found(_LAST_FILLED, row):
        marks.last_row = max(marks.last_row, number)
        marks.last_column = max(marks.last_column, columns[cell])
    for cell in _found(_SPECIAL, row):
        place = number, columns[cell]
        parts = {etree.QName(part).localname: part.text or "" for part in cell}
        if cell.get("t") == "e":
            marks.errors[place] = parts.get("v", "")
        elif _is_uncached(parts, cell.get("t")):
            marks.uncached.add(place)


def _found(path: etree.XPath, row: etree._Element) -> list[etree._Element]:
    return cast("list[etree._Element]", path(row))


def _is_uncached(parts: Mapping[str, str], kind: str | None) -> bool:
    """Return whether a formula has no saved result; a saved empty text is one."""
    return "v" not in parts or (not parts["v"] and kind != "str")


class _Columns(dict[etree._Element, int]):
    """The column of each cell of a row; those without an address are counted, all at once."""

    def __init__(self, row: etree._Element) -> None:
        super().__init__()
        self.row = row

    def __missing__(self, cell: etree._Element) -> int:
        address = cell.get("r")
        if address:
            return column_number(address.rstrip("0123456789"))
        self.update((one, i) for i, one in enumerate(self.row, 1) if not one.get("r"))
        return self[cell]


def _note_merged(address: str, marks: SheetMarks) -> None:
    area = parse_area(address)
    if area is not None:
        marks.merged[area.top, area.left] = area


def _forget(element: etree._Element) -> None:
    element.clear()
    parent = element.getparent()
    while parent is not None and element.getprevious() is not None:
        del parent[0]
