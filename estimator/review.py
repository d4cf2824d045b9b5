"""Second look at a finished estimate: what the user should know before trusting it."""

import dataclasses
import datetime as dt
from collections import defaultdict
from collections.abc import Iterator, Sequence

from estimator.display import show
from estimator.errors import Problem
from estimator.models.estimate import Estimate
from estimator.models.places import Places
from estimator.models.plan import SizedRun
from estimator.standards import tables
from estimator.working_calendar import WorkingCalendar

NEAR_LIMIT = 0.9
MINUTES_OF_RATE_SHIFT = 480
RUNS_NAMED = 6


def with_warnings(found: Estimate, places: Places) -> Estimate:
    """Return the estimate with every warning that its results call for."""
    checks = (
        deadline_missed,
        method_notes,
        runs_without_joints,
        rates_outside_band,
        pressures_near_limit,
        warm_up_longer_than_start_up,
        stock_exceeded,
        reducers_timed_as_large,
    )
    warnings = [problem for check in checks for problem in check(found, places)]
    return dataclasses.replace(found, warnings=(*found.warnings, *warnings))


def name_runs(run_ids: Sequence[str]) -> str:
    """Return run names for a message, the first few and how many more.

    >>> name_runs(["R1", "R2"])
    'runs R1, R2'
    """
    word = "run" if len(run_ids) == 1 else "runs"
    more = len(run_ids) - RUNS_NAMED
    shown = ", ".join(run_ids[:RUNS_NAMED])
    return f"{word} {shown}" + (f" and {more} more" if more > 0 else "")


def deadline_missed(found: Estimate, places: Places) -> Iterator[Problem]:
    """Tell by how many working days the plan misses the deadline."""
    deadline, finish = found.job.facts.deadline, found.plan.finish
    if deadline is None or finish <= deadline:
        return
    calendar = WorkingCalendar.of(found.job)
    days = (finish - deadline).days
    late = sum(calendar.kind(deadline + dt.timedelta(days=n)) == "work" for n in range(1, days + 1))
    yield Problem(
        places.where("job", "", "deadline"),
        f"Deadline: the plan finishes {finish:%d %b %Y}, {late} working days after "
        f"{deadline:%d %b %Y}; more crews, machines or hours are needed",
    )


def method_notes(found: Estimate, places: Places) -> Iterator[Problem]:
    """Pass on what the fusion method says about the weather or the wall."""
    for note, run_ids in found.method_notes.items():
        yield Problem(places.where("job", "", "method"), f"{note} ({name_runs(run_ids)})")


def runs_without_joints(found: Estimate, places: Places) -> Iterator[Problem]:
    """Name runs in which nothing is joined."""
    for run in found.runs:
        if not run.count.has_work:
            yield Problem(
                places.where("schedule", run.run_id, "length"),
                f"run {run.run_id} is one piece with no fitting: no joint is counted for it",
            )


def rate_band(od_mm: float) -> tuple[float, float, str] | None:
    """Return the lowest and highest joints a day for this diameter, and how well known."""
    rows = [
        row
        for row in tables.load("joining_rates")
        if float(row["od_from_mm"] or 0) < od_mm <= float(row["od_to_mm"] or 0)
        and float(row["machines"] or 1) == 1
    ]
    if not rows:
        return None
    low = min(float(row["rate_low"] or 0) for row in rows)
    high = max(float(row["rate_high"] or 0) for row in rows)
    return low, high, str(rows[0]["confidence"])


def rates_outside_band(found: Estimate, places: Places) -> Iterator[Problem]:
    """Warn where joints per shift lie outside the customary band for the diameter."""
    if found.job.facts.machines_per_crew > 1:
        return
    groups: dict[tuple[float, float, str], list[SizedRun]] = defaultdict(list)
    for run in found.runs:
        band = rate_band(run.geometry.od_mm)
        rate = run.cycle.joints_per_shift
        if band is not None and run.count.plain_joints and not band[0] <= rate <= band[1]:
            groups[band].append(run)
    for (low, high, confidence), runs in groups.items():
        rates = sorted({run.cycle.joints_per_shift for run in runs})
        told = f"{rates[0]} to {rates[-1]}" if len(rates) > 1 else f"{rates[0]}"
        yield Problem(
            places.where("schedule", runs[0].run_id, "size"),
            f"{told} joints a shift is outside the customary {low:g} to {high:g} a day for this "
            f"diameter ({confidence}): {name_runs([run.run_id for run in runs])}",
        )


def pressures_near_limit(found: Estimate, places: Places) -> Iterator[Problem]:
    """Warn where the gauge comes close to the machine's limit, once for each class."""
    system = found.job.facts.unit_system
    for machine in found.job.machines:
        limit = machine.max_gauge
        near = {
            run.run_id: run.machine.gauge_mpa[2]
            for run in found.runs
            if run.machine.class_id == machine.class_id
            and run.machine.gauge_mpa is not None
            and limit is not None
            and run.machine.gauge_mpa[2] > NEAR_LIMIT * limit
        }
        if near and limit is not None:
            yield Problem(
                places.where("machines", machine.class_id, "max_gauge"),
                f"gauge up to {show(max(near.values()), 'pressure', system)} is close to the "
                f"limit {show(limit, 'pressure', system)} of class {machine.class_id}; check the "
                f"machine's own chart: {name_runs(list(near))}",
            )


def warm_up_longer_than_start_up(found: Estimate, places: Places) -> Iterator[Problem]:
    """Warn where a heater plate is not hot when the start-up is over."""
    start_up = found.job.facts.startup_min
    for class_id, need in found.fleet.power.items():
        if need.warm_up_min > start_up:
            yield Problem(
                places.where("job", "", "startup_min"),
                f"Start-up each day is {start_up:.0f} min, but the heater of class {class_id} "
                f"takes about {need.warm_up_min:.0f} min to warm up",
            )


def stock_exceeded(found: Estimate, places: Places) -> Iterator[Problem]:
    """Warn where crews together hold more of a class than is in stock."""
    tables_of = {
        "machine": ("machines", found.job.machines),
        "generator": ("generators", found.job.generators),
        "lifting": ("lifting", found.job.lifting),
    }
    for kind, (table, items) in tables_of.items():
        for item in items:
            spans = [s for s in found.fleet.spans if (s.kind, s.class_id) == (kind, item.class_id)]
            most = max(
                (
                    sum(s.quantity for s in spans if s.on_rent <= span.on_rent <= s.off_rent)
                    for span in spans
                ),
                default=0,
            )
            if most > item.stock:
                yield Problem(
                    places.where(table, item.class_id, "stock"),
                    f"In stock: {item.stock} of class {item.class_id}, "
                    f"but the plan holds {most} at once",
                )


def reducers_timed_as_large(found: Estimate, places: Places) -> Iterator[Problem]:
    """Say how the small end of a reducer is counted."""
    run_ids = [run.run_id for run in found.job.runs if run.reducers]
    if run_ids:
        yield Problem(
            places.where("schedule", run_ids[0], "reducers"),
            "both joints of a reducer are timed at the larger size and by its machine: "
            f"{name_runs(run_ids)}",
        )
