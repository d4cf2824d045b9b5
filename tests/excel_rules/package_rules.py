"""The package: its members, their types and how they lead to each other."""

import posixpath
from collections import Counter

from lxml import etree

from tests.excel_rules.book import REL

_OFFICE = "application/vnd.openxmlformats-officedocument."
_SHEET = f"{_OFFICE}spreadsheetml."
IDS = etree.XPath("//@r:*", namespaces={"r": REL})
TYPES = {
    "worksheet": f"{_SHEET}worksheet+xml",
    "chartsheet": f"{_SHEET}chartsheet+xml",
    "styles": f"{_SHEET}styles+xml",
    "sharedStrings": f"{_SHEET}sharedStrings+xml",
    "table": f"{_SHEET}table+xml",
    "comments": f"{_SHEET}comments+xml",
    "calcChain": f"{_SHEET}calcChain+xml",
    "pivotTable": f"{_SHEET}pivotTable+xml",
    "externalLink": f"{_SHEET}externalLink+xml",
    "drawing": f"{_OFFICE}drawing+xml",
    "chart": f"{_OFFICE}drawingml.chart+xml",
    "theme": f"{_OFFICE}theme+xml",
    "vmlDrawing": f"{_OFFICE}vmlDrawing",
    "vbaProject": "application/vnd.ms-office.vbaProject",
}
"""Content type of a part by the last word of the relationship that leads to it."""
PLAIN, WITH_MACROS = (
    f"{_SHEET}sheet.main+xml",
    "application/vnd.ms-excel.sheet.macroEnabled.main+xml",
)
BOOKS = {
    PLAIN, WITH_MACROS, f"{_SHEET}template.main+xml",
    "application/vnd.ms-excel.addin.macroEnabled.main+xml",
    "application/vnd.ms-excel.template.macroEnabled.main+xml",
}  # fmt: skip
CONTENT_TYPES = "[Content_Types].xml"


def members_twice(book):
    """Two members of one name, in any case."""
    for name, count in Counter(name.casefold() for name in book.names).items():
        if count > 1:
            yield f"{name}: is there {count} times"


def parts_without_type(book):
    """A part of no type, a type given twice, a type of a part that is not there."""
    root = book.trees[CONTENT_TYPES]
    keys = [(item.get("PartName") or item.get("Extension", "")).casefold() for item in root]
    for key, count in Counter(keys).items():
        if count > 1:
            yield f"{CONTENT_TYPES}: {key} has a type {count} times"
        if key.startswith("/") and book.actual(key[1:]) is None:
            yield f"{CONTENT_TYPES}: {key} is not there"
    for name in book.names:
        if name != CONTENT_TYPES and not name.endswith("/") and not _type_of(book, name):
            yield f"{name}: has no content type"


def wrong_types(book):
    """A part of another type than what leads to it needs."""
    for part in _sources(book):
        for link in book.links(part).values():
            target, wanted = book.actual(link.target), TYPES.get(link.kind)
            if not link.outside and target and wanted and _type_of(book, target) != wanted:
                yield f"{target}: content type {_type_of(book, target)}, wanted {wanted}"
    kind = _type_of(book, book.workbook_part)
    if kind not in BOOKS:
        yield f"{book.workbook_part}: content type {kind} is no workbook"
    if book.linked(book.workbook_part, "vbaProject") and kind == PLAIN:
        yield f"{book.workbook_part}: holds macros but is typed as a workbook without"


def broken_links(book):
    """A relationship that leads nowhere, has an id twice, or belongs to no part."""
    for name in book.names:
        if not name.endswith(".rels"):
            continue
        ids = Counter(item.get("Id") for item in book.trees[name])
        yield from (f"{name}: id {key} is there {n} times" for key, n in ids.items() if n > 1)
        part = _source_of(name)
        if part and book.actual(part) is None:
            yield f"{name}: belongs to no part"
        for key, link in book.links(part).items():
            if not link.outside and book.actual(link.target) is None and link.target:
                yield f"{name}: {key} leads to {link.target}, which is not there"


def unknown_ids(book):
    """An id of a relationship that a part names but does not have."""
    for part, root in book.trees.items():
        links = book.links(part)
        for value in IDS(root):
            if value and value not in links:
                yield f"{part}: relationship {value} is not there"


def _sources(book):
    return [_source_of(name) for name in book.names if name.endswith(".rels")]


def _source_of(name):
    folder, file = posixpath.split(name)
    return posixpath.join(posixpath.dirname(folder), file.removesuffix(".rels"))


def _type_of(book, part):
    root = book.trees[CONTENT_TYPES]
    extension = part.rpartition(".")[2].casefold()
    by_extension = ""
    for item in root:
        if item.get("PartName", "").casefold() == f"/{part}".casefold():
            return item.get("ContentType")
        if item.get("Extension", "-").casefold() == extension:
            by_extension = item.get("ContentType")
    return by_extension


RULES = (members_twice, parts_without_type, wrong_types, broken_links, unknown_ids)
