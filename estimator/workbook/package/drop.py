"""Clears a sheet of ours before it is written anew: what only it used goes with it."""

import re
from collections.abc import Collection, Iterable, Mapping

from lxml import etree

from estimator.errors import WorkbookError
from estimator.workbook.package.edit import PackageEdit
from estimator.workbook.package.parts import (
    Relationship,
    parse_xml,
    part_of_rels,
    read_relationships,
    tag,
)
from estimator.workbook.package.zip_file import ZipMembers

KEPT_ELSEWHERE = {"pivotTable": "a pivot table", "slicer": "a slicer", "timeline": "a timeline"}
"""Things of the user that other parts of the workbook depend on."""

Links = Mapping[str, tuple[Relationship, ...]]


def clear_sheets(edit: PackageEdit, sheets: Mapping[str, str], sheet_ids: Collection[str]) -> None:
    """Drop the parts that only these sheets use, and their entries of the calculation chain.

    Parameters
    ----------
    edit : PackageEdit
        The edit to make them part of.
    sheets : mapping
        Name of each sheet by its part; the parts themselves stay, to be written anew.
    sheet_ids : collection of str
        The ``sheetId`` of each.

    Raises
    ------
    WorkbookError
        If a sheet holds something of the user that the rest of the workbook depends on.
    """
    links = _all_links(edit.members)
    for part, name in sheets.items():
        _refuse_dependencies(edit.members, name, links.get(part, ()))
    _refuse_used_tables(edit, sheets, links)
    for part in _used_only_by(sheets.keys(), links):
        edit.drop(part)
    for part in sheets:
        edit.drop_relationships(part)
    _clear_calculation_chain(edit, sheet_ids)


def _all_links(members: ZipMembers) -> Links:
    parts = (part_of_rels(name) for name in members.names())
    return {part: read_relationships(members, part) for part in parts if part is not None}


def _used_only_by(sheets: Iterable[str], links: Links) -> set[str]:
    ours = set(sheets)
    candidates: set[str] = set()
    open_parts = list(ours)
    while open_parts:
        for link in links.get(open_parts.pop(), ()):
            if link.target not in candidates | ours:
                candidates.add(link.target)
                open_parts.append(link.target)
    kept = [part for part in links if part not in candidates | ours]
    while kept:
        used = {link.target for link in links.get(kept.pop(), ())} & candidates
        candidates -= used
        kept += used
    return candidates


def _refuse_dependencies(members: ZipMembers, name: str, links: Iterable[Relationship]) -> None:
    for link in links:
        if link.kind in KEPT_ELSEWHERE and members.actual_name(link.target):
            raise WorkbookError(
                f"Sheet {name!r} has {KEPT_ELSEWHERE[link.kind]} of yours. Move it to another "
                "sheet and run again"
            )


def _refuse_used_tables(edit: PackageEdit, sheets: Mapping[str, str], links: Links) -> None:
    tables = {
        _table_name(edit.members, link.target): sheets[part]
        for part in sheets
        for link in links.get(part, ())
        if link.kind == "table"
    }
    if not tables:
        return
    others = {link.target for link in links.get(edit.workbook_part, ())} - sheets.keys()
    texts = [edit.members.read(part) for part in others if edit.members.actual_name(part)]
    texts.append(edit.members.read(edit.workbook_part))
    slicers = any(link.kind == "slicerCache" for link in links.get(edit.workbook_part, ()))
    for table, sheet in tables.items():
        word = re.compile(rb"\b" + re.escape(table.encode()) + rb"\b", re.IGNORECASE)
        if slicers or any(word.search(text) for text in texts):
            raise WorkbookError(
                f"Sheet {sheet!r} has your table {table!r}, which other sheets use. Move it to "
                "another sheet and run again"
            )


def _table_name(members: ZipMembers, part: str) -> str:
    return parse_xml(members.read(part), part).get("displayName", "")


def _clear_calculation_chain(edit: PackageEdit, sheet_ids: Collection[str]) -> None:
    link = edit.linked("calcChain")
    if link is None or edit.members.actual_name(link.target) is None:
        return
    chain = edit.tree(link.target)
    remove_from_chain(chain, sheet_ids)
    if not len(chain):
        edit.drop(link.target)
        edit.unlink(link.rel_id)


def remove_from_chain(chain: etree._Element, sheet_ids: Collection[str]) -> None:
    """Remove the cells of some sheets from a calculation chain.

    An entry without a sheet id of its own is on the sheet of the entry before it.
    """
    sheet = ""
    for entry in chain.findall(tag("c")):
        sheet = entry.get("i", sheet)
        if sheet in sheet_ids:
            chain.remove(entry)
