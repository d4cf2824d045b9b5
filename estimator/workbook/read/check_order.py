"""Checks of the runs that a run names: those it joins, and those it starts after."""

from collections.abc import Iterator, Mapping

from estimator.models.job import split_names
from estimator.workbook.read.check_tools import at
from estimator.workbook.read.findings import Finding
from estimator.workbook.read.parse_rows import Inputs, Row


def joined_runs(inputs: Inputs) -> Iterator[Finding]:
    """Refuse names of joined runs that are not in the schedule."""
    yield from _unknown_runs(inputs, "joins")


def followed_runs(inputs: Inputs) -> Iterator[Finding]:
    """Refuse a start after runs that are not in the schedule, or after the run itself."""
    yield from _unknown_runs(inputs, "after")
    for row in inputs.rows("schedule"):
        name = row.values.get("run_id")
        if name is not None and name in _named(row, "after"):
            yield at(row, "schedule", "after", f"got {name}, the run itself, allowed other runs")


def circles_of_runs(inputs: Inputs) -> Iterator[Finding]:
    """Refuse runs that start after each other in a circle, once for each circle."""
    rows = {row.values["run_id"]: row for row in inputs.rows("schedule") if "run_id" in row.values}
    before = {
        name: [other for other in _named(row, "after") if other in rows and other != name]
        for name, row in rows.items()
    }
    for circle in _circles(before):
        text = " after ".join([*circle, circle[0]])
        message = f"got a circle, {text}, allowed runs that do not wait for each other"
        yield at(rows[circle[0]], "schedule", "after", message)


def _named(row: Row, key: str) -> tuple[str, ...]:
    return split_names(row.values.get(key) or "")


def _unknown_runs(inputs: Inputs, key: str) -> Iterator[Finding]:
    rows = inputs.rows("schedule")
    known = {row.values.get("run_id") for row in rows}
    for row in rows:
        unknown = [name for name in _named(row, key) if name not in known]
        if unknown:
            message = f"got {', '.join(unknown)}, allowed runs of this schedule, with semicolons"
            yield at(row, "schedule", key, message)


def _circles(before: Mapping[str, list[str]]) -> Iterator[list[str]]:
    """Yield each circle that a walk along the runs before closes, by the way it was walked."""
    done: set[str] = set()
    for start in before:
        way: list[str] = []
        branches = [iter([start])]
        while branches:
            run = next(branches[-1], None)
            if run is None:
                branches.pop()
                if way:
                    done.add(way.pop())
            elif run in way:
                yield way[way.index(run) :]
            elif run not in done:
                way.append(run)
                branches.append(iter(before[run]))
