"""The Cost by run sheet: the job cost shared out over runs and sizes, live."""

from collections.abc import Iterator, Sequence
from dataclasses import replace
from decimal import Decimal
from functools import partial

from estimator.cost import (
    cost_by_type,
    cost_in_item,
    cost_of_run,
    cost_of_tie_ins,
    price_factor,
    price_factors,
    price_of_part,
    price_per_joint,
    run_before_bond,
)
from estimator.cost.by_run import (
    allocated,
    apart_before_bond,
    cost_of_unit,
    is_work,
    own_before_bond,
    tie_ins_before_bond,
)
from estimator.cost.by_size import price_per_length
from estimator.cost.markup import factor_of
from estimator.display import convert
from estimator.models.estimate import CostLine
from estimator.models.kinds import (
    ALLOCATION_BASES,
    BY_HOURS,
    LIQUIDATED_DAMAGES,
    OWN_RUN,
    PIPE,
    MarkupType,
    cost_type,
)
from estimator.models.run_costs import Allocation, CostByRun, Pool, RunCost, left_over
from estimator.steps.cells import cell_formula, row_formula
from estimator.steps.marks import Cells
from estimator.steps.recorder import Recorded, Recorder
from estimator.workbook.results.builder import (
    INTERNAL,
    TOTAL_STYLES,
    Context,
    SheetBuilder,
    header_text,
)
from estimator.workbook.results.cost_sheet import EVERY_RUN, WITH_PIPE_TEXT
from estimator.workbook.results.headers_again import with_headers_again
from estimator.workbook.results.joints_sheet import every_run, first_run
from estimator.workbook.results.markup_rows import add_types_note
from estimator.workbook.results.size_cost_rows import (
    AMOUNT,
    HOURS,
    JOINTS,
    LABEL,
    LENGTH,
    NET,
    PER_UNIT,
    UNITS,
    Layout,
    RunFormulas,
    put_printed_totals,
    put_sizes,
    shared_heads,
    total_of,
)
from estimator.workbook.sheet.blocks import ROW, Column
from estimator.workbook.sheet.source import column_letters
from estimator.workbook.sheet.spec import Cell, SheetSpec

WIDTHS = (10, 20, 10, 7, 10)
"""Wished widths of the columns before the amounts."""
AMOUNT_WIDTH, SHARE_WIDTH = 10, 20
DATA_HEADS = ("Size band", "Tie-in time")
AFTER_SHARES = ("Of which tie-ins", "In its own bid item", "Price before bond",
                "Tie-ins before bond", "Own bid item before bond")  # fmt: skip
POOL_HEADS = ("Cost type", None, "Allocated by", None, "Size band", "Amount", "Units",
              "Cost per unit")  # fmt: skip
RUN_HEAD_ROWS = 2
"""Rows of section and header above the first run; the price factors stand in the first."""
RUN_COLUMNS = ("length", "butt_joints", "labor_hours", "band")
"""What a run takes from the Joints sheet."""
NOT_PRINTED = (
    "Each share of each run, for formulas and filters, stands beside this page on the screen."
)


def run_cost_sheet(context: Context) -> SheetSpec:
    """Return the Cost by run sheet.

    Anchors ``by_run.cost``, ``by_run.price``, ``by_size.cost`` and ``bid.by_size`` point at its
    totals, ``by_run.<run>`` and ``by_size.own.<size>`` at what the bid item of a run or size
    carries of the cost, ``by_run.pipe.<run>`` at its pipe, ``by_run.tie_ins`` at what tie-ins
    carry, the same with ``.net`` at that with the markups of its types, and
    ``by_run.column.<name>`` at the columns of pipe, own item and supply. Printed are the sums by
    type of cost; the shares that they add up stand beside them.
    """
    return with_headers_again(partial(_sheet, context))


def _sheet(context: Context, again: frozenset[int]) -> SheetSpec:
    sheet = SheetBuilder(context, "Cost by run", "Cost by run and size", again=again)
    sheet.result = INTERNAL
    by_run = _in_order(context.estimate.by_run)
    sheet.add()
    size_rows = _leave_rows(sheet, len(by_run.sizes) + 4)
    sheet.add()
    pools = _pools(sheet, by_run)
    sheet.add()
    first = sheet.next_row + RUN_HEAD_ROWS
    last = first + len(by_run.runs) - 1
    layout = Layout(by_run.allocations, first, last, pools, run_formulas(context))
    header = _run_head(sheet, layout)
    _put_runs(sheet, layout, by_run)
    _closing_rows(sheet, layout, by_run)
    put_sizes(sheet, layout, by_run, size_rows)
    _anchor_columns(sheet, layout)
    amounts = [AMOUNT_WIDTH] * (layout.last_printed - len(WIDTHS))
    data = [SHARE_WIDTH] * (layout.net + 2 - layout.last_printed)
    return replace(
        sheet.spec(),
        widths=(*WIDTHS, *amounts, *data),
        freeze=(2, 1),
        header_row=header,
        closes_up=True,
        print_area=f"$A$1:${column_letters(layout.last_printed)}${sheet.last_row}",
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
    sheet.section("Allocated cost: amount / total units x units of the run", len(POOL_HEADS))
    header = sheet.add(*(Cell(title, "header") for title in POOL_HEADS))
    rows: dict[tuple[Allocation, str], int] = {}
    for pool in by_run.pools:
        sheet.head_again(header)
        row = rows[pool.allocation, pool.band] = sheet.next_row
        amount = (
            f"SUMIFS({at['cost.column.amount']},{at['cost.column.cost_type']},A{row},"
            f"{at['cost.column.allocated_by']},C{row},"
            f'{at["cost.column.bid_item"]},"{_paid_in(pool.allocation)}"'
        )
        own = pool.allocation.allocated_by == OWN_RUN
        if not own:
            amount += f",{at['cost.column.charged_to']},E{row}"
        sheet.add(
            Cell(pool.allocation.cost_type, "text"),
            Cell(None, "text"),
            Cell(pool.allocation.allocated_by, "text"),
            Cell(None, "text"),
            Cell("direct" if own else pool.band or EVERY_RUN, "center"),
            Cell(float(pool.amount), "int", f"{amount})"),
            Cell(None if own else pool.units, "num1", None if own else _units(context, pool, row)),
            Cell(None, "rate") if own else _per_unit(pool, row),
        )  # fmt: skip
    return rows


def _per_unit(pool: Pool, row: int) -> Cell:
    """Return the cost of one unit, 0 where no run has any."""
    found = cost_of_unit(float(pool.amount), pool.units) if pool.units else 0.0
    formula = row_formula(cost_of_unit.worked(1.0, 1.0))
    quotient = formula.format(amount=f"{AMOUNT}{row}", all_units=f"{UNITS}{row}")
    return Cell(found, "rate", f"IF({UNITS}{row}=0,0,{quotient})")


def _paid_in(allocation: Allocation) -> str:
    """Return what picks the cost lines by the bid item in which the client pays for them."""
    return WITH_PIPE_TEXT if allocation.with_pipe else f"<>{WITH_PIPE_TEXT}"


def _units(context: Context, pool: Pool, row: int) -> str:
    at = context.anchors
    keys = ALLOCATION_BASES[pool.allocation.allocated_by]
    if not pool.band:
        return "+".join(at[f"joints.{key}"] for key in keys)
    bands = at["joints.column.band"]
    return "+".join(f"SUMIF({bands},E{row},{at[f'joints.column.{key}']})" for key in keys)


def _run_head(sheet: SheetBuilder, layout: Layout) -> int:
    section = sheet.section("Cost and price by run", layout.last_printed)
    _put_factors(sheet, layout, section)
    currency = [sheet.context.currency] * (len(layout.allocations) + len(AFTER_SHARES))
    shares = [allocation.name for allocation in layout.allocations]
    titles, units = [*DATA_HEADS, *shares, *AFTER_SHARES], ["", "%", *currency]
    beside = (header_text(title, unit) for title, unit in zip(titles, units, strict=True))
    return sheet.add(
        Cell("Run", "header"),
        Cell("Pipe", "header"),
        *shared_heads(sheet, layout),
        *(Cell(head, "header") for head in beside),
    )


def _put_factors(sheet: SheetBuilder, layout: Layout, row: int) -> None:
    """Set the price factor of each share's cost type above its column.

    Anchors ``by_run.factor.<cost type>``.
    """
    context = sheet.context
    rates = context.estimate.job.rates
    with Recorder().on() as recorder:
        factors = price_factors(cost_by_type(context.estimate.cost_lines), rates)
    steps = {
        found.given["of_type"]: found for found in recorder.steps if found.key == price_factor.key
    }
    sheet.put(row, layout.band, Cell("Price factor of the type", "note"))
    for column, allocation in enumerate(layout.allocations, layout.first_share):
        name = allocation.cost_type
        formula = _factor_formula(context, name, steps[cost_type(name).markup])
        sheet.put(row, column, Cell(factor_of(name, factors, rates), "rate", formula))
        sheet.anchor(f"by_run.factor.{name}", column, row)


def _factor_formula(context: Context, name: str, step: Recorded) -> str:
    """Return the formula of a price factor over the percents of the Price build-up."""
    of_type = cost_type(name).markup

    def anchor(key: str) -> str | None:
        return context.anchors.get(f"bid.{key}_by_type.{of_type}")

    formula = cell_formula(step, context.input, anchor)
    carry = context.input("rates", "", "damages_carry") if name == LIQUIDATED_DAMAGES else None
    return f'IF({carry}="no markup",1,{formula})' if carry else formula


def _own_lines(context: Context) -> dict[tuple[str, Allocation], list[CostLine]]:
    """Return the cost lines of one run alone, by the run and their share."""
    found: dict[tuple[str, Allocation], list[CostLine]] = {}
    for line in context.estimate.cost_lines:
        if line.allocated_by == OWN_RUN:
            found.setdefault((line.charged_to, line.allocation), []).append(line)
    return found


def _put_runs(sheet: SheetBuilder, layout: Layout, by_run: CostByRun) -> None:
    """Append the rows of the runs, column by column, and name the cells that others refer to."""
    context, runs, start = sheet.context, by_run.runs, first_run(sheet.context)
    amounts = list(zip(*(run.amounts for run in runs), strict=True))
    columns = [
        *_printed_columns(context, layout, runs, amounts),
        Column([run.band for run in runs], "center", every_run(context, "band")),
        Column([run.tie_in_share for run in runs], "pct"),
        *_share_columns(context, layout, runs, amounts),
        *_after_shares(layout, runs),
        *_before_bond(layout, runs),
    ]
    lines = sheet.add_block(columns, range(start, start + len(runs)))
    named = {"": layout.tie_ins + 1, NET: layout.net + 2}
    for number, allocation in enumerate(layout.allocations, layout.first_share):
        if allocation.cost_type == PIPE:
            named[".pipe"] = number
    for name, number in named.items():
        for row, run in zip(lines, runs, strict=True):
            sheet.anchor(f"by_run{name}.{run.run_id}", number, row)


def _printed_columns(
    context: Context,
    layout: Layout,
    runs: Sequence[RunCost],
    amounts: Sequence[Sequence[Decimal]],
) -> Iterator[Column]:
    """Yield the columns of the runs that are printed."""
    made, cells = layout.formulas, {key: every_run(context, key) for key in RUN_COLUMNS}
    price, net = (f"{column_letters(n)}{ROW}" for n in (layout.price, layout.net))
    lengths = [convert(run.length_m, "length", context.system) for run in context.estimate.job.runs]
    joints = [sized.counts.butt_joints for sized in context.estimate.runs]
    per_length = made.per_length.format(price=price, length=f"{column_letters(LENGTH)}{ROW}")
    per_joint = made.per_joint.format(price=price, butt_joints=f"{column_letters(JOINTS)}{ROW}")
    yield Column([run.run_id for run in runs])
    yield Column([run.label for run in runs])
    yield Column(lengths, "int", cells["length"])
    yield Column(joints, "int", cells["butt_joints"])
    yield Column([run.labor_hours for run in runs], "num1", cells["labor_hours"])
    for of_type in layout.types:
        parts = [amounts[n - layout.first_share] for n in layout.shares_of(of_type)]
        totals = [float(sum(each)) for each in zip(*parts, strict=True)]
        yield Column(totals, "int", _type_formula(layout, of_type, ROW))
    first, last = (column_letters(n) for n in (layout.first_share, layout.tie_ins - 1))
    cost = made.cost.format(amounts=f"{first}{ROW}:{last}{ROW}")
    yield Column([float(run.cost) for run in runs], "int", cost)
    prices = [float(run.price) for run in runs]
    yield Column(prices, "int", made.price.format(run_before_bond=net))
    by_length = map(price_per_length, (run.price for run in runs), lengths)
    yield Column(list(by_length), "money", per_length)
    by_joint = map(price_per_joint, (run.price for run in runs), joints)
    yield Column(list(by_joint), "money", per_joint)


def _share_columns(
    context: Context,
    layout: Layout,
    runs: Sequence[RunCost],
    amounts: Sequence[Sequence[Decimal]],
) -> Iterator[Column]:
    """Yield the shares of the runs, each a column."""
    own = _own_lines(context)
    for allocation, shares in zip(layout.allocations, amounts, strict=True):
        formula: str | Sequence[str | None]
        if allocation.allocated_by == OWN_RUN:
            mine = [own.get((run.run_id, allocation), ()) for run in runs]
            formula = [
                "+".join(context.anchors[f"cost.{line.key}"] for line in lines) or None
                for lines in mine
            ]
        else:
            formula = _share_formula(context, layout, allocation)
        yield Column(list(map(float, shares)), "money", formula)


def _type_formula(layout: Layout, of_type: MarkupType, row: str) -> str:
    return "+".join(f"{column_letters(number)}{row}" for number in layout.shares_of(of_type))


def _share_formula(context: Context, layout: Layout, allocation: Allocation) -> str:
    """Return the formula of the share of every run."""
    keys = ALLOCATION_BASES[allocation.allocated_by]
    held = "+".join(every_run(context, key) for key in keys)
    held = f"${column_letters(HOURS)}{ROW}" if allocation.allocated_by == BY_HOURS else held
    held = f"({held})" if "+" in held else held
    rows = layout.pool_rows(allocation)
    per_unit = f"${PER_UNIT}${rows[0]}"
    if allocation.by_band:
        bands, rates = (f"${c}${rows[0]}:${c}${rows[-1]}" for c in ("E", PER_UNIT))
        per_unit = f"SUMIF({bands},${column_letters(layout.band)}{ROW},{rates})"
    return layout.formulas.share.format(cost_of_unit=per_unit, units=held)


def _after_shares(layout: Layout, runs: Sequence[RunCost]) -> Iterator[Column]:
    made, work_ends = layout.formulas, column_letters(_last_of_work(layout))
    cost, tie_ins = (f"{column_letters(n)}{ROW}" for n in (layout.cost, layout.tie_ins))
    work = f"SUM({column_letters(layout.first_share)}{ROW}:{work_ends}{ROW})"
    apart = ",".join(f"{at}{ROW}" for at in _in_items_of_lines(layout))
    share = f"${column_letters(layout.tie_in_time)}{ROW}"
    of_tie_ins = made.tie_ins.format(share=share, work=work)
    yield Column([float(run.tie_ins) for run in runs], "money", of_tie_ins)
    own = made.own.format(cost=cost, tie_ins=tie_ins, with_own_items=apart)
    yield Column([float(run.own_item) for run in runs], "money", own)


def _before_bond(layout: Layout, runs: Sequence[RunCost]) -> Iterator[Column]:
    """Yield the cost of runs with the markups of its types, that of tie-ins and its own item."""
    made, factors = layout.formulas, layout.first - RUN_HEAD_ROWS
    first = column_letters(layout.first_share)

    def ranges(column: int) -> dict[str, str]:
        last = column_letters(column)
        return {
            "factors": f"${first}${factors}:${last}${factors}",
            "amounts": f"{first}{ROW}:{last}{ROW}",
        }

    whole, tie_ins = (f"{column_letters(layout.net + n)}{ROW}" for n in (0, 1))
    apart = ",".join(
        made.apart_net.format(amount=f"{at}{ROW}", factor=f"{at}${factors}")
        for at in _in_items_of_lines(layout)
    )
    share = f"${column_letters(layout.tie_in_time)}{ROW}"
    of_tie_ins = made.tie_ins_net.format(share=share, **ranges(_last_of_work(layout)))
    of_run = made.net.format(**ranges(layout.tie_ins - 1))
    own = made.own_net.format(run=whole, tie_ins=tie_ins, apart=apart)
    nets = [run.before_bond for run in runs]
    yield Column([float(net.run) for net in nets], "money", of_run)
    yield Column([float(net.tie_ins) for net in nets], "money", of_tie_ins)
    yield Column([float(net.own_item) for net in nets], "money", own)


def _last_of_work(layout: Layout) -> int:
    """Return the last column of the shares that follow the crew's time, which stand first."""
    work = sum(is_work(allocation) for allocation in layout.allocations)
    return layout.first_share + max(work, 1) - 1


def _in_items_of_lines(layout: Layout) -> Sequence[str]:
    """Return the columns of shares that the client pays for in items of their own."""
    return [layout.column(share) for share in layout.allocations if not share.with_pipe]


def _closing_rows(sheet: SheetBuilder, layout: Layout, by_run: CostByRun) -> None:
    """Append what rounding leaves of each share and of the numbers shown, and the sums."""
    rest, row = layout.formulas.left, sheet.next_row
    for column, allocation in enumerate(layout.allocations, layout.first_share):
        whole = f"SUM({layout.pool_amounts(allocation)})"
        left = rest.format(whole=whole, parts=layout.cells(column))
        sheet.put(row, column, Cell(float(by_run.rounding(allocation)), "money", left))
    sheet.anchor("by_run.rounding", layout.cost, row)
    put_printed_totals(sheet, layout, "All runs", range(layout.first, row), row)
    _data_totals(sheet, layout, row + 1)
    sheet.last_row = row + 1
    add_types_note(sheet, layout.last_printed)
    sheet.merge(sheet.add(Cell(NOT_PRINTED, "note")), 1, layout.last_printed)


def _anchor_columns(sheet: SheetBuilder, layout: Layout) -> None:
    """Name the columns by which the bid schedule separates furnished pipe from other pipe."""
    columns = {"label": LABEL, "own": layout.tie_ins + 1, f"own{NET}": layout.net + 2}
    for number, allocation in enumerate(layout.allocations, layout.first_share):
        if allocation.cost_type == PIPE:
            columns["pipe"] = number
    for name, number in columns.items():
        cells = f"{sheet.reference(number, layout.first)}:{sheet.address(number, layout.last)}"
        sheet.context.anchors[f"by_run.column.{name}"] = cells


def _data_totals(sheet: SheetBuilder, layout: Layout, row: int) -> None:
    """Set the totals of the columns beside the printed page, and name those of all runs."""
    no_sum = {layout.band, layout.tie_in_time}
    for column in range(layout.last_printed + 1, layout.net + 3):
        if column in no_sum:
            sheet.put(row, column, Cell(None, "total_text"))
            continue
        letters = column_letters(column)
        value = total_of(sheet, range(layout.first, row), column)
        formula = f"SUM({letters}${layout.first}:{letters}{row - 1})"
        sheet.put(row, column, Cell(value, TOTAL_STYLES["money"], formula))
    sheet.anchor("by_run.cost", layout.cost, row)
    sheet.anchor("by_run.tie_ins", layout.tie_ins, row)
    sheet.anchor(f"by_run.tie_ins{NET}", layout.net + 1, row)
    sheet.anchor("by_run.price", layout.price, row)
