"""The steps of the Price build-up from job cost to price, each with its recorded formula."""

from collections.abc import Mapping

from estimator.cost import ByType, cost_by_type
from estimator.cost.markup import CARRIED, job_cost, markup, profit_on_cost
from estimator.data_class import dataclass
from estimator.models.kinds import LIQUIDATED_DAMAGES
from estimator.steps.cells import cell_formula, row_formula
from estimator.steps.plain import difference, share
from estimator.steps.recorder import Recorded, Recorder
from estimator.workbook.results.builder import Context, SheetBuilder, header_text
from estimator.workbook.results.markup_rows import GAP, add_types, put_loaded_sum
from estimator.workbook.results.price_words import NO_TAX
from estimator.workbook.sheet.spec import Cell
from estimator.workbook.sheet.styles import AFTER

TEXT_STYLES = {"money": "text", "grand_total": "grand_total_text"}
RATE_COLUMN, BASIS_COLUMN = 2, 3
GRAND_HEIGHT = 23.25
ANCHOR = "bid."
TAX_RATE = f"{ANCHOR}tax_rate"
"""Anchor of the rate of tax beside the amount."""


@dataclass(frozen=True)
class Row:
    """How a step stands on the sheet: the rate and the basis beside its amount, and its style.

    ``anchor`` is the name by which later steps take its amount, where it is not its own.
    ``untaxed`` is what its basis, or its label if it has none, says while no tax rate is set.
    """

    key: str
    rate_key: str = ""
    basis: str = ""
    basis_key: str = ""
    style: str = "money"
    anchor: str = ""
    untaxed: str = ""


ROWS = (
    Row("job_cost", style="total_money", anchor="job"),
    Row("unmarked", basis_key="damages_carry"),
    Row("marked", style="total_money"),
    Row("office_overhead", basis=f"of {CARRIED}"),
    Row("contingency", basis=f"of {CARRIED}"),
    Row("cost", style="total_money"),
    Row("profit", basis="of cost before profit"),
    Row("before_bond", style="total_money"),
    Row("bond", "bond", "of the price including bond"),
    Row("rounding", "bid_step", "rounding step"),
    Row("price", style="grand_total"),
    Row("tax", "tax", "of the bid price", untaxed=NO_TAX),
    Row("total", style="total_money", untaxed=f"Total, {NO_TAX}"),
)
"""The steps of the markup that have a row; a formula writes one without a row out."""
CARRYING, PROFIT = "marked", "profit"
"""The step after which the types of cost stand, and the one whose rate is their average."""


def local(context: Context, anchor: str) -> str:
    """Return the address of an anchor that stands on the same sheet."""
    return context.anchors[anchor].rpartition("!")[2]


def add_chain(sheet: SheetBuilder, amount_column: int) -> None:
    """Append the steps, and profit as markup and as margin; anchors ``bid.<step>``."""
    context, estimate = sheet.context, sheet.context.estimate
    bid = estimate.bid
    titles = ["Step", "Rate", "Basis", *[""] * (amount_column - 4),
              header_text("Amount", context.currency)]  # fmt: skip
    sheet.add(*(Cell(title, "header") for title in titles))
    late = [ln for ln in estimate.cost_lines if ln.cost_type == LIQUIDATED_DAMAGES]
    damages = float(sum(line.amount for line in late))
    for name, label, amount, formula in (
        ("direct", "Direct cost", bid.direct_cost, context.anchors["cost.direct"]),
        ("indirect", "Indirect cost", bid.indirect_cost, context.anchors["cost.indirect"]),
        ("damages", "Liquidated damages included", damages,
         "+".join(context.anchors[f"cost.{line.key}"] for line in late) or None),
    ):  # fmt: skip
        _add_row(sheet, Row(name), label, Cell(float(amount), "money", formula), amount_column)
    with Recorder().on() as recorder:
        whole = job_cost(float(bid.direct_cost), float(bid.indirect_cost))
        costs: ByType = {of: float(cost) for of, cost in cost_by_type(estimate.cost_lines).items()}
        markup(costs, whole, damages, estimate.job.rates)
    steps = {found.key: found for found in recorder.steps}
    rates: dict[str, Cell] = {}
    for row in ROWS:
        if row.key == PROFIT:
            rates[PROFIT] = _profit_rate(sheet, steps)
        cell = Cell(steps[row.key].value, row.style, _formula(sheet, row, steps))
        _add_row(sheet, row, steps[row.key].name, cell, amount_column, rates.get(row.key))
        if row.key == CARRYING:
            types = add_types(sheet, recorder.steps)
            rates.update(types.averages)
    loaded = difference.worked(float(bid.cost_before_profit), float(bid.unmarked))
    put_loaded_sum(sheet, types.rows, round(loaded.value, 2), row_formula(loaded).format(
        one=local(context, "bid.cost"), other=local(context, "bid.unmarked")))  # fmt: skip
    profit = local(context, "bid.profit")
    formula = row_formula(share.worked(1.0, 1.0))
    for label, part, base in (
        ("Profit as markup on cost", bid.markup, local(context, "bid.cost")),
        ("Profit as margin on bid price", bid.margin, local(context, "bid.price")),
    ):
        blanks = [Cell(None, "text")] * (amount_column - 2)
        live = formula.format(part=profit, whole=base)
        sheet.add(Cell(label, "text"), *blanks, Cell(part, "pct", live))
    sheet.add(height=GAP)


def _profit_rate(sheet: SheetBuilder, steps: Mapping[str, Recorded]) -> Cell:
    """Return profit on the cost of all types as the rate of the profit, and name its cell."""
    found = steps[profit_on_cost.key]
    rate = Cell(found.value, "pct2", _formula(sheet, Row(found.key), steps))
    sheet.anchor(f"{ANCHOR}{found.key}", RATE_COLUMN, sheet.next_row)
    return rate


def _formula(sheet: SheetBuilder, row: Row, steps: Mapping[str, Recorded]) -> str:
    """Return the formula of a step over earlier rows, and over the rate and basis of its own."""
    context, number = sheet.context, sheet.next_row
    beside = {
        row.rate_key: sheet.address(RATE_COLUMN, number),
        row.basis_key: sheet.address(BASIS_COLUMN, number),
    }

    def input_cell(table: str, line: str, key: str) -> str | None:
        return beside.get(key) or context.input(table, line, key)

    def anchor(name: str) -> str | None:
        return local(context, f"{ANCHOR}{name}") if f"{ANCHOR}{name}" in context.anchors else None

    return cell_formula(steps[row.key], input_cell, anchor, steps)


def _add_row(
    sheet: SheetBuilder,
    row: Row,
    label: str,
    amount: Cell,
    amount_column: int,
    rate: Cell | None = None,
) -> None:
    context, number = sheet.context, sheet.next_row
    if row.rate_key == "tax":
        sheet.anchor(TAX_RATE, RATE_COLUMN, number)
    text = TEXT_STYLES.get(row.style, "total_text")
    basis = getattr(context.estimate.job.rates, row.basis_key) if row.basis_key else row.basis
    name, beside = Cell(label, text), Cell(basis or None, text, _input(context, row.basis_key))
    if row.untaxed and basis:
        beside = _unless_untaxed(context, beside, row.untaxed)
    elif row.untaxed:
        name = _unless_untaxed(context, name, row.untaxed)
    sheet.add(
        name,
        rate or (_rate_cell(context, row.rate_key) if row.rate_key else Cell(None, text)),
        beside._replace(style=AFTER.get(text, text)),
        *[Cell(None, text)] * (amount_column - BASIS_COLUMN - 1),
        amount,
        height=GRAND_HEIGHT if row.style == "grand_total" else None,
    )
    sheet.anchor(f"{ANCHOR}{row.anchor or row.key}", amount_column, number)


def _unless_untaxed(context: Context, cell: Cell, untaxed: str) -> Cell:
    """Return a text as it reads with a tax rate, and another one while there is none."""
    shown = cell.value if context.estimate.job.rates.tax else untaxed
    live = f'IF({local(context, TAX_RATE)}=0,"{untaxed}","{cell.value}")'
    return cell._replace(value=shown, formula=live)


def _rate_cell(context: Context, key: str) -> Cell:
    style = "money" if key == "bid_step" else "pct2"
    return Cell(getattr(context.estimate.job.rates, key) or 0, style, _input(context, key))


def _input(context: Context, key: str) -> str | None:
    return context.input("rates", "", key) if key else None
