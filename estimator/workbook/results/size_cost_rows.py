"""The rows of the Cost by run sheet that add up the runs of each size, and its layout."""

from collections.abc import Iterable, Sequence
from decimal import Decimal
from functools import cached_property

from estimator.cost import price_per_joint
from estimator.cost.by_size import price_per_length
from estimator.data_class import dataclass
from estimator.display import PAY_LENGTH, convert, unit_of
from estimator.inputs.trade_units import written
from estimator.models.kinds import MARKUP_TYPES, MarkupType, cost_type
from estimator.models.run_costs import Allocation, CostByRun, SizeCost, left_over
from estimator.steps.cells import row_formula
from estimator.steps.marks import Cells
from estimator.workbook.results.builder import TOTAL_STYLES, SheetBuilder, header_text
from estimator.workbook.results.markup_rows import TYPE_NAMES
from estimator.workbook.sheet.source import column_letters
from estimator.workbook.sheet.spec import Cell, Value

LABEL, LENGTH, JOINTS, HOURS, FIRST_TYPE = 2, 3, 4, 5, 6
"""Columns of runs and sizes alike; sums by type of cost, cost and prices follow, then data."""
AMOUNT, UNITS, PER_UNIT = "F", "G", "H"
"""Columns of the table of what is shared out."""
NET = ".net"
"""What the names of cells with the markups of their types end on."""
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

    def shares_of(self, of_type: MarkupType) -> Sequence[int]:
        """Columns of the shares of a type of cost."""
        return [
            self.first_share + number
            for number, share in enumerate(self.allocations)
            if cost_type(share.cost_type).markup == of_type
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
        (f"Price per {PAY_LENGTH[sheet.context.system]}", currency), ("Price per joint", currency),
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
    _size_totals(sheet, layout, by_run, (first, last))


def _size_totals(
    sheet: SheetBuilder, layout: Layout, by_run: CostByRun, rows: tuple[int, int]
) -> None:
    """Set the rounding and the total below the sizes, which stand from one row to another."""
    context, (first, last) = sheet.context, rows
    price = context.estimate.bid.price
    left = left_over(price, [size.price for size in by_run.sizes])
    rest = row_formula(left_over.worked(Decimal(1), [Cells(1)]))
    prices = column_letters(layout.price)
    parts = f"${prices}${first}:${prices}${last}"
    whole = context.anchors["bid.price"]
    rounding = int(context.anchors["by_run.rounding"].rpartition("$")[2])
    summed = range(FIRST_TYPE, layout.price)
    over = [
        Cell(sheet.number_at(rounding, n), "money", f"{column_letters(n)}${rounding}")
        for n in summed
    ]
    blanks = [Cell(None, "text")] * (FIRST_TYPE - 2)
    sheet.put(last + 1, 1, Cell("Rounding", "note"), *blanks, *over,
              Cell(left, "money", rest.format(whole=whole, parts=parts)))  # fmt: skip
    sheet.put(last + 2, 1, Cell("All sizes", "total_text"), Cell(None, "total_text"))
    for number in range(LENGTH, layout.last_printed + 1):
        letters = column_letters(number)
        formula = f"SUM({letters}${first}:{letters}${last + 1})"
        is_sum = number <= layout.price
        style = TOTAL_STYLES[printed_style(number)] if is_sum else "total_text"
        value = total_of(sheet, range(first, last + 2), number)
        cell = Cell(value, style, formula) if is_sum else Cell(None, style)
        sheet.put(last + 2, number, cell)
    sheet.anchor("by_size.cost", layout.cost, last + 2)
    sheet.anchor("bid.by_size", layout.price, last + 2)


def total_of(sheet: SheetBuilder, lines: Iterable[int], number: int) -> float:
    """Return the sum of a column; amounts add up to the cent."""
    if isinstance(lines, range):
        total = sum(sheet.numbers_in(lines, number))
    else:
        total = sum(sheet.number_at(line, number) for line in lines)
    return total if number <= HOURS else round(total, 2)


def printed_style(number: int) -> str:
    """Return the style of a printed number that sums add up: amounts in whole units."""
    return "num1" if number == HOURS else "int"


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
