"""The Bid sheet: one page for the client, with price, scope, assumptions and cautions."""

import datetime as dt
import math
from collections.abc import Sequence
from dataclasses import replace
from decimal import Decimal

from estimator.cost.estimate_class import accuracy
from estimator.models.comparison import Outcome
from estimator.money import round_money
from estimator.workbook.results.bid_text import assumptions, cautions, exclusions, scope
from estimator.workbook.results.builder import Context, SheetBuilder, breadth
from estimator.workbook.results.compare_sheet import SAME
from estimator.workbook.sheet.spec import Cell, SheetSpec

WIDTHS = (34, 13, 12, 12, 16, 18, 17)
AMOUNT = len(WIDTHS)
NOTE_LETTERS = 154
LINE_HEIGHT, ROW_HEIGHT, GRAND_HEIGHT = 14.25, 15.75, 23.25
BLANK_LINE = "-"
HOLDS = "Alternates apply to the bid price above"
ITEMS, ROUNDING = "Bid schedule items", "Rounding"
CLASS_NOTE = (
    "Class depends on how fully the project is defined, not on estimating effort. The practice "
    "was written for the process industries"
)


def bid_sheet(context: Context) -> SheetSpec:
    """Return the Bid sheet: the client's page, without cost or markup.

    Anchors ``page.<label>`` point at the lines of its price.
    """
    sheet = SheetBuilder(context, "Bid", "Bid")
    _parties(sheet)
    _notes(sheet, "Scope", scope(context))
    _price(sheet)
    _estimate_class(sheet)
    _alternates(sheet)
    _notes(sheet, "Assumptions", assumptions(context))
    _notes(sheet, "Exclusions", exclusions(context.estimate))
    _notes(sheet, "Cautions", cautions())
    return replace(sheet.spec(), widths=WIDTHS, freeze=(2, 0), landscape=False)


def _parties(sheet: SheetBuilder) -> None:
    context = sheet.context
    cover, rates = context.estimate.job.cover, context.estimate.job.rates
    until = cover.estimate_date + dt.timedelta(days=rates.validity_days)
    date, days = (
        context.input("job", "", "estimate_date"),
        context.input("rates", "", "validity_days"),
    )
    names = (("Company", "company"), ("Prepared by", "prepared_by"), ("Bid to", "bid_to"))
    given: tuple[tuple[str, Cell], ...] = (
        ("Date", Cell(cover.estimate_date, "key_date", date)),
        ("Valid through", Cell(until, "key_date", f"{date}+{days}" if date and days else None)),
        ("Currency", Cell(cover.currency, "key_center", context.input("job", "", "currency"))),
    )
    for (label, key), (head, cell) in zip(names, given, strict=True):
        name, at = getattr(cover, key) or BLANK_LINE, context.input("job", "", key)
        shown = f'IF({at}="","{BLANK_LINE}",{at})' if at else None
        row = sheet.add(
            Cell(label, "key"), Cell(name, "plain", shown), None, None, None,
            Cell(head, "key"), cell,
            height=ROW_HEIGHT,
        )  # fmt: skip
        sheet.merge(row, 2, 5)
    sheet.add()


def _price(sheet: SheetBuilder) -> None:
    context = sheet.context
    at, bid = context.anchors, context.estimate.bid
    items = sum((item.amount for item in context.estimate.items), Decimal(0))
    sheet.section("Price", AMOUNT)
    lines: list[tuple[str, Decimal, str, str, str]] = [
        (ITEMS, items, at["schedule.items"], "text", "money"),
        (ROUNDING, bid.price - items, at["schedule.rounding"], "text", "money"),
        ("Bid price", bid.price, at["bid.price"], "grand_total_text", "grand_total"),
    ]
    for label, value, formula, text, style in (*lines, *_tax_lines(context)):
        blanks = [Cell(None, text)] * (AMOUNT - 2)
        high = GRAND_HEIGHT if style == "grand_total" else ROW_HEIGHT
        amount = Cell(float(value), style, formula)
        row = sheet.add(Cell(label, text), *blanks, amount, height=high)
        sheet.anchor(f"page.{label}", AMOUNT, row)
    sheet.add()


def _tax_lines(context: Context) -> list[tuple[str, Decimal, str, str, str]]:
    at, bid = context.anchors, context.estimate.bid
    if not context.estimate.job.rates.tax:
        return []
    return [
        ("Tax", bid.tax, at["bid.tax"], "text", "money"),
        ("Total including tax", bid.total, at["bid.total"], "total_text", "total_money"),
    ]


def _estimate_class(sheet: SheetBuilder) -> None:
    context = sheet.context
    chosen = context.estimate.job.bid.estimate_class
    if chosen is None:
        return
    ranges = accuracy(chosen)
    price, value = context.anchors["bid.price"], float(context.estimate.bid.price)
    sheet.section(f"Estimate class {chosen}: customary accuracy per {ranges[0].source}", AMOUNT)
    heads = ("Range", None, None, "Low", "High", "Price from", "Price to")
    sheet.merge(sheet.add(*(Cell(head, "header") for head in heads), height=ROW_HEIGHT), 1, 3)
    for found in ranges:
        row = sheet.next_row
        sheet.add(
            Cell(f"{found.reach.capitalize()} ({found.confidence})", "text"),
            *[Cell(None, "text")] * 2,
            Cell(found.low, "pct"),
            Cell(found.high, "pct"),
            Cell(_share(value, found.low), "money", f"ROUND({price}*(1+D{row}),2)"),
            Cell(_share(value, found.high), "money", f"ROUND({price}*(1+E{row}),2)"),
            height=ROW_HEIGHT,
        )
    _note(sheet, CLASS_NOTE)
    sheet.add()


def _share(price: float, share: float) -> float:
    return float(round_money(price * (1 + share)))


def _alternates(sheet: SheetBuilder) -> None:
    context = sheet.context
    comparison = context.estimate.comparison
    offered = [
        (i, outcome)
        for i, outcome in enumerate(comparison.scenarios if comparison else ())
        if outcome.is_alternate and outcome.figures is not None
    ]
    if not offered:
        return
    sheet.section("Alternates: add to or deduct from the bid price if accepted", AMOUNT)
    for i, outcome in offered:
        _alternate_row(sheet, i, outcome)
    state = context.anchors["compare.state"]
    text = Cell(HOLDS, "note", f'IF({state}="{SAME}","{HOLDS}",{state})')
    sheet.merge(sheet.add(text), 1, AMOUNT)
    sheet.add()


def _alternate_row(sheet: SheetBuilder, index: int, outcome: Outcome) -> None:
    context = sheet.context
    price = outcome.figures.price if outcome.figures is not None else Decimal(0)
    change = float(price - context.estimate.bid.price)
    row = sheet.add(
        Cell(outcome.name, "text"),
        Cell("; ".join(outcome.changes), "text_wrap"),
        *[Cell(None, "text_wrap")] * (AMOUNT - 3),
        Cell(change, "money", context.anchors[f"compare.{index}.price_difference"]),
        height=ROW_HEIGHT,
    )
    sheet.merge(row, 2, AMOUNT - 1)


def _notes(sheet: SheetBuilder, title: str, lines: Sequence[str]) -> None:
    sheet.section(title, AMOUNT)
    for line in lines:
        _note(sheet, line)
    sheet.add()


def _note(sheet: SheetBuilder, line: str) -> None:
    row = sheet.add(Cell(line, "text_wrap"))
    sheet.merge(row, 1, AMOUNT)
    lines = math.ceil(breadth(line) / NOTE_LETTERS)
    sheet.heights[row] = ROW_HEIGHT + LINE_HEIGHT * (lines - 1)
