"""The sheets of the site records as they are added to a workbook: pre-numbered, with formulas."""

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from itertools import pairwise

from estimator.display import UnitSystem
from estimator.inputs.column import Column, usual_column
from estimator.inputs.dictionary import (
    FILLED,
    WORKED,
    Field,
    InputTable,
    fields,
    site_tables,
)
from estimator.models.site_records import SiteRecords
from estimator.units import DAY_MIN, MIN_S
from estimator.workbook.sheet.column_needs import EDGES
from estimator.workbook.sheet.layout import INDENT
from estimator.workbook.sheet.look import (
    HEIGHT_STEP,
    LINE,
    LINES_MARGIN,
    ROW,
    SMALL,
    TEXT,
    Paper,
    box_pixels,
    page_height,
    pixels_of,
)
from estimator.workbook.sheet.source import column_letters
from estimator.workbook.sheet.spec import (
    Cell,
    ConditionalRule,
    Row,
    SheetSpec,
    TableSpec,
    Validation,
    Value,
    all_of,
)
from estimator.workbook.sheet.styles import BARE, STYLES, US_STYLES, WRAPPED
from estimator.workbook.sheet.text_width import lines_of, text_pixels, words_of
from workbook_template import rules
from workbook_template.content import own_rows
from workbook_template.page import apart
from workbook_template.site_formulas import site_formulas

HEADER_ROW = 5
NOTE = "subtitle_over"
"""The look of the second line of a title, which a rule ends."""
GAP_WIDTH = 3.0
TITLE_HEIGHT, NOTE_ROWS = 24.0, 2
"""Points of the title, and rows between it and the units."""
LEAST_LAST = 8
"""Rows that the last page of written ones holds at least."""
MADE = ("date", "closed_min", "visual")
"""Columns of the log that say that a joint is made; its verdict is worked out when it is opened."""
SPARE: Mapping[str, int] = {row["table"]: int(row["spare"]) for row in own_rows("spare_rows.csv")}
INPUT_COLOR, LONGEST_LIST = "F2D95C", 255
ROUND_UP = frozenset({"soak_min_s", "bead_min_mm", "low_s", "high_s"})
ROUND_DOWN = frozenset({"open_close_max_s", "misalignment_max_mm"})
DECIMALS: Mapping[str, Mapping[UnitSystem, int]] = {
    "small_length": {"US": 3, "SI": 1},
    "pressure": {"US": 0, "SI": 1},
    "temperature": {"US": 2, "SI": 2},
    "duration": {"US": 0, "SI": 0},
    "minutes": {"US": 2, "SI": 2},
}
"""Digits of a figure that the command fills in; a lower limit is rounded up, an upper one down."""
FILLED_LOOKS: Mapping[str, Mapping[UnitSystem, str]] = {
    "small_length": {"US": "num3", "SI": "num1"},
    "pressure": {"US": "num0", "SI": "num1"},
    "minutes": {"US": "num1", "SI": "num1"},
}
"""How numbers that the command fills in show, by their kind."""
WORKED_LOOKS: Mapping[str, Mapping[UnitSystem, str]] = {
    **FILLED_LOOKS,
    "minutes": {"US": "num0", "SI": "num0"},
}
"""How numbers that are worked out show, by their kind."""
AMOUNTS = frozenset(
    {
        "amount", "day_rate", "week_rate", "four_week_rate", "excess_hour", "delivery",
        "collection", "standby", "price_asked", "price_agreed", "released",
    }
)  # fmt: skip
"""Columns of amounts in the currency of the job."""
SENTENCES: Mapping[str, frozenset[str]] = {
    "request_terms": frozenset({"access", "unloading", "site_power", "delivery_hours", "contact"}),
    "changes": frozenset({"runs", "what", "note"}),
}
"""Columns by table whose texts wrap, so that one page holds their table."""
LOOKS_OF_KINDS = frozenset({"clock", "duration", "date", "percent"})
"""Kinds with a look of their own."""
_SIDES: Mapping[str, str] = {"header_after": "unit_after", "header_right": "unit_right"}
TINY = 1e-9
TYPED, MOST_ROWS = "typed", 9999
"""How the styles of cells to type in begin, and the last row that is looked at for them."""
ROOM = box_pixels(across=True) + 5.0
"""Pixels of columns on a page: those of the page box, and what the margins leave besides."""
DIGIT_PX, HEAD_EDGES = 7.0, 13.4
"""Pixels of a letter by which widths count, and those that the edges of a header take."""


@dataclass
class SiteSheet:
    """One sheet while it is made: its tables stand side by side."""

    name: str
    system: UnitSystem
    paper: Paper
    cells: dict[tuple[int, int], Cell] = field(default_factory=dict)
    widths: list[float] = field(default_factory=list)
    tables: list[TableSpec] = field(default_factory=list)
    validations: list[Validation] = field(default_factory=list)
    looks: list[ConditionalRule] = field(default_factory=list)
    filled: list[str] = field(default_factory=list)
    written: int = 0
    """Rows of its longest table."""

    def add(
        self, table: InputTable, rows: Sequence[Mapping[str, Value]], formulas: Mapping[str, str]
    ) -> None:
        """Add a table to the right of those before it, with spare rows below its own."""
        left = len(self.widths) + 1
        columns = fields(table.table)
        self.cells[1, left] = Cell(table.title, "title")
        written = HEADER_ROW + max(1, len(rows))
        last = max(written, HEADER_ROW + len(rows) + SPARE.get(table.table, 0))
        for at, column in enumerate(columns, left):
            self.cells[2, at] = Cell(table.note if at == left else None, NOTE)
            unit = column.unit_text(self.system)
            shown_unit = None if column.kind == "percent" or unit == "-" else unit or None
            self.cells[HEADER_ROW - 1, at] = Cell(shown_unit, _SIDES[_head_style(column)])
            self.cells[HEADER_ROW, at] = Cell(column.header, _head_style(column))
            self.validations.append(_header_note(column, self.system, at))
            self._fill(column, at, rows, last, formulas.get(column.key))
            self.widths.append(_width(column))
        area = f"{column_letters(left)}{HEADER_ROW}:{column_letters(len(self.widths))}{last}"
        styles = (style_of(column, self.system) for column in columns)
        typed = (n for n, style in enumerate(styles, left) if style.startswith(TYPED))
        key = column_letters(next(typed, left))
        self.filled.append(f"{key}{HEADER_ROW + 1}:{key}{MOST_ROWS}")
        by_header = {c.header: formulas[c.key] for c in columns if c.key in formulas}
        self.tables.append(TableSpec(table.excel_name, area, by_header))
        self.written = max(self.written, len(rows))
        self._colors(table.table, left, last)
        if not formulas and written < last:
            self._bare(left, written, last)
        self.widths.append(GAP_WIDTH)

    def _fill(
        self,
        column: Field,
        at: int,
        rows: Sequence[Mapping[str, Value]],
        last: int,
        formula: str | None,
    ) -> None:
        style = style_of(column, self.system)
        for number in range(HEADER_ROW + 1, last + 1):
            index = number - HEADER_ROW - 1
            value = rows[index].get(column.key) if index < len(rows) else None
            if column.kind == WORKED:
                made = index < len(rows) and any(rows[index].get(key) for key in MADE)
                value = "not made" if column.key == "verdict" and not made else ""
            self.cells[number, at] = Cell(value, style, formula)
        rule = _validation(column, self.system, f"{column_letters(at)}{HEADER_ROW + 1}")
        if rule is not None:
            cells = f"{column_letters(at)}{HEADER_ROW + 1}:{column_letters(at)}{last}"
            self.validations.append(Validation(cells, *rule))

    def _bare(self, left: int, written: int, last: int) -> None:
        """Let a rule draw the spare rows of a table: its pages end with what is written."""
        for at in range(left, len(self.widths) + 1):
            for row in range(written + 1, last + 1):
                self.cells[row, at] = Cell(None, BARE.format(self.cells[row, at].style))
        cells = f"{column_letters(left)}{written + 1}:{column_letters(len(self.widths))}{last}"
        self.looks.append(ConditionalRule(cells, "formula", "1=1", "typed_frame"))

    def _colors(self, table: str, left: int, last: int) -> None:
        """Color verdicts against a joint, and shifts with much time that nothing explains.

        What is accepted stays plain: printed in gray, the others differ only by being bold.
        """
        at = {c.key: column_letters(left + i) for i, c in enumerate(fields(table))}
        first = HEADER_ROW + 1
        if table == "joint_log":
            letters = at["verdict"]
            cell, cells = f"${letters}{first}", f"{letters}{first}:{letters}{last}"
            for low, high in (("out", "ouu"), ("rej", "rek")):
                inside = all_of(f'{cell}>="{low}"', f'{cell}<"{high}"')
                self.looks.append(ConditionalRule(cells, "formula", inside, "warn"))
        if table == "daily_record":
            cell, paid = f"${at['unexplained']}{first}", f"${at['paid']}{first}"
            cells = f"{at['unexplained']}{first}:{at['unexplained']}{last}"
            much = all_of(f"{paid}>0", f"{cell}*5>{paid}")
            self.looks.append(ConditionalRule(cells, "formula", much, "warn"))

    def spec(self) -> SheetSpec:
        """Return the description of the sheet."""
        is_broad = self._is_broad
        starts = self._page_starts()
        if is_broad:
            self._title_each_page(starts)
        last = max(row for row, _ in self.cells)
        width = max(column for _, column in self.cells)
        heights = {**self._heights(), 1: TITLE_HEIGHT}
        rows = [
            Row(
                [self.cells.get((row, column)) for column in range(1, width + 1)],
                heights.get(row),
            )
            for row in range(1, last + 1)
        ]
        return SheetSpec(
            name=self.name,
            rows=rows,
            widths=self.widths[:-1],
            freeze=(HEADER_ROW, 1),
            header_row=HEADER_ROW,
            header_rows=2,
            landscape=True,
            paper=self.paper,
            repeated_columns=int(is_broad),
            breaks=self._row_breaks(heights[HEADER_ROW]),
            column_breaks=[start - 1 for start in starts],
            tab_color=INPUT_COLOR,
            conditional=self.looks,
            tables=self.tables,
            filled=self.filled,
            validations=self.validations,
        )

    def _row_breaks(self, header: float) -> Sequence[int]:
        """Return the row after which the last page begins, if few would stand alone on it.

        Where formulas fill spare rows, these print too.
        """
        page = page_height(self.paper, across=True, spare=0.0) - header - ROW
        first = math.floor((page - TITLE_HEIGHT) / ROW) - NOTE_ROWS
        alone = (self.written - first) % math.floor(page / ROW)
        are_few = self.written > first and 0 < alone < LEAST_LAST
        if any(one.formulas for one in self.tables) or not are_few:
            return []
        return [HEADER_ROW + self.written - LEAST_LAST]

    def _heights(self) -> Mapping[int, float]:
        """Return the points of the rows of headers and of texts that wrap, by their lines."""
        lines: dict[int, int] = {}
        for (row, at), cell in self.cells.items():
            style = STYLES[cell.style]
            if style.wrap and cell.value:
                room = pixels_of(self.widths[at - 1]) - EDGES - INDENT * style.indent
                high = lines_of(str(cell.value), room, TEXT, bold=style.bold)
                lines[row] = max(high, lines.get(row, 1))
        return {
            row: math.ceil((high * LINE + LINES_MARGIN) / HEIGHT_STEP) * HEIGHT_STEP
            for row, high in lines.items()
            if high > 1 or row == HEADER_ROW
        }

    def _spans(self) -> Sequence[tuple[int, int]]:
        """Return the first column of each table and the one after its last."""
        heads = sorted(column for row, column in self.cells if row == 1)
        return [*pairwise([*heads, len(self.widths) + 1])]

    def _breadth(self, first: int, end: int) -> float:
        return sum(map(pixels_of, self.widths[first - 1 : end - 1]))

    @property
    def _is_broad(self) -> bool:
        """Return whether the first table goes on to another page, which needs its first column."""
        first, end = self._spans()[0]
        return self._breadth(first, end - 1) > ROOM

    def _page_starts(self) -> Sequence[int]:
        """Return the columns with which the pages across after the first begin.

        A table that one page holds is not parted.
        """
        repeated = pixels_of(self.widths[0]) if self._is_broad else 0.0
        starts, used = [], 0.0
        for first, end in self._spans():
            breadth = self._breadth(first, end - 1)
            is_kept = repeated + breadth <= ROOM
            if is_kept and used + breadth > ROOM:
                starts.append(first)
                used = repeated
            for column in range(first, end):
                pixels = pixels_of(self.widths[column - 1])
                if not is_kept and used + pixels > ROOM:
                    starts.append(column)
                    used = repeated
                used += pixels
        return starts

    def _title_each_page(self, starts: Sequence[int]) -> None:
        """Write titles beside a first column that every page repeats, which would cut them."""
        heads = [first for first, _ in self._spans()]
        for start in (n for n in starts if n not in heads):
            head = max(n for n in heads if n < start)
            end = min((n for n in heads if n > start), default=len(self.widths))
            self.cells[1, start] = self.cells[1, head]
            note = self.cells[2, head]
            if note.value is not None and self._has_room(note, start, end):
                self.cells[2, start] = note
                if not self._has_room(note, head, start):
                    self.cells[2, head] = Cell(None, NOTE)
        self.cells[1, 2] = self.cells.pop((1, 1))
        self.cells[2, 2], self.cells[2, 1] = self.cells[2, 1], Cell(None, NOTE)

    def _has_room(self, note: Cell, start: int, end: int) -> bool:
        """Return whether a note has room from a column to the one before another."""
        room = sum(map(pixels_of, self.widths[start - 1 : end - 1]))
        return text_pixels(str(note.value), SMALL) + EDGES < room


APART = ("Quotes", "Change orders", "Past jobs")
"""Sheets that are added by a command of their own."""


def site_sheets(
    records: SiteRecords,
    system: UnitSystem,
    paper: Paper,
    job_minutes: Mapping[str, str],
    apart: str = "",
) -> list[SheetSpec]:
    """Return the sheets of the site records in their order, filled with what there is.

    With ``apart`` only that sheet, which is one of ``APART``. ``job_minutes`` are the formulas of
    ``site_formulas.JOB_MINUTES`` in this workbook.
    """
    sheets: dict[str, SiteSheet] = {}
    for table in site_tables():
        if table.sheet != apart if apart else table.sheet in APART:
            continue
        sheet = sheets.setdefault(table.sheet, SiteSheet(table.sheet, system, paper))
        rows = [_shown_row(table.table, row, system) for row in getattr(records, table.table)]
        sheet.add(table, rows, site_formulas(table.table, job_minutes))
    return [sheet.spec() for sheet in sheets.values()]


def _shown_row(table: str, row: object, system: UnitSystem) -> Mapping[str, Value]:
    return {
        column.key: shown(column, getattr(row, column.key), system)
        for column in fields(table)
        if column.kind != WORKED
    }


def shown(
    column: Field, value: Value, system: UnitSystem, in_workbook: Column | None = None
) -> Value:
    """Return a value of a model as its cell holds it; limits are rounded to the safe side.

    ``in_workbook`` is the column as a workbook has it; in another unit than the usual one nothing
    is rounded.
    """
    if isinstance(value, bool):
        return "yes" if value else "no"
    if not isinstance(value, int | float):
        return value
    if column.kind == "clock":
        return value / DAY_MIN
    usual = usual_column(column, system)
    as_is = in_workbook is not None and in_workbook.unit != usual.unit
    number = (in_workbook or usual).show(float(value))
    kind = "duration" if column.kind == "duration" else column.quantity or column.per
    if column.use == FILLED and kind in DECIMALS and not as_is:
        number = _rounded(column.key, number, DECIMALS[kind][system])
    if column.kind == "duration":
        return number / (DAY_MIN * MIN_S)
    return int(value) if column.kind == "count" else number


def _rounded(key: str, number: float, digits: int) -> float:
    scale = 10.0**digits
    if key in ROUND_UP:
        return math.ceil(number * scale - TINY) / scale
    if key in ROUND_DOWN:
        return math.floor(number * scale + TINY) / scale
    return round(number, digits)


def style_of(column: Field, system: UnitSystem) -> str:
    """Return the look of a column's cells: typed in, filled in, or worked out, by kind."""
    role = "worked" if column.kind == WORKED else "filled" if column.use == FILLED else "typed"
    if _is_text(column):
        wraps = column.key in SENTENCES.get(column.table, ())
        return WRAPPED.format(f"{role}_after") if wraps else f"{role}_after"
    kind = _held_kind(column)
    if kind in LOOKS_OF_KINDS:
        style = f"{role}_{kind}"
        return US_STYLES.get(style, style) if system == "US" else style
    if column.key in AMOUNTS:
        return f"{role}_money"
    if role == "filled" and column.kind == "count":
        return "filled_whole"
    looks = {"worked": WORKED_LOOKS, "filled": FILLED_LOOKS}.get(role, {})
    by_system = looks.get(column.quantity or column.per)
    return f"{role}_{by_system[system] if by_system else 'number'}"


def _held_kind(column: Field) -> str:
    """Return the kind of what a column's cells hold."""
    return column.per if column.kind == WORKED else column.kind


def _is_text(column: Field) -> bool:
    return _held_kind(column) in ("text", "choice")


def _width(column: Field) -> float:
    """Return the letters of a column, whose header breaks no word and stands off the others."""
    style = _head_style(column)
    words = (word.rstrip() for word in words_of(column.header))
    longest = max(text_pixels(word, TEXT, bold=True) for word in words)
    least = longest + INDENT * STYLES[style].indent + HEAD_EDGES
    pixels = math.ceil(max(pixels_of(column.width), least))
    if style == "header_right":
        pixels = apart(column.header, pixels)
    return (pixels - pixels_of(0)) / DIGIT_PX


def _head_style(column: Field) -> str:
    """Return the look of a header, which stands on the side of its cells, as its unit does."""
    return "header_after" if _is_text(column) else "header_right"


def _header_note(column: Field, system: UnitSystem, at: int) -> Validation:
    note = rules.with_prompt({}, column, system)
    words = str(note["input_title"]), str(note["input_message"])
    return Validation(f"{column_letters(at)}{HEADER_ROW}", "none", prompt=words)


def _validation(
    column: Field, system: UnitSystem, first_cell: str
) -> tuple[str, Sequence[str], str, tuple[str, str], bool] | None:
    """Return kind, operands, error text, prompt and strictness of what a column's cells accept."""
    if column.kind == WORKED:
        return None
    options = rules.validation(column, system, first_cell)
    kind, operands = str(options["validate"]), _operands(options)
    if kind == "any" or any(len(operand) > LONGEST_LIST for operand in operands):
        return None
    kind = {"integer": "whole"}.get(kind, kind)
    strict = options["error_type"] == "stop"
    return kind, operands, str(options["error_message"]), ("", ""), strict


def _operands(options: Mapping[str, object]) -> Sequence[str]:
    if options["validate"] == "list":
        source = options["source"]
        listed = ",".join(map(str, source)) if isinstance(source, list) else ""
        return [f'"{listed}"']
    if options["validate"] == "custom":
        return [str(options["value"]).removeprefix("=")]
    if "minimum" not in options:
        return []
    return [_operand(options["minimum"]), _operand(options["maximum"])]


def _operand(value: object) -> str:
    if isinstance(value, int | float):
        return f"{value:.15g}"
    year, month, day = str(value).split("-")
    return f"DATE({int(year)},{int(month)},{int(day)})"
