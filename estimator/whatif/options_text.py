"""The options in plain words: a deadline that is missed, finishing sooner, and what it costs."""

from collections.abc import Iterator

from estimator.models.options import Option, OptionTable, option_name

NO_DEADLINE = "No deadline is set on the Job sheet."
DATE = "%d %b %Y"


def sentences(table: OptionTable) -> Iterator[str]:
    """Yield what the table answers: the deadline, finishing sooner, and the cheapest of all."""
    yield " ".join(_of_deadline(table))
    yield _of_sooner(table)
    cheapest = table.cheapest
    if cheapest is not None and not cheapest.is_base and cheapest != table.in_time:
        yield f"Cheapest of all: {described(table, cheapest)}."


def remark(table: OptionTable, option: Option) -> str:
    """Return what is to be said of an option that can be done."""
    marks = [
        (option.is_base, "the job as it stands"),
        (bool(option.figures and option.figures.days_late), "misses the deadline"),
        (option == table.cheapest, "cheapest"),
        (option == table.in_time, "cheapest that meets the deadline"),
        (option == table.sooner, f"cheapest that finishes {_days(table.days_sooner)} sooner"),
        (bool(option.better), f"{option.better} is no later and no dearer"),
        (bool(option.stock), option.stock),
    ]
    text = "; ".join(mark for holds, mark in marks if holds)
    return text[:1].upper() + text[1:]


def impossible(table: OptionTable) -> Iterator[tuple[str, str]]:
    """Yield the options that cannot be done with the reason, alike ones under one name."""
    shifts: dict[tuple[int, int, str], list[float]] = {}
    for one in table.options:
        if one.figures is None:
            key = one.crews, one.machines_per_crew, one.why_not
            shifts.setdefault(key, []).append(one.shift_hours)
    machines: dict[tuple[int, str, tuple[float, ...]], list[int]] = {}
    for (crews, count, why), hours in shifts.items():
        machines.setdefault((crews, why, tuple(hours)), []).append(count)
    for (crews, why, together), counts in machines.items():
        yield option_name(crews, counts, together), f"Cannot be done: {why}"


def described(table: OptionTable, option: Option) -> str:
    """Return an option with its finish and what it costs beside the job as it stands."""
    if option.figures is None:
        return f"{option.name}: {option.why_not}"
    more = table.more_cost(option)
    word = "more" if more >= 0 else "less"
    cost = f"costs {table.currency} {abs(more):,.0f} {word}" if more else "costs the same"
    if option.is_base:
        cost = "the job as it stands"
    return f"{option.name}: finishes {option.figures.finish:{DATE}}, {cost}"


def _of_deadline(table: OptionTable) -> Iterator[str]:
    base, deadline = table.base.figures, table.deadline
    if deadline is None or base is None:
        yield NO_DEADLINE
        return
    name = f"The deadline, {deadline:{DATE}},"
    best = table.in_time
    if base.days_late:
        yield f"{name} is missed by {_days(base.days_late)}."
    else:
        spare = (deadline - base.finish).days
        yield f"{name} is met with {_days(spare)} to spare."
    if best is not None and not best.is_base:
        yield f"Cheapest that meets it: {described(table, best)}."
    elif best is None and table.earliest is not None and table.earliest.figures is not None:
        late = _days(table.earliest.figures.days_late)
        yield f"No option here meets it. Closest, {late} late: {described(table, table.earliest)}."


def _of_sooner(table: OptionTable) -> str:
    best, earliest = table.sooner, table.earliest
    if best is not None:
        return f"Finishing {_days(table.days_sooner)} sooner: {described(table, best)}."
    none = f"No option here finishes {_days(table.days_sooner)} sooner."
    if earliest is None or table.days_before_base(earliest) <= 0:
        return f"{none} None finishes sooner than the job as it stands."
    sooner = _days(table.days_before_base(earliest))
    return f"{none} Closest, {sooner} sooner: {described(table, earliest)}."


def _days(count: int) -> str:
    return f"{count} calendar day{'s' * (count != 1)}"
