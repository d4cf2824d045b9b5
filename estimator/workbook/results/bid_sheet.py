"""The Bid sheet: one page for the client, with price, alternates, conditions and signatures."""

import datetime as dt
from collections.abc import Iterator
from dataclasses import replace
from itertools import zip_longest

from estimator.display import show_date
from estimator.models.comparison import Comparison, Outcome
from estimator.models.run_costs import BidItem
from estimator.workbook.results.bid_text import (
    GOVERNED,
    conditions,
    covered,
    exclusions,
    pipe_covered,
    pipe_name,
    with_own_terms,
)
from estimator.workbook.results.builder import Context
from estimator.workbook.results.client_page import ClientPage, bid_title, inches, with_sign
from estimator.workbook.results.compare_sheet import SAME
from estimator.workbook.results.price_words import words_for_client
from estimator.workbook.sheet.foot import DOT
from estimator.workbook.sheet.spec import Cell, SheetSpec

WIDTHS = inches(1.3, 1.06, 0.88, 0.2, 1.28, 1.0, 1.38)
LEFT, RIGHT, AMOUNT = 3, 5, len(WIDTHS)
PRICE_HEIGHT, SIGN_HEIGHT, GAP = 30.0, 24.0, 7.5
ON_REQUEST, NO_ADDENDA = "on request", "none"
SCHEDULE_NOTE = "Quantities and unit prices: Bid schedule."
CHANGE = "Alternates: add to or deduct from the bid price if accepted; each alone"


def bid_sheet(context: Context) -> SheetSpec:
    """Return the Bid sheet: the client's page, without cost, markup or anything internal.

    Anchors ``page.price`` and ``page.sum`` point at the price and at the sum of what makes it.
    """
    sheet = ClientPage(context, "Bid")
    _letterhead(sheet)
    _parties(sheet)
    _price(sheet)
    _covered(sheet)
    _alternates(sheet)
    _terms(sheet)
    _signatures(sheet)
    return replace(sheet.spec(), widths=WIDTHS, exact_widths=True, landscape=False, closes_up=True)


def _letterhead(sheet: ClientPage) -> None:
    context = sheet.context
    cover = context.estimate.job.cover
    blanks = [None] * (AMOUNT - 2)
    date = context.input("job", "", "estimate_date")
    title = bid_title(cover).removeprefix("Bid").strip(" ,")
    right = f"No. {title}" if cover.bid_number else title.capitalize()
    sheet.add(
        _followed(context, "company", "title"), *blanks, Cell("Bid", "title_right"), height=24
    )
    sheet.add(_joined(context, "company_address", "company_license"), *blanks,
              Cell(right, "plain_right"))  # fmt: skip
    shown = Cell(cover.estimate_date, "client_date_ruled", date)
    rule = [Cell(None, "job")] * (AMOUNT - 2)
    sheet.add(_followed(context, "company_contact", "job"), *rule, shown)
    sheet.add(height=GAP)


def _followed(context: Context, key: str, style: str) -> Cell:
    """Return a text of the Job sheet that follows its cell."""
    at = context.input("job", "", key)
    return Cell(getattr(context.estimate.job.cover, key) or "", style, f'{at}&""' if at else None)


def _joined(context: Context, first: str, second: str) -> Cell:
    """Return the address and the license number on one line, each where it is given."""
    cover = context.estimate.job.cover
    one, other = getattr(cover, first) or "", getattr(cover, second) or ""
    licensed = f"license {other}" if other else ""
    text = DOT.join(filter(None, (one, licensed)))
    one_at, other_at = (context.input("job", "", key) for key in (first, second))
    if not one_at or not other_at:
        return Cell(text, "plain")
    between = f'IF(OR({one_at}="",{other_at}=""),"","{DOT}")'
    formula = f'{one_at}&{between}&IF({other_at}="","","license "&{other_at})'
    return Cell(text, "plain", formula)


def _parties(sheet: ClientPage) -> None:
    context = sheet.context
    job, rates = context.estimate.job, context.estimate.job.rates
    until = job.cover.estimate_date + dt.timedelta(days=rates.validity_days)
    date, days = (context.input("job", "", "estimate_date"),
                  context.input("rates", "", "validity_days"))  # fmt: skip
    valid = Cell(until, "client_date", f"{date}+{days}" if date and days else None)
    rows = (
        ("To", _followed(context, "bid_to", "plain"), "Valid through", valid),
        ("Project", _followed(context, "job_name", "plain"), "Contract",
         Cell(job.bid.contract_no or "", "plain_right")),
        ("Owner's documents", Cell(job.bid.owner_documents or "", "plain"), "Addenda",
         Cell(job.bid.addenda or NO_ADDENDA, "plain_right")),
    )  # fmt: skip
    for left, value, right, other in rows:
        if value.value or value.formula or other.value not in ("", NO_ADDENDA):
            shown = value._replace(style="plain_wrap")
            row = sheet.add(Cell(left, "label"), shown, None, None, None,
                            Cell(right if other.value else None, "label"), other)  # fmt: skip
            sheet.merge(row, 2, 5)
    sheet.add(height=GAP)


def _price(sheet: ClientPage) -> None:
    context = sheet.context
    at, bid = context.anchors, context.estimate.bid
    blank, style = Cell(None, "price_text"), with_sign(context, "price", "price_dollars")
    row = sheet.add(
        Cell("Bid price", "price_text"), *[blank] * (RIGHT - 2),
        Cell(float(bid.price), style, at["bid.price"]), *[Cell(None, style)] * (AMOUNT - RIGHT),
        height=PRICE_HEIGHT,
    )  # fmt: skip
    sheet.anchor("page.price", RIGHT, row)
    sheet.merge(row, RIGHT, AMOUNT)
    words = words_for_client(float(bid.price), context.currency, context.estimate.job.rates.tax)
    row = sheet.add(
        Cell(words, "price_words", at["bid.words"]),
        *[Cell(None, "price_words")] * (AMOUNT - 1),
    )  # fmt: skip
    sheet.merge(row, 1, AMOUNT)
    sheet.add(height=GAP)


def _covered(sheet: ClientPage) -> None:
    """Add the sums of the Bid schedule that make the price, and tax where there is any."""
    context = sheet.context
    sheet.section(f"What the price covers, {context.currency}", AMOUNT)
    first = sheet.next_row
    for name, words, amount, formula in _sums(context):
        wide = 2 if words else AMOUNT - 1
        blanks = [Cell(None, "text")] * (AMOUNT - 2)
        row = sheet.add(Cell(name, "text_wrap"), *blanks, Cell(amount, "money", formula))
        sheet.merge(row, 1, wide)
        if words:
            sheet.put(row, LEFT, Cell(words, "text_wrap"))
            sheet.merge(row, LEFT, AMOUNT - 1)
    bid, price = context.estimate.bid, float(context.estimate.bid.price)
    blanks = [Cell(None, "total_text")] * (AMOUNT - 2)
    style = with_sign(context, "total_money", "total_dollars")
    row = sheet.add(Cell("Bid price", "total_text"), *blanks,
                    Cell(price, style, f"SUM(G{first}:G{sheet.last_row})"))  # fmt: skip
    sheet.anchor("page.sum", AMOUNT, row)
    if context.estimate.job.rates.tax:
        text = [Cell(None, "text")] * (AMOUNT - 2)
        sheet.add(
            Cell("Tax", "text"), *text, Cell(float(bid.tax), "money", context.anchors["bid.tax"])
        )
        sheet.add(Cell("Total including tax", "total_text"), *blanks,
                  Cell(float(bid.total), style, context.anchors["bid.total"]))  # fmt: skip
    sheet.text(Cell(SCHEDULE_NOTE, "note"), 1, AMOUNT)
    sheet.add(height=GAP)


def _sums(context: Context) -> Iterator[tuple[str, str, float, str]]:
    """Yield the lines that make the price: a group of the schedule each, or an item each."""
    items, at = context.estimate.items, context.anchors
    for group, name in (("Mobilization", "Mobilization and demobilization"),
                        ("Pipe", pipe_name(context.estimate))):  # fmt: skip
        members = [item for item in items if item.group == group]
        if members:
            amount = sum(float(item.amount) for item in members)
            words = pipe_covered(context) if group == "Pipe" else covered(context, members[0])
            yield name, words, round(amount, 2), at[f"schedule.group.{group}"]
    for n, item in enumerate(items):
        if item.group not in ("Mobilization", "Pipe"):
            yield (
                _name(context, item),
                covered(context, item),
                float(item.amount),
                at[f"schedule.item.{n}"],
            )


def _name(context: Context, item: BidItem) -> str:
    return item.description if context.estimate.job.owner_items else item.key


def _alternates(sheet: ClientPage) -> None:
    context = sheet.context
    comparison = context.estimate.comparison
    offered = [
        (i, outcome)
        for i, outcome in enumerate(comparison.scenarios if comparison else ())
        if outcome.is_alternate and outcome.figures is not None
    ]
    if not offered or comparison is None:
        return
    sheet.section(CHANGE, AMOUNT)
    for n, (i, outcome) in enumerate(offered, 1):
        _alternate_row(sheet, f"A{n}", i, outcome, comparison)
    sheet.add(height=GAP)


def _alternate_row(
    sheet: ClientPage, number: str, index: int, outcome: Outcome, comparison: Comparison
) -> None:
    """Add one alternate; where the prices have moved since, its amount is on request."""
    context = sheet.context
    figures = outcome.figures
    if figures is None:
        return
    text = outcome.name
    if figures.finish != comparison.base.finish:
        text = f"{text}: complete by {show_date(figures.finish, context.system)}"
    state = context.anchors["compare.state"]
    change = context.anchors[f"compare.{index}.price_difference"]
    row = sheet.add(
        Cell(number, "text"), Cell(text, "text"), *[Cell(None, "text")] * (AMOUNT - 3),
        Cell(float(figures.price - comparison.base.price), "add_deduct",
             f'IF({state}="{SAME}",{change},"{ON_REQUEST}")'),
    )  # fmt: skip
    sheet.merge(row, 2, AMOUNT - 1)


def _terms(sheet: ClientPage) -> None:
    """Add conditions and exclusions side by side."""
    context = sheet.context
    job = context.estimate.job
    left = with_own_terms(conditions(context), job, "condition")
    right = with_own_terms(exclusions(context.estimate), job, "not included")
    blanks = [None] * (LEFT - 1)
    if left or right:
        row = sheet.add(Cell("Conditions of this bid" if left else None, "section"), *blanks, None,
                        Cell("Not included" if right else None, "section"))  # fmt: skip
    for n, pair in enumerate(zip_longest(left, right), 1):
        texts = [f"{n}  {text}" if text else "" for text in pair]
        row = sheet.add(Cell(texts[0] or None, "term"), *blanks, None,
                        Cell(texts[1] or None, "term"))  # fmt: skip
        sheet.merge(row, 1, LEFT)
        sheet.merge(row, RIGHT, AMOUNT)
    sheet.add(height=GAP)
    sheet.text(Cell(GOVERNED, "term"), 1, AMOUNT)
    sheet.add(height=GAP)


def _signatures(sheet: ClientPage) -> None:
    context = sheet.context
    company, owner = (_signer(context, key, word) for key, word in
                      (("company", "For "), ("bid_to", "Accepted for ")))  # fmt: skip
    sheet.add(company, None, None, None, owner)
    line = Cell(None, "sign")
    for label in ("Signature", "Name, title", "Date"):
        sheet.add(Cell(label, "label_low"), line, line, None, Cell(label, "label_low"), line, line,
                  height=SIGN_HEIGHT)  # fmt: skip


def _signer(context: Context, key: str, word: str) -> Cell:
    name, at = getattr(context.estimate.job.cover, key), context.input("job", "", key)
    nobody = "the owner" if key == "bid_to" else "the bidder"
    text = f"{word}{name or nobody}"
    return Cell(text, "key_ink", f'"{word}"&IF({at}="","{nobody}",{at})' if at else None)
