"""Begins a new page before a table that has no room on the rest of one.

A title never stands at the foot of a page, a header never without rows, and the sums of a long
table never alone on its last page. A sheet without a paper prints the same pages on Letter and on
A4. Sheets that a reader filters are left to the spreadsheet program, but for their last page.
"""

from collections.abc import Iterator, Sequence
from dataclasses import replace
from itertools import pairwise, takewhile, zip_longest
from math import inf

from estimator.data_class import dataclass
from estimator.workbook.sheet import look
from estimator.workbook.sheet.blocks import Block, Rows, as_held, parts_of
from estimator.workbook.sheet.cell_text import area_of
from estimator.workbook.sheet.even_pages import LongTable
from estimator.workbook.sheet.spec import Row, SheetSpec

TOGETHER = 4
"""Rows that stay with the header of a table, and that end one together, or as high as so many."""
LEADING = 4
"""Rows among which a table has its header: below its title, and below a line or two on it."""
HARDLY_USED, HALF_USED = 0.3, 0.6
"""Part of a page that is not left alone to keep a table whole: where the table goes on under a
header of the page, and under one of its own.
"""
HEADS = frozenset({"section", "header", "header_right", "header_center", "header_after", "over"})
SUMS = ("total", "grand_total")
"""How the styles of sums begin."""
HARDLY_HIGH = 1.5
"""Height in points of a blank row with which a page begins or ends."""
MOST_BREAKS = 60
"""Breaks up to which every page begins where we say; each is an order to an open program."""
MOST_HEADERS = 3
"""Headers that are tried: without one that no table needs, another may go on over a page."""
KEPT_WITH_NEXT = HEADS | {
    "group", "gantt_run", "text_kept", "wrap_kept", "shared", "week_kept", "week_year_kept",
}  # fmt: skip


@dataclass(frozen=True)
class _Part:
    """Rows that stay together: the first, the row after the last, and their height in points.

    ``filled`` is the height without the blank rows at the end.
    """

    start: int
    end: int
    height: float
    filled: float


def with_breaks(spec: SheetSpec) -> SheetSpec:
    """Return a sheet, laid out, with the rows after which a new page begins.

    The header that every page repeats is that of a table that goes on over a page; none where no
    table does.
    """
    if spec.tables:
        return spec
    rows = _Rows(spec)
    if spec.parts:
        return _with_parts_whole(spec, rows)
    if spec.autofilter:
        return _with_rows_on_the_last_page(spec, rows)
    if not spec.breaks and rows.part(1, rows.last + 1).filled <= _page(spec):
        return replace(spec, header_row=None)
    pages = _filled(rows, spec)
    if spec.own_headers:
        return replace(spec, header_row=None, breaks=tuple(sorted(pages.breaks)))
    for _ in range(MOST_HEADERS):
        header_row, header_rows = _repeated(rows, spec, pages.split)
        if (header_row, header_rows) == (spec.header_row, spec.header_rows):
            break
        spec = replace(spec, header_row=header_row, header_rows=header_rows)
        pages = _filled(rows, spec)
    return _begun_close(replace(spec, breaks=tuple(sorted(pages.breaks))), rows)


def _with_parts_whole(spec: SheetSpec, rows: "_Rows") -> SheetSpec:
    """Return a sheet of one long table with the pages that part the least, if not too many."""
    first, last = spec.repeated_rows or (1, 0)
    page = _page(spec)
    room = page - sum(map(rows.height, range(first, last + 1)))
    breaks = set(spec.breaks)
    for start, end in pairwise([1, *(row + 1 for row in spec.breaks), rows.last + 1]):
        table = LongTable(
            heights=[rows.height(number) for number in range(start, end)],
            starts=[row - start for row in spec.parts if start < row < end],
            first_room=room if start > last else page,
            room=room,
        )
        breaks.update(start + at - 1 for at in table.page_starts())
        if len(breaks) > MOST_BREAKS:
            return spec
    return replace(spec, breaks=tuple(sorted(breaks)))


def _with_rows_on_the_last_page(spec: SheetSpec, rows: "_Rows") -> SheetSpec:
    """Return a sheet that a reader filters with enough rows on its last page."""
    end = rows.last + 1
    *before, last = _begun(spec, rows)
    if not before or rows.are_enough(last, end):
        return spec
    return replace(spec, breaks=(*spec.breaks, rows.tail(before[-1] + 1, end) - 1))


def _begun_close(spec: SheetSpec, rows: "_Rows") -> SheetSpec:
    """Return a sheet whose pages neither begin nor end with a blank row of full height.

    At the end it might have no room, and be a page of its own.
    """
    blanks = set[int]()
    for last in spec.breaks:
        after = takewhile(rows.is_blank, range(last + 1, rows.last + 1))
        blanks.update(after, takewhile(rows.is_blank, range(last, 1, -1)))
    if not blanks:
        return spec
    parts = (
        Row(part.cells, HARDLY_HIGH) if isinstance(part, Row) and number in blanks else part
        for number, part in Rows(parts_of(spec.rows)).numbered()
    )
    return replace(spec, rows=as_held(list(parts)))


def _page(spec: SheetSpec, spare: float = look.PAGE_RESERVE) -> float:
    """Return the points of rows that fit on a page of a sheet, of the lower paper without one."""
    papers = look.PAPER_CODES if spec.paper is None else (spec.paper,)
    across = bool(spec.landscape)
    return min(look.page_height(paper, across=across, spare=spare) for paper in papers)


def pages_down(spec: SheetSpec, spare: float = look.PAGE_RESERVE) -> int:
    """Return how many pages a sheet takes from top to bottom, laid out as it is.

    ``spare`` are the points of a page that stay free.
    """
    return len(_begun(spec, _Rows(spec), spare))


def _begun(spec: SheetSpec, rows: "_Rows", spare: float = look.PAGE_RESERVE) -> Sequence[int]:
    """Return the rows with which the pages of a sheet begin, laid out as it is."""
    page = _page(spec, spare)
    first, last = spec.repeated_rows or (1, 0)
    head = sum(map(rows.height, range(first, last + 1)))
    breaks = frozenset(spec.breaks)
    begun, used = [1], 0.0
    for number in range(1, rows.last + 1):
        height = rows.height(number)
        is_full = used + height > page and not rows.is_blank(number)
        if number > 1 and (number - 1 in breaks or is_full):
            begun.append(number)
            used = head if number > last else 0.0
        used += height
    return begun


def pages_without_head(spec: SheetSpec) -> int:
    """Return how many pages go on with a table above the header that pages repeat."""
    rows = _Rows(spec)
    first, _ = spec.repeated_rows or (1, 0)
    begun = (
        next((number for number in range(after + 1, first) if not rows.is_blank(number)), first)
        for after in spec.breaks
    )
    return sum(number < first and rows.style(number) not in HEADS for number in begun)


def charts_apart(spec: SheetSpec) -> int:
    """Return how many charts, with the heading above them, begin a page after the first."""
    rows = _Rows(spec)
    tops = (area_of(chart.anchor[0]).top for chart in spec.charts)
    starts = (
        next(number for number in range(top, 0, -1) if not rows.leads(number - 1)) for top in tops
    )
    return sum(start - 1 in spec.breaks for start in starts)


def printed_pages(spec: SheetSpec) -> int:
    """Return how many pages a sheet prints, laid out as it is: the program fills each it breaks."""
    last = area_of(spec.print_area).right if spec.print_area else len(spec.widths)
    widths = [look.pixels_of(width) for width in spec.widths[:last]]
    room = look.box_pixels(across=bool(spec.landscape))
    beside = 1 + len(page_starts(widths, spec.repeated_columns, room))
    return beside * pages_down(spec, look.LEAST_RESERVE)


def page_starts(widths: Sequence[float], repeated: int, room: float) -> Sequence[int]:
    """Return the columns, counted from 1, with which the pages across after the first begin."""
    starts, used = [], 0.0
    for number, width in enumerate(widths, 1):
        if used + width > room + 1:
            starts.append(number)
            used = sum(widths[:repeated]) if number > repeated else 0.0
        used += width
    return starts


def _filled(rows: "_Rows", spec: SheetSpec) -> "_Pages":
    """Return the pages with all tables on them."""
    pages = _Pages(spec)
    before: Sequence[_Part] = ()
    for start, end in pairwise([*rows.table_starts(), rows.last + 1]):
        whole, parts = rows.part(start, end), rows.parts(start, end)
        if spec.own_headers:
            pages.go_on_under(rows, whole)
        is_taken_apart = pages.is_hardly_used or not pages.hold(whole) or pages.break_in(whole)
        begins = pages.begins(parts[0] if is_taken_apart else whole)
        if begins and before and before[0].start <= (spec.header_row or 0) < start:
            pages.move_on(before[-1])
        if is_taken_apart:
            pages.take_in_parts(parts)
        else:
            pages.take(whole)
        before = parts
    return pages


def _repeated(rows: "_Rows", spec: SheetSpec, split: Sequence[_Part]) -> tuple[int | None, int]:
    """Return the last row of the header that pages repeat, None for none, and its rows.

    Of headers that say the same, that of the first table serves the others. Where others go on
    that it does not serve, it is the header of the last: no page has that of another table.
    """
    heads = [head for head in map(rows.head_of, split) if head is not None]
    wanted = _wanted(rows, spec, split, heads)
    is_for_all = wanted[0] is None or all(rows.serves(wanted[0], head) for head in heads)
    return wanted if is_for_all else (heads[-1], 1)


def _wanted(
    rows: "_Rows", spec: SheetSpec, split: Sequence[_Part], heads: Sequence[int]
) -> tuple[int | None, int]:
    """Return the header asked for if its table goes on, else that of the first that does."""
    asked = spec.header_row or 0
    if any(part.start <= asked < part.end for part in split):
        alike = [head for head in heads if rows.texts(head) == rows.texts(asked)]
        first = min([asked, *alike])
        return first, spec.header_rows if first == asked else 1
    return next(iter(heads), None), 1


class _Pages:
    """The pages that are filled one after another; where one begins by our will is a break."""

    def __init__(self, spec: SheetSpec) -> None:
        first, self.last_repeated = spec.repeated_rows or (1, 0)
        repeated = spec.rows[first - 1 : self.last_repeated]
        heights = (row.height or look.ROW for row in repeated)
        self.head = sum(heights) + spec.room_again
        self.page = _page(spec)
        self.room = self.page
        self.given = frozenset(spec.breaks)
        self.most_breaks = inf if spec.own_headers else MOST_BREAKS
        self.left_alone = HALF_USED if spec.own_headers else HARDLY_USED
        self.breaks = set(self.given)
        self.split: list[_Part] = []
        """Tables that go on over a page."""

    def go_on_under(self, rows: "_Rows", table: _Part) -> None:
        """Keep room for the header of a table on the pages that go on with it."""
        header = rows.first_header(table)
        self.last_repeated = header or table.end
        self.head = rows.height(header) if header else 0.0

    def hold(self, part: _Part) -> bool:
        """Return whether one page holds rows that stay together."""
        return part.filled <= self._empty(part)

    def break_in(self, table: _Part) -> bool:
        """Return whether a page begins in a table in any case."""
        return any(table.start <= row < table.end - 1 for row in self.given)

    @property
    def is_hardly_used(self) -> bool:
        """Return whether so much of the page is empty, as below its title, that it is filled."""
        return self.room > self.page * (1 - self.left_alone)

    def begins(self, part: _Part) -> bool:
        """Return whether rows that stay together begin a page."""
        return part.start - 1 in self.given or part.filled > self.room

    def move_on(self, part: _Part) -> None:
        """Begin a page with the end of a table, whose header it repeats, before what follows."""
        is_below = part.start > self.last_repeated + TOGETHER
        if part.start - 1 > max(self.breaks, default=0) and is_below:
            self.breaks.add(part.start - 1)
            self.room = self._empty(part) - part.height

    def take_in_parts(self, parts: Sequence[_Part]) -> None:
        """Put a table on the page, and what has no room on those that follow."""
        begun = [self.take(part) for part in parts]
        if any(begun[1:]):
            first, last = parts[0], parts[-1]
            self.split.append(_Part(first.start, last.end, 0.0, 0.0))

    def take(self, part: _Part) -> bool:
        """Put rows on the page, on a new one where they have no room; return whether it is one."""
        is_new = self.begins(part)
        if is_new:
            if part.start > 1 and (
                part.end > part.start + 1 or len(self.breaks) < self.most_breaks
            ):
                self.breaks.add(part.start - 1)
            self.room = self._empty(part)
        self.room -= part.height
        return is_new

    def _empty(self, part: _Part) -> float:
        """Return the room of a page that begins with a part."""
        return self.page - (self.head if part.start > self.last_repeated else 0.0)


class _Rows:
    """The printed rows of a sheet, counted from 1."""

    def __init__(self, spec: SheetSpec) -> None:
        self.spec = spec
        area = area_of(spec.print_area) if spec.print_area else None
        self.last = area.bottom if area else len(spec.rows)
        self.right = area.right if area else None
        """The last printed column, None for all."""
        self.kept = self._kept()
        self._heights: list[float] = []
        self._styles: list[str] = []
        for part in parts_of(spec.rows):
            if isinstance(part, Block):
                self._take_block(part)
            else:
                self._take(part)

    def _take(self, row: Row) -> None:
        printed = row.cells[: self.right]
        filled = (cell.style for cell in printed if cell is not None and cell.value is not None)
        self._heights.append(look.ROW if row.height is None else row.height)
        self._styles.append(next(filled, "").partition(",")[0])

    def _take_block(self, block: Block) -> None:
        first = block.columns[0]
        if first.apart or None in first.values:
            for at in range(block.count):
                self._take(block.row(at))
            return
        heights = block.heights or (None,) * block.count
        self._heights += [look.ROW if height is None else height for height in heights]
        self._styles += [first.style.partition(",")[0]] * block.count

    def row(self, number: int) -> Row | None:
        """Return a row; None below the last one, where a chart may stand."""
        return self.spec.rows[number - 1] if number <= len(self.spec.rows) else None

    def height(self, number: int) -> float:
        """Return the height of a row in points."""
        return self._heights[number - 1] if number <= len(self._heights) else look.ROW

    def style(self, number: int) -> str:
        """Return the style of the first filled cell of a row, empty for a blank row."""
        return self._styles[number - 1] if number <= len(self._styles) else ""

    def texts(self, number: int) -> list[object]:
        """Return what the printed cells of a row say."""
        row = self.row(number)
        return [cell and cell.value for cell in (row.cells[: self.right] if row else ())]

    def serves(self, header: int, other: int) -> bool:
        """Return whether a header says what another one says, but for one column at most."""
        pairs = zip_longest(self.texts(header), self.texts(other))
        return sum(own is not None and own != said for said, own in pairs) <= 1

    def is_blank(self, number: int) -> bool:
        """Return whether nothing stands in a row, no chart either."""
        return not self.style(number) and number not in self.kept

    def leads(self, number: int) -> bool:
        """Return whether a row is a heading, or the note below one."""
        return number > 0 and self.style(number) in HEADS | {"subtitle"}

    def is_sum(self, number: int) -> bool:
        """Return whether a row sums those above it."""
        return self.style(number).startswith(SUMS)

    def table_starts(self) -> Iterator[int]:
        """Yield the first row of each table: of the page, a section, or a header without one."""
        yield 1
        for number in range(2, self.last + 1):
            style = self.style(number)
            after_blank = self.is_blank(number - 1)
            if style == "section" or (style in HEADS and after_blank and number > 3):
                yield number

    def head_of(self, table: _Part) -> int | None:
        """Return the header of a table, None where it has none."""
        return self._header_from(table.start, table.end)

    def first_header(self, table: _Part) -> int | None:
        """Return the first header of a table, below a chart too; None where it has none."""
        numbers = range(table.start, table.end)
        return next((n for n in numbers if self.style(n).startswith("header")), None)

    def _header_from(self, start: int, end: int) -> int | None:
        lead = range(start, min(end, start + LEADING))
        return next((n for n in lead if self.style(n).startswith("header")), None)

    def part(self, start: int, end: int) -> _Part:
        """Return rows as one part."""
        heights = [self.height(number) for number in range(start, end)]
        filled = len(heights)
        while filled > 1 and self.is_blank(start + filled - 1):
            filled -= 1
        return _Part(start, end, sum(heights), sum(heights[:filled]))

    def parts(self, start: int, end: int) -> Sequence[_Part]:
        """Return a table as rows that stay together: its head, each row, and its end."""
        filled = end
        while filled > start + 1 and self.is_blank(filled - 1):
            filled -= 1
        tail = self.tail(start, self._before_sums(start, filled))
        found, number = [], start
        while number < end:
            after = self._with_sums(self._after(number, start), filled)
            if tail < after:
                after = end
            found.append(self.part(number, min(after, end)))
            number = after
        return found

    def tail(self, start: int, end: int) -> int:
        """Return the first of the rows that end a table together, and of those it stands below."""
        number = end
        while number > start and (
            not self.are_enough(number, end) or self.style(number - 1) in KEPT_WITH_NEXT
        ):
            number -= 1
        return number

    def are_enough(self, start: int, end: int) -> bool:
        """Return whether rows may stand alone on a page."""
        if end - start >= TOGETHER:
            return True
        return sum(map(self.height, range(start, end))) >= TOGETHER * look.ROW

    def _before_sums(self, start: int, end: int) -> int:
        """Return the row after the last one that is no sum, nor a blank row between sums."""
        while end > start + 1 and (self.is_sum(end - 1) or self.is_blank(end - 1)):
            end -= 1
        return end

    def _with_sums(self, after: int, end: int) -> int:
        """Return the row after the sums that follow a row, and blank rows between them."""
        found = after
        while found < end and (self.is_blank(found) or self.is_sum(found)):
            found += 1
            if self.is_sum(found - 1):
                after = found
        return after

    def _after(self, number: int, start: int) -> int:
        """Return the row after those that stay with a row; with the first, the head and some."""
        if number > start:
            return self._after_one(number)
        below = (self._header_from(start, self.last + 1) or start - 1) + 1
        while self.style(below) in HEADS:
            below += 1
        after = self._after_one(below)
        while after <= self.last and not self.are_enough(below, after):
            after = self._after_one(after)
        return after

    def _after_one(self, number: int) -> int:
        """Return the row after one, those that it stands above, and what it is merged with."""
        after = number
        while after < self.last and self.style(after) in KEPT_WITH_NEXT:
            after += 1
        after += 1
        if self.style(number) == "group" and self._goes_on(after):
            after += 1
        if self._ends_group(after):
            after += 1
        while after - 1 in self.kept and self.kept[after - 1] >= after:
            after = self.kept[after - 1] + 1
        return after

    def _ends_group(self, number: int) -> bool:
        """Return whether a row is the last of several of a group, before the next or its sum."""
        is_row = self.style(number) not in KEPT_WITH_NEXT and not self.is_sum(number)
        is_last = self.style(number + 1) == "group" or self.is_sum(number + 1)
        return is_row and self._goes_on(number) and is_last

    def _goes_on(self, number: int) -> bool:
        """Return whether a row is one more of the rows above it."""
        return bool(self.style(number)) and self.style(number) == self.style(number - 1)

    def _kept(self) -> dict[int, int]:
        """Return the last row that stays with each row: of a chart, or of cells merged downward."""
        areas = [area_of(f"{one.anchor[0]}:{one.anchor[1]}") for one in self.spec.charts]
        areas += [area_of(merge) for merge in self.spec.merges]
        found: dict[int, int] = {}
        for area in areas:
            for number in range(area.top, area.bottom + 1) if area.top < area.bottom else ():
                found[number] = max(found.get(number, 0), area.bottom)
        return found
