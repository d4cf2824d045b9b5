"""The Cost by run sheet: the job cost shared out over runs and sizes, live."""

from collections.abc import Iterator, Sequence
from dataclasses import replace
from decimal import Decimal

from estimator.cost.by_run import (
    allocated,
    apart_before_bond,
    cost_in_item,
    cost_of_run,
    cost_of_tie_ins,
    cost_of_unit,
    is_work,
    own_before_bond,
    run_before_bond,
    tie_ins_before_bond,
)
from estimator.cost.by_size import price_of_part, price_per_joint, price_per_length
from estimator.cost.markup import cost_by_type, factor_of, price_factor, price_factors
from estimator.display import PAY_LENGTH, convert
from estimator.models.estimate import CostLine
from estimator.models.kinds import (
    ALLOCATION_BASES,
    BY_HOURS,
    LIQUIDATED_DAMAGES,
    OWN_RUN,
    PIPE,
    cost_type,
)
from estimator.models.run_costs import Allocation, CostByRun, Pool, RunCost, left_over
from estimator.steps.cells import cell_formula, row_formula
from estimator.steps.marks import Cells
from estimator.steps.recorder import Recorded, Recorder
from estimator.workbook.results.builder import Context, SheetBuilder, header_text
from estimator.workbook.results.cost_sheet import EVERY_RUN, WITH_PIPE_TEXT
from estimator.workbook.results.joints_sheet import run_cell
from estimator.workbook.results.size_cost_rows import (
    FIRST_AMOUNT,
    NET,
    Layout,
    RunFormulas,
    put_sizes,
)
from estimator.workbook.sheet.source import column_letters
from estimator.workbook.sheet.spec import Cell, SheetSpec

RUN_HEADS = (
    ("Run", 22), ("Pipe", 22), ("Size band", 12), ("Labor-hours", 14), ("Tie-in time", 14),
)  # fmt: skip
AMOUNT_WIDTH, LABEL = 13, 2
AFTER_HEADS = ("Run cost", "Of which tie-ins", "In its own bid item", "Price before bond",
               "Tie-ins before bond", "Own bid item before bond", "Price",
               "Price per {pay}", "Price per butt joint")  # fmt: skip
POOL_HEADS = ("Cost type", "Allocated by", "Size band", "Amount", "Units", "Cost per unit")


def run_cost_sheet(context: Context) -> SheetSpec:
    """Return the Cost by run sheet.

    Anchors ``by_run.cost``, ``by_run.price``, ``by_size.cost`` and ``bid.by_size`` point at its
    totals, ``by_run.<run>`` and ``by_size.own.<size>`` at what the bid item of a run or size
    carries of the cost, ``by_run.pipe.<run>`` at its pipe, ``by_run.tie_ins`` at what tie-ins
    carry, the same with ``.net`` at that with the markups of its types, and
    ``by_run.column.<name>`` at the columns of pipe, own item and supply.
    """
    sheet = SheetBuilder(context, "Cost by run", "Cost by run and size")
    by_run = _in_order(context.estimate.by_run)
    sheet.add()
    size_rows = _leave_rows(sheet, len(by_run.sizes) + 4)
    sheet.add()
    pools = _pools(sheet, by_run)
    sheet.add()
    header = _run_head(sheet, by_run)
    last = header + len(by_run.runs)
    layout = Layout(by_run.allocations, header + 1, last, pools, run_formulas(context))
    own = _own_lines(context)
    for i, run in enumerate(by_run.runs):
        _run_row(sheet, layout, (i, own.get(run.run_id, [])), run)
    _closing_rows(sheet, layout, by_run)
    put_sizes(sheet, layout, by_run, size_rows)
    _anchor_columns(sheet, layout)
    extra = [AMOUNT_WIDTH] * (len(by_run.allocations) + len(AFTER_HEADS))
    return replace(
        sheet.spec(),
        widths=tuple(width for _, width in RUN_HEADS) + tuple(extra),
        freeze=(2, 1),
        header_row=header,
    )


def run_formulas(context: Context) -> RunFormulas:
    """Return the formulas of the rows, written by the steps of the stage itself."""
    one, cells = Decimal(1), [Cells(1)]
    some = Allocation(PIPE, BY_HOURS, by_band=False, with_pipe=True)
    rate = cost_of_unit.worked(1.0, 1.0)
    unrounded = row_formula(allocated.worked(some, 1.0, 1.0, 1.0), taken=rate)
    apart = (
        cells if not all(share.with_pipe for share in context.estimate.by_run.allocations) else []
    )
    return RunFormulas(
        share=f"ROUND({unrounded},2)",
        cost=row_formula(cost_of_run.worked(cells)),
        tie_ins=row_formula(cost_of_tie_ins.worked(1.0, one)),
        own=row_formula(cost_in_item.worked(one, one, apart)),
        net=row_formula(run_before_bond.worked(cells, [1.0])),
        tie_ins_net=row_formula(tie_ins_before_bond.worked(1.0, cells, [1.0])),
        apart_net=row_formula(apart_before_bond.worked(one, 1.0)),
        own_net=row_formula(own_before_bond.worked(one, one, apart)),
        price=price_formula(context),
        per_length=row_formula(price_per_length.worked(one, 1.0)),
        per_joint=row_formula(price_per_joint.worked(one, 1)),
        left=row_formula(left_over.worked(one, cells)),
    )


def price_formula(context: Context) -> str:
    """Return the formula of the part of the bid price that a cell before bond carries."""
    names = {"price": "bid.price", "price_before_bond": "bid.before_bond"}
    found = row_formula(price_of_part.worked(context.estimate.bid, Decimal(1)))
    cells = {name: context.anchors[anchor] for name, anchor in names.items()}
    return found.format(**cells, run_before_bond="{run_before_bond}")


def _in_order(by_run: CostByRun) -> CostByRun:
    """Return the same with the shares that follow the work first: one range adds them up."""
    order = sorted(range(len(by_run.allocations)), key=lambda i: not is_work(by_run.allocations[i]))
    runs = tuple(replace(run, amounts=tuple(run.amounts[i] for i in order)) for run in by_run.runs)
    return replace(by_run, allocations=tuple(by_run.allocations[i] for i in order), runs=runs)


def _leave_rows(sheet: SheetBuilder, count: int) -> int:
    first = sheet.next_row
    for _ in range(count):
        sheet.add()
    return first


def _pools(sheet: SheetBuilder, by_run: CostByRun) -> dict[tuple[Allocation, str], int]:
    context, at = sheet.context, sheet.context.anchors
    sheet.section("Allocated cost: amount / total units x units of the run", 6)
    sheet.add(*(Cell(title, "header") for title in POOL_HEADS))
    rows: dict[tuple[Allocation, str], int] = {}
    for pool in by_run.pools:
        row = rows[pool.allocation, pool.band] = sheet.next_row
        amount = (
            f"SUMIFS({at['cost.column.amount']},{at['cost.column.cost_type']},A{row},"
            f"{at['cost.column.allocated_by']},B{row},"
            f'{at["cost.column.bid_item"]},"{_paid_in(pool.allocation)}"'
        )
        own = pool.allocation.allocated_by == OWN_RUN
        if not own:
            amount += f",{at['cost.column.belongs_to']},C{row}"
        sheet.add(
            Cell(pool.allocation.cost_type, "text"),
            Cell(pool.allocation.allocated_by, "center"),
            Cell("direct" if own else pool.band or EVERY_RUN, "center"),
            Cell(float(pool.amount), "money", f"{amount})"),
            Cell(None if own else pool.units, "num2", None if own else _units(context, pool, row)),
            Cell(None, "rate") if own else _per_unit(pool, row),
        )  # fmt: skip
    return rows


def _per_unit(pool: Pool, row: int) -> Cell:
    """Return the cost of one unit, 0 where no run has any."""
    found = cost_of_unit(float(pool.amount), pool.units) if pool.units else 0.0
    formula = row_formula(cost_of_unit.worked(1.0, 1.0))
    quotient = formula.format(amount=f"D{row}", all_units=f"E{row}")
    return Cell(found, "rate", f"IF(E{row}=0,0,{quotient})")


def _paid_in(allocation: Allocation) -> str:
    """Return what picks the cost lines by the bid item in which the client pays for them."""
    return WITH_PIPE_TEXT if allocation.with_pipe else f"<>{WITH_PIPE_TEXT}"


def _units(context: Context, pool: Pool, row: int) -> str:
    at = context.anchors
    keys = ALLOCATION_BASES[pool.allocation.allocated_by]
    if not pool.band:
        return "+".join(at[f"joints.{key}"] for key in keys)
    bands = at["joints.column.band"]
    return "+".join(f"SUMIF({bands},C{row},{at[f'joints.column.{key}']})" for key in keys)


def _run_head(sheet: SheetBuilder, by_run: CostByRun) -> int:
    pay = PAY_LENGTH[sheet.context.system]
    after = [head.format(pay=pay) for head in AFTER_HEADS]
    columns = FIRST_AMOUNT - 1 + len(by_run.allocations) + len(after)
    sheet.section("Cost and price by run", columns)
    _factor_row(sheet, by_run)
    allocations = [allocation.name for allocation in by_run.allocations]
    titles = [*(head for head, _ in RUN_HEADS), *allocations, *after]
    currency = [sheet.context.currency] * (len(titles) - len(RUN_HEADS))
    units = ["", "", "", "h", "%", *currency]
    heads = (header_text(title, unit) for title, unit in zip(titles, units, strict=True))
    return sheet.add(*(Cell(head, "header") for head in heads))


def _factor_row(sheet: SheetBuilder, by_run: CostByRun) -> None:
    """Add the price factor of each share's cost type above its column.

    Anchors ``by_run.factor.<cost type>``.
    """
    context, row = sheet.context, sheet.next_row
    rates = context.estimate.job.rates
    with Recorder().on() as recorder:
        factors = price_factors(cost_by_type(context.estimate.cost_lines), rates)
    steps = {
        found.given["of_type"]: found for found in recorder.steps if found.key == price_factor.key
    }
    cells = []
    for column, allocation in enumerate(by_run.allocations, FIRST_AMOUNT):
        name = allocation.cost_type
        formula = _factor_formula(context, name, steps[cost_type(name).markup])
        cells.append(Cell(factor_of(name, factors, rates), "rate", formula))
        sheet.anchor(f"by_run.factor.{name}", column, row)
    blanks = [Cell(None, "text")] * (FIRST_AMOUNT - 2)
    sheet.add(Cell("Price factor of the type of cost", "note"), *blanks, *cells)


def _factor_formula(context: Context, name: str, step: Recorded) -> str:
    """Return the formula of a price factor over the percents of the Price build-up."""
    of_type = cost_type(name).markup

    def anchor(key: str) -> str | None:
        return context.anchors.get(f"bid.{key}_by_type.{of_type}")

    formula = cell_formula(step, context.input, anchor)
    carry = context.input("rates", "", "damages_carry") if name == LIQUIDATED_DAMAGES else None
    return f'IF({carry}="no markup",1,{formula})' if carry else formula


def _own_lines(context: Context) -> dict[str, list[CostLine]]:
    found: dict[str, list[CostLine]] = {}
    for line in context.estimate.cost_lines:
        if line.allocated_by == OWN_RUN:
            found.setdefault(line.belongs_to, []).append(line)
    return found


def _run_row(
    sheet: SheetBuilder, layout: Layout, of_run: tuple[int, list[CostLine]], run: RunCost
) -> None:
    context, row = sheet.context, sheet.next_row
    index, own = of_run
    job_run, sized = context.estimate.job.runs[index], context.estimate.runs[index]
    length = convert(job_run.length_m, "length", context.system)
    allocations = [
        Cell(float(amount), "money", _share_formula(context, layout, allocation, (index, row), own))
        for allocation, amount in zip(layout.allocations, run.amounts, strict=True)
    ]
    letters = column_letters(layout.price)
    formulas = layout.formulas
    lengths, made = (run_cell(context, key, index) for key in ("length", "butt_joints"))
    sheet.add(
        Cell(run.run_id, "text"),
        Cell(run.label, "text"),
        Cell(run.band, "center", run_cell(context, "band", index)),
        Cell(run.labor_hours, "num2", run_cell(context, "labor_hours", index)),
        Cell(run.tie_in_share, "pct"),
        *allocations,
        *_after_shares(layout, run, row),
        *_before_bond(layout, run, row),
        Cell(
            float(run.price),
            "money",
            formulas.price.format(run_before_bond=f"{column_letters(layout.net)}{row}"),
        ),
        Cell(
            price_per_length(run.price, length),
            "money",
            formulas.per_length.format(price=f"{letters}{row}", length=lengths),
        ),
        Cell(
            price_per_joint(run.price, sized.counts.butt_joints),
            "money",
            formulas.per_joint.format(price=f"{letters}{row}", butt_joints=made),
        ),
    )
    sheet.anchor(f"by_run.{run.run_id}", layout.total + 2, row)
    sheet.anchor(f"by_run{NET}.{run.run_id}", layout.net + 2, row)
    for number, allocation in enumerate(layout.allocations, FIRST_AMOUNT):
        if allocation.cost_type == PIPE:
            sheet.anchor(f"by_run.pipe.{run.run_id}", number, row)


def _share_formula(
    context: Context,
    layout: Layout,
    allocation: Allocation,
    at: tuple[int, int],
    own: Sequence[CostLine],
) -> str | None:
    index, row = at
    if allocation.allocated_by == OWN_RUN:
        mine = [line for line in own if line.allocation == allocation]
        return "+".join(context.anchors[f"cost.{line.key}"] for line in mine) or None
    keys = ALLOCATION_BASES[allocation.allocated_by]
    held = "+".join(run_cell(context, key, index) for key in keys)
    held = f"$D{row}" if allocation.allocated_by == BY_HOURS else held
    held = f"({held})" if "+" in held else held
    rows = layout.pool_rows(allocation)
    per_unit = f"$F${rows[0]}"
    if allocation.by_band:
        bands, rates = (f"${c}${rows[0]}:${c}${rows[-1]}" for c in "CF")
        per_unit = f"SUMIF({bands},$C{row},{rates})"
    return layout.formulas.share.format(cost_of_unit=per_unit, units=held)


def _after_shares(layout: Layout, run: RunCost, row: int) -> Iterator[Cell]:
    made = layout.formulas
    first, last = (column_letters(n) for n in (FIRST_AMOUNT, layout.total - 1))
    cost, tie_ins = (f"{column_letters(layout.total + n)}{row}" for n in (0, 1))
    work = f"SUM({first}{row}:{column_letters(_last_of_work(layout))}{row})"
    apart = ",".join(f"{at}{row}" for at in _in_items_of_lines(layout))
    yield Cell(float(run.cost), "money", made.cost.format(amounts=f"{first}{row}:{last}{row}"))
    yield Cell(float(run.tie_ins), "money", made.tie_ins.format(share=f"$E{row}", work=work))
    own = made.own.format(cost=cost, tie_ins=tie_ins, with_own_items=apart)
    yield Cell(float(run.own_item), "money", own)


def _before_bond(layout: Layout, run: RunCost, row: int) -> Iterator[Cell]:
    """Yield the cost of the run with the markups of its types, that of tie-ins and its own item."""
    made, factors, net = layout.formulas, layout.first - 2, run.before_bond
    first = column_letters(FIRST_AMOUNT)

    def ranges(column: int) -> dict[str, str]:
        last = column_letters(column)
        return {
            "factors": f"${first}${factors}:${last}${factors}",
            "amounts": f"{first}{row}:{last}{row}",
        }

    whole, tie_ins = (f"{column_letters(layout.net + n)}{row}" for n in (0, 1))
    apart = ",".join(
        made.apart_net.format(amount=f"{at}{row}", factor=f"{at}${factors}")
        for at in _in_items_of_lines(layout)
    )
    of_tie_ins = made.tie_ins_net.format(share=f"$E{row}", **ranges(_last_of_work(layout)))
    yield Cell(float(net.run), "money", made.net.format(**ranges(layout.total - 1)))
    yield Cell(float(net.tie_ins), "money", of_tie_ins)
    own = made.own_net.format(run=whole, tie_ins=tie_ins, apart=apart)
    yield Cell(float(net.own_item), "money", own)


def _last_of_work(layout: Layout) -> int:
    """Return the last column of the shares that follow the crew's time, which stand first."""
    work = sum(is_work(allocation) for allocation in layout.allocations)
    return FIRST_AMOUNT + max(work, 1) - 1


def _in_items_of_lines(layout: Layout) -> Sequence[str]:
    """Return the columns of shares that the client pays for in items of their own."""
    return [layout.column(share) for share in layout.allocations if not share.with_pipe]


def _closing_rows(sheet: SheetBuilder, layout: Layout, by_run: CostByRun) -> None:
    context, after, rest = sheet.context, layout.total, layout.formulas.left
    rounding = [float(by_run.rounding(allocation)) for allocation in layout.allocations]
    price = context.estimate.bid.price
    left = left_over(price, [run.price for run in by_run.runs])
    blanks: list[Cell | None] = [Cell(None, "text")] * (len(RUN_HEADS) - 1)
    cells = [
        Cell(
            value,
            "money",
            rest.format(whole=f"SUM({layout.pool_amounts(allocation)})", parts=cells),
        )
        for allocation, value, cells in zip(
            layout.allocations, rounding, map(layout.cells, range(FIRST_AMOUNT, after)), strict=True
        )
    ]
    row = sheet.next_row
    first, last = column_letters(FIRST_AMOUNT), column_letters(after - 1)
    sheet.add(
        Cell("Rounding", "note"),
        *blanks,
        *cells,
        Cell(round(sum(rounding), 2), "money", f"SUM({first}{row}:{last}{row})"),
        *[None] * (layout.price - after - 1),
        Cell(
            left,
            "money",
            rest.format(whole=context.anchors["bid.price"], parts=layout.cells(layout.price)),
        ),
    )
    sheet.anchor("by_run.rounding", after, row)
    _totals(sheet, layout)


def _anchor_columns(sheet: SheetBuilder, layout: Layout) -> None:
    """Name the columns by which the bid schedule separates furnished pipe from other pipe."""
    columns = {"label": LABEL, "own": layout.total + 2, f"own{NET}": layout.net + 2}
    for number, allocation in enumerate(layout.allocations, FIRST_AMOUNT):
        if allocation.cost_type == PIPE:
            columns["pipe"] = number
    for name, number in columns.items():
        cells = f"{sheet.reference(number, layout.first)}:{sheet.address(number, layout.last)}"
        sheet.context.anchors[f"by_run.column.{name}"] = cells


def _totals(sheet: SheetBuilder, layout: Layout) -> None:
    after, row = layout.total, sheet.next_row
    cells: list[Cell] = [Cell("All runs", "total_text"), *[Cell(None, "total_text")] * 4]
    for column in range(FIRST_AMOUNT, layout.price + 1):
        letters = column_letters(column)
        lines = range(layout.first, row)
        value = round(sum(sheet.number_at(line, column) for line in lines), 2)
        cells.append(
            Cell(value, "total_money", f"SUM({letters}${layout.first}:{letters}{row - 1})")
        )
    sheet.add(*cells)
    sheet.anchor("by_run.cost", after, row)
    sheet.anchor("by_run.tie_ins", after + 1, row)
    sheet.anchor(f"by_run.tie_ins{NET}", layout.net + 1, row)
    sheet.anchor("by_run.price", layout.price, row)
    sheet.add()
