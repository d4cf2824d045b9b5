"""Checks of inputs against each other; each yields its findings with their cells."""

from collections.abc import Callable, Iterator
from functools import lru_cache, partial
from itertools import pairwise

from estimator.equipment.tiers import FOUR_WEEK_DAYS, WEEK_DAYS
from estimator.errors import EstimatorError
from estimator.inputs.dictionary import fields
from estimator.joint.geometry import min_wall_mm, pipe_od_mm
from estimator.workbook.read.check_assigned import crew_numbers, machine_classes
from estimator.workbook.read.check_on_site import crew_dates, holds
from estimator.workbook.read.check_order import circles_of_runs, followed_runs, joined_runs
from estimator.workbook.read.check_shifts import overtime_spans, shift_lengths
from estimator.workbook.read.check_tools import above, at, header, shown
from estimator.workbook.read.findings import Finding
from estimator.workbook.read.parse_rows import Inputs, Row

Check = Callable[[Inputs], Iterator[Finding]]

RENTED = ("machines", "generators", "lifting")
UNIQUE_KEYS = (
    ("schedule", "run_id"),
    ("machines", "class_id"),
    ("generators", "class_id"),
    ("lifting", "class_id"),
    ("crew", "role"),
    ("size_bands", "band"),
    ("weather", "month"),
    ("risk", "factor"),
    ("material_prices", "what"),
)
RISING = (("size_bands", "od_to"), ("cold_factors", "from_c"))
NEVER_EMPTY = ("schedule", "machines", "crew", "size_bands", "task_times", "cold_factors")
NEEDED_BY_HYDRAULIC = ("piston_area", "min_gauge", "max_gauge")
MINUTES_OF_HOUR = 60


def empty_tables(inputs: Inputs) -> Iterator[Finding]:
    """Refuse an empty table without which nothing can be estimated."""
    for name in NEVER_EMPTY:
        data = inputs.tables.get(name)
        if data is not None and not data.rows:
            yield Finding(data.head, f"{data.table.title}: got no rows, allowed one or more")


def repeated_keys(inputs: Inputs) -> Iterator[Finding]:
    """Refuse a run, class, role, band or month that stands twice."""
    for table, key in UNIQUE_KEYS:
        first: dict[str, Row] = {}
        for row in inputs.rows(table):
            name = row.values.get(key)
            if name is None:
                continue
            before = first.setdefault(str(name).casefold(), row)
            if before is not row:
                where = before.cell(key).where
                yield at(row, table, key, f"got {name!r} again, as in {where}, allowed once")


def not_rising(inputs: Inputs) -> Iterator[Finding]:
    """Refuse size bands and cold factors that do not rise from row to row."""
    for table, key in RISING:
        rows = [row for row in inputs.rows(table) if key in row.values]
        for before, row in pairwise(rows):
            if row.values[key] <= before.values[key]:
                message = (
                    f"got {shown(row, key)}, allowed above {shown(before, key)} of the row before"
                )
                yield at(row, table, key, message)


def missing_months(inputs: Inputs) -> Iterator[Finding]:
    """Refuse a weather table without every month."""
    data = inputs.tables.get("weather")
    if data is None or any("month" not in row.values for row in data.rows):
        return
    months = next(field.allowed for field in fields("weather") if field.key == "month")
    found = {row.values["month"] for row in data.rows}
    missing = [month for month in months if month not in found]
    if missing:
        message = (
            f"got {len(found)} months, allowed all {len(months)}; missing {', '.join(missing)}"
        )
        yield Finding(data.head, f"{header('weather', 'month')}: {message}")


def shift_times(inputs: Inputs) -> Iterator[Finding]:
    """Refuse a shift shorter than its straight time, or without time for work."""
    job = inputs.named("job")
    say = partial(at, job, "job")
    if above(job, "straight_hours", "shift_hours"):
        got, allowed = shown(job, "straight_hours"), shown(job, "shift_hours")
        yield say("straight_hours", f"got {got}, allowed up to the paid shift, {allowed}")
    parts = [job.values.get(key) for key in ("startup_min", "wrapup_min", "breaks_min")]
    shift_hours = job.values.get("shift_hours")
    if shift_hours is None or None in parts:
        return
    lost, shift_min = sum(filter(None, parts)), shift_hours * MINUTES_OF_HOUR
    if lost >= shift_min:
        message = (
            f"got {lost:g} min with wrap-up and breaks, allowed less than the paid shift, "
            f"{shift_min:g} min"
        )
        yield say("startup_min", message)


def job_dates(inputs: Inputs) -> Iterator[Finding]:
    """Refuse a deadline before the start; warn of a start in the past."""
    job = inputs.named("job")
    if above(job, "start", "deadline"):
        start = f"{job.values['start']:%Y-%m-%d}"
        message = f"got {shown(job, 'deadline')}, allowed from the start date, {start}"
        yield at(job, "job", "deadline", message)
    if above(job, "estimate_date", "start"):
        made = f"{job.values['estimate_date']:%Y-%m-%d}"
        message = f"{shown(job, 'start')} is before the estimate date, {made}"
        yield at(job, "job", "start", message, warning=True)


def reducers(inputs: Inputs) -> Iterator[Finding]:
    """Refuse reducers without a smaller size to lead to."""
    for row in inputs.rows("schedule"):
        count, size = row.values.get("reducers"), row.values.get("reduce_to", "")
        if count and size is None:
            message = f"got a blank cell, allowed the smaller size of the {count} reducers"
            yield at(row, "schedule", "reduce_to", message)
        od_system, main = row.values.get("od_system"), row.values.get("size")
        if not (size and main and od_system):
            continue
        if pipe_od_mm(od_system, size) >= pipe_od_mm(od_system, main):
            message = f"got {size!r}, allowed a size smaller than the run's {main}"
            yield at(row, "schedule", "reduce_to", message)


@lru_cache(maxsize=1024)
def wall_problem(od_system: str, size: str, dr: float) -> str:
    """Return why a pipe of this size and ratio is not listed, empty if it is."""
    try:
        min_wall_mm(od_system, size, dr)
    except EstimatorError as error:
        return str(error)
    return ""


def walls(inputs: Inputs) -> Iterator[Finding]:
    """Refuse a size and ratio whose wall no table lists."""
    for row in inputs.rows("schedule"):
        pipe = [row.values.get(key) for key in ("od_system", "size", "dr")]
        if None not in pipe and (why := wall_problem(*pipe)):
            yield at(row, "schedule", "dr", why)


def string_lengths(inputs: Inputs) -> Iterator[Finding]:
    """Refuse a string shorter than one stick."""
    for row in inputs.rows("schedule"):
        if above(row, "stick_length", "string_length"):
            got, stick = shown(row, "string_length"), shown(row, "stick_length")
            message = f"got {got}, allowed from the stick or coil length, {stick}"
            yield at(row, "schedule", "string_length", message)


def machine_facts(inputs: Inputs) -> Iterator[Finding]:
    """Refuse machine ranges that run downwards, and a drive without its figures."""
    for row in inputs.rows("machines"):
        say = partial(at, row, "machines")
        for low, high in (("od_min", "od_max"), ("min_gauge", "max_gauge")):
            if above(row, low, high):
                name = header("machines", high)
                message = f"got {shown(row, low)}, allowed up to {name}, {shown(row, high)}"
                yield say(low, message)
        if row.values.get("drive") == "hydraulic":
            for key in NEEDED_BY_HYDRAULIC:
                if row.values.get(key, 0) is None:
                    yield say(key, "got a blank cell, allowed a value for a hydraulic machine")
        if row.values.get("self_powered") and row.values.get("fuel_rate", 0) is None:
            message = "got a blank cell, allowed a value for a machine with its own power"
            yield say("fuel_rate", message)


def machines_in_stock(inputs: Inputs) -> Iterator[Finding]:
    """Refuse a fleet without a machine in stock."""
    rows = inputs.rows("machines")
    if rows and not any(row.values.get("stock", 1) for row in rows):
        message = "got 0 in every row, allowed one or more in one row at least"
        yield at(rows[0], "machines", "stock", message)


def generator_fuel(inputs: Inputs) -> Iterator[Finding]:
    """Refuse a generator that takes less fuel at a larger part of its load."""
    for row in inputs.rows("generators"):
        if above(row, "fuel_half", "fuel_full"):
            got, half = shown(row, "fuel_full"), shown(row, "fuel_half")
            message = f"got {got}, allowed from the fuel at half load, {half}"
            yield at(row, "generators", "fuel_full", message)
        if above(row, "fuel_quarter", "fuel_half"):
            got, half = shown(row, "fuel_quarter"), shown(row, "fuel_half")
            message = f"got {got}, allowed up to the fuel at half load, {half}"
            yield at(row, "generators", "fuel_quarter", message)


def rental_tiers(inputs: Inputs) -> Iterator[Finding]:
    """Name rental tiers that are never the cheapest, a likely slip of the keyboard."""
    for table in RENTED:
        for row in inputs.rows(table):
            yield from idle_tiers(table, row)


def idle_tiers(table: str, row: Row) -> Iterator[Finding]:
    """Compare each tier of one class with the next longer one."""
    pairs = (
        ("day_rate", "week_rate", WEEK_DAYS),
        ("week_rate", "four_week_rate", FOUR_WEEK_DAYS // WEEK_DAYS),
    )
    for short, long, times in pairs:
        if short not in row.values or long not in row.values:
            continue
        short_amount, long_amount = row.values[short].amount, row.values[long].amount
        names = header(table, short), header(table, long)
        if long_amount < short_amount:
            message = f"{long_amount:,g} is below {names[0]}, {short_amount:,g}, which never pays"
            yield at(row, table, long, message, warning=True)
        elif long_amount > times * short_amount:
            message = (
                f"{long_amount:,g} is above {times} x {names[0]}, {short_amount:,g}; "
                f"{names[1]} never pays"
            )
            yield at(row, table, long, message, warning=True)


def risk_ranges(inputs: Inputs) -> Iterator[Finding]:
    """Refuse a range whose low, most likely and high value do not rise."""
    for row in inputs.rows("risk"):
        for low, high in (("low", "likely"), ("likely", "high")):
            if above(row, low, high):
                limit = f"{header('risk', high)}, {shown(row, high)}"
                yield at(row, "risk", low, f"got {shown(row, low)}, allowed up to {limit}")


CHECKS: tuple[Check, ...] = (
    empty_tables,
    repeated_keys,
    not_rising,
    missing_months,
    shift_times,
    overtime_spans,
    shift_lengths,
    crew_dates,
    holds,
    job_dates,
    crew_numbers,
    machine_classes,
    joined_runs,
    followed_runs,
    circles_of_runs,
    reducers,
    walls,
    string_lengths,
    machine_facts,
    machines_in_stock,
    generator_fuel,
    rental_tiers,
    risk_ranges,
)


def check_inputs(inputs: Inputs) -> Iterator[Finding]:
    """Yield the findings of every check."""
    for check in CHECKS:
        yield from check(inputs)
