"""The Bid sheet: from job cost to price, unit prices, assumptions, exclusions and cautions."""

import csv
import datetime as dt
from dataclasses import replace
from decimal import Decimal
from importlib import resources

from estimator.display import convert, show, unit_of
from estimator.models.estimate import Estimate
from estimator.workbook.results.builder import Context, SheetBuilder
from estimator.workbook.sheet_spec import Cell, SheetSpec

WIDTHS = (36, 16, 16, 16, 16, 18)
AMOUNT = len(WIDTHS)
NOTE_LETTERS = 118
LINE_HEIGHT = 15.0

EXCLUSIONS = (
    "Supply of pipe and fittings, except where a line of the Cost sheet prices them",
    "Trenching, bedding, backfill, dewatering, traffic control and reinstatement",
    "Hydrostatic testing, disinfection and disposal of test water",
    "Permits, survey, engineering and third-party inspection",
    "Standby by order of others and work outside the shift stated",
)


def bid_sheet(context: Context) -> SheetSpec:
    """Return the Bid sheet; anchors ``bid.*`` point at the steps of the price."""
    sheet = SheetBuilder(context, "Bid", "Bid")
    _heading(sheet)
    _chain(sheet)
    _unit_prices(sheet)
    _sizes(sheet)
    _notes(sheet, "Assumptions", assumptions(context))
    _notes(sheet, "Exclusions", EXCLUSIONS)
    _notes(sheet, "Cautions", cautions())
    return replace(sheet.spec(), widths=WIDTHS, freeze=(2, 0), landscape=False)


def _heading(sheet: SheetBuilder) -> None:
    facts, rates = sheet.context.estimate.job.facts, sheet.context.estimate.job.rates
    until = facts.estimate_date + dt.timedelta(days=rates.validity_days)
    sheet.add(
        Cell("Prepared by", "key"),
        Cell(facts.prepared_by or "not named", "text"),
        None,
        Cell("Valid until", "key"),
        Cell(until, "date"),
        Cell(f"All amounts in {facts.currency}", "note"),
    )
    sheet.add()


def _rate_cell(context: Context, key: str, style: str = "pct") -> Cell:
    value = getattr(context.estimate.job.rates, key)
    return Cell(value, style, context.input("rates", "", key))


def _step(
    sheet: SheetBuilder,
    name: str,
    label: str,
    amount: Decimal,
    formula: str | None,
    rate: Cell | None = None,
    basis: str = "",
    style: str = "money",
) -> None:
    text = {"money": "text", "grand_total": "grand_total_text"}.get(style, "total_text")
    row = sheet.add(
        Cell(label, text),
        rate or Cell(None, text),
        Cell(basis or None, text),
        Cell(None, text),
        Cell(None, text),
        Cell(float(amount), style, formula),
    )
    sheet.anchor(f"bid.{name}", AMOUNT, row)
    if rate is not None:
        sheet.anchor(f"bid.{name}.rate", 2, row)


def _chain(sheet: SheetBuilder) -> None:
    context, at = sheet.context, sheet.context.anchors
    bid, rates = context.estimate.bid, context.estimate.job.rates
    sheet.add(*(Cell(t, "header") for t in ("Step", "Rate", "Basis", "", "", "Amount")))

    def local(name: str) -> str:
        return at[f"bid.{name}"].rpartition("!")[2]

    _step(sheet, "direct", "Direct cost", bid.direct_cost, at["cost.direct"])
    _step(sheet, "indirect", "Indirect cost", bid.indirect_cost, at["cost.indirect"])
    _step(sheet, "job", "Job cost", bid.job_cost, f"{local('direct')}+{local('indirect')}",
          style="total_money")  # fmt: skip
    for key, label, amount in (
        ("office_overhead", "Office overhead", bid.office_overhead),
        ("contingency", "Contingency", bid.contingency),
    ):
        row = sheet.next_row
        _step(sheet, key, label, amount, f"ROUND({local('job')}*$B${row},2)",
              _rate_cell(context, key), "of job cost")  # fmt: skip
    _step(sheet, "cost", "Cost before profit", bid.cost_before_profit,
          f"{local('job')}+{local('office_overhead')}+{local('contingency')}",
          style="total_money")  # fmt: skip
    row, cost = sheet.next_row, local("cost")
    basis = context.input("rates", "", "profit_basis")
    _step(
        sheet, "profit", "Profit", bid.profit,
        f'IF($C${row}="margin on price",ROUND({cost}*$B${row}/(1-$B${row}),2),'
        f"ROUND({cost}*$B${row},2))",
        _rate_cell(context, "profit"),
    )  # fmt: skip
    sheet.put(row, 3, Cell(rates.profit_basis, "text", basis))
    _step(sheet, "before_bond", "Price before bond", bid.price_before_bond,
          f"{cost}+{local('profit')}", style="total_money")  # fmt: skip
    row, before = sheet.next_row, local("before_bond")
    _step(sheet, "bond", "Bond", bid.bond, f"ROUND({before}/(1-$B${row})-{before},2)",
          _rate_cell(context, "bond"), "of the price with bond")  # fmt: skip
    _step(sheet, "price", "Bid price", bid.price, f"{before}+{local('bond')}",
          style="grand_total")  # fmt: skip
    row = sheet.next_row
    _step(sheet, "tax", "Tax", bid.tax, f"ROUND({local('price')}*$B${row},2)",
          _rate_cell(context, "tax"), "of the bid price")  # fmt: skip
    _step(sheet, "total", "Total with tax", bid.total, f"{local('price')}+{local('tax')}",
          style="total_money")  # fmt: skip
    for label, share, base in (
        ("Profit as markup on cost", bid.markup, cost),
        ("Profit as margin on the bid price", bid.margin, local("price")),
    ):
        formula = f"IF({base}=0,0,{local('profit')}/{base})"
        sheet.add(Cell(label, "text"), Cell(share, "pct", formula))
    sheet.add()


def _unit_prices(sheet: SheetBuilder) -> None:
    context = sheet.context
    estimate, price = context.estimate, context.anchors["bid.price"].rpartition("!")[2]
    system = context.system
    length = convert(sum(run.length_m for run in estimate.job.runs), "length", system)
    hours = estimate.total_crew_hours
    sheet.section("Average price", AMOUNT)
    for label, quantity, anchor in (
        ("per butt joint", float(estimate.butt_joints), "joints.butt_joints"),
        (f"per {unit_of('length', system)} of pipe joined", length, "joints.length"),
        ("per crew-hour", hours, "joints.crew_hours"),
    ):
        reference = context.anchors[anchor]
        value = float(estimate.bid.price) / quantity if quantity else 0.0
        sheet.add(
            Cell(label, "text"),
            Cell(quantity, "num1", reference),
            None,
            None,
            None,
            Cell(value, "money", f"IF({reference}=0,0,{price}/{reference})"),
        )
    sheet.add()


def _sizes(sheet: SheetBuilder) -> None:
    context = sheet.context
    estimate, system = context.estimate, context.system
    price = context.anchors["bid.price"].rpartition("!")[2]
    sheet.section("Price by size, shared by crew-hours", AMOUNT)
    unit = unit_of("length", system)
    heads = ("Pipe", f"Length, {unit}", "Butt joints", "Crew-hours", f"Price per {unit}", "Price")
    header = sheet.add(*(Cell(t, "header") for t in heads))
    first, last = header + 1, header + len(estimate.sizes)
    total_hours = f"SUM($D${first}:$D${last})"
    for line in estimate.sizes:
        row = sheet.next_row
        length = convert(line.length_m, "length", system)
        amount = float(line.amount)
        sheet.add(
            Cell(line.label, "text"),
            Cell(length, "num1"),
            Cell(line.butt_joints, "int"),
            Cell(line.crew_hours, "num2"),
            Cell(amount / length, "money", f"F{row}/B{row}"),
            Cell(amount, "money", f"ROUND({price}*D{row}/{total_hours},2)"),
        )
    shared = sum((line.amount for line in estimate.sizes), Decimal(0))
    sheet.add(
        Cell("Rounding", "note"),
        *[None] * 4,
        Cell(float(estimate.bid.price - shared), "money", f"{price}-SUM(F{first}:F{last})"),
    )
    row = sheet.last_row
    sheet.add(
        Cell("Bid price", "total_text"),
        *[Cell(None, "total_text")] * 4,
        Cell(float(estimate.bid.price), "total_money", f"SUM(F{first}:F{row})"),
    )
    sheet.anchor("bid.by_size", AMOUNT, sheet.last_row)
    sheet.add()


def assumptions(context: Context) -> tuple[str, ...]:
    """Return what the price rests on, in sentences."""
    estimate, system = context.estimate, context.system
    facts = estimate.job.facts
    crews = "one crew" if facts.crews == 1 else f"{facts.crews} crews"
    machines = f"{facts.machines_per_crew} machine" + "s" * (facts.machines_per_crew > 1)
    plan = estimate.plan
    return (
        f"Fusion method {facts.method}, ambient {show(facts.ambient, 'temperature', system)}; "
        "fusion figures and their confidence are listed on the Checks sheet",
        f"{facts.workdays}, shift of {facts.shift_hours:g} paid hours, {facts.working_min:.0f} min "
        f"of it for joints; efficiency {facts.efficiency:.0%} on crew-paced time",
        f"{crews} with {machines} each; {_work_span(estimate)}",
        f"Fittings {facts.fitting_rule}; test joints: {facts.test_joint_rule}; "
        f"{facts.rework_share:.1%} of butt joints remade",
        f"Weather takes {sum(d.kind == 'weather' for d in plan.crew_days)} crew-days of the plan; "
        f"{facts.weather_paid_hours:g} h are paid on each",
        "Rental is billed on calendar days from delivery to return, in the cheapest mix of days, "
        "weeks and four-weeks",
    )


def _work_span(estimate: Estimate) -> str:
    plan = estimate.plan
    return (
        f"work from {plan.start:%d %b %Y} to {plan.finish:%d %b %Y}, {plan.work_days} days worked"
    )


def cautions() -> tuple[str, ...]:
    """Return the cautions that every output carries."""
    text = resources.files("estimator.workbook").joinpath("cautions.csv").read_text("utf-8")
    return tuple(row["text"] for row in csv.DictReader(text.splitlines()))


def _notes(sheet: SheetBuilder, title: str, lines: tuple[str, ...]) -> None:
    sheet.section(title, AMOUNT)
    for line in lines:
        row = sheet.add(Cell(line, "text_wrap"))
        sheet.merge(row, 1, AMOUNT)
        sheet.heights[row] = LINE_HEIGHT * (1 + len(line) // NOTE_LETTERS)
    sheet.add()
