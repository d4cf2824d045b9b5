"""Renders the part of an Excel table."""

from collections.abc import Sequence

from estimator.workbook.package.parts import SHEET_NS
from estimator.workbook.sheet.cell_text import area_of, escape
from estimator.workbook.sheet.spec import SheetSpec, TableSpec

_LOOK = (
    '<tableStyleInfo showFirstColumn="0" showLastColumn="0" showRowStripes="0" '
    'showColumnStripes="0"/>'
)
"""No style of tables: every cell has its own look."""


def headers_of(spec: SheetSpec, table: TableSpec) -> Sequence[str]:
    """Return the texts of a table's header row.

    Raises
    ------
    ValueError
        If one is no text, or stands twice: Excel then repairs the file.
    """
    area = area_of(table.area)
    cells = spec.rows[area.top - 1].cells[area.left - 1 : area.right]
    texts = [cell.value for cell in cells if cell is not None and isinstance(cell.value, str)]
    wanted = area.right - area.left + 1
    if len({text.casefold() for text in texts}) != wanted:
        raise ValueError(f"table {table.name} must have {wanted} headers that differ, got {texts}")
    return texts


def render_table(spec: SheetSpec, table: TableSpec, number: int) -> bytes:
    """Return the part of a table; ``number`` is its id, used once in the workbook."""
    headers = headers_of(spec, table)
    columns = "".join(
        f'<tableColumn id="{at}" name="{escape(header)}"{_formula(table.formulas.get(header))}'
        for at, header in enumerate(headers, 1)
    )
    return (
        '<?xml version="1.0" encoding="UTF-8" standalone="yes"?>\n'
        f'<table xmlns="{SHEET_NS}" id="{number}" name="{table.name}" displayName="{table.name}" '
        f'ref="{table.area}" totalsRowShown="0"><tableColumns count="{len(headers)}">{columns}'
        f"</tableColumns>{_LOOK}</table>"
    ).encode()


def _formula(formula: str | None) -> str:
    if formula is None:
        return "/>"
    made = escape(formula)
    return f"><calculatedColumnFormula>{made}</calculatedColumnFormula></tableColumn>"
