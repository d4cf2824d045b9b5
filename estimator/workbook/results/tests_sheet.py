"""The Tests sheet: hydrotests by section and by day, with the rules that their times rest on."""

import math
from dataclasses import replace

from estimator.cost.hydrotest import added_site_days, person_days, water_unit, water_volume
from estimator.models.hydrotest import (
    HydroTest,
    labor_hours_of_test,
    phase_hours,
    pressure_hours,
    repeat_labor_hours,
)
from estimator.standards import tables
from estimator.steps.cells import row_formula
from estimator.workbook.results.builder import Context, Scalar, SheetBuilder
from estimator.workbook.results.columns import ResultColumn, result_columns
from estimator.workbook.sheet.source import column_letters
from estimator.workbook.sheet.spec import Cell, ConditionalRule, SheetSpec

PHASES = ("setup", "fill", "bleed", "raising", "expansion", "hold", "drain")
NOTE_COLUMNS = 12
NOTE_LETTERS, RULE_LETTERS, RUN_LETTERS = 190, 85, 40
LINE_HEIGHT = 15.0
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


def tests_sheet(context: Context) -> SheetSpec:
    """Return the Tests sheet; anchors ``tests.*`` point at its totals, sections and days."""
    sheet = SheetBuilder(context, "Hydrotests", "Hydrotests")
    columns = result_columns("hydrotest")
    widths = tuple(column.width for column in columns)
    sheet.add()
    if not context.estimate.tests:
        row = sheet.add(Cell(NO_TESTS, "text_wrap"))
        sheet.merge(row, 1, len(columns))
        return replace(sheet.spec(), widths=widths)
    _facts(sheet)
    pressure = _sections(sheet, columns)
    _notes(sheet)
    _rules(sheet)
    _days(sheet)
    limit = tables.number(tables.find_row("hydrotest", "rule", "time at pressure"), "high")
    return replace(
        sheet.spec(),
        widths=widths,
        freeze=(2, 1),
        conditional=(ConditionalRule(pressure, "formula", _above(pressure, limit), "warn"),),
    )


def _above(cells: str, limit: float) -> str:
    first = cells.partition(":")[0].replace("$", "")
    return f"{first}>{limit:g}"


def _facts(sheet: SheetBuilder) -> None:
    estimate = sheet.context.estimate
    shown: tuple[tuple[str, Scalar, str, str], ...] = (
        ("Test sections", len(estimate.tests), "key_int", "tests.sections"),
        ("Fusion finish", estimate.plan.finish, "key_date", ""),
        ("Finish with hydrotests", estimate.finish, "key_date", ""),
        ("Hydrotest person-days", person_days(estimate.tests), "key_int", "tests.person_days"),
        ("Test days with no fusion crew", added_site_days(estimate.plan, estimate.tests),
         "key_int", "tests.added_days"),
    )  # fmt: skip
    top = sheet.next_row
    for column, (label, value, style, anchor) in enumerate(shown, 1):
        sheet.put(top, column, Cell(label, "header"))
        sheet.put(top + 1, column, Cell(value, style))
        if anchor:
            sheet.anchor(anchor, column, top + 1)
    sheet.heights[top] = 2 * LINE_HEIGHT
    sheet.last_row = top + 1
    sheet.add()


def _sections(sheet: SheetBuilder, columns: tuple[ResultColumn, ...]) -> str:
    """Add the table of sections; return the cells of its time at pressure."""
    context = sheet.context
    unit = water_unit(context.estimate.job)
    total_row = sheet.add()
    header = sheet.table_head(columns, {"water": unit})
    keys = [column.key for column in columns]
    letters = {key: column_letters(number) for number, key in enumerate(keys, 1)}
    made = {
        "at_pressure": row_formula(pressure_hours.worked(1.0, 1.0, 1.0)),
        "total": row_formula(phase_hours.worked(1.0, 1.0, 1.0, 1.0, 1.0)),
        "labor_hours": row_formula(labor_hours_of_test.worked(1, 1.0)),
        "repeat_labor_hours": row_formula(repeat_labor_hours.worked(1, 1.0, 1.0)),
    }
    for test in context.estimate.tests:
        row = sheet.next_row
        values = _values(test, unit)
        at = {key: f"{letter}{row}" for key, letter in letters.items()}
        formulas = {key: text.format(**at) for key, text in made.items()}
        sheet.table_row(columns, values, formulas)
        sheet.heights[row] = LINE_HEIGHT * math.ceil(len(str(values["runs"])) / RUN_LETTERS)
    sheet.put_totals(total_row, columns, header + 1, "tests")
    pressure = letters["at_pressure"]
    return f"{pressure}{header + 1}:{pressure}{sheet.last_row}"


def _values(test: HydroTest, unit: str) -> dict[str, Scalar]:
    hours = test.hours
    return {
        "section": test.section,
        "runs": ", ".join(test.run_ids),
        "ready": test.ready,
        "start": test.start,
        "pressure_date": test.pressure_date,
        "finish": test.finish,
        "crew": test.crew,
        "length": test.length_m,
        "dr": test.highest_dr,
        "water": water_volume(test, unit),
        **{phase: getattr(hours, phase) for phase in PHASES},
        "at_pressure": hours.at_pressure,
        "total": hours.total,
        "people": test.people,
        "labor_hours": test.labor_hours,
        "repeat_labor_hours": test.repeat_labor_hours,
    }


def _days(sheet: SheetBuilder) -> None:
    columns = result_columns("hydro_day")
    days = [day for test in sheet.context.estimate.tests for day in test.days]
    sheet.add()
    sheet.section("Hydrotests by day", len(columns))
    first = sheet.table_head(columns) + 1
    for day in sorted(days, key=lambda d: (d.date, d.crew)):
        values: dict[str, Scalar] = {
            "section": day.section,
            "work": ", ".join(day.work),
            "date": day.date,
            "crew": day.crew,
            "hours": day.hours,
        }
        row = sheet.table_row(columns, values)
        sheet.heights[row] = LINE_HEIGHT * math.ceil(len(str(values["work"])) / RUN_LETTERS)
    hours = len(columns)
    cells = f"{sheet.reference(hours, first)}:{sheet.address(hours, sheet.last_row)}"
    sheet.context.anchors["tests.column.hours"] = cells


def _rules(sheet: SheetBuilder) -> None:
    """Add the rules of the test standard, each with its value, source and confidence."""
    sheet.add()
    sheet.section("Test standard rules behind these times", NOTE_COLUMNS)
    heads = ("Rule", "Value", "Confidence", "Source", None, "Requirement")
    explained_at = len(heads)

    def add(*texts: str | None, style: str) -> int:
        blanks = [Cell(None, style)] * (NOTE_COLUMNS - len(texts))
        row = sheet.add(*(Cell(text, style) for text in texts), *blanks)
        sheet.merge(row, explained_at - 2, explained_at - 1)
        sheet.merge(row, explained_at, NOTE_COLUMNS)
        return row

    add(*heads, style="header")
    for rule in tables.load("hydrotest"):
        message = ". ".join(str(rule[key]) for key in ("text", "note") if rule[key])
        name, sure = str(rule["rule"]), str(rule["confidence"])
        row = add(
            name, _value(rule), sure, tables.source_name(rule), None, message, style="text_wrap"
        )
        sheet.heights[row] = LINE_HEIGHT * math.ceil(len(message) / RULE_LETTERS)


def _value(rule: tables.Row) -> str:
    """Return the value of a rule in words."""
    low, nominal, high = (rule[key] for key in ("low", "nominal", "high"))
    unit = rule["unit"]
    if low is not None and high is not None:
        return f"{low:g} to {high:g} {unit}; {nominal:g} used"
    if nominal is not None and low is None and high is None:
        return f"{nominal:g} {unit}"
    if high is not None:
        return f"at most {high:g} {unit}"
    return "" if low is None else f"at least {low:g} {unit}"


def _notes(sheet: SheetBuilder) -> None:
    sheet.add()
    sheet.section("Cautions and exclusions", NOTE_COLUMNS)
    for text in NOTES:
        row = sheet.add(Cell(text, "text_wrap"))
        sheet.merge(row, 1, NOTE_COLUMNS)
        sheet.heights[row] = LINE_HEIGHT * math.ceil(len(text) / NOTE_LETTERS)
