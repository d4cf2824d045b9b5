"""The Item prices sheet: what each bid item carries of the cost, for the bidder's own eyes."""

from dataclasses import replace
from decimal import Decimal

from estimator.cost import price_per_joint
from estimator.cost.by_size import price_of, price_per_length
from estimator.display import PAY_LENGTH, convert, unit_of
from estimator.models.run_costs import BidItem, left_over
from estimator.steps.cells import row_formula
from estimator.steps.marks import Cells
from estimator.steps.plain import difference, share
from estimator.workbook.results.builder import INTERNAL, Context, SheetBuilder, header_text
from estimator.workbook.results.run_cost_sheet import price_formula
from estimator.workbook.results.schedule_sheet import cost_formula, net_formula
from estimator.workbook.results.shown_sums import clean_sum
from estimator.workbook.sheet.spec import Cell, ConditionalRule, SheetSpec

HEADS = (
    ("Item", ""), ("Our item", ""), ("Job cost in it", "money"), ("Price by cost", "money"),
    ("Price on the bid", "money"), ("Difference", "money"), ("Difference", "%"), ("Remark", ""),
)  # fmt: skip
"""Each header with its unit."""
GAP = 6
"""The column of the difference in money."""
WIDTHS = (10, 34, 15, 15, 15, 14, 12, 26)
UNBALANCED_FROM = 0.05
UNBALANCED, TYPED, ROUNDS = "unbalanced", "price typed in", "rounding"
ROUNDING = "Rounding of items"


def item_price_sheet(context: Context) -> SheetSpec:
    """Return the Item prices sheet: items against their cost, and all-in prices by size."""
    sheet = SheetBuilder(context, "Item prices", "Item prices")
    sheet.result = INTERNAL
    sheet.add()
    sheet.section("Price of each bid item against the job cost it carries", len(HEADS))
    units = {"money": context.currency}
    heads = (header_text(noun, units.get(unit, unit)) for noun, unit in HEADS)
    sheet.add(*(Cell(head, "header") for head in heads))
    first = sheet.next_row
    for n, item in enumerate(context.estimate.items):
        _item_row(sheet, n, item)
    last = sheet.last_row
    _totals(sheet, first)
    sheet.add()
    _by_size(sheet)
    rule = ConditionalRule(f"H{first}:H{last}", "text equals", UNBALANCED, "warn")
    return replace(sheet.spec(), widths=WIDTHS, freeze=(2, 0), landscape=False, conditional=(rule,),
                   closes_up=True)  # fmt: skip


def _item_row(sheet: SheetBuilder, number: int, item: BidItem) -> None:
    context, row = sheet.context, sheet.next_row
    bid, price = context.estimate.bid, price_formula(context)
    by_cost = float(price_of(bid, item.before_bond))
    gap = difference(float(item.amount), by_cost)
    off_by = share(gap, by_cost)
    plain = TYPED if item.fixed_price else ROUNDS if item.balances else ""
    off = abs(off_by) > UNBALANCED_FROM or (not by_cost and bool(gap))
    sheet.add(
        Cell(item.number, "text"),
        Cell("; ".join(item.keys), "text_wrap"),
        Cell(float(item.cost), "money", cost_formula(context, item)),
        Cell(by_cost, "money", price.format(run_before_bond=net_formula(context, item))),
        Cell(float(item.amount), "money", context.anchors[f"schedule.item.{number}"]),
        Cell(round(gap, 2), "money",
             row_formula(difference.worked(1.0, 1.0)).format(one=f"E{row}", other=f"D{row}")),
        Cell(off_by, "pct",
             row_formula(share.worked(1.0, 1.0)).format(part=f"F{row}", whole=f"D{row}")),
        Cell(UNBALANCED if off else plain, "text",
             f'IF(OR(ABS(G{row})>{UNBALANCED_FROM},AND(D{row}=0,F{row}<>0)),'
             f'"{UNBALANCED}","{plain}")'),
    )  # fmt: skip


def _totals(sheet: SheetBuilder, first: int) -> None:
    """Append what rounding leaves of the job cost and of the bid price, and the sums."""
    bid, anchors, row = sheet.context.estimate.bid, sheet.context.anchors, sheet.next_row
    wholes = {"C": (bid.job_cost, "cost.job"), "D": (bid.price, "bid.price"),
              "E": (bid.price, "bid.price")}  # fmt: skip
    rest = row_formula(left_over.worked(Decimal(1), [Cells(1)]))
    left, sums = [], []
    for number, (letter, (whole, anchor)) in enumerate(wholes.items(), 3):
        parts = [Decimal(str(sheet.number_at(line, number))) for line in range(first, row)]
        formula = rest.format(whole=anchors[anchor], parts=f"{letter}{first}:{letter}{row - 1}")
        left.append(Cell(left_over(whole, parts), "money", formula))
        sums.append(Cell(float(whole), "total_money", f"SUM({letter}{first}:{letter}{row})"))
    gaps = clean_sum(sheet.number_at(line, GAP) for line in range(first, row))
    left.append(Cell(round(-gaps, 2) + 0.0, "money", f"E{row}-D{row}"))
    sums.append(Cell(0.0, "total_money", f"ROUND(SUM(F{first}:F{row}),2)"))
    blank, total_blank = Cell(None, "text"), Cell(None, "total_text")
    sheet.add(blank, Cell(ROUNDING, "note"), *left, blank, blank)
    sheet.add(Cell("Total", "total_text"), total_blank, *sums, total_blank, total_blank)


def _by_size(sheet: SheetBuilder) -> None:
    context = sheet.context
    unit = unit_of("length", context.system)
    sheet.section(
        "All-in prices by size (whole bid price allocated), for comparison only", len(HEADS)
    )
    heads = (
        "",
        "Pipe",
        header_text("Length", unit),
        "Butt joints",
        header_text(f"Price per {PAY_LENGTH[context.system]}", context.currency),
        header_text("Price per joint", context.currency),
    )
    sheet.add(*(Cell(head, "header") for head in heads))
    for size in context.estimate.by_run.sizes:
        at = {name: context.anchors[f"by_size.{name}.{size.label}"]
              for name in ("length", "joints", "price")}  # fmt: skip
        at["butt_joints"] = at["joints"]
        length = convert(size.length_m, "length", context.system)
        one = price_per_length.worked(size.price, length)
        each = price_per_joint.worked(size.price, size.butt_joints)
        sheet.add(
            Cell(None, "text"),
            Cell(size.label, "text"),
            Cell(length, "int", at["length"]),
            Cell(size.butt_joints, "int", at["joints"]),
            Cell(one.value, "money", row_formula(one).format(**at)),
            Cell(each.value, "money", row_formula(each).format(**at)),
        )
