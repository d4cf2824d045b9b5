"""Prints what the stages recorded, in the user's units; the only arithmetic is the unit check."""

import datetime as dt
from collections.abc import Callable, Iterator, Sequence
from functools import cache

from estimator.data_class import dataclass
from estimator.display import UNIT_LABELS, UnitSystem, convert, figure, limit_text, unit_of
from estimator.inputs.dictionary import fields, input_tables
from estimator.models.explanation import Step
from estimator.models.joint import Source
from estimator.models.places import Places
from estimator.steps.kinds import words_of
from estimator.steps.marks import CONSTANTS, Mark
from estimator.steps.recorder import Recorded, Recorder
from estimator.units import UNITS, from_si, to_si

SAME = 1e-6


@cache
def _labels() -> dict[tuple[str, str], tuple[str, str]]:
    tables = [table.table for table in input_tables()]
    every = (field for table in tables for field in fields(table))
    return {(field.table, field.key): (field.header, field.quantity) for field in every}


def labels(table: str, key: str) -> tuple[str, str]:
    """Return header and physical kind of an input."""
    return _labels().get((table, key), ("", ""))


def record(run: Callable[[], object]) -> Sequence[Recorded]:
    """Return the steps of what a function does."""
    with Recorder(labels).on() as recorder:
        run()
    return recorder.steps


def si_value(recorded: Recorded) -> float:
    """Return the number of a step in SI; a rule may have given it in another unit."""
    return to_si(recorded.value, recorded.kind) if recorded.kind in UNITS else recorded.value


@dataclass(frozen=True)
class Page:
    """Turns recorded steps into those of an explanation, in the user's units."""

    system: UnitSystem
    currency: str
    places: Places

    def show(
        self,
        recorded: Recorded,
        name: str = "",
        how: str = "",
        where: str = "",
        sources: tuple[Source, ...] | None = None,
    ) -> Step:
        """Return a recorded step with its sum; raises where the sum would not hold as shown.

        Without sources of its own it has those of the numbers in it.
        """
        mark = recorded.mark
        value, unit = self._result(recorded)
        text = "" if mark.is_given else mark.write(self._number, "page")
        if text:
            text = self._checked(recorded, text, value)
        words = recorded.how or ("" if mark.is_given else mark.write(word, "page"))
        known = tuple(dict.fromkeys(s for leaf in mark.leaves() for s in leaf.sources))
        return Step(
            name=name or recorded.name,
            value=value,
            unit=unit,
            sum=text,
            how=how or words,
            where=where or self.where(recorded),
            sources=known if sources is None else sources,
        )

    def given(
        self,
        name: str,
        value: float,
        unit: str,
        how: str = "",
        where: str = "",
        sources: tuple[Source, ...] = (),
    ) -> Step:
        """Return a number that is looked up or typed, in a unit or in that of its kind."""
        unit = unit_of(unit, self.system) if unit in UNIT_LABELS else unit
        shown = from_si(value, unit) if unit in UNITS else value
        return Step(name, shown, unit, how=how, where=where, sources=sources)

    def text(self, value: str | float | dt.date) -> str:
        """Return a value as a sum shows it."""
        return figure(value) if isinstance(value, int | float) else str(value)

    def range_text(self, low: float, high: float, unit: str) -> str:
        """Return the range between two limits, inside of it to the digit shown."""
        least = limit_text(from_si(low, unit), unit, up=True)
        most = limit_text(from_si(high, unit), unit, up=False)
        return f"{least} to {most}"

    def where(self, recorded: Recorded) -> str:
        """Return the first input cell in the arithmetic of a step that is filled in."""
        return next(self._cells(recorded.mark), "")

    def _result(self, recorded: Recorded) -> tuple[float, str]:
        value, kind = float(recorded.value), recorded.kind
        if kind in UNIT_LABELS:
            return convert(value, kind, self.system), unit_of(kind, self.system)
        return value, self.currency if kind == "money" else {"share": ""}.get(kind, kind)

    def _checked(self, recorded: Recorded, text: str, value: float) -> str:
        """Return a sum that holds on the numbers shown, with the factor of its unit."""
        worked = float(recorded.mark.work(self._shown))
        if abs(worked - value) <= SAME * max(abs(value), SAME):
            return text
        if recorded.kind not in UNIT_LABELS or not value or recorded.mark.taken.op in ("+", "-"):
            raise AssertionError(f"{recorded.key}: units of {text} do not go together")
        inner = recorded.mark.write(self._number, "page", rank=2)
        factor, inverse = figure(value / worked), figure(worked / value)
        shorter = len(inverse.replace(",", "")) < len(factor)
        return f"{inner} / {inverse}" if shorter else f"{inner} x {factor}"

    def _shown(self, mark: Mark) -> float | str:
        value = mark.value or 0
        if isinstance(value, str):
            return value
        return convert(value, mark.kind, self.system) if mark.kind in UNIT_LABELS else float(value)

    def _number(self, mark: Mark) -> str:
        if mark.value in CONSTANTS:
            return CONSTANTS[mark.value][0]
        shown = self._shown(mark)
        return shown if isinstance(shown, str) else figure(shown)

    def _cells(self, mark: Mark) -> Iterator[str]:
        for leaf in mark.leaves():
            if leaf.place and leaf.place.live and self.places.cell(*leaf.place[:3]):
                yield self.places.where(*leaf.place[:3])


def word(mark: Mark) -> str:
    """Return a number of a calculation in words: its name, a constant as it is."""
    if mark.label:
        return words_of(mark.label)
    return CONSTANTS[mark.value][0] if mark.value in CONSTANTS else figure(mark.value)
