"""What the reader of values cannot take: made readable, or the cell named that it refuses."""

import re
from collections.abc import Iterator

from lxml import etree

from estimator.workbook.package.parts import parse_xml, xml_bytes

KNOWN_ERRORS = frozenset(
    {"#NULL!", "#DIV/0!", "#VALUE!", "#REF!", "#NAME?", "#NUM!", "#N/A", "#GETTING_DATA"}
)
"""Error values of every version; newer programs have more, such as #SPILL!."""
STAND_IN = "#N/A"
TYPES = frozenset({"b", "d", "e", "inlineStr", "n", "s", "str"})
TRUE_OR_FALSE = frozenset({"", "0", "1", "true", "false"})


_COUNT = re.compile(rb'\s(?:uniqueC|c)ount="[0-9]*"')
_HEAD = 2000
_SHORTEST_TEXT = len("<si/>")


def without_count(xml: bytes) -> bytes:
    """Return a part of shared texts without its number of them where that cannot be true.

    The reader takes memory for as many texts as are declared, and ends the process if there is not
    enough.
    """
    declared = [int(found[0].split(b'"')[1][:18] or 0) for found in _COUNT.finditer(xml[:_HEAD])]
    if max(declared, default=0) * _SHORTEST_TEXT <= len(xml):
        return xml
    return _COUNT.sub(b"", xml[:_HEAD]) + xml[_HEAD:]


def with_known_errors(xml: bytes, part: str) -> bytes:
    """Return a sheet with a usual error value for each that only newer programs know."""
    root = parse_xml(xml, part)
    for cell in root.iter("{*}c"):
        value = cell.find("{*}v")
        if cell.get("t") == "e" and value is not None and value.text not in KNOWN_ERRORS:
            value.text = STAND_IN
    return xml_bytes(root)


def refused_cells(xml: bytes, part: str, texts: int) -> Iterator[str]:
    """Yield the addresses of cells that say something the file format does not have.

    ``texts`` is the number of shared texts of the workbook.
    """
    for cell in parse_xml(xml, part).iter("{*}c"):
        kind, value = cell.get("t", "n"), (cell.findtext("{*}v") or "").strip()
        known = kind in TYPES
        if kind == "s":
            known = not value or (value.isdecimal() and int(value[:10]) < texts)
        elif kind == "b":
            known = value in TRUE_OR_FALSE
        if not known:
            yield cell.get("r", "")


def count_of_texts(xml: bytes, part: str) -> int:
    """Return how many texts a part of shared texts holds."""
    return sum(1 for child in parse_xml(xml, part) if etree.QName(child).localname == "si")
