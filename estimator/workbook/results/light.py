"""The overall light: where it is, what it says, and how every result sheet shows it."""

from collections.abc import Mapping
from dataclasses import replace

from estimator.models.estimate import Estimate
from estimator.workbook.sheet.names import quoted
from estimator.workbook.sheet.spec import Cell, ConditionalRule, SheetSpec

OK = "OK"
SERIOUS = "Read the warnings on Checks"
LIGHT_ROW, LIGHT_COLUMN = 3, "B"
HEADING_ROW = 2
LABEL = "Check status: "


def light_if_totals_agree(estimate: Estimate) -> str:
    """Return what the light says right after an estimate whose control totals agree."""
    return SERIOUS if any(warning.serious for warning in estimate.warnings) else OK


def light_reference(sheet_names: Mapping[str, str]) -> str:
    """Return the reference of the light, on the Checks sheet of this workbook."""
    return f"{quoted(sheet_names['Checks'])}!${LIGHT_COLUMN}${LIGHT_ROW}"


def heading(estimate: Estimate, sheet_names: Mapping[str, str], text: str) -> Cell:
    """Return the line below the title of a result sheet: the light, and then a text."""
    tail = f". {text}"
    escaped = tail.replace('"', '""')
    formula = f'"{LABEL}"&{light_reference(sheet_names)}&"{escaped}"'
    return Cell(f"{LABEL}{light_if_totals_agree(estimate)}{tail}", "subtitle", formula)


def with_warning_color(spec: SheetSpec) -> SheetSpec:
    """Return a result sheet whose heading takes the warning color while the light is not OK."""
    cell, good = f"$A${HEADING_ROW}", LABEL + OK
    beyond = good[:-1] + chr(ord(good[-1]) + 1)
    operand = f'({cell}<"{good}")+({cell}>="{beyond}")'  # does not begin with it, in any language
    rule = ConditionalRule(cell.replace("$", ""), "formula", operand, "warn")
    return replace(spec, conditional=(*spec.conditional, rule))
