"""Checks of overtime and night shifts against the day shift and the calendar."""

import datetime as dt
from collections.abc import Iterator, Sequence

from estimator.units import DAY_MIN, HOUR_MIN
from estimator.workbook.read.check_tools import above, at, header, shown
from estimator.workbook.read.findings import Finding
from estimator.workbook.read.parse_rows import Inputs, Row

WITH_HOURS = ("overtime", "crew_dates")
LOST = ("startup_min", "wrapup_min", "breaks_min")


def overtime_spans(inputs: Inputs) -> Iterator[Finding]:
    """Refuse overtime dates that run backwards or stand in two rows."""
    spans: list[Row] = []
    for row in inputs.rows("overtime"):
        yield from backwards(row, "overtime")
        yield from taken_twice(row, "overtime", spans)
        spans.append(row)


def backwards(row: Row, table: str) -> Iterator[Finding]:
    """Refuse dates of a row that run backwards."""
    if above(row, "from_date", "to_date"):
        first = f"{row.values['from_date']:%Y-%m-%d}"
        yield at(row, table, "to_date", f"got {shown(row, 'to_date')}, allowed from {first}")


def taken_twice(row: Row, table: str, before: Sequence[Row]) -> Iterator[Finding]:
    """Refuse dates of a row that an earlier row has too."""
    for other in before:
        if overlap(row, other):
            where = other.cell("from_date").where
            message = f"got dates that the row of {where} has too, allowed each date once"
            yield at(row, table, "from_date", message)


def overlap(one: Row, other: Row) -> bool:
    """Return whether two rows of dates have a date in common; a blank last date is open."""
    if not all("from_date" in row.values and "to_date" in row.values for row in (one, other)):
        return False
    if any(above(row, "from_date", "to_date") for row in (one, other)):
        return False
    first, last = one.values, other.values
    latest = dt.date.max
    return bool(
        first["from_date"] <= (last["to_date"] or latest)
        and last["from_date"] <= (first["to_date"] or latest)
    )


def shift_lengths(inputs: Inputs) -> Iterator[Finding]:
    """Refuse overtime or night shifts without time for work, or longer than the day allows."""
    job = inputs.named("job")
    lost = sum(job.values.get(key) or 0 for key in LOST)
    own = [(table, row) for table in WITH_HOURS for row in inputs.rows(table)]
    for table, row in own:
        hours = row.values.get("shift_hours")
        if hours is not None and hours * HOUR_MIN <= lost:
            yield at(row, table, "shift_hours", _too_short(row, "shift_hours", lost))
    night = job.values.get("night_hours") or 0.0
    if not night:
        return
    if night * HOUR_MIN <= lost:
        yield at(job, "job", "night_hours", _too_short(job, "night_hours", lost))
    for table, row in (("job", job), *own):
        hours = row.values.get("shift_hours")
        if hours is not None and (hours + night) * HOUR_MIN > DAY_MIN:
            name = header("job", "night_hours")
            message = (
                f"got {shown(row, 'shift_hours')} beside {name}, {shown(job, 'night_hours')}, "
                f"allowed {DAY_MIN / HOUR_MIN:g} h together"
            )
            yield at(row, table, "shift_hours", message)


def _too_short(row: Row, key: str, lost_min: float) -> str:
    return (
        f"got {shown(row, key)}, allowed more than start-up, wrap-up and breaks, {lost_min:g} min"
    )
