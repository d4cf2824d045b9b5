"""The formulas of a sheet as its part holds them, and the saved values beside them.

The part is read and changed as bytes, so that all of it but those values stays as it was.
"""

import html
import re
from collections.abc import Iterator, Mapping
from dataclasses import replace
from functools import lru_cache
from typing import NamedTuple

from lxml import etree

from estimator.data_class import dataclass
from estimator.workbook.package.parts import parse_xml, xml_bytes
from estimator.workbook.sheet.areas import Area, parse_area

_FORMULA = re.compile(rb"<(?:\w+:)?f[\s>/]")
_ROW = rb"<(?:\w+:)?row(?P<row>\s[^>]*|)>"
_CELL = rb"<(?P<prefix>(?:\w+:)?)c(?P<head>\s[^>]*[^>/]|)>(?P<body>.*?)</(?P=prefix)c>"
_EMPTY = rb"<(?:\w+:)?c(?P<empty>\s[^>]*|)/>"
_PLACED = re.compile(rb"|".join((_ROW, _EMPTY, _CELL)), re.DOTALL)
_REFERENCE = re.compile(rb"\sr=[\"']([A-Z]*)([0-9]{1,7})[\"']")
_F = re.compile(
    rb"<(?P<prefix>(?:\w+:)?)f(?P<head>\s[^>]*?|)(?:/>|>(?P<text>.*?)</(?P=prefix)f>)", re.DOTALL
)
_V = re.compile(rb"<((?:\w+:)?)v(?:\s[^>]*)?(?:/>|>.*?</\1v>)", re.DOTALL)
_TYPE = re.compile(rb"\st=[\"'](\w*)[\"']")
_SHARED = re.compile(rb"\ssi=[\"'](\d+)[\"']")
_REF = re.compile(rb"\sref=[\"']([A-Z0-9:]+)[\"']")
_INPUT_CELLS = re.compile(rb"\sr[12]=[\"']([A-Z]+[0-9]+)[\"']")
_TEXT = r'(?>"(?:[^"]|"")*+")'
_PLAIN = rf'(?:[^()"]|{_TEXT})'
_TEXT_LINK = re.compile(
    rf"\s*HYPERLINK\((?:{_PLAIN}|\({_PLAIN}*+\))+,\s*{_TEXT}\s*\)\s*", re.IGNORECASE
)
"""A link whose last part is a text; what it leads to has no brackets inside brackets."""
_UTF16 = (b"\xff\xfe", b"\xfe\xff")
_DECLARED = re.compile(rb"<\?xml[^>]*encoding=[\"'](?!utf-8|us-ascii)", re.IGNORECASE)

Place = tuple[int, int]


class Saved(NamedTuple):
    """A saved value: the type and the text that a cell of the file holds."""

    kind: str
    text: str


@dataclass(frozen=True)
class FormulaCell:
    """A cell with a formula.

    ``text`` is the formula, of a shared one that of its first cell, which stands ``moved`` rows
    and columns before. ``fills`` are the cells that show its results; None is the cell alone.
    """

    place: Place
    text: str
    moved: Place = (0, 0)
    fills: Area | None = None


def shows_its_own_text(formula: str) -> bool:
    """Return whether a formula shows a text written in it, whatever the cells it looks at.

    >>> shows_its_own_text('HYPERLINK(IF(Bid!A1=1,"#Bid!A1","#Start!A1"),"the bid")')
    True
    """
    return _TEXT_LINK.fullmatch(formula) is not None


def holds_formulas(xml: bytes) -> bool:
    """Return whether a sheet has any formula."""
    return _FORMULA.search(xml) is not None


def readable(xml: bytes, part: str) -> bytes:
    """Return the part in a form that the functions here read; nearly always it is as it was."""
    if b"<!" not in xml and not xml.startswith(_UTF16) and not _DECLARED.match(xml):
        return xml
    root = parse_xml(xml, part)
    etree.strip_tags(root, etree.Comment)
    return xml_bytes(root)


def formula_cells(xml: bytes) -> Iterator[FormulaCell]:
    """Yield every formula of a sheet."""
    shared: dict[bytes, FormulaCell] = {}
    for place, cell in _cells(xml):
        formula = _F.search(cell["body"]) if cell["body"] else None
        if formula is None:
            continue
        text = _text(formula["text"] or b"")
        kind, key = _first(_TYPE, formula["head"]), _first(_SHARED, formula["head"])
        if kind == b"shared" and not text and key in shared:
            yield _same_as(shared[key], place)
            continue
        found = FormulaCell(place, text, fills=_fills(kind, formula["head"]))
        if kind == b"shared":
            shared[key] = found
        if kind == b"dataTable" and found.fills is not None:
            found = replace(found, text=_table_text(found.fills, formula["head"]))
        yield found


@lru_cache(maxsize=4096)
def _text(stored: bytes) -> str:
    """Return a formula as it is read; a column of a table mostly holds one all the way down."""
    return html.unescape(stored.decode("utf-8"))


def _same_as(first: FormulaCell, place: Place) -> FormulaCell:
    moved = (place[0] - first.place[0], place[1] - first.place[1])
    return FormulaCell(place, first.text, moved)


def _fills(kind: bytes, head: bytes) -> Area | None:
    """Return the cells that an array formula or a what-if table shows its results in."""
    return parse_area(_first(_REF, head).decode()) if kind in (b"array", b"dataTable") else None


def _table_text(fills: Area, head: bytes) -> str:
    """Return as a formula what a what-if table looks at: the cells around it and its inputs."""
    around = Area(max(fills.top - 1, 1), max(fills.left - 1, 1), fills.bottom, fills.right)
    return "+".join([around.address, *(cell.decode() for cell in _INPUT_CELLS.findall(head))])


def _first(pattern: re.Pattern[bytes], head: bytes) -> bytes:
    found = pattern.search(head)
    return b"" if found is None else found[1]


def with_saved_values(xml: bytes, values: Mapping[Place, Saved | None]) -> bytes:
    """Return a sheet with the saved values of some cells set, or taken away where None."""
    pieces, end = [], 0
    for place, cell in _cells(xml):
        if place not in values or not cell["body"]:
            continue
        fresh = _with_value(cell, values[place])
        pieces += [xml[end : cell.start()], fresh]
        end = cell.end()
    return b"".join((*pieces, xml[end:]))


def _with_value(cell: re.Match[bytes], value: Saved | None) -> bytes:
    prefix, head, body = cell["prefix"], cell["head"], _V.sub(b"", cell["body"])
    head = _TYPE.sub(b"", head)
    if value is not None:
        head += f' t="{value.kind}"'.encode() if value.kind else b""
        body += b"<%bv>%b</%bv>" % (prefix, value.text.encode("utf-8"), prefix)
    return b"<%bc%b>%b</%bc>" % (prefix, head, body, prefix)


def _cells(xml: bytes) -> Iterator[tuple[Place, re.Match[bytes]]]:
    """Yield each cell with its place; one without it stands after the one before."""
    row = column = 0
    for match in _PLACED.finditer(xml):
        if match["row"] is not None:
            place = _REFERENCE.search(match["row"])
            row, column = int(place[2]) if place else row + 1, 0
            continue
        place = _REFERENCE.search(match["head"] or match["empty"] or b"")
        letters = _column(place[1]) if place else 0
        row, column = (int(place[2]), letters) if place and letters else (row, column + 1)
        yield (row, column), match


@lru_cache(maxsize=1024)
def _column(letters: bytes) -> int:
    """Return the number of a column, 0 where there is none of that name."""
    area = parse_area(f"{letters.decode()}1")
    return area.left if area else 0
