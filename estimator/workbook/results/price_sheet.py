"""The Price build-up sheet: from job cost to bid price, for the bidder's own eyes."""

from dataclasses import replace

from estimator.cost.estimate_class import accuracy, price_at
from estimator.display import PAY_LENGTH, convert, sentence
from estimator.steps.cells import row_formula
from estimator.steps.plain import share
from estimator.workbook.results.bid_chain import TAX_RATE, add_chain, local
from estimator.workbook.results.builder import INTERNAL, Context, SheetBuilder, header_text
from estimator.workbook.results.client_page import inches
from estimator.workbook.results.markup_rows import GAP
from estimator.workbook.results.price_words import word_cells
from estimator.workbook.sheet.source import column_letters
from estimator.workbook.sheet.spec import Cell, SheetSpec

WIDTHS = inches(2.15, 0.85, 0.95, 0.85, 1.1, 1.2, 0.7)
AMOUNT = len(WIDTHS) - 1
"""The last printed column; profit on cost stands beside it."""
CLASS_NOTE = (
    "Class depends on how fully the project is defined, not on estimating effort. The practice "
    "was written for the process industries."
)
REACHES = {"narrow": "at its narrowest", "wide": "at its widest"}
"""What the ranges of an estimate class are called."""


def price_sheet(context: Context) -> SheetSpec:
    """Return the Price build-up sheet.

    Anchors ``bid.*`` point at the steps of the price, ``bid.words`` at the price in words.
    """
    sheet = SheetBuilder(context, "Price build-up", "Price build-up")
    sheet.result = INTERNAL
    sheet.add(height=GAP)
    add_chain(sheet, AMOUNT)
    _averages(sheet)
    _estimate_class(sheet)
    printed = f"$A$1:${column_letters(AMOUNT)}${sheet.last_row}"
    _words(sheet)
    return replace(
        sheet.spec(),
        widths=WIDTHS,
        freeze=(2, 0),
        landscape=False,
        print_area=printed,
        closes_up=True,
    )


def _averages(sheet: SheetBuilder) -> None:
    context = sheet.context
    estimate, price = context.estimate, local(context, "bid.price")
    system = context.system
    length = convert(sum(run.length_m for run in estimate.job.runs), "length", system)
    sheet.section(f"Average price, {context.currency}", AMOUNT)
    for label, quantity, style, anchor in (
        ("Per butt joint", float(estimate.butt_joints), "int", "joints.butt_joints"),
        (f"Per {PAY_LENGTH[system]} of pipe fused", length, "int", "joints.length"),
        ("Per labor-hour", estimate.total_labor_hours, "num1", "joints.labor_hours"),
    ):
        reference = context.anchors[anchor]
        made = share.worked(float(estimate.bid.price), quantity)
        sheet.add(
            Cell(label, "text"),
            Cell(quantity, style, reference),
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
    sheet.add(height=GAP)
    sheet.section(f"Estimate class {chosen}: customary accuracy per {ranges[0].source}", AMOUNT)
    named = (header_text(f"Price, {end}", context.currency) for end in ("low", "high"))
    heads = ("Range", "Low", "High", *[None] * (AMOUNT - 5), *named)
    sheet.add(*(Cell(head, "header") for head in heads))
    for found in ranges:
        row, there = sheet.next_row, context.estimate.bid.price
        ends = {"B": found.low, "C": found.high}
        made = {at: price_at.worked(there, end) for at, end in ends.items()}
        prices = (
            Cell(one.value, "money", row_formula(one).format(price=price, share=f"{at}{row}"))
            for at, one in made.items()
        )
        sheet.add(
            Cell(sentence(REACHES[found.reach]), "text"),
            *(Cell(end, "signed_pct") for end in ends.values()),
            *[Cell(None, "text")] * (AMOUNT - 5),
            *prices,
        )
    sure = ", ".join(f"{found.confidence} for the range {REACHES[found.reach]}" for found in ranges)
    for text in (f"Confidence in these percents: {sure}.", CLASS_NOTE):
        sheet.merge(sheet.add(Cell(text, "note")), 1, AMOUNT)


def _words(sheet: SheetBuilder) -> None:
    """Add the working of the price in words, which the client's pages show."""
    context = sheet.context
    sheet.add()
    sheet.section("Bid price in words, for the client's pages", AMOUNT)
    price, tax = float(context.estimate.bid.price), context.estimate.job.rates.tax
    at, first = (local(context, "bid.price"), local(context, TAX_RATE)), f"B{sheet.next_row}"
    for cell in word_cells(price, context.currency, tax, at, first):
        style = "text" if isinstance(cell.value, str) else "int"
        sheet.add(Cell(cell.label, "text"), Cell(cell.value, style, cell.formula))
    sheet.anchor("bid.words", 2, sheet.last_row)
