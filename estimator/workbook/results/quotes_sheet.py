"""The Quote comparison sheet: every quote on its line, and the cheapest choice by kind."""

from collections.abc import Mapping
from dataclasses import replace

from estimator.display import counted
from estimator.equipment.quotes import ComparedQuote, KindChoice, QuoteComparison
from estimator.models.rental_kinds import KIND_WORDS
from estimator.workbook.results.builder import Context, Scalar, SheetBuilder
from estimator.workbook.results.result_columns import result_columns
from estimator.workbook.sheet.source import column_letters
from estimator.workbook.sheet.spec import Cell, SheetSpec

QUOTE_COMPARISON = "Quote comparison"
WIDTHS = (5.0, 5.0, 14.0, 15.0, 15.0, 11.0, 11.0, 11.0, 11.0, 10.0, 12.0)
"""They fill a page that lies across."""
NOTE = (
    "Costs are for our dates: cheapest periods of day, week and 4 weeks, excess hours, waiver and "
    "both trips, and fuel as the quote says, else as planned. Held 2 weeks by others: 14 days at "
    "the standby rate on top, where one is quoted. What a quote does not say is not checked. Take "
    "one into the workbook with estimator request FILE --take and its number; then run Estimate."
)


def quotes_sheet(context: Context, comparison: QuoteComparison) -> SheetSpec:
    """Return the comparison; amounts that add up others are live."""
    columns = result_columns("quotes")
    sheet = SheetBuilder(context, QUOTE_COMPARISON, "Quotes", "Compared on the dates of the plan")
    row = sheet.add(Cell(NOTE, "text_wrap"))
    sheet.merge(row, 1, len(columns))
    sheet.heights[row] = 45
    sheet.add()
    sheet.section("Every quote", len(columns))
    first = sheet.table_head(columns) + 1
    for one in comparison.quotes:
        sheet.table_row(columns, _values(one))
    rows = {one.number: first + i for i, one in enumerate(comparison.quotes)}
    sheet.add()
    for choice in comparison.choices:
        _choice(sheet, choice, rows)
    return replace(sheet.spec(), widths=WIDTHS, freeze=(2, 0), landscape=True, exact_widths=True)


def remark(one: ComparedQuote) -> str:
    """Return why a quote cannot be taken, empty where it can."""
    lapsed = ("no longer valid when ordered",) if one.lapsed else ()
    return "; ".join((*one.why_not, *lapsed))


def _values(one: ComparedQuote) -> Mapping[str, Scalar]:
    return {
        "number": one.number,
        "line": one.line.number,
        "what": KIND_WORDS[one.line.kind],
        "supplier": one.quote.supplier,
        "offered": one.quote.offered,
        "cost": float(one.cost),
        "later": float(one.cost_later),
        "sooner": float(one.cost_sooner),
        "held": None if one.cost_held is None else float(one.cost_held),
        "valid": one.quote.valid_until,
        "remark": remark(one) or "fits",
    }


def _choice(sheet: SheetBuilder, choice: KindChoice, rows: Mapping[int, int]) -> None:
    """Add the cheapest supplier of all lines of a kind, and the cheapest quote of each."""
    columns = result_columns("quotes")
    cost = 1 + [column.key for column in columns].index("cost")
    letters = column_letters(cost)
    sheet.section(KIND_WORDS[choice.kind], len(columns))
    blank = [Cell(None, "text")] * (cost - 2)
    single = choice.single or "no supplier quotes every line with what fits"
    sheet.add(
        Cell(f"Cheapest single supplier: {single}", "text"),
        *blank,
        Cell(float(choice.single_cost) if choice.single else None, "money"),
    )
    names = ", ".join(f"line {x.line.number} {x.quote.supplier}" for x in choice.mix)
    formula = "+".join(f"{letters}{rows[x.number]}" for x in choice.mix)
    sheet.add(
        Cell(f"Cheapest mix: {names or 'none fits'}", "text"),
        *blank,
        Cell(float(choice.mix_cost) if choice.mix else None, "money", formula or None),
    )
    if choice.open_lines:
        lines = ", ".join(map(str, choice.open_lines))
        text = f"No quote that fits for {counted(len(choice.open_lines), 'line')}: {lines}"
        sheet.add(Cell(text, "warn_text"))
    sheet.add()
