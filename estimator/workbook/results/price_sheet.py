"""The Price build-up sheet: from job cost to bid price, for the bidder's own eyes."""

from dataclasses import replace

from estimator.display import convert, unit_of
from estimator.workbook.results.bid_chain import add_chain, local
from estimator.workbook.results.builder import Context, SheetBuilder
from estimator.workbook.sheet.spec import Cell, SheetSpec

WIDTHS = (33, 13, 24, 13, 13, 18, 18)
AMOUNT = len(WIDTHS)
INTERNAL = "Shows cost and markup. Do not send to the client; send Bid and Bid schedule."


def price_sheet(context: Context) -> SheetSpec:
    """Return the Price build-up sheet; anchors ``bid.*`` point at the steps of the price."""
    sheet = SheetBuilder(context, "Price build-up", "Price build-up")
    sheet.add(Cell(INTERNAL, "plain"))
    sheet.add()
    add_chain(sheet, AMOUNT)
    _averages(sheet)
    return replace(sheet.spec(), widths=WIDTHS, freeze=(2, 0), landscape=False)


def _averages(sheet: SheetBuilder) -> None:
    context = sheet.context
    estimate, price = context.estimate, local(context, "bid.price")
    system = context.system
    length = convert(sum(run.length_m for run in estimate.job.runs), "length", system)
    sheet.section("Average price", AMOUNT)
    for label, quantity, anchor in (
        ("per butt joint", float(estimate.butt_joints), "joints.butt_joints"),
        (f"per {unit_of('length', system)} of pipe fused", length, "joints.length"),
        ("per labor-hour", estimate.total_labor_hours, "joints.labor_hours"),
    ):
        reference = context.anchors[anchor]
        value = float(estimate.bid.price) / quantity if quantity else 0.0
        sheet.add(
            Cell(label, "text"),
            Cell(quantity, "num1", reference),
            *[Cell(None, "text")] * (AMOUNT - 3),
            Cell(value, "money", f"IF({reference}=0,0,{price}/{reference})"),
        )
