"""The Log summary sheet: what the joint log adds up to, what is open in it, and its charts."""

from collections.abc import Callable, Sequence
from dataclasses import replace
from typing import Literal

from estimator.display import counted
from estimator.models.places import Places
from estimator.progress.control_chart import GROUP, p_chart
from estimator.progress.joint_log import (
    TRIAL,
    CouponDue,
    JudgedJoint,
    JudgedLog,
    Tally,
    reject_share,
)
from estimator.steps.cells import row_formula
from estimator.workbook.results.builder import Context, SheetBuilder
from estimator.workbook.results.result_columns import ResultColumn, result_columns
from estimator.workbook.sheet import look
from estimator.workbook.sheet.names import link_to
from estimator.workbook.sheet.source import column_letters
from estimator.workbook.sheet.spec import Cell, ChartSpec, SheetSpec

LOG_SUMMARY = "Log summary"
ABOUT = "Written by estimator log: run it again after changes"
TALLIES: Sequence[tuple[str, Literal["run_id", "operator", "machine_no"]]] = (
    ("By run", "run_id"),
    ("By operator", "operator"),
    ("By machine", "machine_no"),
)
TRIALS = "Trial fusions"
"""Name of the row below the total of a table that counts them apart."""
LISTS: tuple[tuple[str, Callable[[JudgedLog], Sequence[JudgedJoint]]], ...] = (
    ("Open rejects: cut out and replace", lambda judged: judged.open_rejects),
    ("On hold", lambda judged: judged.with_verdict("hold")),
    ("Incomplete", lambda judged: judged.with_verdict("incomplete")),
)
"""What is listed joint by joint; a joint out of limits that is not replaced is an open reject."""
REJECTS = ("rejected", "out_of_limits", "made")
"""What the reject share is worked out from."""
CHART_ROWS, COLUMNS = 15, 8
CAUSES_AT, AXIS_ROWS, BAR_ROWS = 3, 3, 2
"""Column with which the bars of causes begin, and the rows of their axis and of a bar."""


def log_sheet(
    context: Context, judged: JudgedLog, due: Sequence[CouponDue], places: Places
) -> SheetSpec:
    """Return the Log summary sheet of a log; ``places`` say where its joints stand."""
    sheet = SheetBuilder(context, LOG_SUMMARY, LOG_SUMMARY, ABOUT)
    sheet.result = Cell(accepted_of(judged), "result")
    for title, key in TALLIES:
        _tally(sheet, title, judged, key)
    for title, listed in LISTS:
        _listed(sheet, title, listed(judged), places)
    _due(sheet, due)
    charts = [*_causes(sheet, judged), *_control(sheet, judged)]
    widths = [column.width for column in result_columns("log_tally")]
    return replace(sheet.spec(), widths=widths, freeze=(2, 0), charts=charts, closes_up=True)


def accepted_of(judged: JudgedLog) -> str:
    """Return how many joints are accepted, trial fusions apart: Status leaves those out."""
    joints, trials = (part.tally("") for part in (judged.of_the_job, judged.trials))
    accepted, made = (joints.accepted, joints.made) if joints else (0, 0)
    text = f"{accepted:,} of {counted(made, 'joint')} made are accepted"
    return f"{text}, {trials.accepted:,} of {counted(trials.made, TRIAL)}" if trials else text


def _tally(
    sheet: SheetBuilder,
    title: str,
    judged: JudgedLog,
    key: Literal["run_id", "operator", "machine_no"],
) -> None:
    """Add a table of the job's joints, its total, and the trial fusions apart below it."""
    columns = result_columns("log_tally")
    tallies, trials = judged.of_the_job.tallies(key), judged.trials.tally(TRIALS)
    if not tallies:
        return
    sheet.add()
    sheet.section(title, COLUMNS)
    first = sheet.table_head(columns) + 1
    for tally in tallies:
        _tally_row(sheet, columns, tally)
    total = sheet.add_totals(columns, first, f"log.{key}")
    rejected, out, made = (sum(getattr(one, of) for one in tallies) for of in REJECTS)
    share = Cell(reject_share(rejected, out, made), "total_pct_or_none", _share(columns, total))
    sheet.put(total, len(columns), share)
    if trials:
        _tally_row(sheet, columns, trials)


def _tally_row(sheet: SheetBuilder, columns: Sequence[ResultColumn], tally: Tally) -> None:
    counts = {column.key: getattr(tally, column.key) for column in columns[:-1]}
    formula = _share(columns, sheet.next_row)
    sheet.table_row(columns, counts | {"share": tally.reject_share}, {"share": formula})


def _share(columns: Sequence[ResultColumn], row: int) -> str:
    """Return the formula of the reject share of a row of a table."""
    cells = {column.key: f"{column_letters(n)}{row}" for n, column in enumerate(columns, 1)}
    return row_formula(reject_share.worked(1, 1, 1)).format(**cells)


def _listed_head(sheet: SheetBuilder, title: str, columns: Sequence[ResultColumn]) -> None:
    """Add title and header of a list, the header line across the page."""
    sheet.add()
    sheet.section(title, COLUMNS)
    head = sheet.table_head(columns)
    sheet.put(head, len(columns) + 1, *[Cell(None, "header")] * (COLUMNS - len(columns)))


def _listed(sheet: SheetBuilder, title: str, joints: Sequence[JudgedJoint], places: Places) -> None:
    if not joints:
        return
    columns = result_columns("log_open")
    _listed_head(sheet, f"{title}: {len(joints)}", columns)
    for one in joints:
        joint = one.joint
        where = places.cell("joint_log", joint.joint_no, "joint_no")
        row = sheet.table_row(
            columns,
            {
                "joint_no": joint.joint_no,
                "run_id": joint.run_id,
                "verdict": one.verdict,
                "operator": joint.operator,
                "machine_no": joint.machine_no,
                "reason": "; ".join(one.reasons),
            },
            {"joint_no": None if where is None else link_to(where, joint.joint_no)},
        )
        sheet.merge(row, len(columns), COLUMNS)


def _due(sheet: SheetBuilder, due: Sequence[CouponDue]) -> None:
    """Add the coupons that are due."""
    if not due:
        return
    columns = result_columns("log_due")
    _listed_head(sheet, f"Coupons due: {len(due)}", columns)
    for one in due:
        values = {key: getattr(one, key) for key in ("operator", "machine_no", "pipe", "reason")}
        row = sheet.table_row(columns, values)
        sheet.merge(row, len(columns), COLUMNS)


def _causes(sheet: SheetBuilder, judged: JudgedLog) -> Sequence[ChartSpec]:
    """Add rejects by cause, the most frequent first, and their bars beside them."""
    causes = judged.causes()
    if not causes:
        return ()
    columns = result_columns("log_cause")
    sheet.add()
    sheet.section("Rejects by cause", COLUMNS)
    first = sheet.table_head(columns) + 1
    for cause, joints in causes:
        sheet.table_row(columns, {"cause": cause, "joints": joints})
    rows = min(CHART_ROWS, AXIS_ROWS + BAR_ROWS * len(causes))
    chart = ChartSpec(
        kind="bar",
        title="Rejects by cause",
        x_title="",
        y_title="Joints",
        categories=_range(sheet, 1, first),
        series=[("Joints", _range(sheet, 2, first), look.INK)],
        anchor=_beside(first, rows),
    )
    sheet.last_row = max(sheet.last_row, first + rows)
    return (chart,)


def _beside(first: int, rows: int) -> tuple[str, str]:
    """Return the place of a chart beside a table, whose first row stands in ``first``."""
    left, right = (column_letters(column) for column in (CAUSES_AT, COLUMNS + 1))
    return f"{left}{first}", f"{right}{first + rows}"


def _control(sheet: SheetBuilder, judged: JudgedLog) -> Sequence[ChartSpec]:
    """Add the share of rejects by group of joints with the limits of chance.

    One group alone has no line to draw.
    """
    rejected = judged.rejects_in_order
    points = p_chart(rejected)
    if not points:
        return ()
    columns = result_columns("log_chart")
    mean = sum(rejected) / len(rejected)
    sheet.add()
    sheet.section(
        f"Percent of rejects by {GROUP} joints, trial fusions too, with 3-sigma limits", COLUMNS
    )
    grouped, made = points[-1].last, len(rejected)
    if grouped < made:
        text = f"Joints {grouped + 1} to {made}: too few for a group; in the average."
        sheet.merge(sheet.add(Cell(text, "note")), 1, COLUMNS)
    first = sheet.table_head(columns) + 1
    for point in points:
        sheet.table_row(
            columns,
            {
                "joints": f"{point.first} to {point.last}",
                "rejects": point.rejects,
                "share": point.share,
                "mean": mean,
                "lower": point.lower,
                "upper": point.upper,
                "beyond": "yes" if point.out_of_control else None,
            },
        )
    if len(points) == 1:
        return ()
    at = {column.key: number for number, column in enumerate(columns, 1)}
    series = (
        ("Share", "share", look.OCHRE),
        ("Average", "mean", look.INK),
        ("Upper limit", "upper", look.MUTED),
        ("Lower limit", "lower", look.MUTED),
    )
    chart = ChartSpec(
        kind="line",
        title="Percent of rejects by group of joints",
        x_title="Joints in the order made",
        y_title="",
        categories=_range(sheet, 1, first),
        series=[(name, _range(sheet, at[key], first), color) for name, key, color in series],
        anchor=_anchor(sheet),
        values_format="0%",
        dashes={"Upper limit": "dash", "Lower limit": "dash"},
        marked=("Share",),
    )
    sheet.last_row += CHART_ROWS
    return (chart,)


def _range(sheet: SheetBuilder, column: int, first: int) -> str:
    """Return a column of the table that was just written."""
    return f"{sheet.reference(column, first)}:{sheet.address(column, sheet.last_row)}"


def _anchor(sheet: SheetBuilder) -> tuple[str, str]:
    first = sheet.last_row + 2
    return f"A{first}", f"{column_letters(COLUMNS + 1)}{first + CHART_ROWS - 2}"
