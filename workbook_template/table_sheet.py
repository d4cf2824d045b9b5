"""Sheets of input tables: a title, a note, the unit row, the header row and the table's body."""

import dataclasses
import functools
import math
import textwrap
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from itertools import pairwise
from types import MappingProxyType

from xlsxwriter.worksheet import Worksheet

from estimator.display import UnitSystem
from estimator.inputs.dictionary import Field, InputTable, fields
from estimator.workbook.read.ages import OLDER
from estimator.workbook.sheet import look
from estimator.workbook.sheet.layout import EDGE, INDENT, RESERVE
from estimator.workbook.sheet.names import area_of_filled
from estimator.workbook.sheet.source import column_letters
from estimator.workbook.sheet.text_width import (
    date_text,
    lines_of,
    number_text,
    text_pixels,
    words_of,
)
from workbook_template import rules
from workbook_template.content import Value, own_rows, table_rows
from workbook_template.page import (
    GAP_POINTS,
    InputSheet,
    apart,
    is_across,
    set_page,
    shown_unit,
    write_value,
)
from workbook_template.styles import THOUSANDS, Styles, date_format, number_format, side_of

TITLE_ROW, NOTE_ROW, GAP_ROW, UNIT_ROW, HEADER_ROW, BODY_ROW = range(6)
HEAD_POINTS: Mapping[int, float] = MappingProxyType(
    {TITLE_ROW: look.TITLE_ROW, NOTE_ROW: look.SUBTITLE_ROW, GAP_ROW: GAP_POINTS, UNIT_ROW: 12.0}
)
"""Heights of the rows above the headers; the units close up to the headers below them."""
GAP_WIDTH, DEFAULT_WIDTH = 3.0, 9.14
LETTER_PX = look.pixels_of(1) - look.pixels_of(0)
PAGE_SPARE = 16.0
"""Pixels that stay free at the side of a page, for a program that draws columns broader."""
WIDEST_TEXT = 46.0
LEAST_NUMBER = 8.0
LEAST_NAME = 8.0
"""Letters that the short names of rows keep: those of runs and of classes."""
LEAST: Mapping[str, float] = MappingProxyType(
    {"text": 14.0, "choices": 14.0, "segments": 11.0, "count": 7.5}
)
"""Letters that a number, or what else a column holds, keeps where it gives way to the page."""
SHORT_TEXT = 11.0
"""Letters that a column keeps of which no text is longer."""
TOGETHER = 0.85
"""What tables give up at most of what they can, to stand on one page together."""
STEPS = 20
"""Steps in which the columns of a broad table give way."""
FITTED_KINDS = frozenset({"text", "choices", "segments"})
LINE_POINTS, MARGIN_POINTS = look.LINE, look.LINES_MARGIN
COMMENT_WIDTH, COMMENT_LINE, COMMENT_LETTERS = 260, 17, 42
ROOM_TO_GROW = 5
"""Free rows below the tables with which one page is enough for a sheet."""
STYLE = None
"""Every cell has its own look; a style of tables would draw over it."""
OLD_MARKED = "basis"
GROWS = "schedule"
"""The table that grows with the job."""
PAGE_NAMES: Mapping[str, Mapping[str, str]] = MappingProxyType(
    {
        "schedule": {"elbows": "fittings", "ef_closures": "connections, order and price"},
        "machines": {"heater_kw": "heater, motors and use", "day_rate": "rates"},
        "generators": {"day_rate": "rates"},
    }
)
"""Columns of a broad table with which a page begins, and what the page is called."""
MOST_ROWS = 9999
"""The last row that is looked at for what a table holds."""
OwnRows = Mapping[str, list[dict[str, Value]]]
NO_ROWS: OwnRows = MappingProxyType({})


@dataclass(frozen=True)
class Block:
    """One table on its sheet: where it starts and what it holds."""

    table: InputTable
    system: UnitSystem
    currency: str
    column: int
    rows: list[dict[str, Value]]
    given_up: float = 0.0
    """The part of the breadth that its columns can give up which they do give up."""
    by_column: Mapping[str, float] = dataclasses.field(default_factory=dict)
    """The same by the key of a column, where each page has its own."""
    longest: dict[str, float] = dataclasses.field(default_factory=dict, compare=False)
    """Letters of the longest text of each column, measured once."""

    @property
    def fields(self) -> tuple[Field, ...]:
        """The columns, left to right."""
        return fields(self.table.table)

    @property
    def last_column(self) -> int:
        """Sheet column of the last field."""
        return self.column + len(self.fields) - 1

    @property
    def last_row(self) -> int:
        """Sheet row of the last body row."""
        return BODY_ROW + len(self.rows) - 1

    @property
    def bare_row(self) -> int:
        """Sheet row of the first spare row that a rule draws, so that LibreOffice prints none.

        It prints each cell with a fill or frame of its own. A job without runs prints its page.
        """
        filled = [row for row, values in enumerate(self.rows, BODY_ROW) if any(values.values())]
        return filled[-1] + 1 if filled and _grows([self]) else self.last_row + 1

    def width(self, field: Field) -> float:
        """Return the column width in letters: no header word broken, texts on one line if short."""
        wanted = self.wanted(field)
        given_up = self.by_column.get(field.key, self.given_up)
        width = wanted - given_up * (wanted - self._least(field, wanted))
        pixels = math.ceil(look.pixels_of(width))
        is_inset = side_of(field) == "left"
        return _letters_of(pixels if is_inset else apart(field.header, pixels))

    def wanted(self, field: Field) -> float:
        """Return the letters with which a column has each text on one line, if it is short."""
        text = self._longest_text(field) if field.kind in FITTED_KINDS else 0.0
        return max(self._unbroken(field), field.width, min(text, WIDEST_TEXT))

    def _least(self, field: Field, wanted: float) -> float:
        least = LEAST.get(field.kind, LEAST_NUMBER)
        if field is self.fields[0] and wanted <= least:
            least = max(LEAST_NAME, self._longest_text(field))
        elif field.kind == "text" and 0 < self._longest_text(field) <= SHORT_TEXT:
            least = SHORT_TEXT
        return max(self._unbroken(field), min(wanted, least))

    def _unbroken(self, field: Field) -> float:
        """Return the letters of what is not broken: header lines, choices, numbers, any date."""
        whole = 0.0 if field.kind in FITTED_KINDS else self._longest_text(field)
        if field.kind == "date":
            broadest = text_pixels(date_text(date_format(self.system)), look.TEXT)
            whole = _letters(broadest, field)
        return max(_letters(_two_lines(field.header), field), whole)

    def _longest_text(self, field: Field) -> float:
        if field.key not in self.longest:
            texts = (_shown(row[field.key], field, self.system) for row in self.rows)
            broadest = max((text_pixels(text, look.TEXT) for text in texts), default=0.0)
            self.longest[field.key] = _letters(broadest, field) if broadest else 0.0
        return self.longest[field.key]

    @property
    def pixels(self) -> float:
        """How broad its columns are together."""
        return sum(look.pixels_of(self.width(field)) for field in self.fields)

    def address(self, column: int, row: int = BODY_ROW) -> str:
        """Return a relative address with a fixed column, such as ``$D6``."""
        return f"${column_letters(column + 1)}{row + 1}"


@functools.cache
def _two_lines(header: str) -> float:
    """Return the pixels in which a header takes two lines: asked for each try of the widths."""
    words = [*words_of(header)]
    lines = (("".join(words[:at]), "".join(words[at:])) for at in range(1, len(words) + 1))
    return min(max(_bold_pixels(line) for line in pair) for pair in lines)


def _bold_pixels(line: str) -> float:
    return text_pixels(line.rstrip(), look.TEXT, bold=True)


def _letters(pixels: float, field: Field) -> float:
    """Return the width in letters of a column in which a text of a field has room."""
    return _letters_of(pixels * RESERVE + _edges(field))


def _letters_of(pixels: float) -> float:
    """Return the width in letters of a column that takes so many pixels."""
    return (pixels - look.pixels_of(0)) / LETTER_PX


def _edges(field: Field) -> float:
    """Return the pixels of a field's cells that its texts leave free."""
    return EDGE + (INDENT if side_of(field) == "left" else 0.0)


def padded_rows(
    table: str, system: UnitSystem, example: str | None, own: OwnRows = NO_ROWS
) -> list[dict[str, Value]]:
    """Return the rows of a table, the company's own if it has them, with empty ones after them."""
    rows = own[table] if table in own else table_rows(table, system, example)
    padding = {row["table"]: row for row in own_rows("spare_rows.csv")}.get(table)
    if padding is None:
        return rows
    wanted = max(len(rows) + int(padding["spare"]), int(padding["at_least"]))
    empty: dict[str, Value] = dict.fromkeys(field.key for field in fields(table))
    return rows + [dict(empty) for _ in range(wanted - len(rows))]


def make_blocks(
    tables: list[InputTable],
    system: UnitSystem,
    currency: str,
    example: str | None,
    own: OwnRows = NO_ROWS,
) -> list[Block]:
    """Place the tables of one sheet side by side, an empty column between them."""
    blocks: list[Block] = []
    for table in tables:
        column = blocks[-1].last_column + 2 if blocks else 0
        rows = padded_rows(table.table, system, example, own)
        blocks.append(Block(table, system, currency, column, rows))
    return blocks


def write_table_sheet(sheet: InputSheet, styles: Styles, wanted: list[Block]) -> str | None:
    """Write all tables of one sheet, its row heights, frozen panes and page set-up.

    Return the print area of a table that grows, a formula; None where the sheet has its own.
    """
    fitted, starts = fitted_to_pages(wanted)
    blocks = [_without_spare_pages(block) if _grows([block]) else block for block in fitted]
    for block in blocks:
        _write_head(sheet, styles, block, starts)
        _write_body(sheet, styles, block)
        _add_rules(sheet, styles, block)
        _add_table(sheet, styles, block)
        if block.column:
            sheet.set_column(block.column - 1, block.column - 1, GAP_WIDTH)
    _set_heights(sheet, blocks)
    sheet.freeze_panes(BODY_ROW, 1)
    widths = [block.width(field) for block in blocks for field in block.fields]
    widths += [GAP_WIDTH] * (len(blocks) - 1)
    across = is_across(widths)
    set_page(sheet, blocks[0].system, across=across)
    sheet.set_v_pagebreaks(starts)
    if _is_long(blocks, across=across):
        sheet.repeat_rows(TITLE_ROW, HEADER_ROW)
    if _is_broad(blocks):
        sheet.repeat_columns(0, 0)
    free = _free_rows(blocks, across=across)
    if free >= ROOM_TO_GROW and not _grows(blocks):
        last = blocks[-1].last_column + _free_columns(blocks, starts, across=across)
        sheet.print_area(0, 0, _table_rows(blocks)[-1] + free, last)
    return print_area_of(sheet.get_name(), blocks[0]) if _grows(blocks) else None


def _without_spare_pages(block: Block) -> Block:
    """Return a table without the empty rows that would begin a page after its last filled one."""
    filled = [number for number, row in enumerate(block.rows, 1) if any(row.values())]
    if not filled:
        return block
    kept, used, room = 0, 0.0, _room_below([block])
    for number in range(1, len(block.rows) + 1):
        height = _height([block], BODY_ROW + number - 1)
        used = height if used + height > room else used + height
        if number > filled[-1] and used == height:
            break
        kept = number
    return replace(block, rows=block.rows[:kept])


def print_area_of(sheet: str, block: Block) -> str:
    """Return the area that ends with the last run, or with the page that a new job fills."""
    last = column_letters(block.last_column + 1)
    key = column_letters(block.column + 1)
    page = BODY_ROW + math.floor(_room_below([block]) / look.ROW)
    return area_of_filled(sheet, [f"{key}{BODY_ROW + 1}:{key}{MOST_ROWS}"], last, page)


def _room_below(blocks: Sequence[Block]) -> float:
    """Return the points of rows that a page has below headers that lie across it."""
    height = min(look.page_height(paper, across=True) for paper in look.PAPER_CODES)
    return height - sum(HEAD_POINTS.values()) - _height(blocks, HEADER_ROW)


def _is_long(blocks: Sequence[Block], *, across: bool) -> bool:
    """Return whether the tables go on to a second page, or will: the runs of a job do.

    LibreOffice takes time for each sheet that repeats rows, when it opens the workbook.
    """
    return _grows(blocks) or _free_rows(blocks, across=across) < 0


def _grows(blocks: Sequence[Block]) -> bool:
    return any(block.table.table == GROWS for block in blocks)


def _free_rows(blocks: Sequence[Block], *, across: bool) -> int:
    """Return how many rows the page has below the tables; negative where they need more pages.

    A sheet with room to grow prints its page and no more: LibreOffice breaks all rows of a sheet
    without a print area into pages when it opens a workbook in which any are repeated. The rows
    are those of the lower paper, so that they print on one page of either.
    """
    height = min(look.page_height(paper, across=across) for paper in look.PAPER_CODES)
    used = sum(HEAD_POINTS.values())
    used += sum(_height(blocks, row) for row in _table_rows(blocks))
    return math.floor((height - used) / look.ROW)


def _free_columns(blocks: Sequence[Block], starts: Sequence[int], *, across: bool) -> int:
    """Return how many columns the last page has beside the tables, for notes that reach there."""
    last_page = [
        look.pixels_of(block.width(field))
        for block in blocks
        for column, field in enumerate(block.fields, block.column)
        if column >= max(starts, default=0)
    ]
    repeated = look.pixels_of(blocks[0].width(blocks[0].fields[0])) if _is_broad(blocks) else 0.0
    gaps = (len(blocks) - 1) * look.pixels_of(GAP_WIDTH)
    free = look.box_pixels(across=across) - sum(last_page) - repeated - gaps - PAGE_SPARE
    return max(0, math.floor(free / look.pixels_of(DEFAULT_WIDTH)))


def _is_broad(blocks: Sequence[Block]) -> bool:
    """Return whether the sheet is one table that is broader than a page."""
    return len(blocks) == 1 and blocks[0].pixels > look.box_pixels(across=True)


def fitted_to_pages(blocks: Sequence[Block]) -> tuple[list[Block], list[int]]:
    """Return the tables as narrow as their pages ask, and the columns at which a page begins.

    Tables stand together on a page where they can give up enough; a table that is broader than a
    page takes as few as it can.
    """
    box = look.box_pixels(across=True)
    if len(blocks) == 1 and (named := _by_named_pages(blocks[0], box)) is not None:
        return named
    room = box - (look.pixels_of(GAP_WIDTH) if len(blocks) > 1 else 0.0)
    pages: list[list[Block]] = []
    for block in blocks:
        together = [*pages[-1], block] if pages else []
        if together and _breadth(together, TOGETHER) <= room and _have_notes(together, room):
            pages[-1] = together
        else:
            pages.append([block])
    found = [block for page in pages for block in _squeezed(page, room)]
    starts = [page[0].column for page in pages[1:]]
    return found, [*_page_starts(found[0], box), *starts] if len(blocks) == 1 else starts


def _by_named_pages(block: Block, box: float) -> tuple[list[Block], list[int]] | None:
    """Return a table on its named pages, or on one, as narrow as it must be; None if too broad."""
    keys = [field.key for field in block.fields]
    starts = [keys.index(key) for key in PAGE_NAMES.get(block.table.table, ())]
    given: dict[str, float] = {}
    for first, end in pairwise([0, *starts, len(keys)]):
        room = box - (look.pixels_of(block.width(block.fields[0])) if first else 0.0)
        page = _given_up(block, block.fields[first:end], room)
        if page is None:
            return None
        given |= page
    made = replace(block, by_column=given)
    return [made], [block.column + start for start in starts]


def _given_up(block: Block, fields: Sequence[Field], room: float) -> dict[str, float] | None:
    """Return what columns give up to stand on one page, the broadest last; None if too little.

    >>> from estimator.inputs.dictionary import input_tables
    >>> [table] = [one for one in input_tables() if one.table == "schedule"]
    >>> [block] = make_blocks([table], "US", "$", None)
    >>> _given_up(block, block.fields[:2], 2000.0), _given_up(block, block.fields[:2], 20.0)
    ({'run_id': 0.0, 'description': 0.0}, None)
    """
    broadest = max(fields, key=block.wanted).key
    steps = [step / STEPS for step in range(STEPS + 1)]
    tried = [(others, 0.0) for others in steps] + [(1.0, own) for own in steps]
    for others, own in tried:
        given = {field.key: own if field.key == broadest else others for field in fields}
        made = replace(block, by_column=given)
        if sum(look.pixels_of(made.width(field)) for field in fields) <= room:
            return given
    return None


def _have_notes(page: Sequence[Block], room: float) -> bool:
    """Return whether the notes over the tables of a page have room beside each other."""
    return all(
        text_pixels(block.table.note, look.SMALL) * RESERVE + EDGE
        <= block.pixels + look.pixels_of(GAP_WIDTH)
        for block in _squeezed(page, room)[:-1]
    )


def _breadth(page: Sequence[Block], given_up: float) -> float:
    """Return the pixels of tables and of the gaps between them."""
    gaps = look.pixels_of(GAP_WIDTH) * (len(page) - 1)
    return sum(replace(block, given_up=given_up).pixels for block in page) + gaps


def _squeezed(page: Sequence[Block], room: float) -> list[Block]:
    """Return the tables of a page narrow enough for it, or for as few pages as they can."""
    if len(page) == 1 and (given := _given_up(page[0], page[0].fields, room)) is not None:
        return [replace(page[0], by_column=given)]

    def pages_of(part: float) -> int:
        if len(page) > 1:
            return 1 + int(_breadth(page, part) > room)
        return 1 + len(_page_starts(replace(page[0], given_up=part), room))

    parts = [step / STEPS for step in range(STEPS + 1)]
    part = next(part for part in parts if pages_of(part) == pages_of(1.0))
    return [replace(block, given_up=part) for block in page]


def _page_starts(block: Block, box: float) -> list[int]:
    """Return the columns at which a page begins, where the first column stands on every page."""
    widths = [look.pixels_of(block.width(field)) for field in block.fields]
    used, starts = 0.0, []
    for column, width in enumerate(widths):
        if used + width > box:
            starts.append(block.column + column)
            used = widths[0]
        used += width
    return starts


def _write_head(sheet: Worksheet, styles: Styles, block: Block, starts: Sequence[int]) -> None:
    """Write title, note, units and headers; where a column is repeated, both on every page."""
    own = [start for start in starts if block.column < start <= block.last_column]
    first = block.column + 1 if own else block.column
    names = PAGE_NAMES.get(block.table.table, {})
    for column in (first, *own):
        name = names.get(block.fields[column - block.column].key)
        title = f"{block.table.title}: {name}" if name else block.table.title
        sheet.write_string(TITLE_ROW, column, title, styles.named("title"))
    for column, field in enumerate(block.fields, block.column):
        sheet.write_blank(NOTE_ROW, column, None, styles.named("note_over"))
        unit = shown_unit(field, block.system, block.currency)
        write_value(sheet, UNIT_ROW, column, unit, styles.named(f"unit_{side_of(field)}"))
        _write_note(sheet, column, rules.note(field, block.system))
        sheet.set_column(column, column, block.width(field))
    for column in (first, *own):
        sheet.write_string(NOTE_ROW, column, block.table.note, styles.named("note_over"))


def _write_note(sheet: Worksheet, column: int, text: str) -> None:
    """Write the note of a header, if it says more than that nothing is asked of the column."""
    if text == rules.OPTIONAL:
        return
    lines = sum(len(textwrap.wrap(line, COMMENT_LETTERS)) for line in text.splitlines())
    size = {"width": COMMENT_WIDTH, "height": COMMENT_LINE * (lines + 1)}
    sheet.write_comment(HEADER_ROW, column, text, size)


def _write_body(sheet: Worksheet, styles: Styles, block: Block) -> None:
    spare = block.bare_row
    for row, values in enumerate(block.rows, BODY_ROW):
        for column, field in enumerate(block.fields, block.column):
            style = styles.input(field, wrap=True, bare=row >= spare)
            write_value(sheet, row, column, values[field.key], style)


def _add_table(sheet: Worksheet, styles: Styles, block: Block) -> None:
    headers = [
        {"header": field.header, "header_format": styles.named(f"over_{side_of(field)}")}
        for field in block.fields
    ]
    options = {
        "name": block.table.excel_name,
        "columns": headers,
        "style": STYLE,
        "banded_rows": False,
        "autofilter": False,
    }
    sheet.add_table(HEADER_ROW, block.column, block.last_row, block.last_column, options)


def _add_rules(sheet: Worksheet, styles: Styles, block: Block) -> None:
    whole_row = f"{block.address(block.column)}:{block.address(block.last_column)}"
    for column, field in enumerate(block.fields, block.column):
        area = (BODY_ROW, column, block.last_row, column)
        cell = block.address(column)
        options = rules.validation(field, block.system, cell)
        if options["validate"] != "any":
            sheet.data_validation(*area, options)
        if field.key == OLD_MARKED and any(OLDER in str(row[field.key]) for row in block.rows):
            _mark_old(sheet, styles, area)
        if field.required:
            missing = f"=AND(COUNTA({whole_row})>0,LEN({cell})=0)"
            rule = {"type": "formula", "criteria": missing, "format": styles.named("missing")}
            sheet.conditional_format(*area, rule)
        if large := rules.large_and_whole(field, block.system, cell):
            rule = {**large, "format": styles.named("thousands")}
            sheet.conditional_format(*area, rule)
    if block.bare_row <= block.last_row:
        bare = (block.bare_row, block.column, block.last_row, block.last_column)
        rule = {"type": "formula", "criteria": "=1=1", "format": styles.named("typed_frame")}
        sheet.conditional_format(*bare, rule)


def _mark_old(sheet: Worksheet, styles: Styles, area: tuple[int, int, int, int]) -> None:
    """Color a basis that says that its figure is old."""
    rule = {"type": "text", "criteria": "containing", "value": OLDER}
    sheet.conditional_format(*area, {**rule, "format": styles.named("doubted")})


def text_columns(block: Block) -> list[str]:
    """Return the ranges of a table's text columns, where numbers may stand as text."""
    return [
        f"{block.address(column)}:{block.address(column, block.last_row)}".replace("$", "")
        for column, field in enumerate(block.fields, block.column)
        if field.kind in ("text", "size")
    ]


def _set_heights(sheet: InputSheet, blocks: list[Block]) -> None:
    for row in _table_rows(blocks):
        height = _height(blocks, row)
        if row == HEADER_ROW:
            sheet.set_row(row, height)
        elif height != look.ROW:
            sheet.set_growing_row(row, height)
    for row, points in HEAD_POINTS.items():
        sheet.set_row(row, points)
    ignored = " ".join(area for block in blocks for area in text_columns(block))
    sheet.ignore_errors({"number_stored_as_text": ignored})


def _table_rows(blocks: Sequence[Block]) -> range:
    """Return the rows from the headers to the end of the longest table."""
    return range(HEADER_ROW, max(block.last_row for block in blocks) + 1)


def _height(blocks: Sequence[Block], row: int) -> float:
    """Return the points that a row takes: more where a text wraps."""
    lines = max(_lines(block, row) for block in blocks)
    return LINE_POINTS * lines + MARGIN_POINTS if lines > 1 else look.ROW


def _lines(block: Block, row: int) -> int:
    if row == HEADER_ROW:
        return max(
            lines_of(f.header, _room(block.width(f), f), look.TEXT, bold=True) for f in block.fields
        )
    if row > block.last_row:
        return 1
    values = block.rows[row - BODY_ROW]
    return max(
        (
            lines_of(str(values[f.key] or ""), _room(block.width(f), f), look.TEXT)
            for f in block.fields
            if f.kind in FITTED_KINDS
        ),
        default=1,
    )


def _shown(value: Value, field: Field, system: UnitSystem) -> str:
    if isinstance(value, int | float):
        is_large = value >= look.THOUSAND and value == int(value)
        is_marked = is_large and rules.marks_thousands(field, system)
        return number_text(value, THOUSANDS if is_marked else number_format(field) + look.CLEAR)
    return "" if value is None else str(value)


def _room(width: float, field: Field) -> float:
    """Return the pixels that a field's column leaves to its texts."""
    return (look.pixels_of(width) - _edges(field)) / RESERVE
