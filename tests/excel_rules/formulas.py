"""What Excel refuses in the text of a formula."""

import re

LONGEST_FORMULA, LONGEST_LITERAL = 8192, 255
MOST_NESTED, MOST_ARGUMENTS = 64, 255
_LITERAL = re.compile(r'"((?:[^"]|"")*)"')
_QUOTED_SHEET = re.compile(r"'((?:[^']|'')+)'!")
_PLAIN_SHEET = re.compile(r"(?<![\w.'\]\"])((?:\[\d+\])?[^\W\d][\w.]*(?::[^\W\d][\w.]*)?)!")
_EXTERNAL = re.compile(r"\[(\d+)\]")
_TABLE = re.compile(r"(?<![\w.\]\['!])([^\W\d][\w.]*)\[")


def without_literals(formula):
    """Return a formula with every quoted text emptied."""
    return _LITERAL.sub('""', formula)


def sheets_in(formula):
    """Return the names of the sheets that a formula refers to; ranges of sheets as two."""
    plain = without_literals(formula)
    found = [name.replace("''", "'") for name in _QUOTED_SHEET.findall(plain)]
    found += _PLAIN_SHEET.findall(_QUOTED_SHEET.sub("", plain))
    return [name for text in found if "[" not in text for name in text.split(":")]


def faults_in(formula, book, *, most=LONGEST_FORMULA):
    """Yield what is wrong in a formula."""
    if not formula.strip() or formula.startswith("="):
        yield f"formula {formula[:20]!r} is empty or begins with ="
    if len(formula) > most:
        yield f"formula of {len(formula)} letters, most {most}"
    if any(len(text.replace('""', '"')) > LONGEST_LITERAL for text in _LITERAL.findall(formula)):
        yield f"text in a formula of more than {LONGEST_LITERAL} letters"
    yield from _brackets(without_literals(formula), formula)
    for name in sheets_in(formula):
        if name.casefold() not in book.sheet_names:
            yield f"formula refers to sheet {name!r}, which is not there"
    outside = len(book.external_books)
    for number in _EXTERNAL.findall(without_literals(formula)):
        if int(number) > outside:
            yield f"formula refers to outside workbook {number} of {outside}"
    for table in _TABLE.findall(_QUOTED_SHEET.sub("", without_literals(formula))):
        if table.casefold() not in book.table_names:
            yield f"formula refers to table {table!r}, which is not there"


def _brackets(plain, formula):
    if plain.count('"') % 2:
        yield f"formula {formula[:40]!r} has a text without an end"
    commas, deepest = [], 0
    for sign in _QUOTED_SHEET.sub("", plain):
        if sign == "(":
            commas.append(0)
            deepest = max(deepest, len(commas))
        elif sign == "," and commas:
            commas[-1] += 1
        elif sign == ")":
            if not commas:
                yield f"formula {formula[:40]!r} closes what it did not open"
                return
            if commas.pop() >= MOST_ARGUMENTS:
                yield f"formula {formula[:40]!r} has more than {MOST_ARGUMENTS} arguments"
    if commas:
        yield f"formula {formula[:40]!r} has a bracket without an end"
    if deepest > MOST_NESTED:
        yield f"formula {formula[:40]!r} is nested more than {MOST_NESTED} deep"
