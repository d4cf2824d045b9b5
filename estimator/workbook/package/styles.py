"""Adds our styles to a workbook's styles.xml: what is there never moves, what fits is reused."""

import re
from collections.abc import Callable
from copy import deepcopy
from typing import Generic, TypeVar

from lxml import etree

from estimator.workbook.package.parts import SHEET_NS, insert_in_order, parse_xml, tag, whole_number
from estimator.workbook.sheet.styles import BORDERS, STYLES, StyleDef, StyleIds

MINIMAL_STYLES = (
    f'<styleSheet xmlns="{SHEET_NS}">'
    '<fonts count="1"><font><sz val="11"/><name val="Calibri"/><family val="2"/></font></fonts>'
    '<fills count="2"><fill><patternFill patternType="none"/></fill>'
    '<fill><patternFill patternType="gray125"/></fill></fills>'
    '<borders count="1"><border><left/><right/><top/><bottom/><diagonal/></border></borders>'
    '<cellStyleXfs count="1"><xf numFmtId="0" fontId="0" fillId="0" borderId="0"/></cellStyleXfs>'
    '<cellXfs count="1"><xf numFmtId="0" fontId="0" fillId="0" borderId="0" xfId="0"/></cellXfs>'
    '<cellStyles count="1"><cellStyle name="Normal" xfId="0" builtinId="0"/></cellStyles>'
    "</styleSheet>"
).encode()
"""A style sheet that holds nothing but what every workbook must have."""

_STYLE_ORDER = (
    "numFmts", "fonts", "fills", "borders", "cellStyleXfs", "cellXfs", "cellStyles", "dxfs",
    "tableStyles", "colors", "extLst",
)  # fmt: skip
_FONT_ORDER = (
    "b", "i", "strike", "condense", "extend", "outline", "shadow", "u", "vertAlign", "sz",
    "color", "name", "rFont", "family", "charset", "scheme",
)  # fmt: skip
_BORDER_SIDES = ("left", "right", "top", "bottom", "diagonal")
_BUILT_IN_FORMATS = {"General": 0, "#,##0": 3, "#,##0.00": 4}
_FIRST_OWN_FORMAT = 164
_PREFIX = re.compile(r' xmlns:\w+="[^"]*"|(?<=<)\w+:|(?<=</)\w+:')

SANS_SERIF = "2"
"""Family of the typeface, in the codes of the format."""

Fingerprint = tuple[object, ...]
Found = TypeVar("Found", int, str)


class OnDemand(dict[str, Found], Generic[Found]):
    """What a workbook has for each style key, looked up or added when it is first asked for."""

    def __init__(self, find: Callable[[str], Found]) -> None:
        super().__init__()
        self._find: Callable[[str], Found] = find

    def __missing__(self, key: str) -> Found:
        self[key] = self._find(key)
        return self[key]


class StyleSheet:
    """The style sheet of a workbook; looking up a style adds it where it is missing.

    Parameters
    ----------
    root : element
        Root of styles.xml, which is changed in place.
    """

    def __init__(self, root: etree._Element) -> None:
        self._root = root
        self._fonts = _Shelf(root, "fonts")
        self._fills = _Shelf(root, "fills")
        self._borders = _Shelf(root, "borders")
        self._normals = _Shelf(root, "cellStyleXfs")
        self._formats = _Shelf(root, "cellXfs")
        self._normal_id = self._find_normal()
        font = whole_number(self._normals.items[self._normal_id], "fontId", 0)
        self._normal_font = font if font < len(self._fonts.items) else 0

    def ids(self) -> StyleIds:
        """Return the ids of all styles, each added when it is first used."""
        return StyleIds(
            cells=OnDemand(lambda key: self._cell_id(STYLES[key], quoted=False)),
            quoted=OnDemand(lambda key: self._cell_id(STYLES[key], quoted=True)),
            rules=OnDemand(lambda key: self._rule_id(STYLES[key])),
            runs=OnDemand(lambda key: self._run(STYLES[key])),
        )

    def quoted_like(self, index: int) -> int:
        """Return the format of cells like those of another, whose text is never a formula."""
        if index >= len(self._formats.items):
            return index
        quoted = deepcopy(self._formats.items[index])
        quoted.set("quotePrefix", "1")
        return self._formats.index_of(quoted)

    def wraps(self, index: int) -> bool:
        """Return whether a format of cells breaks long text into lines."""
        if index >= len(self._formats.items):
            return False
        alignment = self._formats.items[index].find(tag("alignment"))
        return alignment is not None and alignment.get("wrapText") in ("1", "true")

    def _find_normal(self) -> int:
        for style in self._root.iter(tag("cellStyle")):
            if style.get("builtinId") == "0":
                index = whole_number(style, "xfId", 0)
                return index if index < len(self._normals.items) else 0
        return 0

    def _cell_id(self, style: StyleDef, *, quoted: bool) -> int:
        parts = {
            "numFmtId": (self._number_format_id(style.number_format), "applyNumberFormat"),
            "fontId": (self._font_id(style), "applyFont"),
            "fillId": (self._fill_id(style), "applyFill"),
            "borderId": (self._border_id(style), "applyBorder"),
        }
        cell_format = etree.Element(tag("xf"))
        for name, (index, _) in parts.items():
            cell_format.set(name, str(index))
        cell_format.set("xfId", str(self._normal_id))
        if quoted:
            cell_format.set("quotePrefix", "1")
        for index, applied in parts.values():
            if index:
                cell_format.set(applied, "1")
        cell_format.set("applyAlignment", "1")
        cell_format.append(_alignment(style))
        return self._formats.index_of(cell_format)

    def _rule_id(self, style: StyleDef) -> int:
        rule = etree.Element(tag("dxf"))
        font = etree.SubElement(rule, tag("font"))
        if style.bold:
            etree.SubElement(font, tag("b"))
        if style.font_color:
            _child(font, "color", rgb=f"FF{style.font_color}")
        if not len(font):
            rule.remove(font)
        if style.fill:
            pattern = etree.SubElement(etree.SubElement(rule, tag("fill")), tag("patternFill"))
            _child(pattern, "bgColor", rgb=f"FF{style.fill}")
        if style.border == "box":
            rule.append(_border(style))
        return _Shelf(self._root, "dxfs").index_of(rule)

    def _number_format_id(self, code: str) -> int:
        if code in _BUILT_IN_FORMATS:
            return _BUILT_IN_FORMATS[code]
        for item in self._root.iterfind(f"{tag('numFmts')}/{tag('numFmt')}"):
            if item.get("formatCode", "").replace("\\ ", " ") == code:
                return whole_number(item, "numFmtId", 0)
        formats_of_rules_too = self._root.iter(tag("numFmt"))
        used = [whole_number(item, "numFmtId", 0) for item in formats_of_rules_too]
        number = max([_FIRST_OWN_FORMAT - 1, *used]) + 1
        fresh = etree.Element(tag("numFmt"))
        fresh.set("numFmtId", str(number))
        fresh.set("formatCode", code)
        _Shelf(self._root, "numFmts").index_of(fresh)
        return number

    def _font_id(self, style: StyleDef) -> int:
        font = etree.Element(tag("font"))
        font.extend(self._font_children(style, "name"))
        return self._fonts.index_of(font)

    def _font_children(self, style: StyleDef, name_tag: str) -> list[etree._Element]:
        """Return what makes a font, in the order of the format; the color may be the normal one."""
        normal = self._fonts.items[self._normal_font].find(tag("color"))
        children = {"sz": _child(None, "sz", val=f"{style.font_size:g}")}
        for name, wanted in (("b", style.bold), ("i", style.italic), ("u", style.underline)):
            if wanted:
                children[name] = etree.Element(tag(name))
        if style.font_color:
            children["color"] = _child(None, "color", rgb=f"FF{style.font_color}")
        elif normal is not None:
            children["color"] = deepcopy(normal)
        children[name_tag] = _child(None, name_tag, val=style.font_name)
        children["family"] = _child(None, "family", val=SANS_SERIF)
        return [children[name] for name in _FONT_ORDER if name in children]

    def _run(self, style: StyleDef) -> str:
        """Return the properties of a part of a text."""
        run = etree.Element(tag("rPr"))
        run.extend(self._font_children(style, "rFont"))
        return _PREFIX.sub("", etree.tostring(run, encoding="unicode"))

    def _fill_id(self, style: StyleDef) -> int:
        if not style.fill:
            return 0
        fill = etree.Element(tag("fill"))
        pattern = _child(fill, "patternFill", patternType="solid")
        _child(pattern, "fgColor", rgb=f"FF{style.fill}")
        _child(pattern, "bgColor", indexed="64")
        return self._fills.index_of(fill)

    def _border_id(self, style: StyleDef) -> int:
        if not style.border:
            return 0
        return self._borders.index_of(_border(style))


class _Shelf:
    """One list of the style sheet, such as the fonts; equal entries are stored once."""

    def __init__(self, root: etree._Element, name: str) -> None:
        found = root.find(tag(name))
        if found is None or not len(found):
            found = _new_list(root, found, name)
        self._list = found
        self.items = list(found.iterchildren(tag("*")))
        self._known: dict[Fingerprint, int] = {}
        for index, item in enumerate(self.items):
            self._known.setdefault(_fingerprint(item), index)

    def index_of(self, item: etree._Element) -> int:
        """Return the index of an equal entry, appending the item if there is none."""
        fingerprint = _fingerprint(item)
        if fingerprint not in self._known:
            self._known[fingerprint] = len(self.items)
            self.items.append(item)
            self._list.append(item)
            self._list.set("count", str(len(self.items)))
        return self._known[fingerprint]


def _new_list(root: etree._Element, empty: etree._Element | None, name: str) -> etree._Element:
    if empty is not None:
        root.remove(empty)
    model = parse_xml(MINIMAL_STYLES, "styles").find(tag(name))
    fresh = etree.Element(tag(name)) if model is None else model
    insert_in_order(root, fresh, _STYLE_ORDER)
    return fresh


def _fingerprint(element: etree._Element) -> Fingerprint:
    children = tuple(_fingerprint(child) for child in element)
    return element.tag, frozenset(element.attrib.items()), children


def _child(parent: etree._Element | None, name: str, **attributes: str) -> etree._Element:
    if parent is None:
        return etree.Element(tag(name), attributes)
    return etree.SubElement(parent, tag(name), attributes)


def _border(style: StyleDef) -> etree._Element:
    border = etree.Element(tag("border"))
    lines = BORDERS[style.border]
    for side in _BORDER_SIDES:
        element = etree.SubElement(border, tag(side))
        if side in lines:
            line, color = lines[side]
            element.set("style", line)
            _child(element, "color", rgb=f"FF{color}")
    return border


def _alignment(style: StyleDef) -> etree._Element:
    alignment = etree.Element(tag("alignment"))
    if style.align:
        alignment.set("horizontal", style.align)
    if style.vertical != "bottom":
        alignment.set("vertical", style.vertical)
    if style.wrap:
        alignment.set("wrapText", "1")
    if style.shrink:
        alignment.set("shrinkToFit", "1")
    if style.indent:
        alignment.set("indent", str(style.indent))
    return alignment
