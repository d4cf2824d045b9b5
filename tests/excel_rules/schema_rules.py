"""Attributes and order of elements, by the schema of the file format.

``spreadsheet_elements.csv`` lists what the transitional schema of ECMA-376 Part 4 (sml.xsd)
allows: the attributes of an element, and its children in their order where they have one.
"""

import csv
from pathlib import Path

from lxml import etree

from tests.excel_rules.book import MAIN, local

ROOTS = {"workbook", "worksheet", "styleSheet", "sst", "table", "comments", "calcChain"}
_XML = "{http://www.w3.org/XML/1998/namespace}"
_REL = "{http://schemas.openxmlformats.org/officeDocument/2006/relationships}"
EXTENSIONS = {"ext", "extLst", "AlternateContent"}


def _known():
    path = Path(__file__).parent.parent / "data" / "spreadsheet_elements.csv"
    with path.open(encoding="utf-8", newline="") as file:
        return {row["element"]: _split(row) for row in csv.DictReader(file)}


def _split(row):
    names = (name.replace("xml:", _XML).replace("r:", _REL) for name in row["attributes"].split())
    order = {name: place for place, name in enumerate(row["children"].split())}
    return frozenset(names), order


KNOWN = _known()


def parts_of_the_format(book):
    """Yield the parts that the schema describes, with their roots."""
    for part, root in book.trees.items():
        if etree.QName(root).namespace == MAIN and local(root) in ROOTS:
            yield part, root


def attributes_and_order(book):
    """An attribute or child that the schema does not know there, or children out of order."""
    for part, root in parts_of_the_format(book):
        yield from (f"{part}: {text}" for text in _element(root))


def _element(element):
    name = local(element)
    attributes, order = KNOWN.get(name, (None, {}))
    if attributes is None:
        yield f"element {name} is unknown"
        return
    for key in element.attrib:
        foreign = key.startswith("{") and not key.startswith((_REL, _XML))
        if not foreign and key not in attributes:
            yield f"attribute {key} of {name} is unknown"
    last = -1
    for child in element:
        if not isinstance(child.tag, str) or etree.QName(child).namespace != MAIN:
            continue
        place = order.get(local(child), last if not order else None)
        if place is None:
            yield f"{local(child)} is unknown in {name}"
        elif place < last:
            yield f"{local(child)} stands too late in {name}"
        last = max(last, place or 0)
        if local(child) not in EXTENSIONS:
            yield from _element(child)


def extensions(book):
    """An extension without its address, or with one that its list has already."""
    for part, root in parts_of_the_format(book):
        for parent in root.iter(f"{{{MAIN}}}extLst"):
            addresses = [item.get("uri") for item in parent.iterchildren(f"{{{MAIN}}}ext")]
            if not all(addresses) or len(set(addresses)) < len(addresses):
                yield f"{part}: an extension has no address, or one that is there already"


def counts(book):
    """A count that is not the number of children."""
    for part, root in parts_of_the_format(book):
        for element in root.iter(f"{{{MAIN}}}*"):
            count = element.get("count")
            if count is None or local(element) in ("sst", "scenario", "reference"):
                continue
            children = sum(isinstance(child.tag, str) for child in element)
            if not count.isdigit() or int(count) != children:
                yield f"{part}: {local(element)} counts {count}, holds {children}"


RULES = (attributes_and_order, extensions, counts)
