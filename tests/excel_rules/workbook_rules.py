"""The workbook part: sheets, names, calculation chain."""

import re
from collections import Counter

from tests.excel_rules.book import area_at, cell_at, main
from tests.excel_rules.formulas import faults_in, sheets_in

LONGEST_NAME, LONGEST_SHEET_NAME = 255, 31
_FORBIDDEN = set("[]:*?/\\")
_NAME = re.compile(r"[^\W\d\\]?\\?[\w.\\?]*")
_FIRST = re.compile(r"[^\W\d]|\\|_")
_LIKE_R1C1 = re.compile(r"[Rr]\d*[Cc]\d*|[RrCc]\d*")
_TITLES = re.compile(r"\$\d+:\$\d+|\$[A-Z]{1,3}:\$[A-Z]{1,3}")
_FOLLOWS = re.compile(r"(?:'[^']+'|\w+)!\$A\$1:INDEX\(.+\)")
"""A print area whose last cell a formula finds."""
_PRINT = {"_xlnm.print_titles", "_xlnm.print_area", "_xlnm._filterdatabase"}


def is_name(name):
    """Return whether Excel takes a text for a name of cells or of a table."""
    bare = name.removeprefix("_xlnm.")
    return bool(
        1 <= len(name) <= LONGEST_NAME
        and _FIRST.match(bare)
        and _NAME.fullmatch(bare)
        and cell_at(bare.upper()) is None
        and not _LIKE_R1C1.fullmatch(bare)
    )


def sheet_names(book):
    """Names of sheets: length, letters, twice."""
    names = [entry.get("name", "") for entry in book.entries]
    for name in names:
        if not 1 <= len(name) <= LONGEST_SHEET_NAME:
            yield f"sheet name {name!r} has {len(name)} letters, allowed 1 to {LONGEST_SHEET_NAME}"
        bad = _FORBIDDEN & set(name) or [c for c in name if c < " "]
        if bad or name.startswith("'") or name.endswith("'"):
            yield f"sheet name {name!r} has letters that are not allowed"
        if name.casefold() == "history":
            yield "sheet name 'History' is kept for Excel itself"
    for name, count in Counter(map(str.casefold, names)).items():
        if count > 1:
            yield f"sheet name {name!r} is there {count} times"


def sheet_list(book):
    """Ids of sheets, at least one in sight, the active one there."""
    ids = [entry.get("sheetId", "") for entry in book.entries]
    if len(set(ids)) < len(ids) or not all(i.isdigit() and 1 <= int(i) <= 65534 for i in ids):
        yield f"sheet ids {ids} must be different whole numbers"
    if all(entry.get("state", "visible") != "visible" for entry in book.entries):
        yield "no sheet is visible"
    for view in book.workbook.iter(main("workbookView")):
        for key in ("activeTab", "firstSheet"):
            if int(view.get(key, 0)) >= len(book.entries):
                yield f"{key} {view.get(key)} is no sheet"
        active = book.entries[min(int(view.get("activeTab", 0)), len(book.entries) - 1)]
        if active.get("state", "visible") != "visible":
            yield f"the active sheet {active.get('name')!r} is hidden"


def names(book):
    """Defined names: spelled like a cell, twice, of a sheet that is not there."""
    keys = Counter()
    for element in book.defined_names:
        name, scope = element.get("name", ""), element.get("localSheetId")
        keys[name.casefold(), scope] += 1
        if not is_name(name):
            yield f"defined name {name!r} is not allowed"
        if scope is not None and int(scope) >= len(book.entries):
            yield f"defined name {name!r} belongs to sheet {scope}, which is not there"
        for fault in faults_in(element.text or "", book):
            yield f"defined name {name!r}: {fault}"
    for (name, scope), count in keys.items():
        if count > 1:
            yield f"defined name {name!r} of {scope or 'the workbook'} is there {count} times"


def print_names(book):
    """Print titles, print areas and filters: whole rows or columns, on their own sheet."""
    for element in book.defined_names:
        name, scope = element.get("name", "").casefold(), element.get("localSheetId")
        if name not in _PRINT or "#REF!" in (element.text or ""):
            continue
        text = element.text or ""
        if scope is None:
            yield f"{name} belongs to no sheet"
            continue
        own = book.entries[int(scope)].get("name", "") if int(scope) < len(book.entries) else ""
        if any(sheet.casefold() != own.casefold() for sheet in sheets_in(text)):
            yield f"{name} of sheet {own!r} points to another: {text}"
        if name.endswith("area") and _FOLLOWS.fullmatch(text):
            continue
        for area in _areas(text):
            if name.endswith("titles") and not _TITLES.fullmatch(area):
                yield f"{name} of sheet {own!r} must be whole rows or columns: {text}"
            elif not name.endswith("titles") and not _is_area(area):
                yield f"{name} of sheet {own!r} is no range: {text}"


def calculation_chain(book):
    """Entries of the calculation chain without a formula on that sheet."""
    chains = book.linked(book.workbook_part, "calcChain")
    if not chains:
        return
    formulas = {
        sheet.sheet_id: {f.getparent().get("r") for f in sheet.all("f")} for sheet in book.sheets
    }
    sheet_id = ""
    for entry in book.trees[chains[0]].iter(main("c")):
        sheet_id = entry.get("i", sheet_id)
        if entry.get("r") not in formulas.get(sheet_id, ()):
            yield f"{chains[0]}: {entry.get('r')} of sheet {sheet_id} has no formula"


def _areas(text):
    for area in re.split(r",(?=(?:[^']*'[^']*')*[^']*$)", text):
        yield area.rpartition("!")[2]


def _is_area(text):
    return area_at(text) is not None or _TITLES.fullmatch(text) is not None


def _in_workbook(rule):
    def in_part(book):
        for fault in rule(book):
            yield f"{book.workbook_part}: {fault}"

    return in_part


RULES = (
    *map(_in_workbook, (sheet_names, sheet_list, names, print_names)),
    calculation_chain,
)
