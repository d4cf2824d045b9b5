"""The rules over a job that no workbook was read for, or whose inputs were changed."""

import datetime as dt
from collections.abc import Iterable, Iterator, Mapping, MutableMapping, Sequence
from dataclasses import dataclass, field
from functools import cached_property
from operator import is_
from types import MappingProxyType
from typing import Any

from estimator.display import UnitSystem
from estimator.errors import InputError, Problem
from estimator.input_errors import values
from estimator.input_errors.all_rules import broken_rules
from estimator.input_errors.entries import Broken, describe
from estimator.inputs.column import usual_column
from estimator.inputs.dictionary import Field, fields, input_tables, overridable
from estimator.models.job import Job, Override
from estimator.models.places import Places
from estimator.models.rates import MoneyRate

PARTS: Mapping[str, str] = MappingProxyType({"schedule": "runs", "risk": "risk_ranges"})
"""Part of the job that holds the entries of a table, where it is called otherwise."""
HASHED = frozenset({str, int, float, bool, dt.date, MoneyRate})


Sound = MutableMapping[tuple[str, str], Sequence[object]]
"""Values found within their limits so far, by table and key; a whole table under no key."""


def must_hold(job: Job, places: Places, sound: Sound | None = None) -> None:
    """Refuse a job that breaks a rule.

    Single values that are the very ones of ``sound`` are not looked at again.

    Raises
    ------
    InputError
        With every broken rule, each at the cell of its input where ``places`` knows it.
    """
    problems = [
        Problem(_place(one, places), one.message)
        for one in broken_by(job, sound)
        if not one.warning
    ]
    if problems:
        raise InputError(problems)


def broken_by(job: Job, sound: Sound | None = None) -> list[Broken]:
    """Return every rule that a job breaks: of single values first, then of the others."""
    sheets = JobSheets(job, sound)
    alone = list(sheets.faulty_values())
    return [*alone, *broken_rules(sheets)]


def _place(one: Broken, places: Places) -> str:
    if not isinstance(one.entry, JobEntry):
        return next(table.title for table in input_tables() if table.table == one.table)
    return places.where(one.table, one.entry.name, one.key)


@dataclass(eq=False)
class JobEntry:
    """One model of a job as an entry of its table."""

    table: str
    model: Any
    system: UnitSystem
    faulty: set[str] = field(default_factory=set)

    def get(self, key: str) -> Any:  # noqa: ANN401
        """Return a value, None where it is blank or faulty."""
        return None if key in self.faulty else getattr(self.model, key)

    def blank(self, key: str) -> bool:
        """Return whether a value is not given."""
        return key not in self.faulty and getattr(self.model, key) is None

    def show(self, key: str) -> str:
        """Return a value in the user's unit."""
        value = getattr(self.model, key)
        known = next(item for item in fields(self.table) if item.key == key)
        if isinstance(value, MoneyRate):
            return describe(value.amount)
        if isinstance(value, int | float) and not isinstance(value, bool):
            return values.shown(value, usual_column(known, self.system))
        return describe(value)

    @property
    def name(self) -> str:
        """What sets the row apart, mostly its first column; empty for named cells."""
        if hasattr(type(self.model), "row_name"):
            return str(self.model.row_name)
        first = getattr(self.model, fields(self.table)[0].key)
        if isinstance(self.model, JobValues) or self.table == "rates":
            return ""
        return f"{first:g}" if isinstance(first, float) else str(first)

    def where(self, key: str) -> str:
        """Return the row that a value belongs to, by its name."""
        return self.name or key


class JobValues:
    """All inputs of the Job sheet, whatever their group."""

    def __init__(self, job: Job) -> None:
        self._job = job

    def __getattr__(self, key: str) -> object:
        return self._job.input(key)


class OverrideValues:
    """A change of a scenario as its row has it."""

    def __init__(self, override: Override) -> None:
        headers = {known.key: header for header, known in overridable().items()}
        self.scenario, self.value, self.note = override.scenario, override.value, override.note
        self.input = headers.get(override.key, override.key)
        self.alternate = override.alternate


class JobSheets:
    """A job as input tables."""

    def __init__(self, job: Job, sound: Sound | None = None) -> None:
        self._job, self._system = job, job.cover.unit_system
        self._sound: Sound = {} if sound is None else sound
        self._known: dict[str, Sequence[JobEntry]] = {}

    @cached_property
    def _needed(self) -> frozenset[str]:
        return frozenset(table.table for table in input_tables() if table.needed)

    def has(self, table: str) -> bool:
        """Return whether a table is there: one that may be missing is, if it has entries."""
        return table in self._needed or bool(self.rows(table))

    def rows(self, table: str) -> Sequence[JobEntry]:
        """Return the entries of a table."""
        if table not in self._known:
            models = self._models(table)
            self._known[table] = [JobEntry(table, model, self._system) for model in models]
        return self._known[table]

    def _models(self, table: str) -> Sequence[object]:
        if table == "job":
            return (JobValues(self._job),)
        if table == "rates":
            return (self._job.rates,)
        if table == "scenarios":
            return [OverrideValues(override) for override in self._job.scenarios]
        found: Sequence[object] = getattr(self._job, PARTS.get(table, table))
        return found

    def faulty_values(self) -> Iterator[Broken]:
        """Yield each value that its input does not allow, and leave it out from now on."""
        for name in [table.table for table in input_tables()]:
            models = self._models(name)
            if self._sound.get((name, "")) is models:
                continue
            wrong = [one for known in fields(name) for one in self._faulty(known, self.rows(name))]
            yield from wrong
            if not wrong:
                self._sound[name, ""] = models

    def _faulty(self, known: Field, entries: Sequence[JobEntry]) -> Iterator[Broken]:
        column, key = usual_column(known, self._system), known.key
        held = [getattr(entry.model, key) for entry in entries]
        before = self._sound.get((known.table, key), ())
        if len(before) == len(held) and all(map(is_, before, held)):
            return
        if not any(values.problem(value, column) for value in _unlike(held)):
            self._sound[known.table, key] = held
            return
        for entry, value in zip(entries, held, strict=True):
            wrong = values.problem(value, column)
            if wrong:
                entry.faulty.add(key)
                yield Broken(known.table, entry, key, f"{known.header}: {wrong}")


def _unlike(held: Sequence[object]) -> Iterable[object]:
    """Return each value once where they are of one type, which long schedules repeat a lot."""
    kinds = {type(value) for value in held} - {type(None)}
    return set(held) if len(kinds) <= 1 and kinds <= HASHED else held
