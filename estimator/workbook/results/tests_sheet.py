"""The Tests sheet: hydrotests by section and by day, and what their figures leave out."""

from collections.abc import Sequence
from dataclasses import replace
from functools import partial

from estimator.cost.hydrotest import added_site_days, person_days, water_unit, water_volume
from estimator.display import show_date
from estimator.models.hydrotest import (
    HydroTest,
    labor_hours_of_test,
    phase_hours,
    pressure_hours,
    repeat_labor_hours,
)
from estimator.models.job import Run
from estimator.standards import tables
from estimator.standards.pipe_names import ratio_label
from estimator.steps.cells import row_formula
from estimator.workbook.results.builder import (
    ROWS_OF_A_HEADER,
    Context,
    Scalar,
    SheetBuilder,
)
from estimator.workbook.results.headers_again import with_headers_again
from estimator.workbook.results.names_in_short import in_stretches
from estimator.workbook.results.result_columns import ResultColumn, result_columns
from estimator.workbook.sheet.source import column_letters
from estimator.workbook.sheet.spec import Cell, ConditionalRule, SheetSpec

PHASES = ("setup", "fill", "bleed", "raising", "expansion", "hold", "drain")
GAP = 7.5
"""Height of the blank rows between tables."""
BETWEEN = ROWS_OF_A_HEADER + 1
"""Rows from the last one of a part to the first of the next: a blank one and the header."""
NO_TEST_OF = "No hydrotest: {}"
NO_TESTS = "No hydrotests. No run on the Pipe schedule has a test section."
NOTES = (
    "Pipe at test pressure stores energy. Before pressurizing, restrain anything that can move "
    "and clear the area. Depressurize before anyone approaches a leak.",
    "These figures only reserve time and money. The test standard, the specification and the "
    "engineer of record set pressures, times, acceptance, and whether the pipe may be tested. "
    "Warm pipe takes less pressure.",
    "Not included: disinfection, sampling and waiting for results, repairs, water losses and "
    "make-up water. Water volume is for straight pipe.",
    "Repeat tests are in the cost at their probability, with the line left filled, but not in "
    "the dates. A test waits for its own runs only, not for backfill or thrust blocks.",
)


def _last() -> int:
    """Return the column at which the page ends; the last of the sections go on to it."""
    return len(result_columns("hydro_hours"))


def tests_sheet(context: Context) -> SheetSpec:
    """Return the Tests sheet; anchors ``tests.*`` point at its totals, sections and days."""
    return with_headers_again(partial(_sheet, context))


def _sheet(context: Context, again: frozenset[int]) -> SheetSpec:
    sheet = SheetBuilder(context, "Hydrotests", "Hydrotests", again=again)
    narrow = _last() - len(result_columns("hydrotest")) + 1
    columns = (*result_columns("hydrotest")[:-1], *result_columns("hydro_hours")[-narrow:])
    widths = tuple(column.width for column in columns)
    sheet.add()
    if not context.estimate.tests:
        row = sheet.add(Cell(NO_TESTS, "text_wrap"))
        sheet.merge(row, 1, _last())
        return replace(sheet.spec(), widths=widths)
    finish = show_date(context.estimate.finish, context.system)
    sheet.result = Cell(f"Finish with hydrotests {finish}", "result")
    _facts(sheet)
    _sections(sheet)
    pressure = _hours(sheet)
    _days(sheet)
    _notes(sheet)
    limit = tables.number(tables.find_row("hydrotest", "rule", "time at pressure"), "high")
    return replace(
        sheet.spec(),
        widths=widths,
        landscape=True,
        closes_up=True,
        conditional=tuple(
            ConditionalRule(cells, "formula", _above(cells, limit), "warn") for cells in pressure
        ),
    )


def _above(cells: str, limit: float) -> str:
    first = cells.partition(":")[0].replace("$", "")
    return f"{first}>{limit:g}"


def _facts(sheet: SheetBuilder) -> None:
    estimate = sheet.context.estimate
    shown: tuple[tuple[str, Scalar, str, str], ...] = (
        ("Fusion finish", estimate.plan.finish, "key_date_short", ""),
        ("Finish with hydrotests", estimate.finish, "key_date_short", ""),
        ("Test sections", len(estimate.tests), "key_int", "tests.sections"),
        ("Hydrotest person-days", person_days(estimate.tests), "key_int", "tests.person_days"),
        ("Test days with no fusion crew", added_site_days(estimate.plan, estimate.tests),
         "key_int", "tests.added_days"),
    )  # fmt: skip
    first, blocks = sheet.next_row, ((1, 3), (5, 8), (9, _last()))
    for number, (label, value, style, anchor) in enumerate(shown):
        (label_at, value_at), row = blocks[number // 2], first + number % 2
        sheet.put(row, label_at, Cell(label, "plain"))
        sheet.put(row, value_at, Cell(value, style))
        if anchor:
            sheet.anchor(anchor, value_at, row)
    sheet.last_row = first + 1
    sheet.add(height=GAP)


def _sections(sheet: SheetBuilder) -> None:
    """Add the table of sections: which runs, when, and with how much water."""
    columns = _with_ratio(sheet.context.estimate.job.runs, _dated(sheet.context, "hydrotest"))
    unit = water_unit(sheet.context.estimate.job)
    sheet.section("By section", _last())
    header = sheet.table_head(columns, {"water": unit})
    _run_on(sheet, header, columns)
    estimate = sheet.context.estimate
    order = {run.run_id: place for place, run in enumerate(estimate.job.runs)}
    for test in estimate.tests:
        _head_again(sheet, header, columns)
        runs = in_stretches(test.run_ids, order, len(test.run_ids))
        values = _values(test, unit) | {"runs": runs}
        _run_on(sheet, sheet.table_row(columns, values), columns)
    _run_on(sheet, sheet.add_totals(columns, header + 1, "tests"), columns)
    tested = {run_id for test in estimate.tests for run_id in test.run_ids}
    if untested := [run_id for run_id in order if run_id not in tested]:
        text = NO_TEST_OF.format(in_stretches(untested, order, len(untested)))
        sheet.merge(sheet.add(Cell(text, "note")), 1, _last())
    sheet.add(height=GAP)


def _with_ratio(runs: Sequence[Run], columns: Sequence[ResultColumn]) -> Sequence[ResultColumn]:
    """Return columns that call the ratio of diameter to wall as all pipe of the job is called."""
    word, *others = {ratio_label(run.od_system) for run in runs}
    if others:
        return columns
    return [replace(c, header=f"Highest {word}") if c.key == "dr" else c for c in columns]


def _dated(context: Context, table: str) -> Sequence[ResultColumn]:
    """Return the columns of a table, dates by weekday where they need no year."""
    columns = result_columns(table)
    if context.spans_years:
        return columns
    return [replace(c, style="weekday_date") if c.kind == "date" else c for c in columns]


def _run_on(sheet: SheetBuilder, row: int, columns: Sequence[ResultColumn]) -> None:
    """Let the last column of a table go on to the end of the page."""
    last = sheet.grid[row][len(columns) - 1]
    style = last.style if last is not None else "text"
    sheet.put(row, len(columns) + 1, *[Cell(None, style)] * (_last() - len(columns)))
    sheet.merge(row, len(columns), _last())


def _head_again(sheet: SheetBuilder, header: int, columns: Sequence[ResultColumn]) -> None:
    """Repeat a header before a row with which a page begins."""
    again = sheet.head_again(header)
    if again is not None:
        sheet.merge(again, len(columns), _last())


def _hours(sheet: SheetBuilder) -> Sequence[str]:
    """Add the table of hours; return the cells of the time at pressure, part by part."""
    columns = result_columns("hydro_hours")
    sheet.section("Hours by section", _last())
    header = sheet.table_head(columns)
    keys = [column.key for column in columns]
    letters = {key: column_letters(number) for number, key in enumerate(keys, 1)}
    made = {
        "at_pressure": row_formula(pressure_hours.worked(1.0, 1.0, 1.0)),
        "total": row_formula(phase_hours.worked(1.0, 1.0, 1.0, 1.0, 1.0)),
        "labor_hours": row_formula(labor_hours_of_test.worked(1, 1.0)),
        "repeat_labor_hours": row_formula(repeat_labor_hours.worked(1, 1.0, 1.0)),
    }
    tests = sheet.context.estimate.tests
    starts = [header + 1]
    for test in tests:
        if sheet.head_again(header) is not None:
            starts.append(sheet.next_row)
        row = sheet.next_row
        at = {key: f"{letter}{row}" for key, letter in letters.items()}
        formulas = {key: text.format(**at) for key, text in made.items()}
        sheet.table_row(columns, _hour_values(test), formulas)
    pressure = letters["at_pressure"]
    ends = [*(start - BETWEEN for start in starts[1:]), sheet.last_row]
    cells = [f"{pressure}{a}:{pressure}{b}" for a, b in zip(starts, ends, strict=True)]
    sheet.add_totals(columns, header + 1, "tests")
    sheet.add(height=GAP)
    return cells


def _values(test: HydroTest, unit: str) -> dict[str, Scalar]:
    return {
        "section": test.section,
        "ready": test.ready,
        "start": test.start,
        "pressure_date": test.pressure_date,
        "finish": test.finish,
        "crew": test.crew,
        "length": test.length_m,
        "dr": test.highest_dr,
        "water": water_volume(test, unit),
    }


def _hour_values(test: HydroTest) -> dict[str, Scalar]:
    hours = test.hours
    return {
        "section": test.section,
        **{phase: getattr(hours, phase) for phase in PHASES},
        "at_pressure": hours.at_pressure,
        "total": hours.total,
        "people": test.people,
        "labor_hours": test.labor_hours,
        "repeat_labor_hours": test.repeat_labor_hours,
    }


def _days(sheet: SheetBuilder) -> None:
    columns = _dated(sheet.context, "hydro_day")
    days = [day for test in sheet.context.estimate.tests for day in test.days]
    sheet.section("By day", _last())
    header = sheet.table_head(columns)
    _run_on(sheet, header, columns)
    for day in sorted(days, key=lambda d: (d.date, d.crew)):
        _head_again(sheet, header, columns)
        values: dict[str, Scalar] = {
            "section": day.section,
            "work": ", ".join(day.work),
            "date": day.date,
            "crew": day.crew,
            "hours": day.hours,
        }
        _run_on(sheet, sheet.table_row(columns, values), columns)
    hours = [column.key for column in columns].index("hours") + 1
    cells = f"{sheet.reference(hours, header + 1)}:{sheet.address(hours, sheet.last_row)}"
    sheet.context.anchors["tests.column.hours"] = cells
    _run_on(sheet, sheet.add_totals(columns, header + 1, "test_days"), columns)


def _notes(sheet: SheetBuilder) -> None:
    sheet.add(height=GAP)
    sheet.section("Cautions and exclusions", _last())
    for text in NOTES:
        row = sheet.add(Cell(text, "text_wrap"))
        sheet.merge(row, 1, _last())
