"""The rows of the Cost by run sheet that add up the runs of each size, and its layout."""

from collections.abc import Iterable, Sequence
from functools import cached_property

from estimator.cost import price_per_joint
from estimator.cost.by_size import price_per_length
from estimator.data_class import dataclass
from estimator.display import PAY_LENGTH, convert, unit_of
from estimator.inputs.trade_units import written
from estimator.models.kinds import MARKUP_TYPES, MarkupType, cost_type
from estimator.models.run_costs import Allocation, CostByRun, SizeCost
from estimator.workbook.results.builder import TOTAL_STYLES, SheetBuilder, header_text
from estimator.workbook.results.markup_rows import TYPE_NAMES
from estimator.workbook.results.shown_sums import clean_sum, left_as_shown, left_formula
from estimator.workbook.sheet.source import column_letters
from estimator.workbook.sheet.spec import Cell, Value

LABEL, LENGTH, JOINTS, HOURS, FIRST_TYPE = 2, 3, 4, 5, 6
"""Columns of runs and sizes alike; sums by type of cost, cost and prices follow, then data."""
AMOUNT, UNITS, PER_UNIT = "F", "G", "H"
"""Columns of the table of what is shared out."""
NET = ".net"
"""What the names of cells with the markups of their types end on."""
SHOWN_DIGITS = {HOURS: 1}
"""Decimals of the printed numbers that totals add up, where they have any."""
SIZE_DATA = ("In its own bid item", "Price before bond", "Own bid item before bond")
"""What stands beside the printed columns of sizes."""


@dataclass(frozen=True)
class RunFormulas:
    """The formulas of the rows of runs and sizes, as the steps of the stage give them.

    What each cell takes stands in braces under the name that the step has for it; ``_net`` is with
    the markups of the types of cost.
    """

    share: str
    cost: str
    tie_ins: str
    own: str
    net: str
    tie_ins_net: str
    apart_net: str
    own_net: str
    price: str
    per_length: str
    per_joint: str
    left: str


@dataclass(frozen=True)
class Layout:
    """Where the tables stand: rows of runs, and columns after the allocations."""

    allocations: Sequence[Allocation]
    first: int
    last: int
    pools: dict[tuple[Allocation, str], int]
    formulas: RunFormulas

    @cached_property
    def types(self) -> Sequence[MarkupType]:
        """The types of cost that the job has, each with a printed column."""
        there = {cost_type(share.cost_type).markup for share in self.allocations}
        return [of_type for of_type in MARKUP_TYPES if of_type in there]

    def pool_rows(self, allocation: Allocation) -> list[int]:
        """Rows of what a share hands out."""
        return self._rows_by_allocation[allocation]

    @cached_property
    def _rows_by_allocation(self) -> dict[Allocation, list[int]]:
        found: dict[Allocation, list[int]] = {}
        for (allocation, _), row in self.pools.items():
            found.setdefault(allocation, []).append(row)
        return found

    def pool_amounts(self, allocation: Allocation) -> str:
        """Return the range of the amounts that a share hands out."""
        rows = self.pool_rows(allocation)
        return f"${AMOUNT}${rows[0]}:${AMOUNT}${rows[-1]}"

    def shares_of(self, of_type: MarkupType | None) -> Sequence[int]:
        """Columns of the shares of a type of cost, or of all."""
        return [
            self.first_share + number
            for number, share in enumerate(self.allocations)
            if of_type in (None, cost_type(share.cost_type).markup)
        ]

    def column(self, allocation: Allocation) -> str:
        """Letters of a share's column."""
        return column_letters(self.first_share + self.allocations.index(allocation))

    @property
    def cost(self) -> int:
        """Column of the cost; that of the price and its unit prices follow."""
        return FIRST_TYPE + len(self.types)

    @property
    def price(self) -> int:
        """Column of the price."""
        return self.cost + 1

    @property
    def last_printed(self) -> int:
        """Column of the price per joint, the last that is printed."""
        return self.cost + 3

    @property
    def band(self) -> int:
        """Column of the size band of a run; the time of its tie-ins and its shares follow."""
        return self.last_printed + 1

    @property
    def tie_in_time(self) -> int:
        """Column of the part of its time that tie-ins take."""
        return self.band + 1

    @property
    def first_share(self) -> int:
        """Column of the first share of a run."""
        return self.band + 2

    @property
    def tie_ins(self) -> int:
        """Column of what tie-ins carry of the cost of a run; its own bid item follows."""
        return self.first_share + len(self.allocations)

    @property
    def net(self) -> int:
        """Column of the price of a run before bond; tie-ins and own item follow."""
        return self.tie_ins + 2

    def cells(self, column: int) -> str:
        """Return the absolute range of a column over the runs."""
        letters = column_letters(column)
        return f"${letters}${self.first}:${letters}${self.last}"


def shared_heads(sheet: SheetBuilder, layout: Layout) -> Sequence[Cell]:
    """Return the printed headers after the first two, which runs and sizes have in common."""
    currency, unit = sheet.context.currency, unit_of("length", sheet.context.system)
    heads = [
        ("Length", unit), ("Butt joints", ""), ("Labor-hours", written("h", sheet.context.system)),
        *((TYPE_NAMES[of_type], currency) for of_type in layout.types),
        ("Cost", currency), ("Price", currency),
        (f"Price\nper {PAY_LENGTH[sheet.context.system]}", currency),
        ("Price\nper joint", currency),
    ]  # fmt: skip
    return [Cell(header_text(noun, below), "header") for noun, below in heads]


def put_sizes(sheet: SheetBuilder, layout: Layout, by_run: CostByRun, row: int) -> None:
    """Set the table of sizes from a row on, with its rounding and its total."""
    title = "Cost and price by size: totals of the runs"
    blanks = [Cell(None, "section")] * (layout.last_printed - 1)
    sheet.put(row, 1, Cell(title, "section"), *blanks)
    currency = sheet.context.currency
    beside = (Cell(header_text(head, currency), "header") for head in SIZE_DATA)
    heads = (Cell("Runs", "header"), Cell("Pipe", "header"), *shared_heads(sheet, layout))
    sheet.put(row + 1, 1, *heads, *beside)
    first, last = row + 2, row + 1 + len(by_run.sizes)
    alike: dict[Value, list[int]] = {}
    for line in range(layout.first, layout.last + 1):
        alike.setdefault(sheet.value_at(line, LABEL), []).append(line)
    for at, size in enumerate(by_run.sizes, first):
        _size_row(sheet, layout, at, size, alike.get(size.label, ()))
    shares_row = int(sheet.context.anchors["by_run.rounding"].rpartition("$")[2])
    put_printed_totals(sheet, layout, "All sizes", range(first, last + 1), shares_row)
    sheet.anchor("by_size.cost", layout.cost, last + 2)
    sheet.anchor("bid.by_size", layout.price, last + 2)


def put_printed_totals(
    sheet: SheetBuilder, layout: Layout, label: str, lines: range, shares_row: int
) -> None:
    """Set the two rows below some lines: what rounding leaves of the numbers shown, and the total.

    What rounding to cents leaves of each share stands in ``shares_row``, beside the printed page.
    """
    rest_row, total_row = lines.stop, lines.stop + 1
    sheet.put(rest_row, 1, Cell("Rounding", "note"), Cell(None, "text"))
    sheet.put(total_row, 1, Cell(label, "total_text"), Cell(None, "total_text"))
    for number in range(LENGTH, layout.last_printed + 1):
        if number > layout.price:
            sheet.put(total_row, number, Cell(None, "total_text"))
            continue
        total, formula = _printed_total(sheet, layout, number, lines, shares_row)
        style = TOTAL_STYLES[printed_style(number)]
        sheet.put(total_row, number, Cell(total, style, formula))
        sheet.put(rest_row, number, _left(sheet, number, lines, total))


def _left(sheet: SheetBuilder, number: int, lines: range, total: float) -> Cell:
    """Return what the numbers of a column leave of their total as shown, which is below.

    Joints are whole, and leave nothing.
    """
    if number == JOINTS:
        return Cell(None, "text")
    letters, digits = column_letters(number), SHOWN_DIGITS.get(number, 0)
    parts = f"{letters}{lines.start}:{letters}{lines.stop - 1}"
    return Cell(
        left_as_shown(total, sheet.numbers_in(lines, number), digits),
        printed_style(number),
        left_formula(f"{letters}{lines.stop + 1}", parts, digits),
    )


def _printed_total(
    sheet: SheetBuilder, layout: Layout, number: int, lines: range, shares_row: int
) -> tuple[float, str]:
    """Return the total of a printed column and its formula; a cost has what its shares leave.

    It is rounded to cents: what binary fractions leave could turn the digit shown.
    """
    if number == layout.price:
        return float(sheet.context.estimate.bid.price), sheet.context.anchors["bid.price"]
    letters = column_letters(number)
    parts = f"SUM({letters}{lines.start}:{letters}{lines.stop - 1})"
    value = total_of(sheet, lines, number)
    if number < FIRST_TYPE:
        return value, parts
    of_type = None if number == layout.cost else layout.types[number - FIRST_TYPE]
    shares = layout.shares_of(of_type)
    rest = sum(sheet.number_at(shares_row, share) for share in shares)
    cells = "+".join(f"{column_letters(share)}{shares_row}" for share in shares)
    return round(value + rest, 2), f"ROUND({parts}+{cells},2)"


def total_of(sheet: SheetBuilder, lines: Iterable[int], number: int) -> float:
    """Return the sum of a column; amounts add up to the cent."""
    if isinstance(lines, range):
        total = clean_sum(sheet.numbers_in(lines, number))
    else:
        total = clean_sum(sheet.number_at(line, number) for line in lines)
    return total if number <= HOURS else round(total, 2)


def printed_style(number: int) -> str:
    """Return the style of a printed number that sums add up: amounts in whole units."""
    return "num1" if number in SHOWN_DIGITS else "int"


def _size_row(
    sheet: SheetBuilder, layout: Layout, row: int, size: SizeCost, alike: Sequence[int]
) -> None:
    """Set the row of a size, whose runs stand in the rows alike."""
    context = sheet.context
    at, pipes = context.anchors, layout.cells(LABEL)
    length = convert(size.length_m, "length", context.system)
    made, joints = layout.formulas, size.butt_joints
    label = column_letters(LABEL)
    own, net, own_net = (layout.last_printed + n for n in (1, 2, 3))

    def of_size(cells: str) -> str:
        return f"SUMIF({pipes},${label}{row},{cells})"

    def beside(number: int) -> str:
        return f"{column_letters(number)}{row}"

    by_type = [
        Cell(total_of(sheet, alike, number), "int", of_size(layout.cells(number)))
        for number in range(FIRST_TYPE, layout.cost)
    ]
    sheet.put(
        row, 1,
        Cell(len(alike), "figure_left"),
        Cell(size.label, "text"),
        Cell(length, "int", of_size(at["joints.column.length"])),
        Cell(joints, "int", of_size(at["joints.column.butt_joints"])),
        Cell(size.labor_hours, "num1", of_size(layout.cells(HOURS))),
        *by_type,
        Cell(float(size.cost), "int", of_size(layout.cells(layout.cost))),
        Cell(float(size.price), "int", made.price.format(run_before_bond=beside(net))),
        Cell(price_per_length(size.price, length), "money",
             made.per_length.format(price=beside(layout.price), length=beside(LENGTH))),
        Cell(price_per_joint(size.price, joints), "money",
             made.per_joint.format(price=beside(layout.price), butt_joints=beside(JOINTS))),
        Cell(float(size.own_item), "money", of_size(layout.cells(layout.tie_ins + 1))),
        Cell(float(size.before_bond), "money", of_size(layout.cells(layout.net))),
        Cell(float(size.own_before_bond), "money", of_size(layout.cells(layout.net + 2))),
    )  # fmt: skip
    for name, column in (
        ("length", LENGTH), ("joints", JOINTS), ("own", own), (f"own{NET}", own_net),
        ("price", layout.price),
    ):  # fmt: skip
        sheet.anchor(f"by_size.{name}.{size.label}", column, row)
