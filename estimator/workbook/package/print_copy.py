"""A copy of a workbook of which only some sheets print."""

from collections.abc import Collection, Sequence

from lxml import etree

from estimator.workbook.package.edit import PackageEdit
from estimator.workbook.package.parts import tag, whole_number

PRINT_NAMES = frozenset({"_xlnm.Print_Area", "_xlnm.Print_Titles"})


def show_only(edit: PackageEdit, sheets: Sequence[str], shown: Collection[str]) -> None:
    """Hide all other sheets, and drop the print areas by which a program would print them.

    Parameters
    ----------
    edit : PackageEdit
        The edit to make it part of.
    sheets : sequence of str
        All sheets in their order.
    shown : collection of str
        Those that print.
    """
    for entry in edit.workbook.findall(f"{tag('sheets')}/{tag('sheet')}"):
        if entry.get("name") in shown:
            _unset(entry, "state")
        else:
            entry.set("state", "hidden")
    first = next(index for index, name in enumerate(sheets) if name in shown)
    for view in edit.workbook.findall(f"{tag('bookViews')}/{tag('workbookView')}"):
        view.set("activeTab", str(first))
        _unset(view, "firstSheet")
    for names in edit.workbook.findall(tag("definedNames")):
        for name in list(names):
            if name.get("name") in PRINT_NAMES and not _is_of(name, sheets, shown):
                names.remove(name)


def _unset(element: etree._Element, key: str) -> None:
    if key in element.attrib:
        del element.attrib[key]


def _is_of(name: etree._Element, sheets: Sequence[str], shown: Collection[str]) -> bool:
    """Return whether a name belongs to one of the sheets that are shown."""
    index = whole_number(name, "localSheetId", -1)
    return 0 <= index < len(sheets) and sheets[index] in shown
