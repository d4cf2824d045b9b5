"""The Checks sheet: the light, warnings, control totals, cautions, and the standards' sources."""

from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import replace
from functools import partial
from types import MappingProxyType

from estimator.display import (
    FIGURE_LABELS,
    UNIT_LABELS,
    UnitSystem,
    counted,
    sentence,
    show,
    show_date,
    unit_of,
)
from estimator.errors import Problem
from estimator.models.estimate import Estimate
from estimator.models.joint import Source
from estimator.standards import tables
from estimator.standards.pipe_names import sizes_label
from estimator.units import to_si
from estimator.workbook.results.bid_text import cautions
from estimator.workbook.results.builder import INTERNAL, Context, SheetBuilder
from estimator.workbook.results.client_page import inches
from estimator.workbook.results.control_totals import TOLERANCES, control_totals
from estimator.workbook.results.headers_again import with_headers_again
from estimator.workbook.results.light import (
    DISAGREE,
    LIGHT_ROW,
    OK,
    OTHER_CHOICE,
    STALE,
    light_if_totals_agree,
    with_weight,
)
from estimator.workbook.results.price_words import BEFORE_TAX
from estimator.workbook.results.watch_sheet import ANCHOR, CHANGED, RATE
from estimator.workbook.sheet.look import LIGHT_HEIGHT
from estimator.workbook.sheet.source import column_letters
from estimator.workbook.sheet.spec import Cell, ConditionalRule, Row, SheetSpec

WIDTHS = inches(1.3, 2.35, 1.0, 1.0, 0.85, 0.6)
RESULT, GAP = len(WIDTHS), 7.5
PAGES_AT = 2
"""First column of the pages that each sheet prints, below what is printed."""
CHECK, SHOWN = "CHECK", 3
"""Result of totals that do not agree, and decimals to which their difference is worked out."""
CHEAPEST = "Run Estimate again for the cheapest equipment"
BID_PRICE = "Bid price"
SUMMARY_ROWS: Mapping[str, int] = MappingProxyType(
    {label: LIGHT_ROW + 1 + n for n, label in enumerate((BID_PRICE, "Start to finish", "Joints"))}
)
"""Rows of the results that the Start sheet shows: value in column B, its note in C."""


def checks_sheet(context: Context) -> SheetSpec:
    """Return the Checks sheet; its cell B3 is the overall light that other sheets show."""
    return with_headers_again(partial(_sheet, context))


def _sheet(context: Context, again: frozenset[int]) -> SheetSpec:
    sheet = SheetBuilder(context, "Checks", "Checks", again=again)
    sheet.result = INTERNAL
    sheet.last_row = LIGHT_ROW
    _summary(sheet)
    sheet.add(height=GAP)
    _warnings(sheet, context.estimate.warnings)
    first, last = _control_totals(sheet)
    _cautions(sheet)
    sheet.add(height=GAP)
    _sources(sheet, context.estimate)
    if context.estimate.tests:
        _hydrotest_rules(sheet)
    _light(sheet, first, last)
    return replace(
        sheet.spec(),
        widths=WIDTHS,
        freeze=(LIGHT_ROW, 0),
        exact_widths=True,
        landscape=False,
        closes_up=True,
        print_area=f"$A$1:${column_letters(len(WIDTHS))}${sheet.last_row}",
        conditional=(
            ConditionalRule(f"B{LIGHT_ROW}", "formula", f'$B${LIGHT_ROW}<>"{OK}"', "warn"),
            ConditionalRule(f"F{first}:F{last}", "text equals", CHECK, "warn"),
        ),
    )


def with_pages_printed(spec: SheetSpec, pages: Mapping[str, int]) -> SheetSpec:
    """Return the Checks sheet, laid out, with how many pages each sheet prints below its own."""
    before = [None] * (PAGES_AT - 1)
    lines = (
        (),
        (Cell("Pages that each sheet prints", "section"),),
        (*before, Cell("Sheet", "header"), Cell("Pages", "header_right")),
        *((*before, Cell(name, "text"), Cell(number, "int")) for name, number in pages.items()),
    )
    return replace(spec, rows=(*spec.rows, *(Row(cells) for cells in lines)))


def _light(sheet: SheetBuilder, first: int, last: int) -> None:
    """Set the overall light, live over the totals and the inputs that are watched."""
    estimate = sheet.context.estimate
    agree = all(sheet.value_at(row, RESULT) == OK for row in range(first, last + 1))
    good, count = light_if_totals_agree(estimate), len(estimate.warnings)
    watched = sheet.context.anchors[ANCHOR]
    noted = counted(count, "warning") if count else "no warnings"
    formula = _light_formula(f"$F${first}:$F${last}", watched, good)
    sheet.put(
        LIGHT_ROW,
        1,
        Cell("Overall status", "key"),
        Cell(good if agree else DISAGREE, "ok", formula),
        Cell(noted, "plain", f'IF($B${LIGHT_ROW}="{OTHER_CHOICE}","{CHEAPEST}","{noted}")'),
    )
    sheet.merge(LIGHT_ROW, 3, len(WIDTHS))
    sheet.heights[LIGHT_ROW] = LIGHT_HEIGHT


def _light_formula(totals: str, watched: str, good: str) -> str:
    def count(cells: str, result: str) -> str:
        return f'COUNTIF({cells},"{result}")>0'

    otherwise = (
        f'IF({count(watched, RATE)},"{OTHER_CHOICE}","{good}")' if good == OK else f'"{good}"'
    )
    return (
        f'IF({count(totals, CHECK)},"{DISAGREE}",'
        f'IF({count(watched, CHANGED)},"{STALE}",{otherwise}))'
    )


def _summary(sheet: SheetBuilder) -> None:
    """Set the results that the Start sheet shows."""
    context = sheet.context
    estimate, at = context.estimate, context.anchors
    plan, deadline = estimate.plan, estimate.job.dates.deadline
    start, finish = (show_date(day, context.system) for day in (plan.start, estimate.finish))
    early = (deadline - estimate.finish).days if deadline else None
    crews = counted(len({line.crew for line in plan.lines}), "crew")
    hours = sum(estimate.labor_hours.values())
    rows = (
        (
            Cell(float(estimate.bid.price), "key_num2", at["bid.price"]),
            f"{context.currency}, {BEFORE_TAX}",
        ),
        (Cell(f"{start} to {finish}", "key"), _before(early)),
        (
            Cell(estimate.butt_joints, "key_int", at["joints.butt_joints"]),
            f"butt joints in {hours:,.0f} labor-hours, by {crews}",
        ),
    )
    for (label, row), (value, note) in zip(SUMMARY_ROWS.items(), rows, strict=True):
        sheet.put(row, 1, Cell(label, "key"), value, Cell(note, "plain"))
        sheet.merge(row, 3, len(WIDTHS))
    sheet.last_row = max(SUMMARY_ROWS.values())


def _before(days: int | None) -> str:
    if days is None:
        return "no deadline"
    if days < 0:
        return f"{counted(-days, 'calendar day')} after the deadline"
    return f"{counted(days, 'calendar day')} before the deadline"


def _control_totals(sheet: SheetBuilder) -> tuple[int, int]:
    sheet.section("Control totals", len(WIDTHS))
    sheet.merge(sheet.add(Cell(TOLERANCES, "note")), 1, len(WIDTHS))
    heads = ("First total", "Second total", "Difference", "Result")
    titles = ("Totals that must agree", None, *heads)
    first = sheet.add(*(Cell(title, "header") for title in titles)) + 1
    sheet.merge(first - 1, 1, 2)
    for total in control_totals(sheet.context):
        row = sheet.next_row
        sheet.add(
            Cell(total.label, "text"),
            Cell(None, "text"),
            Cell(total.one, total.style, total.one_formula),
            Cell(total.other, total.style, total.other_formula),
            Cell(
                round(total.one - total.other, SHOWN),
                total.style,
                f"ROUND(C{row}-D{row},{SHOWN})",
            ),
            Cell(
                OK if abs(total.one - total.other) < total.tolerance else CHECK,
                "center",
                f'IF(ABS(E{row})<{total.tolerance},"{OK}","{CHECK}")',
            ),
        )
    last = sheet.last_row
    sheet.add(height=GAP)
    return first, last


def _warnings(sheet: SheetBuilder, warnings: Sequence[Problem]) -> None:
    sheet.section(f"Warnings ({len(warnings)})", len(WIDTHS))
    if warnings:
        _warning_table(sheet, warnings)
    else:
        sheet.add(Cell("None", "text"))
    sheet.add(height=GAP)


def _warning_table(sheet: SheetBuilder, warnings: Sequence[Problem]) -> None:
    header = sheet.text_row(len(WIDTHS), (Cell("Where", "header"),), Cell("Warning", "header"))
    for some in _by_kind(warnings):
        several = len(some) > 1
        if several:
            sheet.head_again(header)
            sheet.text_row(len(WIDTHS), (Cell(None, "shared"),), Cell(some[0].alike, "shared"))
        for one in some:
            sheet.head_again(header)
            text = with_weight(one, one.own if several else one.message)
            style = "warn_text" if one.serious else "text_wrap"
            sheet.text_row(len(WIDTHS), (Cell(one.where, "text"),), Cell(text, style))


def _by_kind(warnings: Sequence[Problem]) -> Sequence[Sequence[Problem]]:
    """Return the warnings as they come, those that end alike together.

    Those without their like stand first: a line of what others share has no end but the next one.
    """
    found: dict[tuple[str, int], list[Problem]] = {}
    for number, warning in enumerate(warnings):
        key = (warning.alike, 0) if warning.alike else ("", number)
        found.setdefault(key, []).append(warning)
    return sorted(found.values(), key=lambda some: len(some) > 1)


def _cautions(sheet: SheetBuilder) -> None:
    sheet.section("Cautions", len(WIDTHS))
    for number, text in enumerate(cautions(), 1):
        row = sheet.add(Cell(f"{number}  {text}", "term"))
        sheet.merge(row, 1, len(WIDTHS))


def _sources(sheet: SheetBuilder, estimate: Estimate) -> None:
    """Add each source of a figure; where only the confidence differs, with the sizes it is of."""
    sources: dict[Source, dict[tuple[str, str], None]] = {}
    for run in estimate.runs:
        size = run.geometry.od_system, run.geometry.size
        for source in (*run.geometry.sources, *run.fusion.sources):
            sources.setdefault(source, {})[size] = None
    said = Counter((source.figure, source.text) for source in sources)
    sheet.section("Sources of the standards' figures", len(WIDTHS))
    sheet.text_row(len(WIDTHS), (Cell("Figure", "header"),), Cell("Confidence: source", "header"))
    for source in sorted(sources, key=lambda s: (FIGURE_LABELS[s.figure], s.text)):
        several = said[source.figure, source.text] > 1
        text = f"{source.text}, for {sizes_label(sources[source])}" if several else source.text
        _sourced(sheet, FIGURE_LABELS[source.figure], source.confidence, text)


def _sourced(sheet: SheetBuilder, name: str, confidence: str, text: str) -> None:
    """Append a figure of a standard with how sure it is and where it is from."""
    lead = (Cell(sentence(name), "text_wrap"),)
    sheet.text_row(len(WIDTHS), lead, Cell(sentence(f"{confidence}: {text}"), "text_wrap"))


def _hydrotest_rules(sheet: SheetBuilder) -> None:
    """Add the rules of the test standard, each with its value, source and confidence."""
    sheet.add(height=GAP)
    sheet.section("Test standard rules behind the hydrotest times", len(WIDTHS))
    sheet.text_row(len(WIDTHS), (Cell("Rule", "header"),), Cell("Confidence: source", "header"))
    for rule in tables.load("hydrotest"):
        value = _value(rule) + _of_system(rule, sheet.context.system)
        texts = (tables.source_name(rule), value, rule["text"], rule["note"])
        message = ". ".join(sentence(str(text)) for text in texts if text)
        _sourced(sheet, str(rule["rule"]), str(rule["confidence"]), message)


def _of_system(rule: tables.Row, system: UnitSystem) -> str:
    """Return the one value of a rule in the unit of the page, where that is another."""
    nominal, unit = rule["nominal"], str(rule["unit"])
    kinds = (kind for kind, units in UNIT_LABELS.items() if unit in units.values())
    kind = next(kinds, "")
    if not kind or not isinstance(nominal, float) or unit_of(kind, system) == unit:
        return ""
    return f" ({show(to_si(nominal, unit), kind, system)})"


def _value(rule: tables.Row) -> str:
    """Return the value of a rule in words."""
    low, nominal, high = (rule[key] for key in ("low", "nominal", "high"))
    unit = rule["unit"]
    if low is not None and high is not None:
        return f"{low:g} to {high:g} {unit}; {nominal:g} used"
    if nominal is not None and low is None and high is None:
        return f"{nominal:g}%" if unit == "%" else f"{nominal:g} {unit}"
    if high is not None:
        return f"at most {high:g} {unit}"
    return "" if low is None else f"at least {low:g} {unit}"
