"""Drawings, charts, remarks and the old drawings that hold remarks and buttons."""

from collections import Counter

from lxml import etree

from tests.excel_rules.book import LAST_COLUMN, LAST_ROW, cell_at, local, main
from tests.excel_rules.formulas import faults_in

_DRAWING = "http://schemas.openxmlformats.org/drawingml/2006"
PLACED, CHART, TEXT = (f"{{{_DRAWING}/{name}}}" for name in ("spreadsheetDrawing", "chart", "main"))
FALLBACK = "{http://schemas.openxmlformats.org/markup-compatibility/2006}Fallback"
EXCEL = "{urn:schemas-microsoft-com:office:excel}"
ANCHOR_NUMBERS = 8
AXES = {"pieChart": 0, "doughnutChart": 0, "ofPieChart": 0}
AXES_3D = {"surfaceChart", "surface3DChart", "bar3DChart", "line3DChart", "area3DChart"}


def drawings(book):
    """Anchors that run backwards, sizes below zero, ids of shapes that are there twice."""
    for part, root in book.trees.items():
        if root.tag != f"{PLACED}wsDr":
            continue
        for anchor in root.iterchildren(f"{PLACED}twoCellAnchor"):
            corners = [_corner(anchor.find(f"{PLACED}{name}")) for name in ("from", "to")]
            if None in corners or corners[1][0] < corners[0][0] or corners[1][1] < corners[0][1]:
                yield f"{part}: anchor from {corners[0]} to {corners[1]}"
        for extent in (*root.iter(f"{PLACED}ext"), *root.iter(f"{TEXT}ext")):
            sizes = [extent.get("cx"), extent.get("cy")]
            if extent.get("uri") is None and not all((s or "-").isdigit() for s in sizes):
                yield f"{part}: size {sizes}"
        ids = Counter(
            shape.get("id")
            for shape in root.iter(f"{PLACED}cNvPr")
            if not any(parent.tag == FALLBACK for parent in shape.iterancestors())
        )
        yield from (f"{part}: shape id {key} twice" for key, count in ids.items() if count > 1)


def _corner(element):
    if element is None:
        return None
    numbers = [int(element.findtext(f"{PLACED}{name}", "-1")) for name in ("col", "row")]
    inside = 0 <= numbers[0] < LAST_COLUMN and 0 <= numbers[1] < LAST_ROW
    return tuple(numbers) if inside else None


def charts(book):
    """Charts: ranges, stored values, series that are there twice, axes that do not meet."""
    for part, root in book.trees.items():
        if root.tag == f"{CHART}chartSpace":
            yield from (f"{part}: {fault}" for fault in _chart(root, book))


def _chart(root, book):
    for formula in root.iter(f"{CHART}f"):
        yield from faults_in(formula.text or "", book)
    for points in root.iter(f"{CHART}ptCount"):
        places = [int(p.get("idx")) for p in points.itersiblings(f"{CHART}pt")]
        if len(set(places)) < len(places) or max(places, default=-1) >= int(points.get("val")):
            yield f"{len(places)} stored values, counted {points.get('val')}"
    for name in ("idx", "order"):
        numbers = Counter(s.find(f"{CHART}{name}").get("val") for s in root.iter(f"{CHART}ser"))
        yield from (f"series {name} {n} twice" for n, count in numbers.items() if count > 1)
    yield from _axes(root)


def _axes(root):
    area = root.find(f"{CHART}chart/{CHART}plotArea")
    if area is None:
        yield "has no plot area"
        return
    axes = {
        axis.find(f"{CHART}axId").get("val"): axis for axis in area if local(axis).endswith("Ax")
    }
    for axis in axes.values():
        crossed = axis.find(f"{CHART}crossAx")
        if crossed is None or crossed.get("val") not in axes:
            yield f"{local(axis)} crosses an axis that is not there"
    for plot in area:
        if not local(plot).endswith("Chart"):
            continue
        ids = [item.get("val") for item in plot.iterchildren(f"{CHART}axId")]
        wanted = {AXES.get(local(plot), 2), 3 if local(plot) in AXES_3D else 2} - {None}
        if any(i not in axes for i in ids) or (len(ids) not in wanted and local(plot) not in AXES):
            yield f"{local(plot)} has the axes {ids}, there are {sorted(axes)}"


def remarks(book):
    """Remarks on cells: twice, by nobody, or without the shape that shows them."""
    for sheet in book.sheets:
        for part in book.linked(sheet.part, "comments"):
            root = book.trees[part]
            authors = len(root.findall(f"{main('authors')}/{main('author')}"))
            found = list(root.iter(main("comment")))
            cells = Counter(remark.get("ref") for remark in found)
            for cell, count in cells.items():
                if count > 1 or cell_at(cell) is None:
                    yield f"{part}: {cell} has {count} remarks, or is no cell"
            if any(int(remark.get("authorId", 0)) >= authors for remark in found):
                yield f"{part}: a remark is by an author who is not there"
            shown = {cell for _, cell in _notes(book, sheet)}
            for cell in cells:
                if cell_at(cell) not in shown:
                    yield f"{part}: the remark on {cell} has no shape"


def old_drawings(book):
    """Shapes of the old drawings whose anchor is none."""
    for sheet in book.sheets:
        for part in book.linked(sheet.part, "vmlDrawing"):
            for data in _old(book, part).iter(f"{EXCEL}ClientData"):
                text = data.findtext(f"{EXCEL}Anchor")
                if text is not None and not _is_anchor(text):
                    yield f"{part}: anchor {text.strip()!r}"


def _is_anchor(text):
    try:
        numbers = [int(number) for number in text.split(",")]
    except ValueError:
        return False
    if len(numbers) != ANCHOR_NUMBERS or min(numbers[0::2]) < 0:
        return False
    left, top, right, bottom = numbers[0::2]
    return left <= right < LAST_COLUMN and top <= bottom < LAST_ROW


def _notes(book, sheet):
    for part in book.linked(sheet.part, "vmlDrawing"):
        for data in _old(book, part).iter(f"{EXCEL}ClientData"):
            if data.get("ObjectType") == "Note":
                row, column = (int(data.findtext(f"{EXCEL}{n}", "-1")) for n in ("Row", "Column"))
                yield data, (row + 1, column + 1)


def _old(book, part):
    """Return the root of an old drawing; Excel itself writes some that are not well-formed."""
    return etree.fromstring(book.zip.read(part), etree.XMLParser(recover=True))


RULES = (drawings, charts, remarks, old_drawings)
