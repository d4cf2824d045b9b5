"""The rows of the Cost by run sheet that add up the runs of each size, and its layout."""

from collections.abc import Sequence
from decimal import Decimal
from functools import cached_property

from estimator.cost.by_size import price_per_joint, price_per_length
from estimator.data_class import dataclass
from estimator.display import PAY_LENGTH, convert, unit_of
from estimator.models.run_costs import Allocation, CostByRun, SizeCost, left_over
from estimator.steps.cells import row_formula
from estimator.steps.marks import Cells
from estimator.workbook.results.builder import SheetBuilder
from estimator.workbook.sheet.source import column_letters
from estimator.workbook.sheet.spec import Cell

PIPE, HOURS, FIRST_AMOUNT = 2, 4, 6
SIZE_HEADS = ("Pipe", "Length\n{unit}", "Butt joints", "Labor-hours", "Cost",
              "In its own bid item", "Price before bond", "Own bid item before bond", "Price",
              "Price per {pay}", "Price per joint")  # fmt: skip
SIZE_PRICE = 9
NET = ".net"
"""What the names of cells with the markups of their types end on."""


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
        return f"$D${rows[0]}:$D${rows[-1]}"

    def column(self, allocation: Allocation) -> str:
        """Letters of a share's column."""
        return column_letters(FIRST_AMOUNT + self.allocations.index(allocation))

    @property
    def total(self) -> int:
        """Column of the cost of a run; tie-ins and own item follow."""
        return FIRST_AMOUNT + len(self.allocations)

    @property
    def net(self) -> int:
        """Column of the price of a run before bond; tie-ins and own item follow."""
        return self.total + 3

    @property
    def price(self) -> int:
        """Column of the price of a run; its unit prices follow."""
        return self.total + 6

    def cells(self, column: int) -> str:
        """Return the absolute range of a column over the runs."""
        letters = column_letters(column)
        return f"${letters}${self.first}:${letters}${self.last}"


def put_sizes(sheet: SheetBuilder, layout: Layout, by_run: CostByRun, row: int) -> None:
    """Set the table of sizes from a row on, with its rounding and its total."""
    unit = unit_of("length", sheet.context.system)
    title = "Cost and price by size: totals of the runs"
    sheet.put(row, 1, Cell(title, "section"), *[Cell(None, "section")] * (len(SIZE_HEADS) - 1))
    heads = (
        Cell(head.format(unit=unit, pay=PAY_LENGTH[sheet.context.system]), "header")
        for head in SIZE_HEADS
    )
    sheet.put(row + 1, 1, *heads)
    first, last = row + 2, row + 1 + len(by_run.sizes)
    for at, size in enumerate(by_run.sizes, first):
        _size_row(sheet, layout, at, size)
    _size_totals(sheet, by_run, first, last)


def _size_totals(sheet: SheetBuilder, by_run: CostByRun, first: int, last: int) -> None:
    """Set the rounding and the total below the sizes, which stand from one row to another."""
    context = sheet.context
    price = context.estimate.bid.price
    left = left_over(price, [size.price for size in by_run.sizes])
    rest = row_formula(left_over.worked(Decimal(1), [Cells(1)]))
    over = context.anchors["by_run.rounding"].rpartition("!")[2]
    unshared = round(
        sum(float(by_run.rounding(allocation)) for allocation in by_run.allocations), 2
    )
    blanks = [Cell(None, "text")] * 3
    letters = column_letters(SIZE_PRICE)
    prices = f"${letters}${first}:${letters}"
    sheet.put(
        last + 1, 1, Cell("Rounding", "note"), *blanks, Cell(unshared, "money", over),
        *[Cell(None, "text")] * 3,
        Cell(left, "money",
             rest.format(whole=context.anchors["bid.price"], parts=f"{prices}${last}")),
    )  # fmt: skip
    job_cost = float(context.estimate.bid.job_cost)
    sheet.put(
        last + 2, 1, Cell("All sizes", "total_text"), *[Cell(None, "total_text")] * 3,
        Cell(job_cost, "total_money", f"SUM($E${first}:$E${last + 1})"),
        *[Cell(None, "total_text")] * 3,
        Cell(float(price), "total_money", f"SUM({prices}${last + 1})"),
    )  # fmt: skip
    sheet.anchor("by_size.cost", 5, last + 2)
    sheet.anchor("bid.by_size", SIZE_PRICE, last + 2)


def _size_row(sheet: SheetBuilder, layout: Layout, row: int, size: SizeCost) -> None:
    context = sheet.context
    at, pipes = context.anchors, layout.cells(PIPE)
    length = convert(size.length_m, "length", context.system)
    made, joints = layout.formulas, size.butt_joints

    def of_size(cells: str) -> str:
        return f"SUMIF({pipes},$A{row},{cells})"

    sheet.put(
        row, 1,
        Cell(size.label, "text"),
        Cell(length, "num1", of_size(at["joints.column.length"])),
        Cell(joints, "int", of_size(at["joints.column.butt_joints"])),
        Cell(size.labor_hours, "num2", of_size(layout.cells(HOURS))),
        Cell(float(size.cost), "money", of_size(layout.cells(layout.total))),
        Cell(float(size.own_item), "money", of_size(layout.cells(layout.total + 2))),
        Cell(float(size.before_bond), "money", of_size(layout.cells(layout.net))),
        Cell(float(size.own_before_bond), "money", of_size(layout.cells(layout.net + 2))),
        Cell(float(size.price), "money", made.price.format(run_before_bond=f"G{row}")),
        Cell(price_per_length(size.price, length), "money",
             made.per_length.format(price=f"I{row}", length=f"B{row}")),
        Cell(price_per_joint(size.price, joints), "money",
             made.per_joint.format(price=f"I{row}", butt_joints=f"C{row}")),
    )  # fmt: skip
    for name, column in (
        ("length", 2), ("joints", 3), ("own", 6), (f"own{NET}", 8), ("price", SIZE_PRICE),
    ):  # fmt: skip
        sheet.anchor(f"by_size.{name}.{size.label}", column, row)
