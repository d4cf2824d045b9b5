"""What stands around the cells of a sheet: merges, validations, looks, links, view, page."""

from collections import Counter

from tests.excel_rules.book import REL, area_at, areas_of, cell_at, main
from tests.excel_rules.formulas import faults_in, sheets_in

LONGEST = {"error": 225, "errorTitle": 32, "prompt": 255, "promptTitle": 32}
"""Letters of a validation's texts. The error text may have 225 by Excel's documentation, where
the schema says 255."""
LONGEST_LIST, MOST_LINKS, LONGEST_LINK, LONGEST_TOOLTIP = 255, 65_530, 2_079, 255
LONGEST_FOOTER = 255
FORMULAS = {"list": 1, "custom": 1, "none": 0}
RULE_KINDS = {
    "expression", "cellIs", "colorScale", "dataBar", "iconSet", "top10", "uniqueValues",
    "duplicateValues", "containsText", "notContainsText", "beginsWith", "endsWith",
    "containsBlanks", "notContainsBlanks", "containsErrors", "notContainsErrors", "timePeriod",
    "aboveAverage",
}  # fmt: skip
PANES = {"topLeft"}


def merges(book):
    """Merged ranges of one cell, or that overlap each other or a table."""
    for sheet in book.sheets:
        seen = [area_at(root.get("ref", "")) for owner, _, root in book.tables if owner == sheet]
        for merge in sheet.all("mergeCell"):
            area = area_at(merge.get("ref", ""))
            single = area and (area.top, area.left) == (area.bottom, area.right)
            if area is None or single or any(other and area.meets(other) for other in seen):
                yield f"{sheet.part}: merged range {merge.get('ref')} overlaps, or is one cell"
            seen.append(area)


def validations(book):
    """Texts, lists and formulas of validations."""
    for sheet in book.sheets:
        for item in sheet.all("dataValidation"):
            place = f"{sheet.part}: validation of {item.get('sqref')}"
            yield from (f"{place}: {fault}" for fault in _validation(item, book))


def _validation(item, book):
    if not areas_of(item.get("sqref")) or None in areas_of(item.get("sqref")):
        yield "its cells are no ranges"
    for key, most in LONGEST.items():
        if len(item.get(key, "")) > most:
            yield f"{key} of {len(item.get(key))} letters, most {most}"
    formulas = [item.findtext(main(name)) for name in ("formula1", "formula2")]
    kind = item.get("type", "none")
    wanted = FORMULAS.get(kind, 2 if item.get("operator", "between").endswith("etween") else 1)
    if sum(map(bool, formulas)) < wanted:
        yield f"kind {kind} needs {wanted} formulas"
    for formula in filter(None, formulas):
        if kind == "list" and formula.startswith('"') and len(formula) - 2 > LONGEST_LIST:
            yield f"list of {len(formula) - 2} letters, most {LONGEST_LIST}"
        yield from faults_in(formula, book)


def conditional_looks(book):
    """Rules of conditional looks: cells, kind, rank, formulas, parts of bars and scales."""
    for sheet in book.sheets:
        for block in sheet.all("conditionalFormatting"):
            place = f"{sheet.part}: look of {block.get('sqref')}"
            if not areas_of(block.get("sqref")) or None in areas_of(block.get("sqref")):
                yield f"{place}: its cells are no ranges"
            for rule in block.iterchildren(main("cfRule")):
                yield from (f"{place}: {fault}" for fault in _rule(rule, book))


def _rule(rule, book):
    kind = rule.get("type")
    if kind not in RULE_KINDS:
        yield f"kind {kind!r} is unknown"
    if int(rule.get("priority", 0)) < 1:
        yield f"priority {rule.get('priority')}"
    formulas = [formula.text or "" for formula in rule.findall(main("formula"))]
    if kind in ("expression", "cellIs") and not formulas:
        yield "has no formula"
    for formula in formulas:
        yield from faults_in(formula, book)
        if sheets_in(formula):
            yield f"refers to another sheet: {formula}"
    for name, least in (("dataBar", 2), ("colorScale", 2), ("iconSet", 3)):
        for element in rule.iterchildren(main(name)):
            points = len(element.findall(main("cfvo")))
            colors = len(element.findall(main("color")))
            if points < least or (name == "colorScale" and colors != points):
                yield f"{name} of {points} points and {colors} colors"


def links(book):
    """Hyperlinks that lead nowhere or are too long."""
    for sheet in book.sheets:
        found = list(sheet.all("hyperlink"))
        if len(found) > MOST_LINKS:
            yield f"{sheet.part}: {len(found)} hyperlinks, most {MOST_LINKS}"
        targets = book.links(sheet.part)
        for link in found:
            for fault in _link(link, targets.get(link.get(f"{{{REL}}}id")), book):
                yield f"{sheet.part}: link of {link.get('ref')}: {fault}"


def _link(link, target, book):
    location = link.get("location", "")
    if area_at(link.get("ref", "")) is None:
        yield "its cell is none"
    if not location and target is None:
        yield "leads nowhere"
    if target is None and any(s.casefold() not in book.sheet_names for s in sheets_in(location)):
        yield f"leads to {location}, which is not there"
    if len(location) + len(target.target if target else "") > LONGEST_LINK:
        yield f"is longer than {LONGEST_LINK} letters"
    if len(link.get("tooltip", "")) > LONGEST_TOOLTIP:
        yield f"has a tip longer than {LONGEST_TOOLTIP} letters"


def views(book):
    """Panes without a corner, selections in a pane that is not there, zoom, two sheets chosen."""
    chosen = 0
    for sheet in book.sheets:
        for view in sheet.all("sheetView"):
            chosen += view.get("tabSelected") in ("1", "true")
            panes = view.findall(main("pane"))
            for pane in panes:
                corner = cell_at(pane.get("topLeftCell", "A1"))
                if corner is None or not (pane.get("xSplit") or pane.get("ySplit")):
                    yield f"{sheet.part}: pane at {pane.get('topLeftCell')} is no split"
            for selection in view.findall(main("selection")):
                if selection.get("pane", "topLeft") not in _panes(panes):
                    yield f"{sheet.part}: selection in pane {selection.get('pane')}, not there"
            if not 10 <= int(view.get("zoomScale", 100)) <= 400:
                yield f"{sheet.part}: zoom {view.get('zoomScale')}"
    if chosen > 1:
        yield f"{book.workbook_part}: {chosen} sheets are chosen together"


def _panes(panes):
    across = any(float(pane.get("xSplit", 0)) for pane in panes)
    down = any(float(pane.get("ySplit", 0)) for pane in panes)
    named = {"topRight": across, "bottomLeft": down, "bottomRight": across and down}
    return PANES | {name for name, there in named.items() if there}


def pages(book):
    """Header, footer and scale of printed pages."""
    for sheet in book.sheets:
        for part in sheet.root.iterfind(f"{main('headerFooter')}/*"):
            if len(part.text or "") > LONGEST_FOOTER:
                yield f"{sheet.part}: header or footer longer than {LONGEST_FOOTER} letters"
        for setup in sheet.all("pageSetup"):
            if not 10 <= int(setup.get("scale", 100)) <= 400:
                yield f"{sheet.part}: printed at {setup.get('scale')} percent"


def filters(book):
    """Filters over a table, of a column that they do not have, or other than their name says."""
    hidden = {
        element.get("localSheetId"): (element.text or "").rpartition("!")[2].replace("$", "")
        for element in book.defined_names
        if element.get("name", "").casefold() == "_xlnm._filterdatabase"
    }
    for sheet in book.sheets:
        element = sheet.root.find(main("autoFilter"))
        if element is None:
            continue
        area = area_at(element.get("ref", ""))
        tables = [area_at(root.get("ref", "")) for owner, _, root in book.tables if owner == sheet]
        if area is None or any(other and area.meets(other) for other in tables):
            yield f"{sheet.part}: filter {element.get('ref')} is no range, or meets a table"
            continue
        for column in element.iterchildren(main("filterColumn")):
            if int(column.get("colId", 0)) > area.right - area.left:
                yield f"{sheet.part}: filter of column {column.get('colId')}, outside its range"
        if hidden.get(str(sheet.index), element.get("ref")) != element.get("ref"):
            yield f"{sheet.part}: filter {element.get('ref')} and its name differ"


def table_parts(book):
    """Tables that a sheet lists without owning them, or owns without listing them."""
    for sheet in book.sheets:
        listed = Counter(part.get(f"{{{REL}}}id") for part in sheet.all("tablePart"))
        owned = {key for key, link in book.links(sheet.part).items() if link.kind == "table"}
        if set(listed) != owned or any(count > 1 for count in listed.values()):
            yield f"{sheet.part}: lists the tables {sorted(listed)}, has {sorted(owned)}"


RULES = (
    merges, validations, conditional_looks, links, views, pages, filters, table_parts,
)  # fmt: skip
