"""The defined names of a workbook: which sheets are ours, and what they print."""

from collections.abc import Mapping, Sequence

from lxml import etree

from estimator.workbook.package.edit import WORKBOOK_ORDER, PackageEdit
from estimator.workbook.package.parts import insert_in_order, tag, whole_number
from estimator.workbook.sheet.cell_text import area_of
from estimator.workbook.sheet.names import PRINT_AREA, area_of_filled, quoted
from estimator.workbook.sheet.source import column_letters
from estimator.workbook.sheet.spec import SheetSpec

PRINT_TITLES = "_xlnm.Print_Titles"
FILTER = "_xlnm._FilterDatabase"


def global_names(workbook: etree._Element) -> dict[str, str]:
    """Return what the names mean that hold in the whole workbook."""
    return {
        element.get("name", ""): element.text or ""
        for element in workbook.iterfind(f"{tag('definedNames')}/{tag('definedName')}")
        if element.get("localSheetId") is None
    }


def names_by_sheet(workbook: etree._Element, sheets: Sequence[str]) -> dict[tuple[str, str], str]:
    """Return what each name means, by its sheet and itself in lower case; no sheet is all."""
    found = {}
    for element in workbook.iterfind(f"{tag('definedNames')}/{tag('definedName')}"):
        index = whole_number(element, "localSheetId", len(sheets))
        sheet = sheets[index] if index < len(sheets) else ""
        found[sheet, element.get("name", "").casefold()] = element.text or ""
    return found


def name_sheet(edit: PackageEdit, sheet: str, index: int, marker: str, spec: SheetSpec) -> None:
    """Mark a sheet as ours and set what it prints and filters.

    Parameters
    ----------
    edit : PackageEdit
        The edit to make it part of.
    sheet : str
        Name of the sheet in the workbook.
    index : int
        Its place in the list of sheets, from 0 on.
    marker : str
        Hidden name that marks it as ours.
    spec : SheetSpec
        What was written on it.
    """
    _Names(edit.workbook).set(marker, f"{quoted(sheet)}!$A$1", hidden=True)
    set_local_names(edit, sheet, index, spec)


def set_local_names(edit: PackageEdit, sheet: str, index: int, spec: SheetSpec) -> None:
    """Set what a sheet prints, repeats and filters; parameters as ``name_sheet``."""
    names = _Names(edit.workbook)
    for name, area in _local_names(spec).items():
        reference = ",".join(f"{quoted(sheet)}!{part}" for part in area) or None
        names.set(name, reference, str(index), hidden=name == FILTER)
    if spec.filled:
        right = column_letters(len(spec.widths))
        least = min(area_of(cells).top for cells in spec.filled)
        names.set(PRINT_AREA, area_of_filled(sheet, spec.filled, right, least), str(index))


def _local_names(spec: SheetSpec) -> Mapping[str, Sequence[str]]:
    """Return the areas that each name of a sheet holds; none where the name is to go."""
    rows, columns = spec.repeated_rows, spec.repeated_columns
    titles = [f"$A:${column_letters(columns)}"] if columns else []
    titles += [f"${rows[0]}:${rows[1]}"] if rows else []
    return {
        FILTER: _absolute(spec.autofilter),
        PRINT_AREA: _absolute(spec.print_area),
        PRINT_TITLES: titles,
    }


def _absolute(reference: str | None) -> Sequence[str]:
    if not reference:
        return ()
    area = area_of(reference)
    first, last = column_letters(area.left), column_letters(area.right)
    return (f"${first}${area.top}:${last}${area.bottom}",)


class _Names:
    """The defined names element; a new name goes before the first one that sorts after it."""

    def __init__(self, workbook: etree._Element) -> None:
        found = workbook.find(tag("definedNames"))
        if found is None:
            found = etree.Element(tag("definedNames"))
            insert_in_order(workbook, found, WORKBOOK_ORDER)
        self._names = found

    def set(
        self, name: str, reference: str | None, sheet: str | None = None, *, hidden: bool = False
    ) -> None:
        """Set what a name means, in the workbook or on one sheet; None removes it."""
        element = self._find(name, sheet)
        if reference is None:
            if element is not None:
                self._names.remove(element)
            return
        if element is None:
            element = etree.Element(tag("definedName"))
            element.set("name", name)
            if sheet is not None:
                element.set("localSheetId", sheet)
            self._insert(element)
        if hidden:
            element.set("hidden", "1")
        element.text = reference

    def _find(self, name: str, sheet: str | None) -> etree._Element | None:
        for element in self._names:
            same = element.get("name", "").casefold() == name.casefold()
            if same and element.get("localSheetId") == sheet:
                return element
        return None

    def _insert(self, element: etree._Element) -> None:
        for other in self._names:
            if _order(other) > _order(element):
                other.addprevious(element)
                return
        self._names.append(element)


def _order(element: etree._Element) -> tuple[str, bool, int]:
    name = element.get("name", "").removeprefix("_xlnm.").casefold()
    return name, "localSheetId" in element.attrib, whole_number(element, "localSheetId", 0)
