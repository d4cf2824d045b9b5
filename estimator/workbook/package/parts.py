"""The parts of an office package: their XML, their types and how they point at each other."""

import posixpath
import re
from collections.abc import Iterable, Iterator, Sequence

from lxml import etree

from estimator.data_class import dataclass
from estimator.errors import WorkbookError
from estimator.workbook.package.zip_file import ZipMembers

SHEET_NS = "http://schemas.openxmlformats.org/spreadsheetml/2006/main"
REL_NS = "http://schemas.openxmlformats.org/officeDocument/2006/relationships"
PACKAGE_REL_NS = "http://schemas.openxmlformats.org/package/2006/relationships"
TYPES_NS = "http://schemas.openxmlformats.org/package/2006/content-types"
STRICT_NS = "http://purl.oclc.org/ooxml/"
CONTENT_TYPES = "[Content_Types].xml"

MOST_DIGITS = 10
"""Digits of a number that counts or numbers something in the file format."""

_OFFICE = "application/vnd.openxmlformats-officedocument."
TYPE_OF = {
    "worksheet": f"{_OFFICE}spreadsheetml.worksheet+xml",
    "styles": f"{_OFFICE}spreadsheetml.styles+xml",
    "drawing": f"{_OFFICE}drawing+xml",
    "chart": f"{_OFFICE}drawingml.chart+xml",
    "table": f"{_OFFICE}spreadsheetml.table+xml",
}
"""Content type of a part by the last word of its relationship type."""

_ESCAPED = re.compile(r"_x([0-9A-Fa-f]{4})_")


def tag(name: str, namespace: str = SHEET_NS) -> str:
    """Return a qualified element or attribute name."""
    return f"{{{namespace}}}{name}"


def parse_xml(content: bytes, part: str) -> etree._Element:
    """Return the root element of a part, without comments and instructions to other programs.

    Entities and outside documents are never loaded.

    Raises
    ------
    WorkbookError
        If it is no well-formed XML or carries a document type.
    """
    parser = etree.XMLParser(
        resolve_entities=False, no_network=True, load_dtd=False, remove_comments=True,
        remove_pis=True,
    )  # fmt: skip
    try:
        root = etree.fromstring(content, parser)
    except etree.XMLSyntaxError as error:
        raise WorkbookError(f"The file is damaged in its part {part}: {error}") from error
    if root.getroottree().docinfo.doctype:  # type: ignore[union-attr]  # not in stubs
        raise WorkbookError(f"The file is refused: its part {part} carries a document type")
    return root


def xml_bytes(root: etree._Element) -> bytes:
    """Return a whole part as bytes."""
    tree = root.getroottree()
    return etree.tostring(tree, xml_declaration=True, encoding="UTF-8", standalone=True)


def insert_in_order(parent: etree._Element, child: etree._Element, order: Sequence[str]) -> None:
    """Insert a child where the order of the schema wants it, after those of its own name."""
    later = set(order[order.index(etree.QName(child).localname) + 1 :])
    for sibling in parent:
        if isinstance(sibling.tag, str) and etree.QName(sibling).localname in later:
            sibling.addprevious(child)
            return
    parent.append(child)


def whole_number(element: etree._Element, name: str, default: int) -> int:
    """Return an attribute that counts or numbers something.

    Raises
    ------
    WorkbookError
        If it is no whole number.
    """
    text = element.get(name, str(default))
    if not (text.isascii() and text.isdigit() and len(text) <= MOST_DIGITS):
        got = repr(text[:MOST_DIGITS])
        raise WorkbookError(f"The file is damaged: {name} must be a whole number, got {got}")
    return int(text)


def unescape(text: str) -> str:
    r"""Return a text of the file format with its ``_xHHHH_`` escapes resolved.

    >>> unescape("Length_x000a_m")
    'Length\nm'
    """
    return _ESCAPED.sub(lambda match: chr(int(match[1], 16)), text)


@dataclass(frozen=True)
class Relationship:
    """One pointer from a part to another part of the package.

    ``kind`` is the last word of the relationship type, such as ``worksheet``.
    """

    rel_id: str
    kind: str
    target: str


def rels_name(part: str) -> str:
    """Return the name of the member that holds a part's relationships.

    >>> rels_name("xl/workbook.xml"), rels_name("")
    ('xl/_rels/workbook.xml.rels', '_rels/.rels')
    """
    folder, name = posixpath.split(part)
    return posixpath.join(folder, "_rels", f"{name}.rels")


def part_of_rels(name: str) -> str | None:
    """Return the part whose relationships a member holds, None if it holds none."""
    folder, file = posixpath.split(name)
    if not file.endswith(".rels") or posixpath.basename(folder) != "_rels":
        return None
    return posixpath.join(posixpath.dirname(folder), file.removesuffix(".rels"))


def relative(target: str, part: str) -> str:
    """Return a target as the relationships of a part write it.

    >>> relative("xl/drawings/drawing1.xml", "xl/worksheets/sheet1.xml")
    '../drawings/drawing1.xml'
    """
    return posixpath.relpath(target, posixpath.dirname(part) or ".")


def read_relationships(members: ZipMembers, part: str) -> tuple[Relationship, ...]:
    """Return where a part points to inside the package; targets as the members are spelled."""
    name = members.actual_name(rels_name(part))
    if name is None:
        return ()
    return tuple(_relationships(members, part, parse_xml(members.read(name), name)))


def _relationships(members: ZipMembers, part: str, root: etree._Element) -> Iterator[Relationship]:
    for element in root.iter(tag("Relationship", PACKAGE_REL_NS)):
        if element.get("TargetMode") == "External":
            continue
        path = posixpath.join("/", posixpath.dirname(part), element.get("Target", ""))
        target = posixpath.normpath(path).lstrip("/")
        yield Relationship(
            rel_id=element.get("Id", ""),
            kind=element.get("Type", "").rpartition("/")[2],
            target=members.actual_name(target) or target,
        )


def new_relationships(links: Iterable[tuple[str, str]], part: str) -> bytes:
    """Return the relationships of a new part: (kind, target) become rId1, rId2 and so on."""
    root = parse_xml(f'<Relationships xmlns="{PACKAGE_REL_NS}"/>'.encode(), part)
    for number, (kind, target) in enumerate(links, 1):
        add_relationship(root, f"rId{number}", kind, relative(target, part))
    return xml_bytes(root)


def add_relationship(root: etree._Element, rel_id: str, kind: str, target: str) -> None:
    """Append a relationship, its target as it shall be written."""
    element = etree.SubElement(root, tag("Relationship", PACKAGE_REL_NS))
    element.set("Id", rel_id)
    element.set("Type", f"{REL_NS}/{kind}")
    element.set("Target", target)


def set_content_type(types: etree._Element, part: str, content_type: str) -> None:
    """Say of which type a part is."""
    override = _override(types, part)
    if override is None:
        override = etree.SubElement(types, tag("Override", TYPES_NS))
        override.set("PartName", f"/{part}")
    override.set("ContentType", content_type)


def drop_content_type(types: etree._Element, part: str) -> None:
    """Forget the type of a part that is gone."""
    override = _override(types, part)
    if override is not None:
        types.remove(override)


def typed_parts(types: etree._Element) -> set[str]:
    """Return the names of the parts that have a type of their own."""
    return {
        element.get("PartName", "").lstrip("/") for element in types.iter(tag("Override", TYPES_NS))
    }


def content_type(types: etree._Element, part: str) -> str:
    """Return the type of a part, by its name or else by its extension."""
    override = _override(types, part)
    if override is not None:
        return override.get("ContentType", "")
    extension = posixpath.splitext(part)[1].lstrip(".").casefold()
    for default in types.iter(tag("Default", TYPES_NS)):
        if default.get("Extension", "").casefold() == extension:
            return default.get("ContentType", "")
    return ""


def _override(types: etree._Element, part: str) -> etree._Element | None:
    wanted = f"/{part}".casefold()
    for element in types.iter(tag("Override", TYPES_NS)):
        if element.get("PartName", "").casefold() == wanted:
            return element
    return None


def free_name(pattern: str, taken: Iterable[str]) -> str:
    """Return the first of ``pattern`` with 1, 2, 3 ... that is not taken, in any case.

    >>> free_name("xl/charts/chart{}.xml", ["xl/charts/Chart1.xml"])
    'xl/charts/chart2.xml'
    """
    folded = {name.casefold() for name in taken}
    number = 1
    while pattern.format(number).casefold() in folded:
        number += 1
    return pattern.format(number)
