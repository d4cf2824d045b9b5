"""Checks of crew dates and holds against the crews, the runs and each other."""

from collections.abc import Iterator

from estimator.workbook.read.check_shifts import backwards, taken_twice
from estimator.workbook.read.check_tools import at, shown
from estimator.workbook.read.findings import Finding
from estimator.workbook.read.parse_rows import Inputs, Row


def crew_dates(inputs: Inputs) -> Iterator[Finding]:
    """Refuse crew dates of no crew, dates that run backwards or twice, and unlike machines."""
    crews = inputs.named("job").values.get("crews")
    before: dict[int, list[Row]] = {}
    for row in inputs.rows("crew_dates"):
        yield from backwards(row, "crew_dates")
        crew = row.values.get("crew")
        if crew is None:
            continue
        if crews is not None and crew > crews:
            message = f"got {crew}, allowed 1 to {crews}, the crews of the Job sheet"
            yield at(row, "crew_dates", "crew", message)
        rows = before.setdefault(crew, [])
        yield from taken_twice(row, "crew_dates", rows)
        yield from _other_machines(row, rows)
        rows.append(row)


def _other_machines(row: Row, before: list[Row]) -> Iterator[Finding]:
    for other in before[:1]:
        if row.values.get("machines") != other.values.get("machines"):
            message = (
                f"got {shown(row, 'machines')}, allowed {shown(other, 'machines')} as in "
                f"{other.cell('machines').where}: a crew attends the same number in all its rows"
            )
            yield at(row, "crew_dates", "machines", message)


def holds(inputs: Inputs) -> Iterator[Finding]:
    """Refuse holds of runs that are not in the schedule, and dates that run backwards."""
    known = {row.values.get("run_id") for row in inputs.rows("schedule")}
    for row in inputs.rows("holds"):
        yield from backwards(row, "holds")
        run = row.values.get("run")
        if run is not None and run not in known:
            message = f"got {run}, allowed a run of the Pipe schedule, or blank for all runs"
            yield at(row, "holds", "run", message)
