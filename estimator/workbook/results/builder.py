"""Builds the description of one result sheet row by row, and names the cells others refer to."""

import datetime as dt
from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import field
from functools import cached_property, partial
from math import floor

from estimator.data_class import dataclass
from estimator.display import UNIT_LABELS, UnitSystem, show_date
from estimator.models.places import Places
from estimator.models.study import Study
from estimator.plan import RunSpan, run_spans
from estimator.workbook.results.light import MADE, heading, longest_heading
from estimator.workbook.results.result_columns import ResultColumn
from estimator.workbook.results.shown_sums import clean_sum
from estimator.workbook.sheet.blocks import NUMBERS, Block, Column, as_held
from estimator.workbook.sheet.look import (
    DATE_TIGHT,
    SECTION_ROW,
    US_DATES,
    Paper,
    paper_of,
)
from estimator.workbook.sheet.source import column_letters
from estimator.workbook.sheet.spec import Cell, Row, SheetSpec, Value
from estimator.workbook.sheet.styles import STYLES, US_STYLES

BROADER = 0.25
AFTER_NUMBER = {"text": "text_after", "text_wrap": "wrap_after"}
"""Style of a text column that follows a column of numbers."""
TOTAL_STYLES = {
    "int": "total_int",
    "int_bold": "total_int",
    "num1": "total_num1",
    "num2": "total_num2",
    "money": "total_money",
}

ColumnPlan = Sequence[tuple[str, str, Callable[[float], float | None] | None]]
Scalar = str | int | float | bool | dt.date | None

MOST_ADDED_UP = 4_000_000
"""Cells of the Plan sheet that all sums of one table may look through together; a user may sort
Plan, so each sum looks through all of its lines."""
DAY_S = 86400
"""Seconds of a day."""


def min_s_cell(minutes: float, live: str | None = None) -> Cell:
    """Return minutes as a part of a day in whole seconds, which shows as min:s."""
    formula = live and f"ROUND({live}*60,0)/{DAY_S}"
    return Cell(floor(minutes * 60 + 0.5) / DAY_S, "min_s", formula)


@dataclass(frozen=True)
class Context:
    """What every result sheet is made from."""

    estimate: Study
    places: Places
    sheet_names: Mapping[str, str]
    anchors: dict[str, str] = field(default_factory=dict)
    """Names of result cells, such as ``joints.butt_joints``, with their references."""

    def adds_up(self, sums: int) -> bool:
        """Return whether so many sums over the Plan sheet stay live; more are stored as numbers."""
        return sums * len(self.estimate.plan.lines) <= MOST_ADDED_UP

    @cached_property
    def run_spans(self) -> dict[str, RunSpan]:
        """When each run is worked and how far it can slip."""
        return run_spans(self.estimate.job, self.estimate.plan)

    @property
    def system(self) -> UnitSystem:
        """Unit system of the results."""
        return self.estimate.job.cover.unit_system

    @property
    def paper(self) -> Paper:
        """Paper of the result sheets: the one asked for, else the one that goes with the units."""
        return paper_of(self.estimate.job.pages.paper, self.system)

    @property
    def spans_years(self) -> bool:
        """Whether the work goes over a New Year, so that its dates need their year."""
        return self.estimate.plan.start.year != self.estimate.finish.year

    @property
    def currency(self) -> str:
        """The user's currency sign."""
        return self.estimate.job.cover.currency

    def input(self, table: str, row: str, key: str) -> str | None:
        """Return the reference of an input cell for a formula, None where there is none."""
        return self.places.live(table, row, key)


def breadth(text: str) -> float:
    """Return how broad a text is in small letters; capitals and figures are broader.

    >>> breadth("run"), breadth("DR 11")
    (3.0, 6.0)
    """
    broad = sum(letter.isupper() or letter.isdigit() for letter in text)
    return len(text) + BROADER * broad


def whole(change: float) -> float:
    """Return a change of money to the unit that its cell shows: under half of one it is none.

    >>> whole(-3348.4), whole(-0.3)
    (-3348.0, 0.0)
    """
    return round(change) + 0.0


def whole_formula(change: str) -> str:
    """Return the formula of what ``whole`` returns."""
    return f"ROUND({change},0)"


def header_text(noun: str, unit: str) -> str:
    r"""Return what a header cell holds: the noun, and its unit below it if it has one.

    >>> header_text("Length", "ft"), header_text("Joints", "-")
    ('Length\nft', 'Joints')
    """
    return f"{noun}\n{unit}" if unit not in ("", "-") else noun


def _is_number(style: str) -> bool:
    """Return whether what a style shows stands on the right side of its cell."""
    return STYLES[style].align in ("", "right")


def _set_us_dates(cells: list[Cell | None]) -> None:
    """Give the dates of a row the order of their parts in US units."""
    for at, cell in enumerate(cells):
        if cell is not None and cell.style in US_STYLES:
            cells[at] = cell._replace(style=US_STYLES[cell.style])


INTERNAL = Cell("INTERNAL: not for the client", "result")
"""Stands at the right of the title of a page that shows cost."""
ROWS_OF_A_HEADER, BETWEEN_PARTS = 2, 3.75
"""Rows that a header adds where it stands again, and the height of the first of them, a blank: it
ends a full page, and is less than half of what pages keep free, so that it starts none."""


def _with_us_dates(block: Block) -> Block:
    """Return a block whose dates have the order of their parts in US units."""
    turned = US_STYLES.get
    return block.with_columns(
        column._replace(style=turned(column.style, column.style)) for column in block.columns
    )


class SheetBuilder:
    """Collects rows; hands out addresses as they are written.

    ``result`` and ``status`` stand at the right end of the title's two lines: the one result of
    the page, none unless the sheet sets it, and the check status with the date of the estimate.
    ``about`` takes the place of the status on a sheet that no estimate rewrites. ``again`` are the
    rows, counted without headers that stand again, with which pages begin.
    """

    def __init__(
        self,
        context: Context,
        key: str,
        title: str,
        about: str = "",
        again: frozenset[int] = frozenset(),
    ) -> None:
        self.context, self.key = context, key
        self.again, self.added = again, 0
        self.breaks: list[int] = []
        """Rows that end a page because a header stands again below them."""
        self.name = context.sheet_names[key]
        self.grid: dict[int, list[Cell | None]] = {}
        self._plans: dict[int, tuple[Sequence[ResultColumn], ColumnPlan]] = {}
        self.heights: dict[int, float] = {}
        self.blocks: dict[int, Block] = {}
        """Blocks of rows by their first row."""
        self.last_row = 0
        self.merges: list[str] = []
        cover = context.estimate.job.cover
        self.add(Cell(title, "title"))
        self.add(Cell(cover.job_name, "job"))
        made = f"{MADE} {show_date(cover.estimate_date, context.system)}"
        self.result: Cell | None = None
        self.status_room = about or longest_heading(context.estimate, made)
        self.status: Cell | None = (
            Cell(about, "job_right")
            if about
            else heading(context.estimate, context.sheet_names, made)
        )

    @property
    def next_row(self) -> int:
        """Number of the row that comes next."""
        return self.last_row + 1

    @property
    def begins_page(self) -> bool:
        """Whether a page begins with the row that comes next, by ``again``."""
        return self.next_row - self.added in self.again

    def add(self, *cells: Cell | None, height: float | None = None, column: int = 1) -> int:
        """Append a row, from a column on, and return its number."""
        self.last_row += 1
        if column == 1 and self.last_row not in self.grid:
            self.grid[self.last_row] = list(cells)
        else:
            self.put(self.last_row, column, *cells)
        if height is not None:
            self.heights[self.last_row] = height
        return self.last_row

    def put(self, row: int, column: int, *cells: Cell | None) -> None:
        """Set cells of a row from a column on, wherever the row is."""
        line = self.grid.setdefault(row, [])
        last = column + len(cells) - 1
        if len(line) < last:
            line += [None] * (last - len(line))
        for at, cell in enumerate(cells, column - 1):
            if cell is not None:
                line[at] = cell

    def merge(self, row: int, first: int, last: int) -> None:
        """Merge the cells of a row between two columns, for running text."""
        self.merges.append(f"{column_letters(first)}{row}:{column_letters(last)}{row}")

    def heads(self, *titles: str) -> int:
        """Append a header row without units."""
        return self.add(*(Cell(title, "header") for title in titles))

    def text_row(self, columns: int, lead: Sequence[Cell], text: Cell) -> int:
        """Append cells, and a text that runs across what is left of a number of columns."""
        first = len(lead) + 1
        row = self.add(*lead, text, *[Cell(None, text.style)] * (columns - first))
        self.merge(row, first, columns)
        return row

    def address(self, column: int, row: int) -> str:
        """Return an address on this sheet, such as ``$C$5``."""
        return f"${column_letters(column)}${row}"

    def reference(self, column: int, row: int) -> str:
        """Return a reference that other sheets can use."""
        quoted = self.name.replace("'", "''")
        return f"'{quoted}'!{self.address(column, row)}"

    def anchor(self, name: str, column: int, row: int) -> None:
        """Give a result cell a name that formulas of later sheets use."""
        self.context.anchors[name] = self.reference(column, row)

    def section(self, title: str, columns: int) -> int:
        """Append a section heading over a number of columns, at the top of a page it begins."""
        if self.begins_page:
            self.breaks.append(self.last_row)
        blanks = [Cell(None, "section")] * (columns - 1)
        return self.add(Cell(title, "section"), *blanks, height=SECTION_ROW)

    def table_head(
        self, columns: Sequence[ResultColumn], units: Mapping[str, str] | None = None
    ) -> int:
        """Append the header row and return its number; ``units`` are other than the columns'."""
        row = self.last_row = self.next_row
        self.put_head(row, 1, columns, units)
        return row

    def put_head(
        self,
        row: int,
        column: int,
        columns: Sequence[ResultColumn],
        units: Mapping[str, str] | None = None,
    ) -> None:
        """Set a header row: each noun with its unit below it, in the same cell."""
        ctx, other = self.context, units or {}
        shown = (other.get(c.key, c.unit(ctx.system, ctx.currency)) for c in columns)
        heads = (header_text(c.header, unit) for c, unit in zip(columns, shown, strict=True))
        self.put(row, column, *(Cell(head, "header") for head in heads))

    def break_head(self, row: int, column: int) -> None:
        """Give the last word of a header a line of its own, off the header on its left."""
        cell = self.grid[row][column - 1]
        if cell is not None:
            noun, mark, unit = str(cell.value).partition("\n")
            broken = "\n".join(noun.rsplit(" ", 1))
            self.put(row, column, cell._replace(value=f"{broken}{mark}{unit}"))

    def head_again(self, header: int) -> int | None:
        """Append a table's header again before its next row, where that begins a page; else None.

        A sheet repeats one header on its pages, so a long table on a sheet with others has its
        own again; ``with_headers_again`` finds where.
        """
        if not self.begins_page:
            return None
        self.added += ROWS_OF_A_HEADER
        self.breaks.append(self.add(height=BETWEEN_PARTS))
        return self.add(*self.grid[header], height=self.heights.get(header))

    def table_row(
        self,
        columns: Sequence[ResultColumn],
        values: Mapping[str, Scalar],
        formulas: Mapping[str, str | None] | None = None,
    ) -> int:
        """Append a row of a table: SI values by column key, formulas where there are any."""
        return self.add(*self.table_cells(columns, values, formulas))

    def table_cells(
        self,
        columns: Sequence[ResultColumn],
        values: Mapping[str, Scalar],
        formulas: Mapping[str, str | None] | None = None,
    ) -> tuple[Cell, ...]:
        """Return the cells of a table row."""
        value_of, formula_of = values.get, (formulas or {}).get
        cells = []
        for key, style, shown in self._plan_of(columns):
            value = value_of(key)
            if shown is not None and (type(value) is float or type(value) is int):
                value = shown(value)
            cells.append(Cell(value, style, formula_of(key)))
        return tuple(cells)

    def add_block(self, columns: Sequence[Column], other: Sequence[int] = ()) -> range:
        """Append rows that are alike, column by column, and return their numbers.

        Formulas name the row by ``ROW``, the one above by ``ABOVE``, and by ``OTHER`` that of
        another sheet which is given for each row.
        """
        if not columns[0].values:
            return range(self.next_row, self.next_row)
        block = Block(columns, self.next_row, other)
        self.blocks[block.first] = block
        self.last_row += block.count
        return range(block.first, self.next_row)

    def add_table(
        self,
        columns: Sequence[ResultColumn],
        values: Mapping[str, Sequence[Scalar]],
        formulas: Mapping[str, str | Sequence[str | None]] | None = None,
        other: Sequence[int] = (),
    ) -> range:
        """Append the rows of a table: SI values by column key; return the numbers of the rows."""
        count, formula_of = len(next(iter(values.values()))), (formulas or {}).get
        blank: Sequence[Scalar] = (None,) * count
        made = []
        for key, style, shown in self._plan_of(columns):
            cells = values.get(key, blank)
            if shown is not None:
                cells = [shown(v) if type(v) in NUMBERS else v for v in cells]  # type: ignore[arg-type]
            made.append(Column(cells, style, formula_of(key)))
        return self.add_block(made, other)

    def _plan_of(self, columns: Sequence[ResultColumn]) -> ColumnPlan:
        """Return key, style and conversion of each column, worked out once for a table."""
        known = self._plans.get(id(columns))
        if known is None:
            system = self.context.system
            styles = [column.style_in(system) for column in columns]
            plan = tuple(
                (
                    column.key,
                    AFTER_NUMBER.get(style, style) if _is_number(before) else style,
                    partial(column.shown, system=system) if column.kind in UNIT_LABELS else None,
                )
                for column, style, before in zip(columns, styles, ["text", *styles], strict=False)
            )
            known = self._plans[id(columns)] = columns, plan
        return known[1]

    def put_totals(
        self, row: int, columns: Sequence[ResultColumn], first: int, anchors: str
    ) -> None:
        """Set a row of live totals over the table rows from ``first`` to the last one.

        Each total gets the anchor ``<anchors>.<column key>``.
        """
        self.put(row, 1, Cell("Total", "total_text"))
        for number, column in enumerate(columns, 1):
            if column.total != "sum":
                if number > 1:
                    self.put(row, number, Cell(None, "total_text"))
                continue
            total = clean_sum(self.numbers_in(range(first, self.next_row), number))
            letters = column_letters(number)
            formula = f"SUM({letters}{first}:{letters}{self.last_row})"
            self.put(row, number, Cell(total, TOTAL_STYLES[column.style], formula))
            self.anchor(f"{anchors}.{column.key}", number, row)

    def add_totals(self, columns: Sequence[ResultColumn], first: int, anchors: str) -> int:
        """Append the row of live totals that ends a table; return its number."""
        row = self.next_row
        self.put_totals(row, columns, first, anchors)
        self.last_row = row
        return row

    def number_at(self, row: int, column: int) -> float:
        """Return the number in a cell, 0 for an empty one."""
        value = self.value_at(row, column)
        return value if isinstance(value, int | float) else 0

    def numbers_in(self, rows: range, column: int) -> Iterator[float]:
        """Yield the numbers in some cells of a column, 0 for an empty one."""
        at = rows.start
        while at < rows.stop:
            block = self.blocks.get(at)
            if block is None:
                yield self.number_at(at, column)
                at += 1
                continue
            for value in block.columns[column - 1].values[: rows.stop - at]:
                yield value if isinstance(value, int | float) else 0
            at += block.count

    def value_at(self, row: int, column: int) -> Value:
        """Return what a cell shows, None for an empty one."""
        for block in self.blocks.values():
            if block.first <= row < block.first + block.count:
                return block.columns[column - 1].values[row - block.first]
        line = self.grid[row]
        cell = line[column - 1] if column <= len(line) else None
        return None if cell is None else cell.value

    def spec(self) -> SheetSpec:
        """Return the description of the rows so far; the sheet adds freeze, widths and more."""
        us = self.context.system == "US"
        return SheetSpec(
            name=self.name,
            rows=as_held(list(self._parts(us=us))),
            merges=tuple(self.merges),
            breaks=tuple(self.breaks),
            paper=self.context.paper,
            axis_dates=US_DATES[DATE_TIGHT] if us else DATE_TIGHT,
            right=(self.result, self.status),
            right_room=self.status_room if self.status else "",
        )

    def _parts(self, *, us: bool) -> Iterator[Row | Block]:
        number = 1
        ends = (first + block.count - 1 for first, block in self.blocks.items())
        last = max((*self.grid, *ends))
        while number <= last:
            block = self.blocks.get(number)
            if block is not None:
                yield _with_us_dates(block) if us else block
                number += block.count
                continue
            cells = self.grid.get(number, [])
            while cells and cells[-1] is None:
                cells.pop()
            if us:
                _set_us_dates(cells)
            yield Row(cells, self.heights.get(number))
            number += 1
