"""The overall light: where it is, what it says, and how every result sheet shows it."""

import re
from collections.abc import Mapping
from dataclasses import replace

from estimator.errors import Problem
from estimator.models.estimate import Estimate
from estimator.workbook.sheet.names import quoted
from estimator.workbook.sheet.source import column_letters
from estimator.workbook.sheet.spec import Cell, ConditionalRule, SheetSpec

OK = "OK"
SERIOUS = "Read the warnings"
STALE = "Inputs changed: run Estimate again"
DISAGREE = "CHECK: totals disagree"
OTHER_CHOICE = "OK; rental or fuel price changed"
LIGHT_ROW, LIGHT_COLUMN = 3, "B"
HEADING_ROW = 2
LABEL = "Check status: "
MADE = "estimate of"
"""What begins the date in the heading."""
MORE = ":;"
"""What begins the part of a status that only the Checks sheet has room for."""


def light_if_totals_agree(estimate: Estimate) -> str:
    """Return what the light says right after an estimate whose control totals agree."""
    return SERIOUS if any(warning.serious for warning in estimate.warnings) else OK


def with_weight(warning: Problem, text: str) -> str:
    """Return what is said of a warning, a serious one with a word that gray print shows, too."""
    return f"SERIOUS. {text}" if warning.serious else text


def light_reference(sheet_names: Mapping[str, str]) -> str:
    """Return the reference of the light, on the Checks sheet of this workbook."""
    return f"{quoted(sheet_names['Checks'])}!${LIGHT_COLUMN}${LIGHT_ROW}"


def heading(estimate: Estimate, sheet_names: Mapping[str, str], text: str) -> Cell:
    """Return what ends the second line of a result sheet's title: the light, and then a text."""
    tail, light = f", {text}", light_reference(sheet_names)
    escaped = tail.replace('"', '""')
    end = ",".join(f'FIND("{mark}",{light}&"{mark}")' for mark in MORE)
    formula = f'"{LABEL}"&LEFT({light},MIN({end})-1)&"{escaped}"'
    return Cell(f"{LABEL}{light_if_totals_agree(estimate)}{tail}", "job_right", formula)


def longest_heading(estimate: Estimate, text: str) -> str:
    """Return the longest text that the heading shows, whatever becomes of the inputs."""
    shown = (re.split(f"[{MORE}]", status)[0] for status in (STALE, DISAGREE, OTHER_CHOICE))
    return f"{LABEL}{max(light_if_totals_agree(estimate), *shown, key=len)}, {text}"


def _heading_column(spec: SheetSpec) -> int | None:
    """Return the column of the light in the title of a sheet, None where it does not show it."""
    cells = spec.rows[HEADING_ROW - 1].cells
    found = (n for n, cell in enumerate(cells, 1) if cell and cell.style.startswith("job_right"))
    return next(found, None)


def with_warning_color(spec: SheetSpec) -> SheetSpec:
    """Return a result sheet whose heading takes the warning color while the light is not OK.

    It gets no tint, since it runs over the cells beside its own.
    """
    column = _heading_column(spec)
    if column is None:
        return spec
    cell, good = f"${column_letters(column)}${HEADING_ROW}", LABEL + OK
    beyond = good[:-1] + chr(ord(good[-1]) + 1)
    operand = f'({cell}<"{good}")+({cell}>="{beyond}")'  # does not begin with it, in any language
    rule = ConditionalRule(cell.replace("$", ""), "formula", operand, "warn_title")
    return replace(spec, conditional=(*spec.conditional, rule))
