"""The Risk sheet: ranges of finish and price, contingency, what moves the price, charts."""

from collections.abc import Sequence
from dataclasses import replace

from estimator.display import counted, sentence
from estimator.models.risk import NoRisk, Risk
from estimator.workbook.results.builder import INTERNAL, Context, SheetBuilder, whole, whole_formula
from estimator.workbook.results.result_columns import result_columns
from estimator.workbook.sheet.cell_text import area_of
from estimator.workbook.sheet.look import INK, OCHRE, SECTION_ROW, bare_steps, money_steps
from estimator.workbook.sheet.source import column_letters
from estimator.workbook.sheet.spec import Cell, ChartSpec, ConditionalRule, SheetSpec

WIDTHS = (22, 17, 17, 16, 17, 16, 16, 10, 10)
PERCENT = 100
NO_FIGURES = "No risk figures"
"""How the page begins that has only the reason why there are none."""
SAME, OLD = "OK", "Prices changed: run Estimate"
CHART_ROWS, CHART_SPLIT, CHANGE_STEPS = 15, 5, 10
BESIDE = 5, 7
"""Columns of a name and its value beside the facts."""
HALF_PAGE_DATES = 4
GAP = 4.5
ONE_FACTOR = "One factor at a time, others as planned (above 1: more crew time, rework, days, cost)"
LATE_P10 = (
    "Even the early finish (P10) is later than planned: the ranges on Risk inputs reach much "
    "further to the slow side than to the fast side, so the plan is close to the best case. "
    "Check the ranges, or plan with slower figures."
)
NOTE_HEIGHT, NOTE_LETTERS = 15.0, 140


def risk_sheet(context: Context) -> SheetSpec:
    """Return the Risk sheet; without figures it says why there are none."""
    sheet = SheetBuilder(context, "Risk", "Risk")
    sheet.result = INTERNAL
    risk = context.estimate.risk
    sheet.add(height=GAP)
    if isinstance(risk, NoRisk):
        row = sheet.add(Cell(f"{NO_FIGURES}: {risk.reason}", "warn_text"))
        sheet.merge(row, 1, len(WIDTHS))
        sheet.heights[row] = 45
        return replace(sheet.spec(), widths=WIDTHS, landscape=False)
    status = _facts(sheet, risk)
    _p_table(sheet, risk)
    swings = _swings(sheet, risk)
    table_ends = sheet.last_row + 1
    charts_row = table_ends + 1
    sheet.last_row = charts_row + 2 * (CHART_ROWS + 1)
    bins, finishes = _distribution(sheet, risk)
    _notes(sheet, risk)
    charts = _charts(sheet, risk, charts_row, (swings, bins, finishes))
    for chart in charts:
        _heading(sheet, chart)
    return replace(
        sheet.spec(),
        widths=WIDTHS,
        freeze=(2, 0),
        conditional=(ConditionalRule(status, "text equals", OLD, "warn"),),
        charts=charts,
        closes_up=True,
        breaks=(table_ends,),
    )


def _facts(sheet: SheetBuilder, risk: Risk) -> str:
    """Add what the figures stand beside; return the cell that says whether prices changed."""
    anchors = sheet.context.anchors
    top = sheet.section("Plan, and all trials", len(WIDTHS))
    planned = sheet.add(Cell("Bid price at the risk run", "text"), Cell(risk.base_price, "money"))
    sheet.anchor("risk.base", 2, planned)
    now = sheet.add(
        Cell("Bid price now", "text"),
        Cell(risk.base_price, "money", anchors["bid.price"]),
        Cell(SAME, "ok_after", f'IF(ABS(B{planned + 1}-B{planned})<0.005,"{SAME}","{OLD}")'),
    )
    bare = sheet.add(
        Cell("Without its contingency", "text"),
        Cell(risk.bare_price, "money"),
    )
    sheet.anchor("risk.bare", 2, bare)
    sheet.add(Cell("Planned finish", "text"), Cell(risk.base_finish, "date_short_right"))
    sheet.add(Cell("Average bid price", "text"), Cell(risk.average_price, "money"))
    sheet.add(Cell("Average finish", "text"), Cell(risk.average_finish, "date_short_right"))
    if risk.deadline_share is not None:
        sheet.add(
            Cell("Probability of meeting the deadline", "text"), Cell(risk.deadline_share, "pct")
        )
    sheet.add()
    _contingency(sheet, risk, top)
    return f"C{now}"


def _p_table(sheet: SheetBuilder, risk: Risk) -> None:
    columns = result_columns("risk_p")
    sheet.section("Finish and price by probability (planning ranges)", len(WIDTHS))
    sheet.table_head(columns)
    base = sheet.context.anchors["risk.base"].rpartition("!")[2]
    for line in risk.lines:
        row = sheet.next_row
        sheet.table_row(
            columns,
            {
                "share": line.share,
                "finish": line.finish,
                "finish_error": line.finish_error_days,
                "job_cost": line.job_cost,
                "price": line.price,
                "above": whole(line.price - risk.base_price),
                "price_error": line.price_error,
            },
            {"above": whole_formula(f"E{row}-{base}")},
        )
    if risk.lines[0].finish > risk.base_finish:
        row = sheet.add(Cell(LATE_P10, "warn_text"))
        sheet.merge(row, 1, len(WIDTHS))
        sheet.heights[row] = 2 * NOTE_HEIGHT
    sheet.add()


def _contingency(sheet: SheetBuilder, risk: Risk, top: int) -> None:
    """Set what contingency the trials ask for beside the facts, from their heading on."""
    label_at, value_at = BESIDE
    sheet.put(top, label_at, Cell("Contingency on job cost", "section"))
    chosen = f"{risk.chosen_share:.0%}"
    rows: tuple[tuple[str, float, str], ...] = (
        (f"Needed to cover {chosen} of trials", risk.needed_contingency, "money"),
        ("As a percent of job cost", risk.needed_contingency_share, "pct"),
        ("In the bid at the risk run", risk.bid_contingency, "money"),
        ("Trials at or below the bid price", risk.covered_share, "pct"),
    )
    for row, (label, value, style) in enumerate(rows, top + 1):
        blanks = [Cell(None, "text")] * (value_at - label_at - 1)
        sheet.put(row, label_at, Cell(label, "text"), *blanks, Cell(value, style))
        sheet.merge(row, label_at, value_at - 1)


def _swings(sheet: SheetBuilder, risk: Risk) -> tuple[int, int]:
    columns = result_columns("risk_swing")
    sheet.section(ONE_FACTOR, len(WIDTHS))
    first = sheet.table_head(columns) + 1
    base = sheet.context.anchors["risk.bare"].rpartition("!")[2]
    for swing in risk.swings:
        row = sheet.next_row
        values = {**swing.model_dump(), "factor": sentence(swing.factor)}
        values["low_change"] = whole(swing.low_price - risk.bare_price)
        values["high_change"] = whole(swing.high_price - risk.bare_price)
        formulas: dict[str, str | None] = {
            "low_change": whole_formula(f"D{row}-{base}"),
            "high_change": whole_formula(f"E{row}-{base}"),
        }
        sheet.table_row(columns, values, formulas)
    return first, sheet.last_row


def _distribution(sheet: SheetBuilder, risk: Risk) -> tuple[tuple[int, int], tuple[int, int]]:
    """Add the tables under the charts; return their first and last rows."""
    sheet.section("Distribution of all trials", len(WIDTHS))
    head = sheet.next_row
    price, finish = result_columns("risk_bin"), result_columns("risk_finish")
    right = len(price) + 2
    sheet.put_head(head, 1, price)
    sheet.put_head(head, right, finish)
    first = head + 1
    for row, line in enumerate(risk.price_bins, first):
        shown = {**line.model_dump(), "so_far": line.share_so_far * PERCENT}
        sheet.put(row, 1, *sheet.table_cells(price, shown))
    for row, point in enumerate(risk.finish_shares, first):
        shown = {"date": point.date, "so_far": point.share_so_far * PERCENT}
        sheet.put(row, right, *sheet.table_cells(finish, shown))
    last_bin = first + len(risk.price_bins) - 1
    last_finish = first + len(risk.finish_shares) - 1
    sheet.last_row = max(last_bin, last_finish)
    sheet.add()
    return (first, last_bin), (first, last_finish)


def _notes(sheet: SheetBuilder, risk: Risk) -> None:
    sheet.section("About these figures", len(WIDTHS))
    for text in (
        f"{counted(risk.trials, 'trial')}, seed {risk.seed}, interpolated between "
        f"{counted(risk.plans, 'plan')} of "
        "the whole job. The ranges are on Risk inputs; those supplied with the workbook are "
        "assumptions.",
        "Each factor is drawn once per trial and applies to every run, day and cost line. "
        "Factors are drawn independently.",
        "Not included: scope changes, late pipe, breakdowns, ground conditions, and anything "
        "with no row on Risk inputs. These are planning ranges, not a promise of date or price.",
        "The trials do not update when a price changes. Run Estimate again.",
    ):
        row = sheet.add(Cell(text, "text_wrap"))
        sheet.merge(row, 1, len(WIDTHS))
        sheet.heights[row] = NOTE_HEIGHT * (1 + len(text) // NOTE_LETTERS)


def _heading(sheet: SheetBuilder, chart: ChartSpec) -> None:
    """Set what a chart shows above it."""
    first, last = (area_of(cell) for cell in chart.anchor)
    blanks = [Cell(None, "section")] * (last.left - first.left - 1)
    sheet.put(first.top - 1, first.left, Cell(chart.title, "section"), *blanks)
    sheet.heights[first.top - 1] = SECTION_ROW


def _charts(
    sheet: SheetBuilder, risk: Risk, top: int, tables: Sequence[tuple[int, int]]
) -> Sequence[ChartSpec]:
    """Return the charts over the rows of three tables: swings, price bins, finishes."""
    swings, bins, finishes = tables
    currency = sheet.context.currency
    one_bin = risk.price_bins[-1]
    prices, unit = bare_steps(currency, one_bin.high, one_bin.high - one_bin.low)
    bare = risk.bare_price
    most = max((abs(p - bare) for s in risk.swings for p in (s.low_price, s.high_price)), default=0)

    def column(number: int, rows: tuple[int, int]) -> str:
        return f"{sheet.reference(number, rows[0])}:{sheet.address(number, rows[1])}"

    def place(across: int, down: int) -> tuple[str, str]:
        left = 1 + across * (CHART_SPLIT - 1)
        right = len(WIDTHS) + 1 if across else CHART_SPLIT
        row = top + 1 + down * (CHART_ROWS + 1)
        return f"{column_letters(left)}{row}", f"{column_letters(right)}{row + CHART_ROWS - 1}"

    return (
        ChartSpec(
            kind="bar",
            title="Bid price change, one factor at a time",
            x_title="",
            y_title=f"Price change, {currency}",
            values_from=None,
            values_format=money_steps(currency, most, most / CHANGE_STEPS),
            categories=column(1, swings),
            series=(
                ("Factor at low", column(6, swings), INK),
                ("Factor at high", column(7, swings), OCHRE),
            ),
            anchor=place(0, 0),
        ),
        ChartSpec(
            kind="column",
            title="Bid price, all trials",
            x_title=f"Bid price up to, each band, {unit}",
            y_title="Trials",
            categories=column(2, bins),
            categories_format=prices,
            series=(("Trials", column(3, bins), INK),),
            anchor=place(1, 0),
        ),
        ChartSpec(
            kind="line",
            title="Probability of a bid price at or below",
            x_title=f"Bid price, {unit}",
            y_title="Percent of trials",
            values_to=PERCENT,
            categories=column(2, bins),
            categories_format=prices,
            series=(("Percent of trials", column(4, bins), INK),),
            anchor=place(0, 1),
        ),
        ChartSpec(
            kind="line",
            title="Probability of finishing by date",
            x_title="Date",
            most_dates=HALF_PAGE_DATES,
            y_title="Percent of trials",
            values_to=PERCENT,
            categories=column(6, finishes),
            series=(("Percent of trials", column(7, finishes), INK),),
            anchor=place(1, 1),
        ),
    )
