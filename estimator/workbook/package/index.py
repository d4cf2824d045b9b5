"""What a workbook file says that it holds: its workbook part, sheets and tables."""

from collections.abc import Iterator

from lxml import etree

from estimator.data_class import dataclass
from estimator.errors import WorkbookError
from estimator.workbook.package.parts import (
    CONTENT_TYPES,
    REL_NS,
    SHEET_NS,
    STRICT_NS,
    content_type,
    parse_xml,
    read_relationships,
    tag,
    unescape,
    whole_number,
)
from estimator.workbook.package.zip_file import ZipMembers


@dataclass(frozen=True)
class SheetEntry:
    """One sheet in the workbook's list.

    ``state`` is ``visible``, ``hidden`` or ``veryHidden``; ``kind`` is ``worksheet``,
    ``chartsheet``, ``dialogsheet`` or a macro sheet's.
    """

    name: str
    sheet_id: int
    rel_id: str
    part: str
    state: str
    kind: str


@dataclass(frozen=True)
class TableEntry:
    """One table of a sheet; ``ref`` covers header and total rows, ``name`` is for formulas.

    ``number`` is its id, used once in the workbook.
    """

    number: int
    name: str
    sheet: str
    ref: str
    header_row_count: int
    totals_row_count: int
    columns: tuple[str, ...]


def find_workbook(members: ZipMembers) -> tuple[str, etree._Element]:
    """Return the name of the workbook part and its root.

    Raises
    ------
    WorkbookError
        If there is none, or it is of a form that this program does not know.
    """
    links = read_relationships(members, "")
    part = next((link.target for link in links if link.kind == "officeDocument"), None)
    if part is None or members.actual_name(part) is None:
        raise WorkbookError("The file is not an .xlsx or .xlsm workbook: it holds no workbook part")
    if "binary" in content_type(parse_xml(members.read(CONTENT_TYPES), CONTENT_TYPES), part):
        raise WorkbookError("The file is a binary workbook. Save it as .xlsx or .xlsm")
    root = parse_xml(members.read(part), part)
    if etree.QName(root).namespace == f"{STRICT_NS}spreadsheetml/main":
        raise WorkbookError(
            "The file is a Strict Open XML workbook. Save it as a regular Excel Workbook (.xlsx)"
        )
    if root.tag != tag("workbook", SHEET_NS):
        raise WorkbookError("The file is not an .xlsx or .xlsm workbook: it holds no workbook part")
    return part, root


def list_sheets(
    members: ZipMembers, workbook_part: str, workbook: etree._Element
) -> Iterator[SheetEntry]:
    """Yield the sheets of a workbook in their order.

    Raises
    ------
    WorkbookError
        If a sheet has no part, or there is no sheet at all.
    """
    links = {link.rel_id: link for link in read_relationships(members, workbook_part)}
    elements = workbook.findall(f"{tag('sheets')}/{tag('sheet')}")
    if not elements:
        raise WorkbookError("The file is damaged: its workbook lists no sheets")
    for element in elements:
        name = element.get("name", "")
        link = links.get(element.get(tag("id", REL_NS), ""))
        if link is None or members.actual_name(link.target) is None:
            raise WorkbookError(f"The file is damaged: sheet {name!r} has no part")
        yield SheetEntry(
            name=name,
            sheet_id=whole_number(element, "sheetId", 0),
            rel_id=link.rel_id,
            part=link.target,
            state=element.get("state", "visible"),
            kind=link.kind,
        )


def list_tables(members: ZipMembers, sheet: SheetEntry) -> Iterator[TableEntry]:
    """Yield the tables of a sheet."""
    for link in read_relationships(members, sheet.part):
        if link.kind != "table":
            continue
        root = parse_xml(members.read(link.target), link.target)
        columns = root.iterfind(f"{tag('tableColumns')}/{tag('tableColumn')}")
        yield TableEntry(
            number=whole_number(root, "id", 0),
            name=root.get("displayName", ""),
            sheet=sheet.name,
            ref=root.get("ref", ""),
            header_row_count=whole_number(root, "headerRowCount", 1),
            totals_row_count=whole_number(root, "totalsRowCount", 0),
            columns=tuple(unescape(column.get("name", "")) for column in columns),
        )
