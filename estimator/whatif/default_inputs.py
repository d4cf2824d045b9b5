"""Which inputs still hold the assumption that the workbook came with, and how each is moved."""
# ruff: noqa: ANN401 - an input holds what its kind says

from collections.abc import Callable, Iterator, Mapping, Sequence
from types import MappingProxyType
from typing import Any, Literal

from estimator.data_class import dataclass
from estimator.display import UnitSystem
from estimator.inputs.column import Column, usual_column, within
from estimator.inputs.dictionary import Field, fields
from estimator.models.base import Model
from estimator.models.job import Job
from estimator.models.job_inputs import GROUP_OF
from estimator.models.rates import MoneyRate

MOVED_BY = 0.1
DEGREES_C = {"US": 10 / 1.8, "SI": 5.0}
DEGREES_TEXT = {"US": "10 F", "SI": "5 C"}
WITHOUT_PRICE = frozenset({"risk", "options"})
"""Groups of the Job sheet that no price rests on."""
MARKS = ("assum", "from memory", "common practice", "one source")
"""What the Basis of a table row says while its figures are assumed."""
TO = "to {}"
NO_EFFECT = 1.0
"""The cold-weather factor that leaves times as they are, which assumes nothing."""
AT_ZERO, AT_LIMIT = "it is 0", "it has no other value"


Reach = Literal["prices", "tests", "equipment", "pay", "plan"]
"""What is made anew for a move: the prices alone, the hydrotests, the equipment or the paid shifts
too, or all."""
REACH_OF_GROUP: Mapping[str, Reach] = MappingProxyType({"power": "equipment", "hydrotest": "tests"})
REACH_OF_INPUT: Mapping[str, Reach] = MappingProxyType(
    {
        "haul_days": "equipment",
        "lift_reserve": "equipment",
        "lift_working_share": "equipment",
        "near_limit": "equipment",
        "lifters_per_crew": "equipment",
        "night_premium": "prices",
        "night_rental": "equipment",
        "saturday_multiple": "prices",
        "sunday_multiple": "prices",
        "waiting_days": "pay",
        "waiting_pay": "pay",
        "weather_paid_hours": "pay",
    }
)


@dataclass(frozen=True)
class Group:
    """Columns of a table that are moved together, in the rows whose Basis marks them."""

    table: str
    part: str
    name: str
    keys: tuple[str, ...]
    reach: Reach = "plan"


RENTS = ("day_rate", "week_rate", "four_week_rate")
BANDS = "abcde"
GROUPS = (
    Group("crew", "crew", "Wages", ("wage",), "prices"),
    Group("crew", "crew", "Burden", ("burden",), "prices"),
    Group("crew", "crew", "OT multiplier", ("overtime_multiple",), "prices"),
    Group("crew", "crew", "Head count", (*(f"heads_{b}" for b in BANDS), "further_heads"), "pay"),
    Group("task_times", "task_times", "Task times", tuple(f"min_{b}" for b in BANDS)),
    Group("size_bands", "size_bands", "Size change", ("size_change_min",)),
    Group("cold_factors", "cold_factors", "Cold-weather handling factors", ("factor",)),
    Group("weather", "weather", "Days lost to weather", ("lost_share",)),
    Group("weather", "weather", "Ambient temperature by month", ("ambient_c",)),
    Group("machines", "machines", "Rental rates of machines", RENTS),
    Group("machines", "machines", "Delivery of machines", ("delivery",), "equipment"),
    Group("generators", "generators", "Rental rates of generators", RENTS, "equipment"),
    Group("generators", "generators", "Delivery of generators", ("delivery",), "equipment"),
    Group("generators", "generators", "Fuel of generators",
          ("fuel_quarter_l_h", "fuel_half_l_h", "fuel_full_l_h"), "equipment"),
    Group("lifting", "lifting", "Rental rates of lifting equipment", RENTS, "equipment"),
    Group("lifting", "lifting", "Delivery of lifting equipment", ("delivery",), "equipment"),
    Group("lifting", "lifting", "Fuel of lifting equipment", ("fuel_rate_l_h",), "equipment"),
    Group("material_prices", "material_prices", "Material prices",
          tuple(f"price_{b}" for b in BANDS), "prices"),
)  # fmt: skip


@dataclass(frozen=True)
class Held:
    """One assumption at its default: where it stands, what it is, and the moves to try in turn."""

    table: str
    row: str
    key: str
    name: str
    value: str
    rows: int
    moves: tuple[tuple[str, Callable[[Job], Job]], ...]
    reach: Reach
    why_not: str = ""


def at_defaults(job: Job) -> Iterator[Held]:
    """Yield every own assumption of a job that still is what the workbook came with."""
    system = job.cover.unit_system
    for field in fields("job"):
        if field.basis and not field.use and GROUP_OF[field.key] not in WITHOUT_PRICE:
            reach = _reach(field.key, job)
            yield from _named(field, job.input(field.key), system, _with_input, reach)
    for field in fields("rates"):
        if field.basis and not field.use:
            yield from _named(field, getattr(job.rates, field.key), system, _with_rate, "prices")
    for group in GROUPS:
        yield from _of_table(group, job)


def _with_input(job: Job, key: str, value: object) -> Job:
    return job.changed(**{key: value})


def _with_rate(job: Job, key: str, value: object) -> Job:
    return job.model_copy(update={"rates": job.rates.model_copy(update={key: value})})


def _named(
    field: Field,
    value: Any,
    system: UnitSystem,
    change: Callable[[Job, str, object], Job],
    reach: Reach,
) -> Iterator[Held]:
    column = usual_column(field, system)
    if value is None or not _is_default(value, column, system):
        return

    def to(other: object) -> Callable[[Job], Job]:
        return lambda job: change(job, field.key, other)

    others = tuple((text, to(other)) for text, other in _others(value, column, system))
    why = "" if others else AT_LIMIT if field.allowed else AT_ZERO
    shown = shown_value(value, column)
    yield Held(field.table, "", field.key, field.header, shown, 1, others, reach, why)


def _reach(key: str, job: Job) -> Reach:
    """Return what an input of the Job sheet reaches; one that is out of use not even the plan."""
    unused = {
        "night_slowing": not job.shift.night_hours,
        "open_hold_days": all(hold.to_date for hold in job.holds),
    }
    if unused.get(key):
        return "prices"
    return REACH_OF_INPUT.get(key) or REACH_OF_GROUP.get(GROUP_OF[key], "plan")


def _is_default(value: Any, column: Column, system: UnitSystem) -> bool:
    text = column.field.default(system)
    if isinstance(value, bool):
        return text == ("yes" if value else "no")
    if isinstance(value, MoneyRate):
        return bool(text) and _alike(value.amount, float(text))
    if isinstance(value, int | float):
        return bool(text) and _alike(value, column.convert(float(text)))
    return str(value) == text


def _alike(one: float, other: float) -> bool:
    return abs(one - other) <= 1e-9 * max(1.0, abs(one))


def _others(value: Any, column: Column, system: UnitSystem) -> Iterator[tuple[str, object]]:
    """Yield the values to move to, the first one that can be priced counts."""
    field = column.field
    if isinstance(value, bool):
        yield TO.format("no" if value else "yes"), not value
    elif isinstance(value, str):
        at = field.allowed.index(value) if value in field.allowed else -1
        near = (*field.allowed[at + 1 :], *reversed(field.allowed[: max(at, 0)]))
        yield from ((TO.format(other), other) for other in near)
    elif isinstance(value, MoneyRate):
        for amount in _shares(value.amount, field):
            moved = value.model_copy(update={"amount": amount})
            yield TO.format(shown_value(moved, column)), moved
    elif field.kind == "temperature":
        for step in (DEGREES_C[system], -DEGREES_C[system]):
            yield TO.format(shown_value(value + step, column)), value + step
    else:
        for number in (value + 1, value - 1) if field.kind == "count" else _shares(value, field):
            if within(number, field):
                yield TO.format(shown_value(number, column)), number


def _shares(number: float, field: Field) -> Iterator[float]:
    """Yield a number a share up and a share down, as far as its input allows it; none for zero."""
    for share in (MOVED_BY, -MOVED_BY) if number else ():
        if within(number * (1 + share), field):
            yield number * (1 + share)


def shown_value(value: Any, column: Column) -> str:
    """Return a value as its cell shows it, with its unit."""
    field = column.field
    if isinstance(value, MoneyRate):
        return f"{value.amount:,.6g} per {value.per}"
    if isinstance(value, bool):
        return "yes" if value else "no"
    if not isinstance(value, int | float):
        return str(value)
    if field.kind == "percent":
        return f"{100 * value:.4g}%"
    return f"{column.show(value):,.6g} {column.number_unit}".strip()


def _of_table(group: Group, job: Job) -> Iterator[Held]:
    rows: Sequence[Model] = getattr(job, group.part)
    marked = [row for row in rows if _is_marked(row)]
    if not marked or not any(_has_number(row, group) for row in marked):
        return
    known = {field.key: field for field in fields(group.table)}
    first = fields(group.table)[0].key
    system, row = job.cover.unit_system, getattr(marked[0], first)

    def to(share: float) -> Callable[[Job], Job]:
        return lambda changed: changed.model_copy(
            update={group.part: tuple(_moved(row, group, known, share, system)
                                      for row in getattr(changed, group.part))}
        )  # fmt: skip

    moves = tuple((_share_text(group, share, system), to(share)) for share in (MOVED_BY, -MOVED_BY))
    name = f"{row:g}" if isinstance(row, float) else str(row)
    yield Held(group.table, name, group.keys[0], group.name, "", len(marked), moves,
               group.reach)  # fmt: skip


def _is_marked(row: Any) -> bool:
    basis = (row.basis or "").casefold()
    return any(mark in basis for mark in MARKS)


def _has_number(row: Model, group: Group) -> bool:
    return any(getattr(row, key) is not None for key in group.keys)


def _share_text(group: Group, share: float, system: UnitSystem) -> str:
    if group.keys == ("ambient_c",):
        return f"{DEGREES_TEXT[system]} {'warmer' if share > 0 else 'colder'}"
    return f"{abs(share):.0%} {'more' if share > 0 else 'less'}"


def _moved(
    row: Any, group: Group, known: dict[str, Field], share: float, system: UnitSystem
) -> Any:
    """Return a row with its marked columns moved, each kept within what its input allows."""
    if not _is_marked(row):
        return row
    changes: dict[str, object] = {}
    for key in group.keys:
        value, field = getattr(row, key), known[key]
        if value is None or (group.table, value) == ("cold_factors", NO_EFFECT):
            continue
        if key == "ambient_c":
            changes[key] = value + (DEGREES_C[system] if share > 0 else -DEGREES_C[system])
        elif isinstance(value, MoneyRate):
            changes[key] = value.model_copy(update={"amount": value.amount * (1 + share)})
        else:
            moved = value * (1 + share)
            changes[key] = moved if within(moved, field) else value
    return row.model_copy(update=changes)
