"""Lays a sheet out on its page: widths, heights, wrapped text, header sides and the title's rule.

A sheet says what is in its cells; this says how they take their places, so that nothing is cut
off and every page prints at 100 %. It is done once, before either renderer sees the sheet.
"""

import dataclasses
import datetime as dt
import re
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import field, replace
from itertools import islice
from math import ceil, inf
from types import MappingProxyType
from typing import NamedTuple

from estimator.data_class import dataclass
from estimator.workbook.sheet import look
from estimator.workbook.sheet.blocks import NUMBERS, Block, Column, Rows, as_held, parts_of
from estimator.workbook.sheet.cell_text import area_of
from estimator.workbook.sheet.column_needs import (
    BROADER,
    Need,
    Texts,
    counted_rows,
    in_steps,
    with_few_lines,
    with_heads_apart,
)
from estimator.workbook.sheet.page_breaks import (
    charts_apart,
    page_starts,
    pages_down,
    pages_without_head,
    with_breaks,
)
from estimator.workbook.sheet.source import column_letters
from estimator.workbook.sheet.spec import Cell, Row, SheetSpec, Value
from estimator.workbook.sheet.styles import (
    AFTER,
    CLOSE_STYLES,
    SNUG,
    STYLES,
    WRAPPED,
    StyleDef,
)
from estimator.workbook.sheet.text_width import (
    cell_text,
    lines_of,
    names_and_words_of,
    text_pixels,
    words_of,
)

TITLE_ROWS = 2
MOST_CLOSED_UP = 400
"""Rows up to which a sheet is tried in every way; a longer one that may close up does."""
RESERVE = 1.04
"""Screens draw letters a little broader than the typeface has them."""
EDGE, INDENT, DIGIT = 5.0, 9.0, 7.0
"""Pixels of both edges of a cell, of one indent, and of a figure kept free where a number lives."""
SPARE = 1.0
"""Pixels that a text keeps free which fills its cells."""
NARROW_TEXT, NARROWEST_TEXT = 14.0, 10.0
"""Letters that a line of wrapped text holds at least, and where the page has no room for them."""
LONGEST_WORD = 22.0
"""Letters of a word up to which a column of wrapped texts holds it whole."""
BROADEST_LETTER = 12.0
HEADER, LINK, UNBROKEN = "header", "link", "unbroken"
GENERAL = frozenset(
    key for key, style in STYLES.items() if style.number_format.startswith("General;")
)
"""Styles whose numbers show as many digits as they have."""
_FREE = frozenset(
    [
        "title",
        "title_right",
        "result",
        "subtitle",
        "job",
        "job_right",
        "section",
        "section_after",
        "group",
        "note",
        "key",
        "key_ink",
        "plain",
        "unit",
    ]
)
FREE = _FREE | {CLOSE_STYLES[key] for key in _FREE if key in CLOSE_STYLES}
"""Styles whose text stands alone in its row and may run over the empty cells beside it."""

_WORDS = re.compile(r'(?<=[,(])"([a-z]+)"')
"""Words that a formula may show in place of the one it shows now."""

_SIDES: Mapping[bool | None, Sequence[tuple[bool, bool]]] = MappingProxyType(
    {
        None: ((False, False), (True, True)),
        False: ((False, True), (True, True)),
        True: ((True, True),),
    }
)
"""How a page may lie by what its sheet asks, in order: whether across, and whether texts wrap."""

Cells = list[Cell | None]


def laid_out(spec: SheetSpec) -> SheetSpec:
    """Return a sheet with everything in its place on the page."""
    if not spec.rows:
        return spec
    if spec.closes_up and len(spec.rows) > MOST_CLOSED_UP:
        return _on_pages(spec, _fitted_in(spec, closed_up=True), look.CLOSE_ROWS[0])
    roomy = _on_pages(spec, _fitted_in(spec), look.ROW)
    if not spec.closes_up or pages_down(roomy) == 1:
        return roomy
    fitted = _fitted_in(spec, closed_up=True)
    closer = (_on_pages(spec, fitted, height) for height in look.CLOSE_ROWS)
    return min((roomy, *closer), key=_faults)


def _faults(spec: SheetSpec) -> tuple[int, int, int]:
    """Return what speaks against a layout, the worst first."""
    return pages_down(spec), pages_without_head(spec), charts_apart(spec)


class _Fitted(NamedTuple):
    """What a sheet is in a type, whatever the height of its rows."""

    rows: Rows
    widths: tuple[float, ...]
    across: bool


def _fitted_in(spec: SheetSpec, *, closed_up: bool = False) -> _Fitted:
    """Return a sheet in its columns, closed up in the smaller type."""
    rows = Rows(
        part if isinstance(part, Block) else Row(list(part.cells), part.height)
        for part in parts_of(spec.rows)
    )
    _set_apart(rows)
    _turn_headers(rows)
    if closed_up:
        rows.parts[TITLE_ROWS:] = [_closed_up(part) for part in rows.parts[TITLE_ROWS:]]
    return _Fitted(rows, *_widths(replace(spec, rows=rows), _last_column(spec)))


def _on_pages(spec: SheetSpec, fitted: _Fitted, row: float) -> SheetSpec:
    """Return a sheet on its pages, with this height of a row of one line."""
    rows, widths, across = fitted
    last, box = _last_column(spec), look.box_pixels(across=across)
    total = sum(map(look.pixels_of, widths[:last]))
    page = _Page(widths, last, _edge(widths[:last], box), {}, list(spec.merges))
    page.row = row
    page.note_merges()
    repeated = spec.freeze[1] if spec.freeze and total > box + 1 else 0
    parts = _titled([*rows.parts], spec, page, repeated + 1)
    starts = page_starts(page.each[:last], repeated, box) if repeated else ()
    if repeated:
        _title_each_page(parts, page, [repeated + 1, *starts])
        _name_groups_again(parts, spec.header_row, [repeated + 1, *starts])
    placed = replace(
        spec,
        rows=as_held([_in_place(part, number, page) for number, part in Rows(parts).numbered()]),
        widths=widths,
        merges=tuple(page.merges),
        landscape=across,
        repeated_columns=repeated,
        column_breaks=[start - 1 for start in starts],
        print_area=spec.print_area or _everything(spec, last),
    )
    return with_breaks(placed)


def _closed_up(row: Row | Block) -> Row | Block:
    """Return rows in the smaller type."""
    keys = CLOSE_STYLES.get
    if isinstance(row, Block):
        closer = (one._replace(style=keys(one.style, one.style)) for one in row.columns)
        return row.with_columns(closer)
    cells = [cell and cell._replace(style=keys(cell.style, cell.style)) for cell in row.cells]
    return Row(cells, row.height)


def _everything(spec: SheetSpec, last: int) -> str | None:
    """Return all that a sheet holds as its print area; None where the user adds rows.

    Without one, LibreOffice breaks a million empty rows into pages, again for every sheet that
    repeats a row: that took most of the time in which it opened a workbook.
    """
    if spec.tables:
        return None
    corners = [area_of(chart.anchor[1]) for chart in spec.charts]
    right = max([last, *(corner.right - 1 for corner in corners)])
    bottom = max([len(spec.rows), *(corner.bottom - 1 for corner in corners)])
    return f"$A$1:${column_letters(right)}${bottom}"


@dataclass()
class _Page:
    """What rows are laid out on: columns, the last printed one, that of page 1, merged cells."""

    widths: Sequence[float]
    last: int
    edge: int
    merged: dict[tuple[int, int], tuple[int, int]]
    merges: list[str] = field(default_factory=list)
    heights: dict[tuple[str, str, float], float] = field(default_factory=dict)
    """Heights of wrapped texts by text, style and room."""
    each: Sequence[float] = ()
    """Pixels of each column."""
    row: float = look.ROW
    """Height in points of a row of one line."""

    def __post_init__(self) -> None:
        self.each = [look.pixels_of(width) for width in self.widths]

    def note_merges(self) -> None:
        """Know the merged cells by the row and the first column."""
        for merge in self.merges:
            area = area_of(merge)
            self.merged[area.top, area.left] = area.right, area.bottom

    def merge(self, row: int, first: int, last: int) -> None:
        """Merge cells of a row."""
        self.merged[row, first] = last, row
        self.merges.append(f"{column_letters(first)}{row}:{column_letters(last)}{row}")

    def taken(self, row: int, column: int) -> bool:
        """Return whether a cell is one of merged ones."""
        starts = (first for first in range(column, 0, -1) if (row, first) in self.merged)
        start = next(starts, None)
        return start is not None and self.merged[row, start][0] >= column

    def pixels(self, first: int, last: int) -> float:
        """Return how broad columns are together."""
        return self.each[first - 1] if first == last else sum(self.each[first - 1 : last])

    def height(self, text: str, key: str, own: float) -> float:
        """Return the height in points that a wrapped text of a style needs."""
        known = self.heights.get((text, key, own))
        if known is None:
            known = self.heights[text, key, own] = _height(text, STYLES[key], own, self.row)
        return known


def _last_column(spec: SheetSpec) -> int:
    """Return the last column that is printed."""
    if spec.print_area:
        return area_of(spec.print_area).right
    return max(len(spec.widths), 1)


def _edge(widths: Sequence[float], box: float) -> int:
    """Return the last column of the first page."""
    used = 0.0
    for number, width in enumerate(widths, 1):
        used += look.pixels_of(width)
        if used > box + 1:
            return max(number - 1, 1)
    return len(widths)


# -- widths


def _pixels(text: str, style: StyleDef) -> float:
    """Return how broad a cell must be for a text."""
    bare = text_pixels(text, style.font_size, bold=style.bold)
    return bare * RESERVE + EDGE + INDENT * style.indent


def _widths(spec: SheetSpec, last: int) -> tuple[tuple[float, ...], bool]:
    """Return the column widths, and whether the page lies across."""
    given = tuple(spec.widths) or (10.0,) * last
    beyond = given[last:]
    if spec.exact_widths:
        total = sum(map(look.pixels_of, given[:last]))
        upright = total <= look.box_pixels(across=False)
        return given, not upright if spec.landscape is None else spec.landscape
    needs = _needs(spec, last)
    for across, wrap in _SIDES[spec.landscape]:
        found = _fitted(given[:last], needs, across=across, wrap=wrap)
        if found is not None:
            rows, box = counted_rows(_texts(spec, last)), look.box_pixels(across=across)
            pixels = with_few_lines(found, needs, rows, box)
            apart = with_heads_apart(pixels, needs, rows, box)
            pixels = _alike(apart, needs, spec)
            return (*map(_characters, pixels), *beyond), across
    tight = (ceil(_tight(width, need)) for width, need in zip(given, needs, strict=False))
    return (*map(_characters, tight), *beyond), True


def _alike(pixels: list[int], needs: Sequence[Need], spec: SheetSpec) -> list[int]:
    """Return widths of which the columns that are to be alike share theirs, if numbers have room.

    What does not go up stays with the column before them.
    """
    if spec.alike is None:
        return pixels
    first, last = spec.alike[0] - 1, spec.alike[1]
    each, rest = divmod(sum(pixels[first:last]), last - first)
    if max(need.fixed for need in needs[first:last]) > each:
        return pixels
    before = [*pixels[: first - 1], pixels[first - 1] + rest]
    return [*before, *[each] * (last - first), *pixels[last:]]


def _fitted(
    given: Sequence[float], needs: Sequence[Need], *, across: bool, wrap: bool
) -> list[int] | None:
    """Return pixels that fit a page: as given, else fitted to the contents, else with ``wrap``."""
    box = look.box_pixels(across=across)
    pairs = list(zip(given, needs, strict=True))
    full = [ceil(max(look.pixels_of(width), need.fixed)) for width, need in pairs]
    tight = [ceil(_tight(width, need)) for width, need in pairs]
    squeezed = [ceil(_squeezed(width, need, NARROW_TEXT)) for width, need in pairs]
    narrow = [ceil(_squeezed(width, need, NARROWEST_TEXT)) for width, need in pairs]
    steps = [(full, full), (tight, full), (squeezed, tight), (narrow, squeezed)]
    for least, most in steps if wrap else steps[:2]:
        room = box - sum(least)
        if room < 0:
            continue
        more = [high - low for low, high in zip(least, most, strict=True)]
        part = min(1.0, room / sum(more)) if sum(more) else 0.0
        return [int(low + part * extra) for low, extra in zip(least, more, strict=True)]
    return None


def _tight(width: float, need: Need) -> float:
    """Return the pixels that a column needs with its texts on one line, at most as given."""
    if not need.seen:
        return look.pixels_of(width)
    return max(need.fixed, min(need.text, look.pixels_of(width)))


def _squeezed(width: float, need: Need, letters: float) -> float:
    """Return the pixels that a column needs with its texts wrapped after so many letters."""
    if not need.seen:
        return min(look.pixels_of(width), look.pixels_of(letters / 2))
    return max(need.fixed, min(_tight(width, need), look.pixels_of(letters)))


def _characters(pixels: int) -> float:
    """Return the width in characters that takes whole pixels."""
    return round((pixels - look.pixels_of(0)) / 7, 3)


def _needs(spec: SheetSpec, last: int) -> list[Need]:
    """Return what each printed column holds."""
    found = _Held(last, spec.merges)
    for number, part in Rows(parts_of(spec.rows)).numbered():
        if number <= TITLE_ROWS:
            continue
        if isinstance(part, Block):
            found.take_block(part)
        else:
            found.take_row(number, part)
    return found.needs()


class _Held:
    """What the printed columns hold, cell by cell."""

    def __init__(self, last: int, merges: Sequence[str]) -> None:
        self.last = last
        self._needs = [Need() for _ in range(last)]
        areas = map(area_of, merges)
        self._merged = {(area.top, area.left) for area in areas if area.left < area.right}
        self._extremes: dict[tuple[int, str, bool], tuple[float, float]] = {}
        self._taken: set[tuple[int, Value, str]] = set()

    def take_row(self, number: int, row: Row) -> None:
        """Take in a row."""
        extremes = self._extremes
        for column, cell in enumerate(row.cells[: self.last]):
            if cell is None:
                continue
            value, style, formula = cell
            if value is None:
                continue
            if isinstance(value, (float, int)) and value is not True and value is not False:
                key = column, style, formula is not None
                ends = extremes.get(key)
                if style in GENERAL and value % 1:
                    self._take_fraction(column, value, style)
                if ends is None:
                    extremes[key] = value, value
                elif value < ends[0]:
                    extremes[key] = value, ends[1]
                elif value > ends[1]:
                    extremes[key] = ends[0], value
            elif (number, column + 1) not in self._merged:
                self._take_text(column, value, style)
                for word in _WORDS.findall(formula or ""):
                    self._take_text(column, word, style)

    def take_block(self, block: Block) -> None:
        """Take in the rows of a block, column by column."""
        for at, column in enumerate(block.columns[: self.last]):
            numbers = [value for value in column.values if type(value) in NUMBERS]
            if numbers:
                key = at, column.style, column.formula is not None
                ends = self._extremes.get(key, ())
                found = (*ends, min(numbers), max(numbers))  # type: ignore[type-var]
                self._extremes[key] = min(found), max(found)
            if len(numbers) < block.count:
                texts = [v for v in column.values if v is not None and type(v) not in NUMBERS]
                for value in dict.fromkeys(texts):
                    self._take_text(at, value, column.style)

    def _take_text(self, column: int, value: Value, style: str) -> None:
        if (column, value, style) not in self._taken and style not in FREE:
            self._taken.add((column, value, style))
            _take(self._needs[column], value, style)

    def _take_fraction(self, column: int, value: float, style: str) -> None:
        """Take in a number with as many digits as it has: it may be broader than a greater one."""
        if (column, value, style) not in self._taken:
            self._taken.add((column, value, style))
            look_of = STYLES[style]
            self._needs[column].take_fixed(_pixels(cell_text(value, look_of), look_of))

    def needs(self) -> list[Need]:
        """Return what each column needs, once all rows are taken in."""
        for (column, style, live), ends in self._extremes.items():
            look_of = STYLES[style]
            for end in ends:
                spare = DIGIT if live else 0.0
                self._needs[column].take_fixed(_pixels(cell_text(end, look_of), look_of) + spare)
        return self._needs


def _take(need: Need, value: Value, key: str) -> None:
    style, text = STYLES[key], cell_text(value, STYLES[key])
    if isinstance(value, dt.date) or key.startswith((LINK, UNBROKEN)):
        need.take_fixed(_pixels(text, style))
    elif key.startswith(HEADER):
        noun, unit = _noun_and_unit(text)
        words = [*words_of(noun.replace("\n", " "))]
        size, bold = style.font_size, style.bold
        need.take_head([text_pixels(word, size, bold=bold) for word in words])
        for word in words:
            need.take_fixed(_pixels(word.rstrip(), style))
        need.take_fixed(_pixels(unit, STYLES[style.below]))
    else:
        if style.wrap:
            longest = max(_pixels(word.rstrip(), style) for word in names_and_words_of(text))
            need.take_fixed(min(longest, look.pixels_of(LONGEST_WORD)))
        if need.asks_for(text):
            need.take_text(text, _pixels(text, style))


def _texts(spec: SheetSpec, last: int) -> Iterator[Texts]:
    """Yield of each row the texts that wrap where their own column has no room for them."""
    merged = {(area.top, area.left) for area in map(area_of, spec.merges) if area.left < area.right}
    for number, row in enumerate(islice(spec.rows, TITLE_ROWS, None), TITLE_ROWS + 1):
        cells = row.cells
        yield tuple(
            (column, in_steps(_pixels(cell.value, STYLES[cell.style])))
            for column, cell in enumerate(cells[:last])
            if cell is not None
            and isinstance(cell.value, str)
            and cell.value
            and cell.style not in FREE
            and not cell.style.startswith(HEADER)
            and (number, column + 1) not in merged
            and (STYLES[cell.style].wrap or not _is_empty(cells, column + 2))
        )


def _noun_and_unit(text: str) -> tuple[str, str]:
    noun, _, unit = text.rpartition("\n")
    return (noun, unit) if noun else (text, "")


# -- the title


def _titled(rows: list[Row | Block], spec: SheetSpec, page: _Page, first: int) -> list[Row | Block]:
    """Return the rows with the right ends of the title's lines and the rule below them.

    ``first`` is the column in which the title will stand: the one beside those that repeat.
    """
    title = [row for row in rows[:TITLE_ROWS] if isinstance(row, Row)]
    if len(title) < TITLE_ROWS or title[1].cells[:1] == [] or spec.right == (None, None):
        return rows
    upper, lower = ([*row.cells] for row in title)
    for cells, right, style in ((upper, spec.right[0], None), (lower, spec.right[1], "job")):
        cells += [None] * (page.edge - len(cells))
        if style is not None:
            cells[1 : page.edge] = [Cell(None, style)] * (page.edge - 1)
        if right is not None and page.edge > first:
            longest = (spec.right_room if style else "") or str(right.value or "")
            _put_right(cells, right, longest, page, (TITLE_ROWS if style else 1, first))
    return [
        Row(upper, look.TITLE_ROW),
        Row(lower, look.SUBTITLE_ROW),
        *rows[TITLE_ROWS:],
    ]


def _title_each_page(rows: list[Row | Block], page: _Page, starts: Sequence[int]) -> None:
    """Set the title beside the repeated columns, and again where a page begins across.

    In a column that stands on every page it would be cut off on all of them but the first.
    """
    for number, row in enumerate(rows[:TITLE_ROWS]):
        if isinstance(row, Block):
            continue
        cells: Cells = [*row.cells, *[None] * (page.last - len(row.cells))]
        title = cells[0]
        if title is None or (number + 1, 1) in page.merged:
            continue
        for start in starts:
            cells[start - 1] = title
        cells[0] = title._replace(value=None)
        rule = Cell(None, title.style)
        rows[number] = Row([cell or rule for cell in cells], row.height)


def _name_groups_again(
    rows: list[Row | Block], header_row: int | None, starts: Sequence[int]
) -> None:
    """Set the name of a group of columns again where a page begins in it.

    That over the repeated columns stands beside them: they are on pages of other groups, too.
    """
    for number in range(TITLE_ROWS, min(header_row or 0, len(rows))):
        row = rows[number]
        if isinstance(row, Block):
            continue
        cells = [*row.cells]
        names: list[Value] = []
        for cell in cells:
            if cell is None or cell.style != "group":
                break
            names.append(names[-1] if cell.value is None and names else cell.value)
        if not names or len(names) < len(cells):
            continue
        for start in starts:
            cells[start - 1] = Cell(names[start - 1], "group")
        rows[number] = Row([Cell(None, "group"), *cells[1:]], row.height)


def _put_right(cells: Cells, right: Cell, longest: str, page: _Page, at: tuple[int, int]) -> None:
    """Set a text at the right end of a line; where both ends have no room, each takes a part.

    ``longest`` is what the text may become, in the bold of a warning. ``at`` is the row, and the
    column in which the text on the left will stand.
    """
    row, begin = at
    left = cells[0]
    need = max(_pixels(longest, STYLES[key]) for key in (right.style, "warn_title"))
    beside = 0.0 if left is None else _pixels(str(left.value or ""), STYLES[left.style])
    whole = page.pixels(begin, page.edge)
    if need + beside <= whole:
        cells[page.edge - 1] = right
        return
    part = max(whole / 3, min(need, whole / 2, whole - beside))
    first = page.edge
    while first > begin + 1 and page.pixels(first, page.edge) < part:
        first -= 1
    left_over, rest = page.pixels(begin, first - 1), page.pixels(first + 1, page.edge)
    if first < page.edge and left_over < min(beside, rest):
        first += 1
    cells[first - 1] = right
    for start, end in ((begin, first - 1), (first, page.edge)):
        if start < end:
            page.merge(row, start, end)


# -- headers


def _set_apart(rows: Rows) -> None:
    """Indent each column of texts that follows a column of numbers, header by header."""
    heads = list(_head_rows(rows))
    ends = [*(number for number, _ in heads[1:]), len(rows)]
    for (number, row), end in zip(heads, ends, strict=False):
        below = _next_rows(rows, number)
        for column, cell in enumerate(row.cells):
            if column and _is_head(cell) and _touches(below, column):
                for at in rows.parts_between(number + 1, end):
                    rows.parts[at] = _indented(rows.parts[at], column)


def _head_rows(rows: Rows) -> Iterator[tuple[int, Row]]:
    """Yield the rows that hold a header, with their number from 0 on."""
    for number, part in rows.numbered():
        if isinstance(part, Row) and any(_is_head(cell) for cell in part.cells):
            yield number - 1, part


def _is_head(cell: Cell | None) -> bool:
    return cell is not None and cell.style == HEADER


def _next_rows(rows: Rows, number: int) -> Sequence[Row]:
    """Return the rows below a header that show what its columns hold."""
    return rows[number + 1 : number + 12]


def _touches(below: Sequence[Row], column: int) -> bool:
    """Return whether a column begins on the left where the one before ends on the right."""
    text, before = (_first_below(below, n) for n in (column, column - 1))
    if text is None or before is None:
        return False
    if text.style not in AFTER and text.style not in AFTER.values():
        return False
    return _stands_right(before)


def _indented(part: Row | Block, column: int) -> Row | Block:
    """Return rows with the texts of a column set apart."""
    if isinstance(part, Block):
        columns = [*part.columns]
        if column < len(columns):
            style = columns[column].style
            columns[column] = columns[column]._replace(style=AFTER.get(style, style))
        return part.with_columns(columns)
    cells = [*part.cells]
    cell = cells[column] if column < len(cells) else None
    if cell is not None and cell.style in AFTER:
        cells[column] = cell._replace(style=AFTER[cell.style])
        return Row(cells, part.height)
    return part


def _turn_headers(rows: Rows) -> None:
    """Put each header on the side of what stands below it."""
    for number, row in list(_head_rows(rows)):
        below = _next_rows(rows, number)
        cells = [
            cell._replace(style=_header_style(below, column))
            if cell is not None and cell.style == HEADER
            else cell
            for column, cell in enumerate(row.cells)
        ]
        rows.parts[rows.part_of(number)] = Row(cells, row.height)


def _header_style(below: Sequence[Row], column: int) -> str:
    first = _first_below(below, column)
    if first is None:
        return HEADER
    style = STYLES[first.style]
    if style.align == "center":
        return "header_center"
    if _stands_right(first):
        return "header_right"
    return "header_after" if style.indent else HEADER


def _stands_right(cell: Cell) -> bool:
    """Return whether what a cell holds, or would hold, ends on its right."""
    style = STYLES[cell.style]
    is_blank = cell.value in (None, "")
    is_text = style.number_format == "General" if is_blank else isinstance(cell.value, str)
    return style.align == "right" or (style.align == "" and not is_text)


def _first_below(below: Sequence[Row], column: int) -> Cell | None:
    """Return the first filled cell below a header; the first cell where all of them are empty."""
    cells = list(_cells_of(below, column))
    filled = (cell for cell in cells if cell.value not in (None, ""))
    return next(filled, cells[0] if cells else None)


def _cells_of(rows: Sequence[Row], column: int) -> Iterator[Cell]:
    for row in rows:
        cell = row.cells[column] if column < len(row.cells) else None
        if cell is not None and not cell.style.startswith(HEADER):
            if cell.style in ("group", "section", "title", "subtitle", "note"):
                continue
            yield cell


# -- wrapped text and heights


def _in_place(part: Row | Block, number: int, page: _Page) -> Row | Block:
    """Return rows whose texts have room."""
    if isinstance(part, Block):
        return _placed_block(part, page)
    return _placed(part, number, page)


def _placed_block(block: Block, page: _Page) -> Block:
    """Return a block whose texts have room; only those that may lack it are looked at by row."""
    heights = [page.row] * block.count
    columns = [*block.columns]
    for number, column in enumerate(columns[: page.last], 1):
        style, own = STYLES[column.style], page.pixels(number, number)
        broad = _may_lack_room(column, style, own)
        apart = dict(column.apart)
        for at, text in enumerate(column.values) if broad else ():
            if not isinstance(text, str) or text not in broad:
                continue
            if not style.wrap:
                place = block.first + at, number, number
                if broad[text] <= own + _free(block.row(at).cells, place, page, style):
                    continue
                apart[at] = WRAPPED.format(column.style)
            if _is_snug(text, style, own):
                apart[at] = SNUG.format(column.style)
                continue
            heights[at] = max(heights[at], page.height(text, column.style, own))
        columns[number - 1] = column._replace(apart=apart)
    return dataclasses.replace(block, columns=columns, heights=heights)


def _may_lack_room(column: Column, style: StyleDef, own: float) -> Mapping[str, float]:
    """Return the texts of a column that wrap, or are broader than it, with their pixels."""
    texts = {text for text in column.values if isinstance(text, str) and text}
    if style.wrap:
        return dict.fromkeys(texts, 0.0)
    pixels = {text: _one_line(text, style) for text in texts if not _has_room(text, style, own)}
    return {text: broad for text, broad in pixels.items() if broad > own}


def _has_room(text: str, style: StyleDef, own: float) -> bool:
    """Return whether a text has room on one line for sure, by the number of its letters."""
    broadest = len(text) * BROADEST_LETTER * style.font_size / look.TEXT + EDGE
    return broadest <= own and "\n" not in text


def _one_line(text: str, style: StyleDef) -> float:
    """Return how broad a cell must be for a text on one line: none is for one that is broken."""
    return inf if "\n" in text else _pixels(text, style)


def _placed(row: Row, number: int, page: _Page) -> Row:
    """Return a row whose texts have room: wrapped where they need it, and high enough."""
    cells: Cells = list(row.cells)
    lines_high = 0.0
    for column, cell in enumerate(cells, 1):
        if column > page.last and (cell is None or not cell.style.startswith(HEADER)):
            continue
        if cell is None or not isinstance(cell[0], str) or not cell[0]:
            continue
        text, style = cell[0], STYLES[cell[1]]
        right = page.merged[number, column][0] if (number, column) in page.merged else column
        own = page.pixels(column, right)
        if not style.wrap:
            if _has_room(text, style, own):
                continue
            if _one_line(text, style) <= own + _free(cells, (number, column, right), page, style):
                continue
            if cell.style in FREE and right == column:
                right = _run_over(cells, number, column, page)
                own = page.pixels(column, right)
        if _is_snug(text, style, own):
            cells[column - 1] = cell._replace(style=SNUG.format(cell.style))
            lines_high = max(lines_high, page.row)
            continue
        if not style.wrap:
            cells[column - 1] = cell._replace(style=WRAPPED.format(cell.style))
        lines_high = max(lines_high, page.height(text, cell.style, own))
    if not lines_high:
        return Row(cells, page.row if row.height is None else row.height)
    least = row.height if number <= TITLE_ROWS and row.height is not None else page.row
    return Row(cells, max(lines_high, least))


def _is_snug(text: str, style: StyleDef, own: float) -> bool:
    """Return whether a text fills its cells, so that letters drawn broader would lack room."""
    if style.below or "\n" in text:
        return False
    return fills(text, own, style.font_size, bold=style.bold, indent=style.indent)


def fills(text: str, own: float, size: float, *, bold: bool = False, indent: int = 0) -> bool:
    """Return whether a text just has room on one line of cells so broad."""
    edges = EDGE + INDENT * indent
    bare = text_pixels(text, size, bold=bold)
    return own - edges < bare * RESERVE and bare + edges < own * BROADER - SPARE


def _free(
    cells: Sequence[Cell | None], at: tuple[int, int, int], page: _Page, style: StyleDef
) -> float:
    """Return the pixels of the empty cells that a text may run over; none that another takes."""
    number, column, right = at
    pixels = 0.0
    if style.align in ("", "left", "center"):
        end = right
        while end < page.last and _is_empty(cells, end + 1) and not page.taken(number, end + 1):
            end += 1
        pixels += page.pixels(right + 1, end)
    if style.align in ("right", "center"):
        start = column
        while start > 1 and _is_empty(cells, start - 1) and not page.taken(number, start - 1):
            start -= 1
        pixels += page.pixels(start, column - 1)
    return pixels


def _is_empty(cells: Sequence[Cell | None], column: int) -> bool:
    cell = cells[column - 1] if column <= len(cells) else None
    return cell is None or cell.value in (None, "")


def _run_over(cells: Cells, number: int, column: int, page: _Page) -> int:
    """Merge a text with the empty cells to its right; return the last of them."""
    right = column
    while right < page.edge and _is_empty(cells, right + 1):
        if (number, right + 1) in page.merged:
            break
        right += 1
    if right > column:
        page.merge(number, column, right)
    return right


def _height(text: str, style: StyleDef, own: float, row: float) -> float:
    """Return the height in points that a wrapped text needs where a row of one line has ``row``."""
    room = (own - EDGE - INDENT * style.indent) / RESERVE
    unit = ""
    if style.below:
        text, unit = _noun_and_unit(text)
    lines = lines_of(text, room, style.font_size, bold=style.bold)
    points = lines * look.LINE * style.font_size / look.TEXT
    if unit:
        points += look.LINE * look.SMALL / look.TEXT
    margin = max(look.LEAST_MARGIN, look.LINES_MARGIN - (look.ROW - row))
    return ceil((points + margin) / look.HEIGHT_STEP) * look.HEIGHT_STEP
