"""Revisions: an old and a new version of a job, and what each changed group of inputs comes to.

The new version is reached from the old one group by group, in the order of the sheets: each step
keeps the steps before it and is priced as a whole job, so all steps together are the change in
price, to the cent. In the pipe schedule runs are removed first, then changed, then added.
"""

import datetime as dt
from collections.abc import Iterator, Mapping, Sequence
from decimal import Decimal
from typing import Any

from estimator.data_class import dataclass
from estimator.display import segments_text
from estimator.errors import EstimatorError, InputError, Problem
from estimator.input_errors.of_job import PARTS, JobEntry, JobSheets
from estimator.inputs.column import Column, usual_column
from estimator.inputs.dictionary import SHEETS, TEXT, Field, InputTable, fields, input_tables
from estimator.joint.shared import Shared
from estimator.models.estimate import Bid, CostLine, PricedJob
from estimator.models.job import Job, Run
from estimator.models.job_inputs import GROUP_OF
from estimator.models.kinds import COST_TYPES
from estimator.models.places import Places
from estimator.models.rates import MoneyRate
from estimator.models.revision import (
    ADDED,
    CHANGED,
    REMOVED,
    CostChange,
    InputChange,
    Revision,
    RevisionStep,
)
from estimator.pipeline import price
from estimator.plan import Progress
from estimator.whatif.scenarios import figures

SINGLY = 15
"""Changed inputs of Job or Rates up to which each is a step of its own."""
FIGURES, VALUES_SHOWN = 10, 5
BLANK_TEXT = "blank"
NAMED = ("job", "rates")


@dataclass(frozen=True)
class Version:
    """One version of a job: what it is called, and where its inputs stand."""

    name: str
    job: Job
    places: Places


@dataclass(frozen=True)
class _Group:
    """Inputs that change in one step: a part of the job taken from the new version."""

    name: str
    changes: int
    updates: Mapping[str, Any]


def compare_versions(old: Version, new: Version, progress: Progress | None = None) -> Revision:
    """Return what was changed from one version to the other, and what each group comes to.

    Parameters
    ----------
    old, new : Version
        The versions.
    progress : callable, optional
        Called with (groups of changes priced, all groups).

    Raises
    ------
    InputError
        If either version cannot be priced, or they are in different currencies.
    """
    if old.job.cover.currency != new.job.cover.currency:
        where = new.places.where("job", "", "currency")
        said = f"{new.name} is in {new.job.cover.currency}, {old.name} in {old.job.cover.currency}"
        raise InputError([Problem(where, f"{said}: prices cannot be compared")])
    before, after = _plain(old.job), _plain(new.job)
    first = _priced(old, before)
    last = _priced(new, after)
    changes = tuple(_changes(old, new))
    return Revision(
        old_name=old.name,
        new_name=new.name,
        currency=new.job.cover.currency,
        system=new.job.cover.unit_system,
        old=figures(first),
        new=figures(last),
        changes=changes,
        steps=tuple(_steps(before, last, changes, new.places, progress)),
        costs=tuple(_costs(first, last)),
        chain=tuple(_chain(first.bid, last.bid)),
    )


def _plain(job: Job) -> Job:
    """Return a job without scenarios, which price nothing."""
    return job.model_copy(update={"scenarios": ()})


def _priced(version: Version, job: Job) -> PricedJob:
    try:
        return price(job, Shared(version.places))
    except InputError as error:
        raise InputError(
            [Problem(f"{version.name} {one.where}", one.message) for one in error.problems]
        ) from error


def _steps(
    before: Job,
    last: PricedJob,
    changes: Sequence[InputChange],
    places: Places,
    progress: Progress | None,
) -> Iterator[RevisionStep]:
    """Yield the steps; one that is no job by itself is made together with the next."""
    shared = Shared(places)
    reached = before
    names: list[str] = []
    count = 0
    groups = list(_groups(before.runs, last.job, changes))
    for number, group in enumerate(groups, 1):
        reached = reached.model_copy(update=_merged(reached, group.updates))
        names.append(group.name)
        count += group.changes
        if number == len(groups):
            break
        if progress is not None:
            progress(number, len(groups))
        try:
            found = price(reached, shared)
        except EstimatorError:
            continue
        yield RevisionStep(" and ".join(names), count, figures(found))
        names, count = [], 0
    if groups:
        yield RevisionStep(" and ".join(names), count, figures(last))


def _merged(job: Job, updates: Mapping[str, Any]) -> dict[str, Any]:
    """Return the parts of a job with some of their inputs set; a whole part is taken as it is."""
    parts: dict[str, Any] = {}
    for name, value in updates.items():
        part, _, key = name.partition(".")
        if not key:
            parts[part] = value
            continue
        held = parts.get(part, getattr(job, part))
        parts[part] = held.model_copy(update={key: value})
    return parts


def _groups(old: Sequence[Run], new: Job, changes: Sequence[InputChange]) -> Iterator[_Group]:
    for table in input_tables():
        mine = [one for one in changes if one.table == table.table and one.priced]
        if not mine or table.table == "scenarios":
            continue
        if table.table in NAMED:
            yield from _named_groups(table, new, mine)
        elif table.table == "schedule":
            yield from _schedule_groups(old, new.runs, mine)
        else:
            part = PARTS.get(table.table, table.table)
            yield _Group(table.title, len(mine), {part: getattr(new, part)})


def _named_groups(table: InputTable, new: Job, mine: Sequence[InputChange]) -> Iterator[_Group]:
    """Yield each input of a sheet of named cells, or all of a part where there are many."""
    updates = {one.key: _place(table.table, one.key) for one in mine}
    values = {updates[one.key]: _value(new, table.table, one.key) for one in mine}
    if len(mine) <= SINGLY:
        for one in mine:
            place = updates[one.key]
            name = f"{table.sheet}: {one.header}, {one.old} to {one.new}"
            yield _Group(name, 1, {place: values[place]})
        return
    yield _Group(table.sheet, len(mine), values)


def _place(table: str, key: str) -> str:
    return f"{GROUP_OF[key]}.{key}" if table == "job" else f"rates.{key}"


def _value(job: Job, table: str, key: str) -> Any:  # noqa: ANN401
    return job.input(key) if table == "job" else getattr(job.rates, key)


def _schedule_groups(
    old: Sequence[Run], new: Sequence[Run], mine: Sequence[InputChange]
) -> Iterator[_Group]:
    kept = {run.run_id for run in old} & {run.run_id for run in new}
    fresh = {run.run_id: run for run in new}
    left = tuple(run for run in old if run.run_id in kept)
    changed = tuple(fresh[run.run_id] for run in left)
    by_kind = {
        kind: [one for one in mine if one.kind == kind] for kind in (REMOVED, CHANGED, ADDED)
    }
    runs = {REMOVED: left, CHANGED: changed, ADDED: tuple(new)}
    for kind, found in by_kind.items():
        if not found:
            continue
        names = list(dict.fromkeys(one.row for one in found))
        yield _Group(f"Runs {kind}: {_listed(names)}", len(found), {"runs": runs[kind]})


def _listed(names: Sequence[str]) -> str:
    more = len(names) - VALUES_SHOWN
    return ", ".join(names[:VALUES_SHOWN]) + (f" and {more} more" if more > 0 else "")


def _changes(old: Version, new: Version) -> Iterator[InputChange]:
    before, after = JobSheets(old.job), JobSheets(new.job)
    for table in input_tables():
        if table.table in NAMED:
            (one,), (other,) = before.rows(table.table), after.rows(table.table)
            yield from _row_changes(table, one, other, old, new)
        else:
            rows = before.rows(table.table), after.rows(table.table)
            yield from _table_changes(table, *rows, old, new)


def _table_changes(
    table: InputTable,
    before: Sequence[JobEntry],
    after: Sequence[JobEntry],
    old: Version,
    new: Version,
) -> Iterator[InputChange]:
    """Yield the changes of a table; rows are known by their first column, equal ones go first."""
    left, right = _by_name(before), _by_name(after)
    for name in dict.fromkeys([*left, *right]):
        one, other = _without_equal(left.get(name, []), right.get(name, []))
        for was, now in zip(one, other, strict=False):
            yield from _row_changes(table, was, now, old, new)
        for was in one[len(other) :]:
            yield _whole_row(table, was, REMOVED, old)
        for now in other[len(one) :]:
            yield _whole_row(table, now, ADDED, new)


def _by_name(rows: Sequence[JobEntry]) -> dict[str, list[JobEntry]]:
    named: dict[str, list[JobEntry]] = {}
    for row in rows:
        named.setdefault(row.name, []).append(row)
    return named


def _without_equal(
    before: Sequence[JobEntry], after: Sequence[JobEntry]
) -> tuple[list[JobEntry], list[JobEntry]]:
    """Return the rows of one name that the other version does not have as they are."""
    open_rows = list(after)
    kept = []
    for row in before:
        same = next((other for other in open_rows if _same(row, other)), None)
        if same is None:
            kept.append(row)
        else:
            open_rows.remove(same)
    return kept, open_rows


def _same(one: JobEntry, other: JobEntry) -> bool:
    return all(_get(one, field) == _get(other, field) for field in fields(one.table))


def _get(entry: JobEntry, field: Field) -> Any:  # noqa: ANN401
    return getattr(entry.model, field.key)


def _row_changes(
    table: InputTable, was: JobEntry, now: JobEntry, old: Version, new: Version
) -> Iterator[InputChange]:
    for field in fields(table.table):
        before, after = _get(was, field), _get(now, field)
        if before == after:
            continue
        yield InputChange(
            table=table.table,
            kind=CHANGED,
            where=_where(table, now.name, field.key, new.places, old.places),
            row=now.name,
            key=field.key,
            header=field.header,
            old=shown(before, usual_column(field, old.job.cover.unit_system)),
            new=shown(after, usual_column(field, new.job.cover.unit_system)),
            priced=field.use not in (TEXT, SHEETS) and table.table != "scenarios",
        )


def _whole_row(table: InputTable, row: JobEntry, kind: str, version: Version) -> InputChange:
    system = version.job.cover.unit_system
    texts = [
        f"{field.header} {shown(value, usual_column(field, system))}"
        for field in fields(table.table)[1:]
        if (value := _get(row, field)) not in (None, "", 0) and field.use != TEXT
    ]
    said = "; ".join(texts[:VALUES_SHOWN]) or row.name
    first = fields(table.table)[0].key
    return InputChange(
        table=table.table,
        kind=kind,
        where=_where(table, row.name, first, version.places, version.places),
        row=row.name,
        key="",
        header="",
        old=said if kind == REMOVED else "",
        new=said if kind == ADDED else "",
        priced=table.table != "scenarios",
    )


def _where(table: InputTable, row: str, key: str, *places: Places) -> str:
    """Return the cell of an input in the first workbook that has one, else its sheet."""
    for one in places:
        if one.cell(table.table, row, key) is not None:
            return one.where(table.table, row, key)
    return f"{table.sheet}: {row}" if row else table.sheet


def shown(value: object, column: Column) -> str:
    """Return the value of an input as the user reads it, to ten figures, with its unit."""
    if value is None or value == ():
        return BLANK_TEXT
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, MoneyRate):
        return f"{value.amount:,.{FIGURES}g}/{value.per}" if value.per else f"{value.amount:,.10g}"
    if isinstance(value, dt.date):
        return value.isoformat()
    if isinstance(value, tuple) and column.field.kind == "segments":
        return f"{segments_text([column.show(one) for one in value])} {column.number_unit}"
    if isinstance(value, tuple):
        return "; ".join(shown(one, column) for one in value)
    if isinstance(value, int | float):
        if column.field.kind == "percent":
            return f"{100 * value:.{FIGURES}g}%"
        return f"{column.show(value):,.{FIGURES}g} {column.number_unit}".strip()
    return str(value)


def _costs(old: PricedJob, new: PricedJob) -> Iterator[CostChange]:
    """Yield the cost types that either version has."""
    for kind in COST_TYPES:
        was, now = (_sum(priced.cost_lines, kind.name) for priced in (old, new))
        if was or now:
            yield CostChange(kind.name, was, now)


def _sum(cost_lines: Sequence[CostLine], cost_type: str) -> Decimal:
    lines = (line.amount for line in cost_lines if line.cost_type == cost_type)
    return sum(lines, Decimal(0))


def _chain(one: Bid, other: Bid) -> Iterator[CostChange]:
    """Yield what stands between the job cost and the price; the three add up."""
    yield CostChange("Job cost", one.job_cost, other.job_cost)
    yield CostChange("Markups", one.price - one.job_cost, other.price - other.job_cost)
    yield CostChange("Bid price", one.price, other.price)
