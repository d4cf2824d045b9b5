"""The Bid schedule sheet: items with quantity, unit price and amount that make the bid price."""

from dataclasses import replace
from decimal import Decimal

from estimator.display import convert, unit_of
from estimator.models.run_costs import BidItem
from estimator.workbook.results.builder import Context, SheetBuilder, breadth
from estimator.workbook.sheet.spec import Cell, SheetSpec

WIDTHS = (7, 60, 14, 12, 15, 18)
ITEM_HEADS = ("Item", "Description", "Quantity", "Unit", "Unit price", "Amount")
AMOUNT, ONE_LINE = len(WIDTHS), 72
LINE_HEIGHT, ROW_HEIGHT, TOTAL_HEIGHT = 15.0, 15.75, 20.25
QUANTITIES = (
    "Quantities come from the pipe schedule. Mobilization, tie-ins, trial fusions and "
    "hydrostatic testing are separate items. Unit prices apply to changed quantities only while "
    "the lump sums still hold."
)


def schedule_sheet(context: Context) -> SheetSpec:
    """Return the Bid schedule sheet; its items and their rounding add up to ``bid.price``."""
    sheet = SheetBuilder(context, "Bid schedule", "Bid schedule")
    sheet.add()
    header = _items(sheet)
    _by_size(sheet)
    _note(sheet, QUANTITIES)
    return replace(sheet.spec(), widths=WIDTHS, freeze=(header, 0), landscape=False,
                   header_row=header)  # fmt: skip


def _items(sheet: SheetBuilder) -> int:
    """Add the items and what they come to; return the row of their header."""
    context = sheet.context
    header = sheet.add(*(Cell(title, "header") for title in ITEM_HEADS))
    for number, item in enumerate(context.estimate.items, 1):
        _item_row(sheet, number, item)
    bid, price = context.estimate.bid, context.anchors["bid.price"]
    items = f"$F${header + 1}:$F${sheet.last_row}"
    shown = sum((item.amount for item in context.estimate.items), Decimal(0))
    lines = (
        ("Subtotal, all items", shown, f"SUM({items})", "schedule.items"),
        ("Rounding", bid.price - shown, f"ROUND({price}-SUM({items}),2)", "schedule.rounding"),
    )
    for label, value, formula, anchor in lines:
        row = sheet.add(None, Cell(label, "text"), *[Cell(None, "text")] * (AMOUNT - 3),
                        Cell(float(value), "money", formula), height=ROW_HEIGHT)  # fmt: skip
        sheet.anchor(anchor, AMOUNT, row)
    total = f"F{sheet.last_row - 1}+F{sheet.last_row}"
    sheet.add(None, Cell("Bid price", "total_text"), *[Cell(None, "total_text")] * (AMOUNT - 3),
              Cell(float(bid.price), "total_money", total), height=TOTAL_HEIGHT)  # fmt: skip
    sheet.anchor("schedule.price", AMOUNT, sheet.last_row)
    sheet.add()
    return header


def _item_row(sheet: SheetBuilder, number: int, item: BidItem) -> None:
    context, row = sheet.context, sheet.next_row
    step = context.input("rates", "", "unit_price_step")
    price, job_cost = (context.anchors[f"bid.{name}"] for name in ("price", "job"))
    share = f"{price}*{_cost_reference(context, item)}/{job_cost}/C{row}"
    rounded = f"ROUND({share},2)"
    if step:
        rounded = f"IF({step}=0,{rounded},ROUND(ROUND({share}/{step},0)*{step},2))"
    formula = f"IF({job_cost}*C{row}=0,0,{rounded})"
    whole = item.quantity == int(item.quantity)
    sheet.add(
        Cell(number, "center"),
        Cell(item.description, "text_wrap"),
        Cell(item.quantity, "int" if whole else "num1"),
        Cell(item.unit, "center"),
        Cell(float(item.unit_price), "money", formula),
        Cell(float(item.amount), "money", f"ROUND(C{row}*E{row},2)"),
    )
    sheet.heights[row] = 2 * LINE_HEIGHT if breadth(item.description) > ONE_LINE else ROW_HEIGHT


def _cost_reference(context: Context, item: BidItem) -> str:
    kind, _, name = item.key.partition(".")
    if kind == "lines":
        return _lines_reference(context, name)
    anchors = {
        "size": f"by_size.own.{name}",
        "run": f"by_run.{name}",
        "tie_ins": "by_run.tie_ins",
    }
    return context.anchors[anchors[kind]]


def _lines_reference(context: Context, item: str) -> str:
    """Return the cells of the cost lines that name an item, added up."""
    lines = [line for line in context.estimate.cost_lines if line.bid_item == item]
    cells = "+".join(context.anchors[f"cost.{line.key}"] for line in lines)
    return f"({cells})" if len(lines) > 1 else cells


def _by_size(sheet: SheetBuilder) -> None:
    context = sheet.context
    unit = unit_of("length", context.system)
    sheet.section("All-in prices by size (whole bid price allocated), for comparison only", AMOUNT)
    heads = ("", "Pipe", f"Length\n{unit}", "Butt joints", f"Price per {unit}", "Price per joint")
    sheet.add(*(Cell(head, "header") for head in heads))
    for size in context.estimate.by_run.sizes:
        at = {name: context.anchors[f"by_size.{name}.{size.label}"]
              for name in ("length", "joints", "price")}  # fmt: skip
        length = convert(size.length_m, "length", context.system)
        price, joints = float(size.price), size.butt_joints
        each = price / joints if joints else 0.0
        sheet.add(
            None,
            Cell(size.label, "text"),
            Cell(length, "num1", at["length"]),
            Cell(joints, "int", at["joints"]),
            Cell(price / length, "money", f"{at['price']}/{at['length']}"),
            Cell(each, "money", f"IF({at['joints']}=0,0,{at['price']}/{at['joints']})"),
            height=ROW_HEIGHT,
        )
    sheet.add()


def _note(sheet: SheetBuilder, text: str) -> None:
    row = sheet.add(Cell(text, "text_wrap"), height=45)
    sheet.merge(row, 1, AMOUNT)
