"""The Price build-up sheet: from job cost to bid price, for the bidder's own eyes."""

from dataclasses import replace

from estimator.cost.estimate_class import accuracy, price_at
from estimator.display import PAY_LENGTH, convert
from estimator.steps.cells import row_formula
from estimator.steps.plain import share
from estimator.workbook.results.bid_chain import add_chain, local
from estimator.workbook.results.builder import Context, SheetBuilder
from estimator.workbook.results.price_words import word_cells
from estimator.workbook.sheet.source import column_letters
from estimator.workbook.sheet.spec import Cell, SheetSpec

WIDTHS = (33, 13, 24, 13, 13, 18, 18)
AMOUNT = len(WIDTHS)
CLASS_LINE = 14.0
CLASS_NOTE = (
    "Class depends on how fully the project is defined, not on estimating effort. The practice "
    "was written for the process industries"
)
INTERNAL = "Shows cost and markup. Do not send to the client; send Bid and Bid schedule."


def price_sheet(context: Context) -> SheetSpec:
    """Return the Price build-up sheet.

    Anchors ``bid.*`` point at the steps of the price, ``bid.words`` at the price in words.
    """
    sheet = SheetBuilder(context, "Price build-up", "Price build-up")
    sheet.add(Cell(INTERNAL, "plain"))
    sheet.add()
    add_chain(sheet, AMOUNT)
    _averages(sheet)
    _estimate_class(sheet)
    printed = f"$A$1:${column_letters(AMOUNT)}${sheet.last_row}"
    _words(sheet)
    return replace(sheet.spec(), widths=WIDTHS, freeze=(2, 0), landscape=False, print_area=printed)


def _averages(sheet: SheetBuilder) -> None:
    context = sheet.context
    estimate, price = context.estimate, local(context, "bid.price")
    system = context.system
    length = convert(sum(run.length_m for run in estimate.job.runs), "length", system)
    sheet.section("Average price", AMOUNT)
    for label, quantity, anchor in (
        ("per butt joint", float(estimate.butt_joints), "joints.butt_joints"),
        (f"per {PAY_LENGTH[system]} of pipe fused", length, "joints.length"),
        ("per labor-hour", estimate.total_labor_hours, "joints.labor_hours"),
    ):
        reference = context.anchors[anchor]
        made = share.worked(float(estimate.bid.price), quantity)
        sheet.add(
            Cell(label, "text"),
            Cell(quantity, "num1", reference),
            *[Cell(None, "text")] * (AMOUNT - 3),
            Cell(made.value, "money", row_formula(made).format(part=price, whole=reference)),
        )


def _estimate_class(sheet: SheetBuilder) -> None:
    """Add the customary ranges of the estimate class, where the Job sheet names one."""
    context = sheet.context
    chosen = context.estimate.job.bid.estimate_class
    if chosen is None:
        return
    ranges = accuracy(chosen)
    price = context.anchors["bid.price"]
    sheet.add()
    sheet.section(f"Estimate class {chosen}: customary accuracy per {ranges[0].source}", AMOUNT)
    sheet.add(*(Cell(head, "header") for head in ("Range", "Percent", "", "Price")))
    for found in ranges:
        name = f"{found.reach.capitalize()} ({found.confidence})"
        for word, end in (("low", found.low), ("high", found.high)):
            row, made = sheet.next_row, price_at.worked(context.estimate.bid.price, end)
            sheet.add(
                Cell(f"{name}, {word}", "text"), Cell(end, "pct"), Cell(None, "text"),
                Cell(made.value, "money", row_formula(made).format(price=price, share=f"B{row}")),
            )  # fmt: skip
    row = sheet.add(Cell(CLASS_NOTE, "note"), height=3 * CLASS_LINE)
    sheet.merge(row, 1, AMOUNT)


def _words(sheet: SheetBuilder) -> None:
    """Add the working of the price in words, which the client's pages show."""
    context = sheet.context
    sheet.add()
    sheet.section("Bid price in words, for the client's pages", AMOUNT)
    price, first = float(context.estimate.bid.price), f"B{sheet.next_row}"
    for cell in word_cells(price, context.currency, local(context, "bid.price"), first):
        style = "text" if isinstance(cell.value, str) else "int"
        sheet.add(Cell(cell.label, "text"), Cell(cell.value, style, cell.formula))
    sheet.anchor("bid.words", 2, sheet.last_row)
