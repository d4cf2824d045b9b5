"""The steps of the Bid sheet from job cost to price, each a live formula."""

from collections.abc import Iterator
from dataclasses import dataclass
from decimal import Decimal

from estimator.workbook.results.builder import Context, SheetBuilder
from estimator.workbook.sheet.spec import Cell

TEXT_STYLES = {"money": "text", "grand_total": "grand_total_text"}
RATE_COLUMN, BASIS_COLUMN = 2, 3
GRAND_HEIGHT = 23.25


@dataclass(frozen=True)
class Step:
    """One step: its amount, and the formula over earlier steps and its own rate cell.

    In ``formula`` ``{name}`` is the cell of an earlier step, ``{rate}`` the step's own rate and
    ``{basis}`` its own basis.
    """

    name: str
    label: str
    amount: Decimal
    formula: str
    rate_key: str = ""
    basis: str = ""
    basis_key: str = ""
    style: str = "money"


def local(context: Context, anchor: str) -> str:
    """Return the address of an anchor that stands on the same sheet."""
    return context.anchors[anchor].rpartition("!")[2]


def steps(context: Context) -> Iterator[Step]:
    """Yield the steps from direct cost to the total with tax."""
    bid = context.estimate.bid
    basis = context.estimate.job.rates.profit_basis
    margin = "ROUND({cost}*{rate}/(1-{rate}),2)"
    yield Step("direct", "Direct cost", bid.direct_cost, context.anchors["cost.direct"])
    yield Step("indirect", "Indirect cost", bid.indirect_cost, context.anchors["cost.indirect"])
    yield Step("job", "Job cost", bid.job_cost, "{direct}+{indirect}", style="total_money")
    yield Step("office_overhead", "Office overhead", bid.office_overhead,
               "ROUND({job}*{rate},2)", "office_overhead", "of job cost")  # fmt: skip
    yield Step("contingency", "Contingency", bid.contingency,
               "ROUND({job}*{rate},2)", "contingency", "of job cost")  # fmt: skip
    yield Step("cost", "Cost before profit", bid.cost_before_profit,
               "{job}+{office_overhead}+{contingency}", style="total_money")  # fmt: skip
    yield Step("profit", "Profit", bid.profit,
               f'IF({{basis}}="margin on price",{margin},ROUND({{cost}}*{{rate}},2))',
               "profit", basis, "profit_basis")  # fmt: skip
    yield Step("before_bond", "Price before bond", bid.price_before_bond, "{cost}+{profit}",
               style="total_money")  # fmt: skip
    yield Step("bond", "Bond", bid.bond, "ROUND({before_bond}/(1-{rate})-{before_bond},2)",
               "bond", "of the price with bond")  # fmt: skip
    yield Step("rounding", "Rounding of the bid price", bid.rounding,
               "IF({rate}=0,0,ROUND(ROUND(({before_bond}+{bond})/{rate},0)*{rate}"
               "-({before_bond}+{bond}),2))", "bid_step", "step of the bid price")  # fmt: skip
    yield Step("price", "Bid price", bid.price, "{before_bond}+{bond}+{rounding}",
               style="grand_total")  # fmt: skip
    yield Step("tax", "Tax", bid.tax, "ROUND({price}*{rate},2)", "tax", "of the bid price")
    yield Step("total", "Total with tax", bid.total, "{price}+{tax}", style="total_money")


def add_chain(sheet: SheetBuilder, amount_column: int) -> None:
    """Append the steps, and profit as markup and as margin; anchors ``bid.<step>``."""
    context = sheet.context
    titles = ["Step", "Rate", "Basis", *[""] * (amount_column - 4), "Amount"]
    sheet.add(*(Cell(title, "header") for title in titles))
    for step in steps(context):
        _add_step(sheet, step, amount_column)
    bid, profit = context.estimate.bid, local(context, "bid.profit")
    for label, share, base in (
        ("Profit as markup on cost", bid.markup, local(context, "bid.cost")),
        ("Profit as margin on the bid price", bid.margin, local(context, "bid.price")),
    ):
        sheet.add(Cell(label, "text"), Cell(share, "pct", f"IF({base}=0,0,{profit}/{base})"))
    sheet.add()


def _add_step(sheet: SheetBuilder, step: Step, amount_column: int) -> None:
    context, row = sheet.context, sheet.next_row
    text = TEXT_STYLES.get(step.style, "total_text")
    cells = {
        "rate": sheet.address(RATE_COLUMN, row),
        "basis": sheet.address(BASIS_COLUMN, row),
        **{
            name.removeprefix("bid."): local(context, name)
            for name in context.anchors
            if name.startswith("bid.")
        },
    }
    formula = step.formula
    for name, address in cells.items():
        formula = formula.replace(f"{{{name}}}", address)
    blanks = [Cell(None, text)] * (amount_column - BASIS_COLUMN - 1)
    sheet.add(
        Cell(step.label, text),
        _rate_cell(context, step.rate_key) if step.rate_key else Cell(None, text),
        Cell(step.basis or None, text, _input(context, step.basis_key)),
        *blanks,
        Cell(float(step.amount), step.style, formula),
        height=GRAND_HEIGHT if step.style == "grand_total" else None,
    )
    sheet.anchor(f"bid.{step.name}", amount_column, row)


def _rate_cell(context: Context, key: str) -> Cell:
    style = "money" if key == "bid_step" else "pct2"
    return Cell(getattr(context.estimate.job.rates, key) or 0, style, _input(context, key))


def _input(context: Context, key: str) -> str | None:
    return context.input("rates", "", key) if key else None
