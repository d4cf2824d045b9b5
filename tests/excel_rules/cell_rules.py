"""Rows and cells: their order, values, texts and formulas."""

import math

from tests.excel_rules.book import LAST_ROW, all_text, area_at, cell_at, main
from tests.excel_rules.formulas import faults_in

LONGEST_TEXT, MOST_LINES = 32_767, 253
HIGHEST_ROW, WIDEST_COLUMN = 409.5, 255
TYPES = {"b", "n", "e", "s", "str", "inlineStr", "d"}
ERRORS = {
    "#NULL!", "#DIV/0!", "#VALUE!", "#REF!", "#NAME?", "#NUM!", "#N/A", "#GETTING_DATA",
    "#SPILL!", "#CALC!", "#FIELD!", "#BLOCKED!", "#UNKNOWN!", "#CONNECT!", "#BUSY!", "#EXTERNAL!",
}  # fmt: skip


def rows(book):
    """Rows out of order or too high, cells out of order or in another row."""
    for sheet in book.sheets:
        last = 0
        for row in sheet.all("row"):
            number = int(row.get("r", last + 1))
            if not last < number <= LAST_ROW:
                yield f"{sheet.part}: row {number} after row {last}"
            if float(row.get("ht", 0)) > HIGHEST_ROW:
                yield f"{sheet.part}: row {number} is {row.get('ht')} points high"
            last, column = number, 0
            for cell in row.iterchildren(main("c")):
                place = cell_at(cell.get("r", "")) if cell.get("r") else (number, column + 1)
                if place is None or place[0] != number or place[1] <= column:
                    yield f"{sheet.part}: cell {cell.get('r')} stands in the wrong place"
                column = place[1] if place else column


def columns(book):
    """Columns that overlap, run backwards or are too wide."""
    for sheet in book.sheets:
        last = 0
        for column in sheet.all("col"):
            first, end = int(column.get("min")), int(column.get("max"))
            if not last < first <= end <= 16_384:
                yield f"{sheet.part}: columns {first} to {end} after column {last}"
            if float(column.get("width", 0)) > WIDEST_COLUMN:
                yield f"{sheet.part}: column {first} is {column.get('width')} wide"
            last = end


def values(book):
    """Values that do not fit their type, texts that are too long."""
    shared = [] if book.shared_strings is None else book.shared_strings.findall(main("si"))
    for number, item in enumerate(shared):
        yield from (f"shared string {number}: {fault}" for fault in _text(all_text(item)))
    for sheet in book.sheets:
        for cell in sheet.all("c"):
            for fault in _value(cell, len(shared)):
                yield f"{sheet.part}: {cell.get('r')}: {fault}"


def formulas(book):
    """Formulas that Excel cannot read, and those that share one which is not there."""
    for sheet in book.sheets:
        shared = {f.get("si") for f in sheet.all("f") if f.get("t") == "shared" and f.get("ref")}
        for formula in sheet.all("f"):
            for fault in _formula(formula, shared, book):
                yield f"{sheet.part}: {formula.getparent().get('r')}: {fault}"


def _formula(formula, shared, book):
    kind = formula.get("t", "normal")
    if kind == "shared" and formula.get("si") not in shared:
        yield f"shared formula {formula.get('si')} is not there"
    if kind == "array" and area_at(formula.get("ref", "")) is None:
        yield f"array formula over {formula.get('ref')!r}"
    if formula.text or kind in ("normal", "array"):
        yield from faults_in(formula.text or "", book)


def _value(cell, count):
    kind, value = cell.get("t", "n"), cell.findtext(main("v"))
    if kind not in TYPES:
        yield f"type {kind!r} is unknown"
    if kind == "inlineStr":
        if cell.find(main("v")) is not None or cell.find(main("f")) is not None:
            yield "an inline text has a value or formula too"
        yield from _text(all_text(cell))
    if value is None or value == "":
        return
    if kind == "s" and not (value.isdigit() and int(value) < count):
        yield f"shared string {value} of {count}"
    if kind == "b" and value not in ("0", "1"):
        yield f"truth value {value!r}"
    if kind == "e" and value not in ERRORS:
        yield f"error value {value!r}"
    if kind == "n" and not _is_number(value):
        yield f"number {value!r}"
    if kind == "str":
        yield from _text(value)


def _is_number(text):
    try:
        return math.isfinite(float(text)) and "_" not in text
    except ValueError:
        return False


def _text(text):
    if len(text) > LONGEST_TEXT:
        yield f"text of {len(text)} letters, most {LONGEST_TEXT}"
    if text.count("\n") > MOST_LINES:
        yield f"text of {text.count(chr(10))} line ends, most {MOST_LINES}"


RULES = (rows, columns, values, formulas)
