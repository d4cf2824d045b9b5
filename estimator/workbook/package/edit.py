"""One edit of a workbook's package: parts changed, added and dropped, then written together."""

import posixpath
from dataclasses import replace
from typing import cast

from lxml import etree

from estimator.data_class import dataclass
from estimator.errors import WorkbookError
from estimator.workbook.package.chart_xml import ChartWriter, render_drawing
from estimator.workbook.package.parts import (
    CONTENT_TYPES,
    REL_NS,
    TYPE_OF,
    Relationship,
    add_relationship,
    drop_content_type,
    free_name,
    insert_in_order,
    new_relationships,
    parse_xml,
    read_relationships,
    relative,
    rels_name,
    set_content_type,
    tag,
    typed_parts,
    whole_number,
    xml_bytes,
)
from estimator.workbook.package.sheet_xml import render_parts
from estimator.workbook.package.styles import MINIMAL_STYLES, StyleSheet
from estimator.workbook.package.table_xml import render_table
from estimator.workbook.package.zip_file import Packed, Packer, ZipMembers, replace_members
from estimator.workbook.sheet.spec import SheetSpec
from estimator.workbook.sheet.styles import StyleIds

HEAD = 1024
"""Bytes of a sheet that are looked through at a time: its name for macros stands in the first."""
WORKBOOK_ORDER = (
    "fileVersion", "fileSharing", "workbookPr", "workbookProtection", "bookViews", "sheets",
    "functionGroups", "externalReferences", "definedNames", "calcPr", "oleSize",
    "customWorkbookViews", "pivotCaches", "smartTagPr", "smartTagTypes", "webPublishing",
    "fileRecoveryPr", "webPublishObjects", "extLst",
)  # fmt: skip


class PackageEdit:
    """Changes to a package; nothing is written before ``finish``.

    Parameters
    ----------
    members : ZipMembers
        The file as it is.
    workbook_part : str
        Name of its workbook part.
    """

    def __init__(self, members: ZipMembers, workbook_part: str) -> None:
        self.members, self.workbook_part = members, workbook_part
        self._trees: dict[str, tuple[etree._Element, bytes]] = {}
        self._new: dict[str, bytes | Packed] = {}
        self._dropped: set[str] = set()

    @property
    def workbook(self) -> etree._Element:
        """Root of the workbook part, to be changed in place."""
        return self.tree(self.workbook_part)

    def tree(self, part: str) -> etree._Element:
        """Return the root of a part, to be changed in place."""
        name = self.members.actual_name(part) or part
        if name not in self._trees:
            root = parse_xml(self.members.read(name), name)
            self._trees[name] = root, xml_bytes(root)
        return self._trees[name][0]

    def new_tree(self, part: str, content: bytes, kind: str) -> etree._Element:
        """Add a part and return its root, to be changed in place."""
        root = parse_xml(content, part)
        self._trees[part] = root, b""
        set_content_type(self.tree(CONTENT_TYPES), part, TYPE_OF[kind])
        return root

    def put(self, part: str, content: bytes | Packed, kind: str = "") -> None:
        """Set the content of a part; ``kind`` is its relationship type's last word."""
        name = self.members.actual_name(part) or part
        self._new[name] = content
        if kind:
            set_content_type(self.tree(CONTENT_TYPES), name, TYPE_OF[kind])

    def drop(self, part: str) -> None:
        """Leave out a part and its relationships."""
        for name in (part, rels_name(part)):
            actual = self.members.actual_name(name)
            if actual is not None:
                self._dropped.add(actual)
                self._trees.pop(actual, None)

    def drop_relationships(self, part: str) -> None:
        """Leave out the relationships of a part that stays."""
        name = self.members.actual_name(rels_name(part))
        if name is not None:
            self._dropped.add(name)

    def free(self, pattern: str) -> str:
        """Return a part name that is free; ``{}`` in the pattern becomes a number.

        A part that is missing but still has a type may still be what another part points to.
        """
        typed = typed_parts(self.tree(CONTENT_TYPES))
        kept = {*self.members.names(), *typed} - self._dropped
        return free_name(pattern, [*kept, *self._new])

    def linked(self, kind: str) -> Relationship | None:
        """Return the workbook's first relationship of a kind, None if there is none."""
        links = read_relationships(self.members, self.workbook_part)
        return next((link for link in links if link.kind == kind), None)

    def link(self, kind: str, part: str) -> str:
        """Let the workbook point at a part; return the relationship id."""
        root = self.tree(rels_name(self.workbook_part))
        rel_id = free_name("rId{}", [element.get("Id", "") for element in root])
        add_relationship(root, rel_id, kind, relative(part, self.workbook_part))
        return rel_id

    def unlink(self, rel_id: str) -> None:
        """Remove a relationship of the workbook."""
        root = self.tree(rels_name(self.workbook_part))
        for element in root:
            if element.get("Id") == rel_id:
                root.remove(element)

    def finish(self) -> bytes:
        """Return the new file; a part whose XML did not change stays as it was stored."""
        for name in sorted(self._dropped - self._new.keys()):
            drop_content_type(self.tree(CONTENT_TYPES), name)
        changed = {
            name: content
            for name, (root, before) in self._trees.items()
            if (content := xml_bytes(root)) != before
        }
        return replace_members(self.members, {**changed, **self._new}, frozenset(self._dropped))


def style_sheet(edit: PackageEdit) -> StyleSheet:
    """Return the style sheet of the workbook, made if it has none."""
    link = edit.linked("styles")
    if link is not None:
        return StyleSheet(edit.tree(link.target))
    part = _beside(edit, "styles.xml")
    edit.link("styles", part)
    return StyleSheet(edit.new_tree(part, MINIMAL_STYLES, "styles"))


def add_sheet(edit: PackageEdit, name: str) -> str:
    """Append an entry to the workbook's list of sheets and return the name of its part."""
    part = edit.free(_beside(edit, "worksheets/sheet{}.xml"))
    sheets = edit.workbook.find(tag("sheets"))
    if sheets is None:
        raise WorkbookError(f"The file is damaged: {edit.workbook_part} lists no sheets")
    sheet_id = 1 + max(whole_number(sheet, "sheetId", 0) for sheet in sheets)
    sheet = etree.SubElement(sheets, tag("sheet"))
    sheet.set("name", name)
    sheet.set("sheetId", str(sheet_id))
    sheet.set(tag("id", REL_NS), edit.link("worksheet", part))
    edit.put(part, b"", "worksheet")
    return part


@dataclass(frozen=True)
class RenderedSheet:
    """A sheet as it is stored: its packed part, charts and tables; the description without rows."""

    content: Packed
    charts: tuple[bytes, ...]
    tables: tuple[bytes, ...]
    spec: SheetSpec


def render_sheet(
    edit: PackageEdit,
    part: str | None,
    spec: SheetSpec,
    styles: StyleIds,
    *,
    dates_1904: bool,
    first_table: int = 1,
) -> RenderedSheet:
    """Render and pack a sheet, so that its rows can be let go; ``part`` is where it was.

    Its tables are numbered from ``first_table`` on.
    """
    packer = Packer()
    drawings = bool(spec.charts or spec.drawings)
    for text in render_parts(
        spec,
        styles,
        dates_1904=dates_1904,
        code_name=None if part is None else _code_name(edit, part),
        drawing_id="rId1" if drawings else None,
        table_ids=[f"rId{number}" for number, _ in enumerate(spec.tables, 1 + drawings)],
    ):
        packer.add(text)
    writer = ChartWriter((spec,), dates_1904=dates_1904)
    charts = tuple(writer.render(chart, spec.axis_dates) for chart in spec.charts)
    tables = tuple(render_table(spec, table, n) for n, table in enumerate(spec.tables, first_table))
    return RenderedSheet(packer.finish(), charts, tables, replace(spec, rows=()))


def write_sheet(edit: PackageEdit, part: str, sheet: RenderedSheet) -> None:
    """Set the content of a worksheet part, with its drawing and charts, and its tables."""
    edit.put(part, sheet.content, "worksheet")
    links: list[tuple[str, str]] = []
    if sheet.charts or sheet.spec.drawings:
        links.append(("drawing", _write_drawing(edit, sheet)))
    for content in sheet.tables:
        links.append(("table", edit.free(_beside(edit, "tables/table{}.xml"))))
        edit.put(links[-1][1], content, "table")
    if links:
        edit.put(rels_name(part), new_relationships(links, part))


def _write_drawing(edit: PackageEdit, sheet: RenderedSheet) -> str:
    """Add the drawing of a sheet, its charts too, and return the name of its part."""
    drawing = edit.free(_beside(edit, "drawings/drawing{}.xml"))
    edit.put(drawing, render_drawing(sheet.spec.charts, sheet.spec.drawings), "drawing")
    links = []
    for content in sheet.charts:
        chart = edit.free(_beside(edit, "charts/chart{}.xml"))
        edit.put(chart, content, "chart")
        links.append(("chart", chart))
    if links:
        edit.put(rels_name(drawing), new_relationships(links, drawing))
    return drawing


def _beside(edit: PackageEdit, pattern: str) -> str:
    return posixpath.join(posixpath.dirname(edit.workbook_part), pattern)


def _code_name(edit: PackageEdit, part: str) -> str | None:
    """Return the name by which the macros know a sheet that is there already."""
    if edit.members.actual_name(part) is None:
        return None
    content = edit.members.read(part)
    parser = etree.XMLPullParser(
        ("start",), resolve_entities=False, no_network=True, load_dtd=False
    )
    try:
        for at in range(0, len(content), HEAD):
            parser.feed(content[at : at + HEAD])
            for _, found in parser.read_events():
                element = cast("etree._Element", found)
                if element.tag == tag("sheetPr"):
                    return str(element.get("codeName", "")) or None
                if element.tag == tag("sheetData"):
                    return None
        parser.close()
    except etree.XMLSyntaxError as error:
        raise WorkbookError(f"The file is damaged in its part {part}: {error}") from error
    return None


def calculate_on_load(edit: PackageEdit) -> None:
    """Let the spreadsheet program calculate when it opens the file."""
    settings = edit.workbook.find(tag("calcPr"))
    if settings is None:
        settings = etree.Element(tag("calcPr"))
        insert_in_order(edit.workbook, settings, WORKBOOK_ORDER)
    settings.set("fullCalcOnLoad", "1")
