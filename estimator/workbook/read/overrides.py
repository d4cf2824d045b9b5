"""Rows of the Scenarios table into changes of the job, each value read as its input would be."""

import datetime as dt
import re

from estimator.display import UnitSystem, show_date
from estimator.errors import EstimatorError
from estimator.input_errors.scenarios import TABLE
from estimator.inputs.column import Column, measured_kind, usual_unit
from estimator.inputs.dictionary import Field, overridable
from estimator.models.job import Override
from estimator.workbook.read.cells import to_text
from estimator.workbook.read.columns import read_value
from estimator.workbook.read.findings import Finding, Findings
from estimator.workbook.read.parse_rows import Inputs, Row, Settings
from estimator.workbook.read.unit_text import labels_of_kind, unit_label
from estimator.workbook.sheet.source import CellValue

_UNIT_AT_END = re.compile(r"[^\d\s.,;:-]+$")


def read_overrides(inputs: Inputs, settings: Settings, findings: Findings) -> tuple[Override, ...]:
    """Return the changes of all scenarios; what is wrong goes to the findings with its cell."""
    rows = [row for row in inputs.rows(TABLE) if {"scenario", "input", "value"} <= set(row.values)]
    overrides: list[Override] = []
    for row in rows:
        header = row.values["input"]
        try:
            overrides.append(_override(row, overridable()[header], settings))
        except EstimatorError as error:
            findings.add([Finding(row.cell("value"), f"Value: {header}: {error}")])
    return tuple(overrides)


def _override(row: Row, field: Field, settings: Settings) -> Override:
    typed = row.values["value"]
    column = column_for(field, typed, settings.system, dates_1904=settings.dates_1904)
    value = read_value(typed, column, {})
    return Override.model_validate(
        {
            "scenario": row.values["scenario"],
            "key": field.key,
            "value": value,
            "text": f"{field.header} {as_text(typed, value, column, settings.system)}",
            "note": row.values.get("note"),
            "alternate": bool(row.values.get("alternate")),
        }
    )


def column_for(
    field: Field, typed: CellValue, system: UnitSystem, *, dates_1904: bool = False
) -> Column:
    """Return the input as it would stand in the workbook, in the unit that a text ends with."""
    unit, kind = usual_unit(field, system), measured_kind(field)
    ending = _UNIT_AT_END.search(typed.strip()) if isinstance(typed, str) else None
    if kind and ending is not None:
        label = unit_label(ending[0])
        unit = label if label in labels_of_kind(kind) else unit
    return Column(field, unit, dates_1904)


def as_text(typed: CellValue, value: object, column: Column, system: UnitSystem) -> str:
    """Return a value as the user reads it again: with its unit, a share in percent."""
    if column.field.kind == "percent" and isinstance(value, float):
        return f"{100 * value:.10g}%"
    if isinstance(value, dt.date):
        return show_date(value, system)
    if isinstance(value, str):
        return value
    if isinstance(typed, str) or not column.number_unit:
        return to_text(typed)
    return f"{to_text(typed)} {column.number_unit}"
