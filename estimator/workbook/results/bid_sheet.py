"""The Bid sheet: from job cost to price, unit prices, assumptions, exclusions and cautions."""

import csv
import datetime as dt
from collections.abc import Iterator
from dataclasses import replace
from decimal import Decimal
from importlib import resources

from estimator.display import convert, show, unit_of
from estimator.models.estimate import Estimate, OwnCost, SizeLine
from estimator.models.job import Job
from estimator.workbook.results.bid_chain import add_chain, local
from estimator.workbook.results.builder import Context, SheetBuilder
from estimator.workbook.sheet_spec import Cell, SheetSpec

WIDTHS = (34, 13, 12, 12, 16, 18, 17)
AMOUNT = len(WIDTHS)
LONGEST_FORMULA = 8000
NOTE_LETTERS = 118
LINE_HEIGHT = 15.0

EXCLUSIONS = (
    "Supply of pipe and fittings, except where a line of the Cost sheet prices them",
    "Trenching, bedding, backfill, dewatering, traffic control and reinstatement",
    "Permits, survey, engineering and third-party inspection",
    "Shelters, tents and heating for cold, wet or windy weather",
    "Extra-hour charges and damage waiver on rented equipment",
    "Standby by order of others and work outside the shift stated",
)


NOT_TESTED = "Hydrostatic testing, disinfection and disposal of test water"
NOT_ALL_TESTED = "Hydrostatic testing of runs without a test section; disinfection of any"


def exclusions(estimate: Estimate) -> tuple[str, ...]:
    """Return what the price leaves out; hydrotests only where none are planned."""
    tests = NOT_ALL_TESTED if estimate.tests else NOT_TESTED
    return (*EXCLUSIONS[:2], tests, *EXCLUSIONS[2:])


def bid_sheet(context: Context) -> SheetSpec:
    """Return the Bid sheet; anchors ``bid.*`` point at the steps of the price."""
    sheet = SheetBuilder(context, "Bid", "Bid")
    _heading(sheet)
    add_chain(sheet, AMOUNT)
    _unit_prices(sheet)
    _sizes(sheet)
    _notes(sheet, "Assumptions", assumptions(context))
    _notes(sheet, "Exclusions", exclusions(context.estimate))
    _notes(sheet, "Cautions", cautions())
    return replace(sheet.spec(), widths=WIDTHS, freeze=(2, 0), landscape=False)


def _heading(sheet: SheetBuilder) -> None:
    facts, rates = sheet.context.estimate.job.facts, sheet.context.estimate.job.rates
    until = facts.estimate_date + dt.timedelta(days=rates.validity_days)
    sheet.add(
        Cell("Prepared by", "key"),
        Cell(facts.prepared_by or "not named", "plain"),
        None,
        None,
        Cell("Valid until", "key"),
        Cell(until, "key_date"),
        Cell(f"All amounts in {facts.currency}", "note"),
    )
    sheet.merge(sheet.last_row, 2, 4)
    sheet.add()


def _unit_prices(sheet: SheetBuilder) -> None:
    context = sheet.context
    estimate, price = context.estimate, local(context, "bid.price")
    system = context.system
    length = convert(sum(run.length_m for run in estimate.job.runs), "length", system)
    hours = estimate.total_crew_hours
    sheet.section("Average price", AMOUNT)
    for label, quantity, anchor in (
        ("per butt joint", float(estimate.butt_joints), "joints.butt_joints"),
        (f"per {unit_of('length', system)} of pipe joined", length, "joints.length"),
        ("per paid hour of one person", hours, "joints.crew_hours"),
    ):
        reference = context.anchors[anchor]
        value = float(estimate.bid.price) / quantity if quantity else 0.0
        sheet.add(
            Cell(label, "text"),
            Cell(quantity, "num1", reference),
            *[Cell(None, "text")] * (AMOUNT - 3),
            Cell(value, "money", f"IF({reference}=0,0,{price}/{reference})"),
        )
    sheet.add()


def _sizes(sheet: SheetBuilder) -> None:
    context = sheet.context
    price, unit = local(context, "bid.price"), unit_of("length", context.system)
    sheet.section("Price by size: own cost, and the rest by crew-hours, with markup", AMOUNT)
    heads = (
        "Pipe", f"Length, {unit}", "Butt joints", "Crew-hours", "Pipe and fittings",
        f"Price per {unit}", "Price",
    )  # fmt: skip
    header = sheet.add(*(Cell(title, "header") for title in heads))
    first, last = header + 1, header + len(context.estimate.sizes)
    for line in context.estimate.sizes:
        _size_row(sheet, line, first, last)
    shared = sum((line.amount for line in context.estimate.sizes), Decimal(0))
    rounding = float(context.estimate.bid.price - shared)
    blanks = [None] * (AMOUNT - 2)
    sheet.add(
        Cell("Rounding", "note"),
        *blanks,
        Cell(rounding, "money", f"{price}-SUM($G${first}:$G${last})"),
    )
    sheet.add(
        Cell("Bid price", "total_text"),
        *[Cell(None, "total_text")] * (AMOUNT - 2),
        Cell(float(context.estimate.bid.price), "total_money", f"SUM($G${first}:$G${last + 1})"),
    )
    sheet.anchor("bid.by_size", AMOUNT, sheet.last_row)
    sheet.add()


def _size_row(sheet: SheetBuilder, line: SizeLine, first: int, last: int) -> None:
    context, row = sheet.context, sheet.next_row
    length = convert(line.length_m, "length", context.system)
    price, job_cost = (local(context, f"bid.{name}") for name in ("price", "job"))
    shared = f"({job_cost}-SUM($E${first}:$E${last}))*D{row}/SUM($D${first}:$D${last})"
    amount = float(line.amount)
    sheet.add(
        Cell(line.label, "text"),
        Cell(length, "num1"),
        Cell(line.butt_joints, "int"),
        Cell(line.crew_hours, "num2"),
        Cell(line.own_cost.value, "money", _own_formula(context, line.own_cost)),
        Cell(amount / length, "money", f"G{row}/B{row}"),
        Cell(
            amount,
            "money",
            f"IF({job_cost}=0,0,ROUND({price}*(E{row}+{shared})/{job_cost},2))",
        ),
    )


def _own_formula(context: Context, own: OwnCost) -> str | None:
    terms = [context.anchors[f"cost.{line.key}"] for line in own.pipe_lines]
    for count, rate in own.pieces:
        formula = rate.formula(context.input)
        if formula is None:
            return None
        terms.append(f"{count}*{formula}")
    formula = "+".join(terms)
    return formula if 0 < len(formula) <= LONGEST_FORMULA else None


def assumptions(context: Context) -> tuple[str, ...]:
    """Return what the price rests on, in sentences."""
    estimate = context.estimate
    facts = estimate.job.facts
    crews = "one crew" if facts.crews == 1 else f"{facts.crews} crews"
    machines = f"{facts.machines_per_crew} machine" + "s" * (facts.machines_per_crew > 1)
    plan = estimate.plan
    return (
        f"Fusion method {facts.method}, {_ambient(context)}; fusion figures and their confidence "
        "are listed on the Checks sheet",
        f"{facts.workdays}, shift of {facts.shift_hours:g} paid hours, {facts.working_min:.0f} min "
        f"of it for joints; efficiency {facts.efficiency:.0%} on crew-paced time",
        *_other_shifts(estimate.job),
        f"{crews} with {machines} each; {_work_span(estimate)}",
        f"Fittings {facts.fitting_rule}; test joints: {facts.test_joint_rule}; "
        f"{facts.rework_share:.1%} of butt joints remade",
        f"Weather takes {sum(d.kind == 'weather' for d in plan.crew_days)} crew-days of the plan; "
        f"{facts.weather_paid_hours:g} h are paid on each",
        "Rental is billed on calendar days from delivery to return, in the cheapest mix of days, "
        "weeks and four-weeks",
    )


def _other_shifts(job: Job) -> Iterator[str]:
    """Yield what is assumed of overtime dates and a night shift, nothing where there are none."""
    facts = job.facts
    if job.overtime:
        dates = "; ".join(
            f"{row.from_date:%d %b %Y} to {row.to_date:%d %b %Y} {row.shift_hours:g} h"
            for row in job.overtime
        )
        yield f"Other paid shifts: {dates}"
    if facts.overtime_loss:
        yield f"{facts.overtime_loss:.0%} of the crew's pace is lost beyond straight time"
    if facts.night_hours:
        yield (
            f"Night shift of {facts.night_hours:g} paid hours with the same machines; crew-paced "
            f"time {facts.night_slowing:.0%} longer, wage {facts.night_premium:.0%} higher, rental "
            f"of gear that works both shifts x {facts.night_rental:g}"
        )


def _ambient(context: Context) -> str:
    job, system = context.estimate.job, context.system
    usual = f"ambient {show(job.facts.ambient, 'temperature', system)}"
    monthly = [row.ambient for row in job.weather if row.ambient is not None]
    if not monthly:
        return usual
    low, high = (show(limit(monthly), "temperature", system) for limit in (min, max))
    return f"ambient by month from {low} to {high}"


def _work_span(estimate: Estimate) -> str:
    plan = estimate.plan
    joined = f"{plan.start:%d %b %Y} to {plan.finish:%d %b %Y}, {plan.work_days} days worked"
    if not estimate.tests:
        return f"work from {joined}"
    last = max(test.finish for test in estimate.tests)
    return f"joining from {joined}; hydrotests until {last:%d %b %Y}"


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
