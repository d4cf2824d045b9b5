"""The Bid schedule sheet: items with quantity, unit price and amount that make the bid price."""

from collections import Counter
from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import replace
from decimal import Decimal
from itertools import groupby

from estimator.cost import unit_price
from estimator.cost.by_run import apart_before_bond
from estimator.data_class import dataclass
from estimator.models.baseline import BaselineItem
from estimator.models.estimate import CostLine
from estimator.models.kinds import PIPE
from estimator.models.run_costs import BidItem, ItemPart, PipeWork, item_amount, left_over
from estimator.steps.cells import row_formula
from estimator.steps.marks import Cells
from estimator.workbook.results.bid_text import payment, with_scope
from estimator.workbook.results.builder import Context, header_text
from estimator.workbook.results.client_page import ClientPage, dated_title, inches, with_sign
from estimator.workbook.results.price_words import words_for_client
from estimator.workbook.results.size_cost_rows import NET
from estimator.workbook.sheet import look
from estimator.workbook.sheet.layout import EDGE, RESERVE
from estimator.workbook.sheet.spec import Cell, SheetSpec
from estimator.workbook.sheet.text_width import lines_of

WIDTHS = inches(0.46, 4.04, 0.61, 0.38, 0.75, 0.86)
AMOUNT = len(WIDTHS)
GROUP_HEIGHT, TOTAL_HEIGHT = 19.5, 20.25
PIPE_ALONE, OTHERWISE, BY_RUN = "Polyethylene pipe", ", unless the item says otherwise", "By run"
HOW_PAID = "How the schedule is paid"


def schedule_sheet(context: Context) -> SheetSpec:
    """Return the Bid schedule sheet.

    Anchors ``schedule.price`` points at the sum of its items, ``schedule.item.<n>`` at the amount
    of each and ``schedule.unit_price.<n>`` at its unit price, ``schedule.group.<group>`` at the
    sum of a group.
    """
    sheet = ClientPage(context, "Bid schedule")
    _title(sheet)
    header = _items(sheet)
    _payment(sheet)
    return replace(sheet.spec(), widths=WIDTHS, exact_widths=True, freeze=(header, 0),
                   landscape=False, header_row=header, closes_up=True)  # fmt: skip


def _title(sheet: ClientPage) -> None:
    context = sheet.context
    cover = context.estimate.job.cover
    company = context.input("job", "", "company")
    sheet.add(Cell("Bid schedule", "title"))
    sheet.add(Cell(cover.job_name, "job"))
    sheet.result = Cell(cover.company or "", "result", f'{company}&""' if company else None)
    sheet.status = Cell(dated_title(context), "job_right")
    sheet.add()


def units_in_parts(items: Iterable[BidItem | BaselineItem]) -> frozenset[str]:
    """Return the units of which an item has part of one: their quantities show a decimal."""
    return frozenset(item.unit for item in items if item.quantity % 1)


def _items(sheet: ClientPage) -> int:
    """Add the items by group and what they come to; return the row of their header."""
    context = sheet.context
    items, currency = context.estimate.items, context.currency
    heads = ("Item", "Description", "Quantity", "Unit", header_text("Unit price", currency),
             header_text("Amount", currency))  # fmt: skip
    header = sheet.add(*(Cell(title, "header") for title in heads))
    rows = _rows_of(items, header)
    made = _formulas(context)
    sums = []
    work = _work_of_most(items)
    in_parts = units_in_parts(items)
    for group, members in groupby(enumerate(items), key=lambda pair: pair[1].group):
        said = _said_once(context, items, work) if group == "Pipe" else ""
        beside = [Cell(said, "label")] if said else []
        sheet.add(Cell(group, "key_ink"), *beside, height=GROUP_HEIGHT)
        first = sheet.next_row
        for n, item in members:
            style = "num1" if item.unit in in_parts else "int"
            quantity = Cell(item.quantity, style)
            _item_row(sheet, item, quantity, made, rows, rows[n], _text(context, item, work))
            sheet.anchor(f"schedule.item.{n}", AMOUNT, rows[n])
            sheet.anchor(f"schedule.unit_price.{n}", AMOUNT - 1, rows[n])
        value = sum(float(item.amount) for item in items if item.group == group)
        row = sheet.add(
            Cell(None, "total_text"), Cell(f"{group}, subtotal", "total_text"),
            *[Cell(None, "total_text")] * 3,
            Cell(round(value, 2), "total_money", f"SUM(F{first}:F{sheet.last_row})"),
        )  # fmt: skip
        sheet.anchor(f"schedule.group.{group}", AMOUNT, row)
        sums.append(f"F{row}")
    price = float(context.estimate.bid.price)
    style = with_sign(context, "grand_total", "grand_total_dollars")
    row = sheet.add(
        Cell("Bid price", "grand_total_text"), *[Cell(None, "grand_total_text")] * 3,
        Cell(price, style, "+".join(sums)), Cell(None, style),
        height=TOTAL_HEIGHT,
    )  # fmt: skip
    sheet.merge(row, AMOUNT - 1, AMOUNT)
    sheet.anchor("schedule.price", AMOUNT - 1, row)
    words = words_for_client(price, context.currency, context.estimate.job.rates.tax)
    row = sheet.add(Cell(words, "note", context.anchors["bid.words"]))
    sheet.merge(row, 1, AMOUNT)
    sheet.add()
    return header


def _work_of_most(items: Sequence[BidItem]) -> PipeWork | None:
    """Return what is done with the pipe in more than half of the items of pipe, in our words."""
    works = Counter(item.work for item in items if item.group == "Pipe")
    ((work, count),) = works.most_common(1) or [(None, 0)]
    return work if 2 * count > works.total() else None


def _said_once(context: Context, items: Sequence[BidItem], work: PipeWork | None) -> str:
    """Return over the items of pipe what their lines then need not repeat."""
    works = {item.work for item in items if item.group == "Pipe"}
    if works == {None}:
        return ""
    text = PIPE_ALONE if work is None else f"{work.of_all}{OTHERWISE * (len(works) > 1)}"
    by_run = context.estimate.job.bid.bid_items != "by size"
    return f"{BY_RUN}: {text[0].lower()}{text[1:]}" if by_run else text


def _text(context: Context, item: BidItem, work: PipeWork | None) -> str:
    """Return an item in words, without those that stand over the items of pipe."""
    if item.work is None:
        return with_scope(context.estimate, item)
    return with_whole_size(item.pipe if item.work == work else item.work.of(item.pipe))


def with_whole_size(text: str) -> str:
    r"""Return the text of a run; where it takes several lines, the size of its pipe begins one.

    >>> with_whole_size("T52, Diversion drain: 355 mm SDR 17")
    'T52, Diversion drain: 355 mm SDR 17'
    >>> with_whole_size("Furnish and butt fuse T52, Diversion drain, upper bench: 355 mm SDR 17")
    'Furnish and butt fuse T52, Diversion drain, upper bench:\n355 mm SDR 17'
    """
    name, mark, size = text.rpartition(": ")
    room = (look.pixels_of(WIDTHS[1]) - EDGE) / RESERVE
    is_parted = mark and lines_of(text, room, look.LONG_TABLE) > 1
    return f"{name}:\n{size}" if is_parted else text


def _rows_of(items: Sequence[BidItem], header: int) -> Mapping[int, int]:
    """Return the row of each item: a heading goes before each group, a sum after it."""
    rows, row = {}, header
    for _, members in groupby(enumerate(items), key=lambda pair: pair[1].group):
        row += 1
        for n, _item in members:
            row += 1
            rows[n] = row
        row += 1
    return rows


@dataclass(frozen=True)
class _Formulas:
    """The formulas of an item as the steps of the stage give them, with names of their cells."""

    unit_price: str
    amount: str
    left: str


def _formulas(context: Context) -> _Formulas:
    one, rates = Decimal(1), context.estimate.job.rates
    priced = unit_price.worked(context.estimate.bid, one, 1.0, rates)
    return _Formulas(
        unit_price=row_formula(priced, context.input),
        amount=row_formula(item_amount.worked(1.0, one)),
        left=row_formula(left_over.worked(one, [Cells(1)])),
    )


def _item_row(
    sheet: ClientPage,
    item: BidItem,
    quantity: Cell,
    made: _Formulas,
    rows: Mapping[int, int],
    row: int,
    text: str,
) -> None:
    context = sheet.context
    sheet.add(
        Cell(item.number, "text"),
        Cell(text, "text_wrap"),
        quantity,
        Cell(item.unit, "center"),
        Cell(float(item.unit_price), "money", _unit_price(context, item, made, rows, row)),
        Cell(
            float(item.amount),
            "money",
            made.amount.format(quantity=f"C{row}", unit_price=f"E{row}"),
        ),
    )


def _unit_price(
    context: Context, item: BidItem, made: _Formulas, rows: Mapping[int, int], row: int
) -> str | None:
    if item.fixed_price:
        return context.input("owner_items", item.key, "price")
    if item.balances:
        price = context.anchors["bid.price"]
        others = _ranges(sorted(other for other in rows.values() if other != row))
        return made.left.format(whole=price, parts=others) if others else price
    return made.unit_price.format(
        **bid_cells(context), item_before_bond=net_formula(context, item), quantity=f"C{row}"
    )


def bid_cells(context: Context) -> Mapping[str, str]:
    """Return the cells of the price by the names that the steps of the bid have for it."""
    at = context.anchors
    return {"price": at["bid.price"], "price_before_bond": at["bid.before_bond"]}


def _ranges(rows: Sequence[int]) -> str:
    """Return the amounts of some rows, neighbors as one range."""
    spans: list[list[int]] = []
    for row in rows:
        if spans and row == spans[-1][1] + 1:
            spans[-1][1] = row
        else:
            spans.append([row, row])
    return ",".join(f"F{first}:F{last}" for first, last in spans)


def cost_formula(context: Context, item: BidItem) -> str:
    """Return the formula of the job cost that an item carries."""
    return _sum_of_parts(item, lambda part: _cost_part(context, part))


def net_formula(context: Context, item: BidItem) -> str:
    """Return the formula of the cost that an item carries with the markups of its types."""
    text = _sum_of_parts(item, lambda part: _net_part(context, part))
    return f"({text})" if len(item.parts) > 1 else text


def _sum_of_parts(item: BidItem, formula: Callable[[ItemPart], str]) -> str:
    text = "".join(f"{'-+'[part.sign > 0]}{formula(part)}" for part in item.parts)
    return text.removeprefix("+") or "0"


def _cost_part(context: Context, part: ItemPart) -> str:
    if part.kind == "lines":
        return _added([cell for _, cell in _cells_of_lines(context, part.name)])
    return _runs_part(context, part, "")


def _net_part(context: Context, part: ItemPart) -> str:
    """Return the formula of a part with the markups of its types."""
    if part.kind == "lines":
        by_factor: dict[str, list[str]] = {}
        for line, cell in _cells_of_lines(context, part.name):
            by_factor.setdefault(_factor(context, line.cost_type), []).append(cell)
        terms = "+".join(f"{factor}*{_added(cells)}" for factor, cells in by_factor.items())
        return f"ROUND({terms},2)"
    if part.kind in ("pipe of run", "pipe of size"):
        made = row_formula(apart_before_bond.worked(Decimal(1), 1.0))
        return made.format(factor=_factor(context, PIPE), amount=_runs_part(context, part, ""))
    return _runs_part(context, part, NET)


def _runs_part(context: Context, part: ItemPart, net: str) -> str:
    at, name = context.anchors, part.name
    if part.kind in ("size", "run", "tie-ins", "pipe of run"):
        return at[{
            "size": f"by_size.own{net}.{name}",
            "run": f"by_run{net}.{name}",
            "tie-ins": f"by_run.tie_ins{net}",
            "pipe of run": f"by_run.pipe.{name}",
        }[part.kind]]  # fmt: skip
    label, own, pipe = (at[f"by_run.column.{key}"] for key in ("label", f"own{net}", "pipe"))
    escaped = name.replace('"', '""')
    if part.kind == "pipe of size":
        return f'SUMIF({label},"{escaped}",{pipe})'
    return f'SUMIFS({own},{label},"{escaped}",{pipe},">0")'


def _cells_of_lines(context: Context, item: str) -> Sequence[tuple[CostLine, str]]:
    """Return the cost lines that name an item, each with its amount's cell."""
    lines = [line for line in context.estimate.cost_lines if line.bid_item == item]
    return [(line, context.anchors[f"cost.{line.key}"]) for line in lines]


def _factor(context: Context, name: str) -> str:
    """Return the cell of the price factor of a cost type."""
    return context.anchors[f"by_run.factor.{name}"]


def _added(terms: Sequence[str]) -> str:
    return f"({'+'.join(terms)})" if len(terms) > 1 else terms[0]


def _payment(sheet: ClientPage) -> None:
    lines = payment(sheet.context)
    if not lines:
        return
    sheet.section(HOW_PAID, AMOUNT)
    for line in lines:
        sheet.text(Cell(f"\N{BULLET} {line}", "plain_wrap"), 1, AMOUNT)
