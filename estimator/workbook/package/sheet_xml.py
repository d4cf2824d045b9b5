"""Renders the description of a result sheet as worksheet XML, row by row."""

import math
import re
from collections.abc import Iterator, Mapping, Sequence
from itertools import groupby

from estimator.workbook.package.block_xml import block_rows
from estimator.workbook.package.cell_xml import CellWriter
from estimator.workbook.sheet.blocks import Block, breadth_of, parts_of
from estimator.workbook.sheet.cell_text import area_of, escape
from estimator.workbook.sheet.look import PAPER_CODES, ROW, margins_in
from estimator.workbook.sheet.source import column_letters
from estimator.workbook.sheet.spec import (
    Cell,
    ConditionalRule,
    Row,
    SheetSpec,
    Validation,
)
from estimator.workbook.sheet.styles import STYLES, StyleIds

LAST_ROW, LAST_COLUMN = 1_048_575, 16_383
"""Last row and column of a sheet, counted from 0, as a page break names them."""
SHORT = 1000
PLAIN_FORMULA = re.compile(r"[\w$!'(),:.+*/ ;-]+").fullmatch
"""Matches formulas that hold nothing to escape and no equals sign."""
MOST_TEXTS = 20_000
"""Texts of a sheet that are kept as they were rendered."""
COLUMN_PADDING = 0.7109375
"""Added to a width in characters: the margins of a cell, as the file format counts them."""

_NAMESPACES = (
    'xmlns="http://schemas.openxmlformats.org/spreadsheetml/2006/main" '
    'xmlns:r="http://schemas.openxmlformats.org/officeDocument/2006/relationships"'
)


def render(
    spec: SheetSpec,
    style_ids: StyleIds,
    *,
    dates_1904: bool = False,
    code_name: str | None = None,
    drawing_id: str | None = None,
) -> bytes:
    """Return a sheet as the bytes of its worksheet part; see ``render_parts``."""
    parts = render_parts(
        spec, style_ids, dates_1904=dates_1904, code_name=code_name, drawing_id=drawing_id
    )
    return "".join(parts).encode("utf-8")


def render_parts(
    spec: SheetSpec,
    style_ids: StyleIds,
    *,
    dates_1904: bool = False,
    code_name: str | None = None,
    drawing_id: str | None = None,
    table_ids: Sequence[str] = (),
) -> Iterator[str]:
    """Yield a sheet piece by piece, each row a piece of its own.

    Parameters
    ----------
    spec : SheetSpec
        The sheet.
    style_ids : StyleIds
        Where the styles stand in the workbook.
    dates_1904 : bool
        Whether the workbook counts its dates from 1904.
    code_name : str, optional
        Name by which the macros of the workbook know the sheet.
    drawing_id : str, optional
        Relationship id of the drawing that holds the charts.
    table_ids : sequence of str
        Relationship ids of its Excel tables.

    Raises
    ------
    ValueError
        If a number is not finite, a text or formula is too long, a date cannot be stored, or
        merged ranges overlap.
    """
    area = _dimension(spec)
    yield from (
        '<?xml version="1.0" encoding="UTF-8" standalone="yes"?>\n',
        f"<worksheet {_NAMESPACES}>",
        _properties(spec, code_name),
        f'<dimension ref="{area}"/>',
        _views(spec),
        f'<sheetFormatPr defaultRowHeight="{ROW:g}"/>',
        _columns(spec.widths),
        "<sheetData>",
    )
    yield from _RowWriter(CellWriter(style_ids, dates_1904=dates_1904)).rows(spec.rows)
    yield from (
        "</sheetData>",
        f'<autoFilter ref="{spec.autofilter.replace("$", "")}"/>' if spec.autofilter else "",
        _merges(spec.merges),
        *_conditional(spec.conditional, style_ids.rules),
        _validations(spec.validations),
        _links(spec.links),
        _margins(spec),
        _page(spec),
        f"<headerFooter><oddFooter>{_footer(spec)}</oddFooter></headerFooter>",
        _breaks("rowBreaks", spec.breaks, LAST_COLUMN),
        _breaks("colBreaks", spec.column_breaks, LAST_ROW),
        f'<ignoredErrors><ignoredError sqref="{area}" numberStoredAsText="1"/></ignoredErrors>',
        f'<drawing r:id="{drawing_id}"/>' if drawing_id else "",
        _table_parts(table_ids),
        "</worksheet>",
    )


class _RowWriter:
    """Writes rows; keeps what all cells of a sheet share."""

    def __init__(self, cells: CellWriter) -> None:
        self._writer = cells
        self._letters: list[str] = []
        self._texts: dict[tuple[str, str], str] = {}

    def rows(self, rows: Sequence[Row]) -> Iterator[str]:
        """Yield the XML of each row that holds cells or has a height."""
        number = 1
        for part in parts_of(rows):
            if isinstance(part, Block):
                yield from block_rows(part, self._writer)
                number += part.count
                continue
            cells = "".join(self._cells(part.cells, number))
            height = "" if part.height is None else f' ht="{part.height:g}" customHeight="1"'
            if cells or height:
                yield f'<row r="{number}"{height}>{cells}</row>'
            number += 1

    def _cells(self, cells: Sequence[Cell | None], number: int) -> Iterator[str]:
        while len(self._letters) < len(cells):
            self._letters.append(column_letters(len(self._letters) + 1))
        writer, isfinite, texts = self._writer, math.isfinite, self._texts
        ids = writer.ids.cells
        for letters, cell in zip(self._letters, cells, strict=False):
            if cell is None:
                continue
            value, style, formula = cell
            if formula is not None:
                if type(value) is float and isfinite(value) and _is_plain(formula):
                    made = f"><f>{formula}</f><v>{value!r}</v>"
                else:
                    made = writer.formula(value, formula, f"{letters}{number}")
                yield f'<c r="{letters}{number}" s="{ids[style]}"{made}</c>'
            elif value is None:
                yield f'<c r="{letters}{number}" s="{ids[style]}"/>'
            elif type(value) is float and isfinite(value):
                yield f'<c r="{letters}{number}" s="{ids[style]}"><v>{value!r}</v></c>'
            elif type(value) is str:
                rest = texts.get((value, style))
                if rest is None:
                    rest = writer.text(value, style)
                    if len(texts) < MOST_TEXTS:
                        texts[value, style] = rest
                yield f'<c r="{letters}{number}"{rest}'
            elif type(value) is int:
                yield f'<c r="{letters}{number}" s="{ids[style]}"><v>{value}</v></c>'
            else:
                kind, shown = writer.plain(value, f"{letters}{number}")
                yield f'<c r="{letters}{number}" s="{ids[style]}"{kind}><v>{shown}</v></c>'


def _is_plain(formula: str) -> bool:
    """Return whether a formula can stand in the file as it is, without a closer look."""
    return len(formula) < SHORT and PLAIN_FORMULA(formula) is not None


def _properties(spec: SheetSpec, code_name: str | None) -> str:
    name = f' codeName="{escape(code_name)}"' if code_name else ""
    color = f'<tabColor rgb="FF{spec.tab_color}"/>' if spec.tab_color else ""
    return f"<sheetPr{name}>{color}</sheetPr>"


def _dimension(spec: SheetSpec) -> str:
    return f"A1:{column_letters(max(breadth_of(spec.rows), 1))}{max(len(spec.rows), 1)}"


def _views(spec: SheetSpec) -> str:
    panes = _pane(*spec.freeze) if spec.freeze and any(spec.freeze) else ""
    view = f'<sheetView showGridLines="0" workbookViewId="0">{panes}</sheetView>'
    return f"<sheetViews>{view}</sheetViews>"


def _pane(rows: int, columns: int) -> str:
    corner = f"{column_letters(columns + 1)}{rows + 1}"
    split = f' xSplit="{columns}"' if columns else ""
    split += f' ySplit="{rows}"' if rows else ""
    panes = [name for name, there in (
        ("topRight", columns), ("bottomLeft", rows), ("bottomRight", rows and columns),
    ) if there]  # fmt: skip
    selections = "".join(f'<selection pane="{name}"/>' for name in panes)
    return (
        f'<pane{split} topLeftCell="{corner}" activePane="{panes[-1]}" state="frozen"/>{selections}'
    )


def _columns(widths: Sequence[float]) -> str:
    if not widths:
        return ""
    columns = "".join(
        f'<col min="{i}" max="{i}" width="{width + COLUMN_PADDING:g}" customWidth="1"/>'
        for i, width in enumerate(widths, 1)
    )
    return f"<cols>{columns}</cols>"


def _merges(merges: Sequence[str]) -> str:
    if not merges:
        return ""
    seen: set[tuple[int, int]] = set()
    for merge in merges:
        area = area_of(merge)
        columns = range(area.left, area.right + 1)
        cells = {(row, column) for row in range(area.top, area.bottom + 1) for column in columns}
        if len(cells) < 2 or cells & seen:
            raise ValueError(f"merged range {merge} must hold two cells or more, in no other one")
        seen |= cells
    joined = "".join(f'<mergeCell ref="{merge.replace("$", "")}"/>' for merge in merges)
    return f'<mergeCells count="{len(merges)}">{joined}</mergeCells>'


def _conditional(rules: Sequence[ConditionalRule], ids: Mapping[str, int]) -> Iterator[str]:
    """Yield the rules by range: for the programs, those of one range belong together."""
    for cells, group in groupby(enumerate(rules, 1), key=lambda entry: entry[1].cells):
        made = "".join(_rule(rule, ids, priority) for priority, rule in group)
        area = cells.replace("$", "")
        yield f'<conditionalFormatting sqref="{area}">{made}</conditionalFormatting>'


def _rule(rule: ConditionalRule, ids: Mapping[str, int], priority: int) -> str:
    if rule.kind == "data bar":
        return (
            f'<cfRule type="dataBar" priority="{priority}"><dataBar><cfvo type="num" val="0"/>'
            f'<cfvo type="max"/><color rgb="FF{STYLES[rule.style].fill}"/></dataBar></cfRule>'
        )
    style = f'dxfId="{ids[rule.style]}" priority="{priority}"'
    quoted = rule.operand.replace('"', '""')
    kind, formula = 'type="expression"', rule.operand
    if rule.kind == "text equals":
        kind, formula = 'type="cellIs" operator="equal"', f'"{quoted}"'
    return f"<cfRule {kind} {style}><formula>{escape(formula)}</formula></cfRule>"


def _validations(validations: Sequence[Validation]) -> str:
    if not validations:
        return ""
    made = "".join(map(_validation, validations))
    return f'<dataValidations count="{len(validations)}">{made}</dataValidations>'


def _validation(rule: Validation) -> str:
    words = {"error": rule.error, "promptTitle": rule.prompt[0], "prompt": rule.prompt[1]}
    texts = "".join(f' {name}="{escape(text)}"' for name, text in words.items() if text)
    title = ' errorTitle="Not allowed"' if rule.error else ""
    style = "" if rule.strict else ' errorStyle="warning"'
    operands = "".join(
        f"<formula{number}>{escape(text)}</formula{number}>"
        for number, text in enumerate(rule.operands, 1)
    )
    return (
        f'<dataValidation type="{rule.kind}"{style} allowBlank="1" showInputMessage="1" '
        f'showErrorMessage="1"{title}{texts} sqref="{rule.cells.replace("$", "")}">{operands}'
        "</dataValidation>"
    )


def _breaks(name: str, places: Sequence[int], last: int) -> str:
    if not places:
        return ""
    made = "".join(f'<brk id="{place}" max="{last}" man="1"/>' for place in places)
    return f'<{name} count="{len(places)}" manualBreakCount="{len(places)}">{made}</{name}>'


def _table_parts(table_ids: Sequence[str]) -> str:
    if not table_ids:
        return ""
    parts = "".join(f'<tablePart r:id="{rel_id}"/>' for rel_id in table_ids)
    return f'<tableParts count="{len(table_ids)}">{parts}</tableParts>'


def _links(links: Sequence[tuple[str, str]]) -> str:
    if not links:
        return ""
    made = "".join(f'<hyperlink ref="{ref}" location="{escape(to)}"/>' for ref, to in links)
    return f"<hyperlinks>{made}</hyperlinks>"


def _margins(spec: SheetSpec) -> str:
    margins = margins_in(spec.paper, across=bool(spec.landscape))
    sides = " ".join(f'{side}="{inches:g}"' for side, inches in margins.items())
    return f"<pageMargins {sides}/>"


def _footer(spec: SheetSpec) -> str:
    return escape("".join(f"&{side[0]}{text}" for side, text in spec.footer.items() if text))


def _page(spec: SheetSpec) -> str:
    paper = f' paperSize="{PAPER_CODES[spec.paper]}"' if spec.paper else ""
    orientation = "landscape" if spec.landscape else "portrait"
    return f'<pageSetup{paper} scale="100" orientation="{orientation}"/>'
