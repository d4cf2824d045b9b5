"""Typing values into cells of a sheet that is the user's: look, formulas and the rest stay."""

import datetime as dt
from collections.abc import Mapping

from lxml import etree

from estimator.errors import WorkbookError
from estimator.workbook.package.parts import insert_in_order, tag, whole_number
from estimator.workbook.sheet.cell_text import EPOCHS, area_of, serial_number, storable, stored
from estimator.workbook.sheet.source import column_letters

Typed = str | int | float | bool | dt.date | dt.time
_ROW_ORDER = ("c", "extLst")


def fill_cells(sheet: etree._Element, values: Mapping[str, Typed], *, dates_1904: bool) -> None:
    """Set cells of a worksheet, by address, as if they were typed.

    Raises
    ------
    WorkbookError
        If a cell holds a formula, which must not be lost.
    """
    data = sheet.find(tag("sheetData"))
    if data is None:
        raise WorkbookError("The file is damaged: a sheet has no cells")
    rows = {whole_number(row, "r", 0): row for row in data.iterchildren(tag("row"))}
    for address, value in values.items():
        area = area_of(address)
        row = rows.get(area.top)
        if row is None:
            row = rows[area.top] = _new_row(data, area.top)
        cell = _cell(row, area.left, area.top)
        if cell.find(tag("f")) is not None:
            raise WorkbookError(f"Cell {address} holds a formula, which is not overwritten")
        if isinstance(value, dt.time):
            value = serial_number(value, EPOCHS[dates_1904])
        _type(cell, value, dates_1904)


def _new_row(data: etree._Element, number: int) -> etree._Element:
    fresh = etree.Element(tag("row"))
    fresh.set("r", str(number))
    for row in data.iterchildren(tag("row")):
        if whole_number(row, "r", 0) > number:
            row.addprevious(fresh)
            return fresh
    data.append(fresh)
    return fresh


def _cell(row: etree._Element, column: int, number: int) -> etree._Element:
    """Return a cell of a row, added where it is missing."""
    for cell in row.iterchildren(tag("c")):
        at = area_of(cell.get("r", "")).left
        if at == column:
            return cell
        if at > column:
            return _new_cell(column, number, before=cell)
    fresh = _new_cell(column, number)
    insert_in_order(row, fresh, _ROW_ORDER)
    return fresh


def _new_cell(column: int, number: int, before: etree._Element | None = None) -> etree._Element:
    fresh = etree.Element(tag("c"))
    fresh.set("r", f"{column_letters(column)}{number}")
    if before is not None:
        before.addprevious(fresh)
    return fresh


def _type(
    cell: etree._Element, value: str | int | float | bool | dt.date, dates_1904: bool
) -> None:
    for child in list(cell):
        cell.remove(child)
    cell.attrib.pop("t", "")
    if isinstance(value, str):
        cell.set("t", "inlineStr")
        text = etree.SubElement(etree.SubElement(cell, tag("is")), tag("t"))
        text.text = storable(value)
        text.set("{http://www.w3.org/XML/1998/namespace}space", "preserve")
        return
    kind, shown = stored(value, dates_1904=dates_1904)
    if kind:
        cell.set("t", kind)
    etree.SubElement(cell, tag("v")).text = shown
