"""Attributes and order of elements, by the schema of the file format.

``spreadsheet_elements.csv`` lists what the transitional schema of ECMA-376 Part 4 (sml.xsd)
allows: the attributes of an element, and its children in their order where they have one.
"""

import csv
import functools
from pathlib import Path

from lxml import etree

from tests.excel_rules.book import MAIN, local

ROOTS = {"workbook", "worksheet", "styleSheet", "sst", "table", "comments", "calcChain"}
_XML = "{http://www.w3.org/XML/1998/namespace}"
_REL = "{http://schemas.openxmlformats.org/officeDocument/2006/relationships}"
WITH_COUNT = etree.XPath("//m:*[@count]", namespaces={"m": MAIN})
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
        elements = [root]
        while elements:
            element = elements.pop()
            children = [child for child in element if isinstance(child.tag, str)]
            shape = element.tag, tuple(element.attrib), tuple(child.tag for child in children)
            found, inside = _faults_of(*shape)
            yield from (f"{part}: {text}" for text in found)
            elements += [child for child in children if child.tag in inside]


@functools.cache
def _faults_of(tag, keys, children):
    """Return what is wrong with all elements of a shape, and which children to look into."""
    name = _name(tag)
    attributes, order = KNOWN.get(name, (None, {}))
    if attributes is None:
        return [f"element {name} is unknown"], frozenset()
    ours = [key for key in keys if not key.startswith("{") or key.startswith((_REL, _XML))]
    found = [f"attribute {key} of {name} is unknown" for key in ours if key not in attributes]
    inside = frozenset(child for child in children if etree.QName(child).namespace == MAIN)
    last = -1
    for child in map(_name, filter(inside.__contains__, children)):
        place = order.get(child, last if not order else None)
        if place is None:
            found.append(f"{child} is unknown in {name}")
        elif place < last:
            found.append(f"{child} stands too late in {name}")
        last = max(last, place or 0)
    return found, frozenset(child for child in inside if _name(child) not in EXTENSIONS)


def _name(tag):
    return tag.rpartition("}")[2]


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
        for element in WITH_COUNT(root):
            count = element.get("count")
            if local(element) in ("sst", "scenario", "reference"):
                continue
            children = sum(isinstance(child.tag, str) for child in element)
            if not count.isdigit() or int(count) != children:
                yield f"{part}: {local(element)} counts {count}, holds {children}"


RULES = (attributes_and_order, extensions, counts)
