"""The Basis of estimate sheet: one page for whoever judges the price before it goes out."""

from collections.abc import Sequence
from dataclasses import replace
from itertools import zip_longest

from estimator.cost.estimate_class import accuracy
from estimator.data_class import dataclass
from estimator.display import counted, sentence
from estimator.errors import Problem
from estimator.models.assumptions import Assumption, NoAssumptions
from estimator.models.risk import NoRisk, Risk
from estimator.models.sized_run import SizedRun
from estimator.plan import people_at
from estimator.workbook.results.builder import (
    INTERNAL,
    Context,
    SheetBuilder,
    header_text,
    min_s_cell,
    whole,
)
from estimator.workbook.results.client_page import inches
from estimator.workbook.results.light import with_weight
from estimator.workbook.results.price_sheet import REACHES
from estimator.workbook.sheet.spec import Cell, SheetSpec, Value

WIDTHS = inches(1.6, 1.13, 0.98, 0.18, 1.41, 0.92, 0.88)
LEFT, RIGHT, LAST = 3, 5, len(WIDTHS)
LINE_ROW, WRITING_ROW, SECTION_ROW = 14.25, 17.25, 18.0
PIPES_SHOWN, SWINGS_SHOWN, ASSUMPTIONS_SHOWN, WARNINGS_SHOWN = 4, 5, 5, 2
WARNING_LETTERS = 205
JUDGMENT_LINES = 2
OVER_GAP, ACROSS_GAP = Cell(None, "header"), Cell(None, "text")
"""What stands between the halves of one table, whose rules go on there."""


@dataclass(frozen=True)
class Line:
    """One line of a half page: a name and two figures, each with its formula."""

    name: str
    first: Cell | None
    second: Cell | None


def basis_sheet(context: Context) -> SheetSpec:
    """Return the Basis of estimate sheet."""
    sheet = SheetBuilder(context, "Basis of estimate", "Basis of estimate")
    sheet.result = INTERNAL
    _price_and_range(sheet)
    _swings(sheet)
    _production(sheet)
    _assumptions(sheet)
    _warnings(sheet)
    _judgment(sheet)
    return replace(sheet.spec(), widths=WIDTHS, exact_widths=True, landscape=False)


def _price_and_range(sheet: SheetBuilder) -> None:
    context = sheet.context
    risk = context.estimate.risk
    money = context.currency
    beside: list[Cell | None] = []
    heads: Sequence[str] = ()
    right: Sequence[Line] = ()
    if not isinstance(risk, NoRisk):
        title = f"Range without contingency, {counted(risk.trials, 'trial')}"
        beside = [None] * LEFT + [Cell(title, "section")]
        heads = ("Probability", header_text("Price", money), "Finish")
        right = _range_lines(context, risk)
    sheet.add(Cell("Price", "section"), *beside, height=SECTION_ROW)
    _head(sheet, None, "Step", "Rate", header_text("Amount", money), *heads)
    for one, other in zip_longest(_price_lines(context), right):
        sheet.add(*_half(one), None, *_half(other), height=LINE_ROW)
    bid = context.estimate.bid
    total = Cell(float(bid.price), "total_money", context.anchors["bid.price"])
    blank = Cell(None, "total_text")
    covered: list[Cell | None] = [None, None, None]
    if not isinstance(risk, NoRisk):
        covered = [Cell("Within the bid price", "total_text"),
                   Cell(risk.covered_share, "total_pct"), blank]  # fmt: skip
    sheet.add(Cell("Bid price", "total_text"), blank, total, None, *covered)
    for text in (*_class_note(context), *_risk_note(risk)):
        sheet.add(Cell(text, "note"))
        sheet.merge(sheet.last_row, 1, LAST)


def _half(line: Line | None) -> tuple[Cell | None, ...]:
    if line is None:
        return None, None, None
    empty = Cell(None, "text")
    return Cell(line.name, "text"), line.first or empty, line.second or empty


def _price_lines(context: Context) -> Sequence[Line]:
    """Return the steps from job cost to price, each amount that of the Price build-up."""
    bid, rates, at = context.estimate.bid, context.estimate.job.rates, context.anchors

    def line(name: str, amount: float, anchor: str, key: str = "") -> Line:
        rate = Cell(getattr(rates, key), "pct", context.input("rates", "", key)) if key else None
        return Line(name, rate, Cell(amount, "money", at[f"bid.{anchor}"]))

    lines = [
        line("Job cost", float(bid.job_cost), "job"),
        line("Home office overhead", float(bid.office_overhead), "office_overhead",
             "office_overhead"),
        line("Contingency", float(bid.contingency), "contingency", "contingency"),
        line(f"Profit, {rates.profit_basis}", float(bid.profit), "profit", "profit"),
        line("Bond", float(bid.bond), "bond", "bond"),
    ]  # fmt: skip
    if bid.rounding:
        lines.append(line("Rounding", float(bid.rounding), "rounding"))
    return lines


def _range_lines(context: Context, risk: Risk) -> Sequence[Line]:
    lines = [
        Line(f"P{line.share * 100:.0f}", Cell(line.price, "money0"),
             Cell(line.finish, "date_short_right"))
        for line in risk.lines
    ]  # fmt: skip
    if risk.deadline_share is not None:
        lines.append(
            Line("Contract deadline met", Cell(risk.deadline_share, "pct0"),
                 Cell(context.estimate.job.dates.deadline, "date_short_right"))
        )  # fmt: skip
    return lines


def _class_note(context: Context) -> Sequence[str]:
    """Return the customary accuracy of the estimate class, and what liquidated damages do."""
    job = context.estimate.job
    chosen, texts = job.bid.estimate_class, []
    if chosen is not None:
        ranges = accuracy(chosen)
        spans = ", ".join(
            f"{one.low:+.0%} to {one.high:+.0%} {REACHES[one.reach]}" for one in ranges
        )
        texts.append(f"Estimate class {chosen} per {ranges[0].source}: accuracy {spans}.")
    late = context.estimate.bid.unmarked
    if late:
        texts.append(f"Liquidated damages in the job cost without markup: {late:,.0f}.")
    return [" ".join(texts)] if texts else []


def _risk_note(risk: Risk | NoRisk) -> Sequence[str]:
    return [f"No range: {risk.reason}."] if isinstance(risk, NoRisk) else []


def _swings(sheet: SheetBuilder) -> None:
    context, risk = sheet.context, sheet.context.estimate.risk
    if isinstance(risk, NoRisk):
        return
    _section(sheet, "What moves the price most: one factor at a time, change of the bid price")
    money = context.currency
    _head(sheet, OVER_GAP, "Factor", header_text("Low", money), header_text("High", money),
          "Range tried", "Finish, low", "Finish, high")  # fmt: skip
    for swing in risk.swings[:SWINGS_SHOWN]:
        sheet.add(
            Cell(sentence(swing.factor), "text"),
            Cell(whole(swing.low_price - risk.bare_price), "signed"),
            Cell(whole(swing.high_price - risk.bare_price), "signed"),
            ACROSS_GAP,
            Cell(f"{swing.low:g} to {swing.high:g} of plan", "text"),
            Cell(swing.low_finish, "date_short_right"),
            Cell(swing.high_finish, "date_short_right"),
            height=LINE_ROW,
        )


def _section(sheet: SheetBuilder, title: str) -> None:
    sheet.add(Cell(title, "section"), height=SECTION_ROW)


def _head(sheet: SheetBuilder, gap: Cell | None, *titles: str) -> None:
    """Append a header row; ``gap`` is what the narrow column between the halves has of it."""
    cells: list[Cell | None] = [Cell(title, "header") for title in titles]
    sheet.add(*cells[:LEFT], gap, *cells[LEFT:])


def _production(sheet: SheetBuilder) -> None:
    context = sheet.context
    estimate = context.estimate
    job = estimate.job
    _section(
        sheet, f"Production assumed: clock time per joint, {job.shift.shift_hours:g}-hour shift"
    )
    _head(sheet, OVER_GAP, "Pipe", header_text("Cycle", "min:s"),
          header_text("Soak, cool", "min:s"), "Machine and crew", "Per shift",
          "Butt joints")  # fmt: skip
    sizes = sorted(estimate.by_run.sizes, key=lambda size: -size.butt_joints)
    usual = _usual_runs(context)
    for size in sizes[:PIPES_SHOWN]:
        run = usual[size.label]
        fusion = (run.fusion.soak_s + run.fusion.cool_s) / 60
        sheet.add(
            Cell(size.label, "text"),
            min_s_cell(run.cycle.plain.cycle_min),
            min_s_cell(fusion),
            ACROSS_GAP,
            Cell(f"{run.machine.class_id}, {_people(context, run):.3g} people", "text"),
            Cell(run.cycle.joints_per_shift, "int"),
            Cell(size.butt_joints, "int", context.anchors[f"by_size.joints.{size.label}"]),
            height=LINE_ROW,
        )
    more = len(sizes) - PIPES_SHOWN
    rest = f" {counted(more, 'other size')} on Joints." if more > 0 else ""
    lost = len({(day.date, day.crew) for day in estimate.plan.crew_days if day.kind == "weather"})
    text = (
        f"Crew-paced time: efficiency {job.shift.efficiency:.0%}, overtime productivity loss "
        f"{job.shift.overtime_loss:.0%}. Rework {job.counting.rework_share:.1%}. "
        f"{counted(lost, 'weather crew-day')}.{rest}"
    )
    sheet.add(Cell(text, "note"))
    sheet.merge(sheet.last_row, 1, LAST)


def _usual_runs(context: Context) -> dict[str, SizedRun]:
    """Return of each size the run with the most butt joints."""
    found: dict[str, SizedRun] = {}
    for costed, run in zip(context.estimate.by_run.runs, context.estimate.runs, strict=True):
        other = found.get(costed.label)
        if other is None or run.counts.butt_joints > other.counts.butt_joints:
            found[costed.label] = run
    return found


def _people(context: Context, run: SizedRun) -> float:
    at, machines = run.cycle.at, run.cycle.plain.machines
    return sum(people_at(role, at, machines) for role in context.estimate.job.crew)


def _assumptions(sheet: SheetBuilder) -> None:
    context = sheet.context
    table = context.estimate.assumptions
    if isinstance(table, NoAssumptions):
        _section(sheet, "Own assumptions still at their defaults")
        sheet.add(Cell(f"Not weighed: {table.reason}.", "note"))
        sheet.merge(sheet.last_row, 1, LAST)
        return
    shown = table.weighed[:ASSUMPTIONS_SHOWN]
    _section(sheet, _open_assumptions(len(table.assumptions), len(shown)))
    _head(sheet, OVER_GAP, "Assumption", "Now", "Moved to", "Cell",
          header_text("Price change", context.currency), "Of the price")  # fmt: skip
    for one in shown:
        _assumption_row(sheet, one)


def _open_assumptions(number: int, shown: int) -> str:
    """Return how many assumptions are open, and how many of them follow."""
    defaults = "its default" if number == 1 else "their defaults"
    moving = f"the {shown} that move" if shown > 1 else "the one that moves"
    rest = f"; {moving} the price most" if 0 < shown < number else ""
    return f"{counted(number, 'own assumption')} still at {defaults}{rest}"


def _assumption_row(sheet: SheetBuilder, one: Assumption) -> None:
    change, price = float(one.change or 0), float(sheet.context.estimate.bid.price)
    sheet.add(
        Cell(one.name, "text"),
        Cell(one.value or counted(one.rows, "row"), "figure"),
        Cell(one.move.removeprefix("to "), "figure"),
        ACROSS_GAP,
        Cell(one.where, "text"),
        Cell(whole(change), "signed"),
        Cell(change / price if price else 0.0, "pct"),
        height=LINE_ROW,
    )


def _warnings(sheet: SheetBuilder) -> None:
    warnings = sorted(sheet.context.estimate.warnings, key=lambda one: not one.serious)
    shown = warnings[:WARNINGS_SHOWN]
    rest = f", {len(shown)} of them here, all on Checks" if len(shown) < len(warnings) else ""
    _section(sheet, f"Open warnings: {len(warnings) or 'none'}{rest}")
    for warning in shown:
        sheet.merge(sheet.add(Cell(_warning_text(warning), "plain_wrap")), 1, LAST)


def _warning_text(warning: Problem) -> str:
    text = f"{warning.where}: {warning.message}"
    if len(text) > WARNING_LETTERS:
        text = f"{text[:WARNING_LETTERS].rpartition(' ')[0].rstrip(',;:')} ... (Checks)"
    return with_weight(warning, text)


def _judgment(sheet: SheetBuilder) -> None:
    """Add lines to write on, and who made and who reviewed the estimate."""
    context = sheet.context
    _section(sheet, "Judgment of the estimator")
    for _ in range(JUDGMENT_LINES):
        sheet.add(*[Cell(None, "sign")] * LAST, height=WRITING_ROW)
    made, at = context.estimate.job.cover.prepared_by, context.input("job", "", "prepared_by")
    line = Cell(None, "sign")
    name: Value = made or ""
    sheet.add(
        Cell("Prepared by", "label_low"), Cell(name, "sign", f'{at}&""' if at else None), line,
        None, Cell("Reviewed by, date", "label_low"), line, line, height=WRITING_ROW,
    )  # fmt: skip
