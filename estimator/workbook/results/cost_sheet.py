"""The Cost sheet: every line a live quantity times a live rate."""

from dataclasses import replace

from estimator.cost import DIRECT
from estimator.cost.rates import INDIRECT, given_share
from estimator.cost.rental_lines import PAID_BY, two_shift_share
from estimator.display import PAY_LENGTH, UnitSystem, unit_of
from estimator.inputs.trade_units import written
from estimator.models.estimate import CostLine, Quantity, line_amount
from estimator.models.kinds import EQUIPMENT
from estimator.steps.cells import cell_formula, live_formula
from estimator.workbook.results.builder import INTERNAL, Context, SheetBuilder
from estimator.workbook.results.result_columns import result_columns
from estimator.workbook.sheet.source import column_letters
from estimator.workbook.sheet.spec import Cell, SheetSpec

EVERY_RUN = "all"
WITH_PIPE_TEXT = "Pipe and tie-ins"
"""Where the client pays for a line that has no bid item of its own."""
FACTORS = ("quantity", "rate")
SHARES = (given_share.key, two_shift_share.key)
"""Steps whose rate is a percent of money."""
AMOUNT = cell_formula(line_amount.worked(0.0, 0.0).recorded(), lambda *_: None, "{{{}}}".format)
"""Formula of an amount over the cells of its factors."""


def cost_sheet(context: Context) -> SheetSpec:
    """Return the Cost sheet; anchors ``cost.*`` point at its amounts and totals."""
    sheet = SheetBuilder(context, "Cost", "Cost")
    sheet.result = INTERNAL
    columns = result_columns("cost")
    sheet.add()
    header = sheet.table_head(columns)
    for section, anchor in ((DIRECT, "cost.direct"), (INDIRECT, "cost.indirect")):
        _section(sheet, section, anchor)
    bid = context.estimate.bid
    references = context.anchors
    row = _total(
        sheet,
        "Job cost",
        float(bid.job_cost),
        "+".join(references[key] for key in ("cost.direct", "cost.indirect")),
    )
    sheet.anchor("cost.job", _number("amount"), row)
    for number, column in enumerate(columns, 1):
        first, last = sheet.reference(number, header + 1), sheet.address(number, sheet.last_row)
        context.anchors[f"cost.column.{column.key}"] = f"{first}:{last}"
    _by_type(sheet, header)
    return replace(
        sheet.spec(),
        widths=tuple(column.width for column in columns),
        freeze=(header, 2),
        header_row=header,
        closes_up=True,
        print_area=f"$A$1:${_letters('bid_item')}${sheet.last_row}",
    )


def _number(key: str) -> int:
    return [column.key for column in result_columns("cost")].index(key) + 1


def _letters(key: str) -> str:
    return column_letters(_number(key))


def _section(sheet: SheetBuilder, section: str, anchor: str) -> None:
    width = len(result_columns("cost"))
    sheet.add(Cell(section, "group"), *[Cell(None, "group")] * (width - 1))
    first = sheet.next_row
    lines = [ln for ln in sheet.context.estimate.cost_lines if ln.section == section]
    for line in lines:
        _line(sheet, line)
    total = float(sum(line.amount for line in lines))
    amount = _letters("amount")
    row = _total(sheet, section, total, f"SUM({amount}{first}:{amount}{sheet.last_row})")
    sheet.anchor(anchor, _number("amount"), row)
    sheet.add()


def _total(sheet: SheetBuilder, label: str, value: float, formula: str) -> int:
    blank = Cell(None, "total_text")
    blanks = [blank] * (_number("amount") - 2)
    after = [blank] * (_number("bid_item") - _number("amount"))
    total = Cell(value, "total_money", formula)
    return sheet.add(Cell(label, "total_text"), *blanks, total, *after)


def _line(sheet: SheetBuilder, line: CostLine) -> None:
    row = sheet.next_row
    context = sheet.context
    cells = sheet.table_cells(
        result_columns("cost"),
        {
            "cost_type": line.cost_type,
            "item": line.item,
            "basis": line.basis,
            "quantity": line.quantity.value,
            "unit": _unit_of(line, context.system),
            "rate": line.rate.value,
            "amount": float(line.amount),
            "allocated_by": line.allocated_by,
            "charged_to": line.charged_to or EVERY_RUN,
            "bid_item": line.bid_item or WITH_PIPE_TEXT,
        },
        {
            "quantity": _quantity_formula(context, line.quantity),
            "rate": live_formula(line.rate.recorded(), context.input),
            "amount": AMOUNT.format(**{key: f"{_letters(key)}{row}" for key in FACTORS}),
        },
    )
    sheet.add(*cells)
    if line.cost_type == EQUIPMENT and line.unit in PAID_BY.values():
        at = _number("quantity")
        sheet.put(row, at, cells[at - 1]._replace(style="pieces"))
    if line.rate.recorded().key in SHARES:
        at = _number("rate")
        sheet.put(row, at, cells[at - 1]._replace(style="pct2"))
    sheet.anchor(f"cost.{line.key}", _number("amount"), row)


def _unit_of(line: CostLine, system: UnitSystem) -> str:
    """Return the unit of a line as the trade writes it; length of pipe is paid by the LF."""
    return PAY_LENGTH["US"] if line.unit == unit_of("length", "US") else written(line.unit, system)


def _quantity_formula(context: Context, quantity: Quantity) -> str | None:
    if not quantity.terms:
        return None
    return "+".join(
        f"{factor}*{context.anchors[name]}" if factor != 1 else context.anchors[name]
        for factor, name in quantity.terms
    )


def _by_type(sheet: SheetBuilder, header: int) -> None:
    lines = sheet.context.estimate.cost_lines
    last_line = sheet.last_row
    sheet.add()
    sheet.section("Job cost by type", len(result_columns("cost")))
    first = sheet.next_row
    types, amounts = _letters("cost_type"), _letters("amount")
    for cost_type in dict.fromkeys(line.cost_type for line in lines):
        row = sheet.next_row
        total = float(sum(line.amount for line in lines if line.cost_type == cost_type))
        formula = (
            f"SUMIF({types}${header + 1}:{types}${last_line},{types}{row},"
            f"{amounts}${header + 1}:{amounts}${last_line})"
        )
        blanks = [Cell(None, "text")] * (_number("amount") - 2)
        after = [Cell(None, "text")] * (_number("bid_item") - _number("amount"))
        sheet.add(Cell(cost_type, "text"), *blanks, Cell(total, "money", formula), *after)
    total = float(sheet.context.estimate.bid.job_cost)
    row = _total(sheet, "All types", total, f"SUM({amounts}{first}:{amounts}{sheet.last_row})")
    sheet.anchor("cost.by_type", _number("amount"), row)
