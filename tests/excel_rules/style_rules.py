"""The style sheet: every index leads to something."""

from collections import Counter

from lxml import etree

from tests.excel_rules.book import MAIN, main

BUILT_IN_FORMATS = 164
MOST_STYLES, LONGEST_FORMAT = 65_490, 255
LOOKS = etree.XPath(
    "//m:*/@*[contains(translate(name(), 'DXFI', 'dxfi'), 'dxfid')]", namespaces={"m": MAIN}
)
"""Attributes that lead to a look, such as ``headerRowDxfId``."""
_LISTS = {"fontId": "fonts", "fillId": "fills", "borderId": "borders"}


def indexes(book):
    """Fonts, fills, borders, number formats and parents of each style."""
    if book.styles is None:
        return
    formats = {item.get("numFmtId") for item in book.styles.iter(main("numFmt"))}
    for kind in ("cellStyleXfs", "cellXfs"):
        for number, xf in enumerate(book.styles.iterfind(f"{main(kind)}/{main('xf')}")):
            for key, where in _LISTS.items():
                if int(xf.get(key, 0)) >= book.count_of_styles(where):
                    yield f"xl/styles.xml: {kind} {number} has {key} {xf.get(key)}, not there"
            code = xf.get("numFmtId", "0")
            if int(code) >= BUILT_IN_FORMATS and code not in formats:
                yield f"xl/styles.xml: {kind} {number} has number format {code}, not there"
            parents = book.count_of_styles("cellStyleXfs")
            if kind == "cellXfs" and int(xf.get("xfId", 0)) >= max(parents, 1):
                yield f"xl/styles.xml: {kind} {number} has parent {xf.get('xfId')}, not there"


def lists(book):
    """Lists that are too long or empty; number formats and names of styles that are there twice."""
    if book.styles is None:
        return
    for name in ("fonts", "fills", "borders", "cellXfs"):
        if not 1 <= book.count_of_styles(name) <= MOST_STYLES:
            yield f"xl/styles.xml: {name} has {book.count_of_styles(name)} entries"
    formats = Counter(item.get("numFmtId") for item in book.styles.iterfind(f"{main('numFmts')}/*"))
    yield from (f"xl/styles.xml: number format {n} twice" for n, c in formats.items() if c > 1)
    for item in book.styles.iter(main("numFmt")):
        if len(item.get("formatCode", "")) > LONGEST_FORMAT:
            yield f"xl/styles.xml: number format {item.get('numFmtId')} is too long"
    styles = list(book.styles.iterfind(f"{main('cellStyles')}/{main('cellStyle')}"))
    for style in styles:
        if int(style.get("xfId", 0)) >= book.count_of_styles("cellStyleXfs"):
            yield f"xl/styles.xml: style {style.get('name')!r} has no look"
    names = Counter(style.get("name", "").casefold() for style in styles)
    yield from (f"xl/styles.xml: style {n!r} twice" for n, c in names.items() if n and c > 1)


def used(book):
    """Styles of cells, rows and columns, and looks of rules and tables, that are not there."""
    cells, looks = book.count_of_styles("cellXfs"), book.count_of_styles("dxfs")
    for sheet in book.sheets:
        for name, key in (("c", "s"), ("row", "s"), ("col", "style")):
            for element in sheet.all(name):
                if int(element.get(key, 0)) >= max(cells, 1):
                    place = element.get("r") or element.get("min")
                    yield f"{sheet.part}: {place} has style {element.get(key)} of {cells}"
        yield from _looks(sheet.part, sheet.root, looks)
    for _, part, root in book.tables:
        yield from _looks(part, root, looks)


def _looks(part, root, count):
    for value in LOOKS(root):
        if int(value) >= count:
            yield f"{part}: look {value} of {count} is not there"


RULES = (indexes, lists, used)
