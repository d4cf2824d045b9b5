"""Names of sheets: in references, and of the hidden names that mark our own."""

import re
from collections.abc import Sequence
from types import MappingProxyType

from estimator.workbook.sheet.cell_text import area_of
from estimator.workbook.sheet.source import column_letters

PRINT_AREA = "_xlnm.Print_Area"
MARKER_START = "_result_"
MARKED_AS = MappingProxyType({"Hydrotests": "Tests"})
"""Result sheets with a new name: the mark stays, so that older workbooks keep their sheet."""
_SHEET = re.compile(r"=?(?:'((?:[^']|'')+)'|([^'!\[\]#]+))!")


def marker_name(key: str) -> str:
    """Return the hidden name that marks a result sheet as ours.

    >>> marker_name("Field cards")
    '_result_Field_cards'
    """
    return MARKER_START + re.sub(r"\W", "_", MARKED_AS.get(key, key))


def sheet_of(reference: str) -> str | None:
    """Return the name of the sheet that a reference points to, None if it points to none.

    >>> sheet_of("'Bob''s joints'!$A$1"), sheet_of("#REF!$A$1")
    ("Bob's joints", None)
    """
    match = _SHEET.match(reference)
    if match is None:
        return None
    quoted, plain = match.groups()
    return plain or quoted.replace("''", "'")


def quoted(sheet: str) -> str:
    """Return a sheet name as a formula writes it."""
    return "'" + sheet.replace("'", "''") + "'"


def link_to(place: str, text: str) -> str:
    r"""Return the formula, without ``=``, of a cell that shows a text and leads to a place.

    >>> link_to("Pipe schedule!D17", "the size")
    'HYPERLINK("#\'Pipe schedule\'!D17","the size")'
    """
    sheet, _, address = place.rpartition("!")
    target = f"#{sheet if sheet.startswith(chr(39)) else quoted(sheet)}!{address}"
    return f"HYPERLINK({literal(target)},{literal(text)})"


def not_ours_text(names: Sequence[str]) -> str:
    """Return what is reported of sheets of the user that have names of ours.

    >>> not_ours_text(["Gantt", "Tests"])
    "Sheets 'Gantt', 'Tests' are yours but have names of result sheets. Rename them and run again"
    """
    if len(names) == 1:
        return (
            f"Sheet {names[0]!r} is yours but has the name of a result sheet. Rename it and "
            "run again"
        )
    quoted = ", ".join(repr(name) for name in names)
    return f"Sheets {quoted} are yours but have names of result sheets. Rename them and run again"


def literal(text: str) -> str:
    """Return a text as a formula holds it."""
    return '"' + text.replace('"', '""') + '"'


def area_of_filled(sheet: str, filled: Sequence[str], right: str, least: int) -> str:
    """Return the area from the first cell of a sheet to the last row that is filled.

    ``filled`` are the columns that say so, ``right`` are the letters of the last column, and the
    area has ``least`` rows at least. LibreOffice takes no formula here and prints the whole sheet.

    >>> area_of_filled("Crew", ["A6:A9"], "C", 7).partition(",")[2].replace('"', "")
    "MAX(7,MAX(('Crew'!$A$6:$A$9<>)*ROW('Crew'!$A$6:$A$9))))"
    """
    areas = [area_of(cells) for cells in filled]
    letters = [column_letters(area.left) for area in areas]
    parts = [
        f"{quoted(sheet)}!${column}${area.top}:${column}${area.bottom}"
        for column, area in zip(letters, areas, strict=True)
    ]
    rows = ",".join(f'MAX(({part}<>"")*ROW({part}))' for part in parts)
    column = f"{quoted(sheet)}!${right}$1:${right}${max(area.bottom for area in areas)}"
    return f"{quoted(sheet)}!$A$1:INDEX({column},MAX({least},{rows}))"
