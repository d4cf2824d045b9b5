"""Rows of pipe into runs: several rows merged or kept, and each fitting given to its run."""

from bisect import bisect_left
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import field
from functools import lru_cache
from typing import Any

from estimator.data_class import dataclass
from estimator.errors import EstimatorError, Problem
from estimator.joint.geometry import size_name, system_names
from estimator.takeoff import typed
from estimator.takeoff.answers import BLANK, RULE, Answer, Answers
from estimator.takeoff.columns import field_of, labels
from estimator.takeoff.rows import FittingRow, PipeRow, Sorted
from estimator.takeoff.typed import Measured
from estimator.workbook.sheet.source import RawCell

MERGED, KEPT = "merged into one run", "a run each"
RUN_ABOVE, OF_THAT_SIZE = "the run above", "the only run of that size"
NUMBERED = "R01, R02 and so on"
JOINED = "description"
"""What rows of one run may differ in: their texts are joined."""
NEEDED = ("od_system", "size", "dr", "stick_length_m", "placement")
"""What every run needs, beside its name and its length."""


@dataclass()
class TakenRun:
    """One run: values by key of the schedule, and the foreign cell that each comes from."""

    name: str
    row: int
    values: dict[str, Any]
    lengths: tuple[Measured, ...]
    counts: dict[str, int] = field(default_factory=dict)
    angles: dict[float, int] = field(default_factory=dict)
    cells: dict[str, RawCell] = field(default_factory=dict)
    listed: tuple[FittingRow, ...] = ()

    @property
    def fittings(self) -> int:
        """Number of its fittings, tie-ins and other connections."""
        return sum(self.counts.values())

    def length(self, unit: str) -> float:
        """Return its whole length in a unit."""
        return sum(one.within(unit) for one in self.lengths)

    @property
    def size(self) -> str:
        """The size as its table prints it, or as it was typed where it is in no table."""
        return _size_name(self.values.get("od_system"), self.values.get("size"))


def make_runs(
    in_order: Sorted, answers: Answers, defaults: Mapping[str, Any], known: frozenset[str]
) -> tuple[list[TakenRun], list[Problem]]:
    """Return the runs of a table, each with its fittings, and what cannot be given to any.

    Parameters
    ----------
    in_order : Sorted
        The rows.
    answers : Answers
        Takes the guesses.
    defaults : mapping
        What a blank cell of the schedule stands for, by key.
    known : frozenset of str
        Names of runs that the workbook keeps.
    """
    _fill_blanks(in_order.pipes, answers, defaults)
    named = _named(in_order.pipes, answers, known)
    runs = list(_merged(named, answers))
    problems = list(_give_fittings(runs, in_order, answers))
    for run in runs:
        run.values["size"] = run.size or run.values.get("size")
        _say_angles(run)
    return runs, problems


def _say_angles(run: TakenRun) -> None:
    """Set the angles of the elbows as the schedule lists them, the greatest first."""
    angles = sorted(run.angles.items(), reverse=True)
    if angles:
        text = "; ".join(f"{number} x {angle:g}" for angle, number in angles)
        run.values.setdefault("elbow_angles", text)


def _fill_blanks(pipes: Sequence[PipeRow], answers: Answers, defaults: Mapping[str, Any]) -> None:
    """Set what rows leave blank and a run needs, to what the user says for all of them."""
    for key in NEEDED:
        without = [pipe for pipe in pipes if key not in pipe.values]
        default = _blank_od_system(pipes) if key == "od_system" else defaults.get(key)
        if not without or (default is None and key in ("size", "dr")):
            continue
        rows = _rows_named([pipe.row for pipe in without], len(pipes))
        unit = default.unit if isinstance(default, Measured) else ""
        shown = f"{default.number:g}" if isinstance(default, Measured) else str(default or "")
        said = answers.settle(Answer(BLANK, labels()[key], shown, unit, f"not stated {rows}"))
        value = _as_default(key, said)
        for pipe in without:
            pipe.values[key] = value
    for pipe in pipes:
        if "size" in pipe.values:
            pipe.values["size"] = _size_name(pipe.values.get("od_system"), pipe.values["size"])


def _as_default(key: str, said: Answer) -> Any:  # noqa: ANN401
    if key == "stick_length_m":
        measured = typed.to_stick(said.meaning)[0]
        return Measured(measured.number, measured.unit or said.unit)
    schedule = field_of(key)
    allowed = schedule.allowed if schedule is not None else ()
    return next((one for one in allowed if one.casefold() == said.meaning.casefold()), said.meaning)


def _blank_od_system(pipes: Sequence[PipeRow]) -> str:
    sizes = [str(pipe.values.get("size", "")) for pipe in pipes]
    metric = sum(size.endswith("mm") or size.upper().startswith("DN") for size in sizes)
    return "ISO" if 2 * metric > len(sizes) else "IPS"


def _rows_named(rows: Sequence[int], among: int) -> str:
    if len(rows) == among:
        return "in any row"
    shown = ", ".join(map(str, rows[:6]))
    return f"in rows {shown}" + (f" and {len(rows) - 6} more" if len(rows) > 6 else "")


def _named(
    pipes: Sequence[PipeRow], answers: Answers, known: frozenset[str]
) -> list[tuple[str, PipeRow]]:
    """Return each row with the name of its run."""
    if pipes and not any(pipe.name for pipe in pipes):
        answers.settle(
            Answer(
                RULE, "Names of runs", NUMBERED, note="no column names them", choices=(NUMBERED,)
            )
        )
        names = _numbered(known)
        return [(next(names), pipe) for pipe in pipes]
    named: list[tuple[str, PipeRow]] = []
    last = ""
    for pipe in pipes:
        if not pipe.name and last:
            answers.settle(
                Answer(
                    RULE, "Pipe row without a run name", RUN_ABOVE, note=f"as in row {pipe.row}",
                    choices=(RUN_ABOVE,),
                )
            )  # fmt: skip
        last = pipe.name or last
        named.append((last or f"row {pipe.row}", pipe))
    return named


def _numbered(known: frozenset[str]) -> Iterator[str]:
    number = 0
    while True:
        number += 1
        if f"R{number:02d}" not in known:
            yield f"R{number:02d}"


def _merged(named: Sequence[tuple[str, PipeRow]], answers: Answers) -> Iterator[TakenRun]:
    """Yield a run for each name, or for each row; rows that differ in the pipe never merge."""
    groups: dict[str, list[PipeRow]] = {}
    for name, pipe in named:
        groups.setdefault(name, []).append(pipe)
    several = [name for name, rows in groups.items() if len(rows) > 1]
    merge = True
    if several:
        note = f"{', '.join(several[:4])}{' and more' if len(several) > 4 else ''}"
        guess = Answer(RULE, "Several rows of one run", MERGED, note=note, choices=(MERGED, KEPT))
        merge = answers.settle(guess).meaning == MERGED
    for name, rows in groups.items():
        parts = list(_alike(rows)) if merge else [[row] for row in rows]
        if merge and len(parts) > 1:
            answers.settle(
                Answer(
                    RULE, "Rows of one run that differ in pipe or placement", "named -1, -2",
                    note=name, choices=("named -1, -2",),
                )
            )  # fmt: skip
        for number, part in enumerate(parts, 1):
            yield _one_run(name if len(parts) == 1 else f"{name}-{number}", part)


def _alike(rows: Sequence[PipeRow]) -> Iterator[list[PipeRow]]:
    """Yield the rows that are alike but for their lengths, counts and description."""
    groups: dict[tuple[tuple[str, str], ...], list[PipeRow]] = {}
    for row in rows:
        key = tuple(sorted((k, str(v)) for k, v in row.values.items() if k != JOINED))
        groups.setdefault(key, []).append(row)
    yield from groups.values()


def _one_run(name: str, rows: Sequence[PipeRow]) -> TakenRun:
    first = rows[0]
    lengths = tuple(one for row in rows for one in row.lengths)
    listed = tuple(fitting for row in rows for fitting in row.fittings)
    run = TakenRun(name, first.row, {}, lengths, listed=listed)
    for row in rows:
        for key, value in row.values.items():
            run.values.setdefault(key, value)
        for key, number in row.counts.items():
            run.counts[key] = run.counts.get(key, 0) + number
        for angle, number in row.angles.items():
            run.angles[angle] = run.angles.get(angle, 0) + number
        for key, cell in row.cells.items():
            run.cells.setdefault(key, cell)
    texts = dict.fromkeys(str(row.values[JOINED]) for row in rows if row.values.get(JOINED))
    if texts:
        run.values[JOINED] = "; ".join(texts)
    return run


class _Homes:
    """The runs of a table, found by name, by size and by row."""

    def __init__(self, runs: Sequence[TakenRun]) -> None:
        self.runs = runs
        self.rows = [run.row for run in runs]
        self.by_name: dict[str, list[TakenRun]] = {}
        self.by_size: dict[str, list[TakenRun]] = {}
        for run in runs:
            for name in {run.name.casefold(), run.name.casefold().rpartition("-")[0]}:
                self.by_name.setdefault(name, []).append(run)
            self.by_size.setdefault(run.size, []).append(run)
        systems = {run.values.get("od_system") for run in runs}
        self.systems = sorted(str(one) for one in systems if one)

    def of_size(self, size: str) -> list[TakenRun]:
        """Return the runs of a size, whatever their OD system."""
        names = dict.fromkeys(_size_name(system, size) for system in self.systems)
        found = (run for name in names for run in self.by_size.get(name, ()))
        return [run for run in found if _size_name(run.values.get("od_system"), size) == run.size]

    def fitting(self, fitting: FittingRow, rule: str) -> list[TakenRun]:
        """Return the runs that a fitting may belong to."""
        if not fitting.run and rule == OF_THAT_SIZE:
            return self.of_size(fitting.size) if fitting.size else list(self.runs)
        if fitting.run:
            named = self.by_name.get(fitting.run.casefold(), [])
        else:
            above = bisect_left(self.rows, fitting.cell.row)
            named = list(self.runs[max(above - 1, 0) : above])
        if not fitting.size:
            return named
        return [
            run
            for run in named
            if _size_name(run.values.get("od_system"), fitting.size) == run.size
        ]


def _give_fittings(
    runs: Sequence[TakenRun], in_order: Sorted, answers: Answers
) -> Iterator[Problem]:
    for run in runs:
        for fitting in run.listed:
            yield from _add(run, fitting)
    homes = _Homes(runs)
    loose = [fitting for fitting in in_order.fittings if not fitting.run]
    rule = _rule(homes, loose, answers) if loose else ""
    for fitting in in_order.fittings:
        fits = homes.fitting(fitting, rule)
        if len(fits) == 1:
            yield from _add(fits[0], fitting)
            continue
        yield Problem(fitting.cell.where, _no_run(homes, fitting, fits))


def _rule(homes: _Homes, loose: Sequence[FittingRow], answers: Answers) -> str:
    unique = all(len(homes.fitting(fitting, OF_THAT_SIZE)) == 1 for fitting in loose)
    guess = Answer(
        RULE, "Fittings without a run name", OF_THAT_SIZE if unique else RUN_ABOVE,
        note=_rows_named(sorted({fitting.cell.row for fitting in loose}), 0),
        choices=(OF_THAT_SIZE, RUN_ABOVE),
    )  # fmt: skip
    return answers.settle(guess).meaning


def _no_run(homes: _Homes, fitting: FittingRow, fits: Sequence[TakenRun]) -> str:
    what = f"{labels()[fitting.key]}, {fitting.size or 'no size'}"
    said = f"run {fitting.run!r}" if fitting.run else "no run"
    if fits:
        named = ", ".join(run.name for run in fits[:6])
        return f"{what}, {said}: fits several runs ({named}). Name the run in its own column"
    if fitting.run and fitting.run.casefold() not in homes.by_name:
        return f"{what}, {said}: no run of this table has that name"
    sized = [run.name for run in homes.of_size(fitting.size)]
    near = f"; of that size: {', '.join(sized[:6])}" if sized else "; no run has that size"
    return f"{what}, {said}: is not of the size of its run{near}. Name the run in its own column"


def _add(run: TakenRun, fitting: FittingRow) -> Iterator[Problem]:
    """Add a fitting to a run; a second size of reducer cannot stand in its row."""
    run.counts[fitting.key] = run.counts.get(fitting.key, 0) + fitting.number
    run.cells.setdefault(fitting.key, fitting.cell)
    if fitting.angle is not None:
        run.angles[fitting.angle] = run.angles.get(fitting.angle, 0) + fitting.number
    if fitting.made:
        yield from _set_alike(run, fitting, "fittings_made", fitting.made)
    if fitting.reduce_to:
        smaller = _size_name(run.values.get("od_system"), fitting.reduce_to)
        yield from _set_alike(run, fitting, "reduce_to", smaller)


def _set_alike(run: TakenRun, fitting: FittingRow, key: str, value: str) -> Iterator[Problem]:
    """Set what all fittings of a run share; a second value cannot stand in its row."""
    kept = run.values.setdefault(key, value)
    run.cells.setdefault(key, fitting.cell)
    if kept != value:
        yield Problem(
            fitting.cell.where,
            f"{labels()[key]}: fittings of run {run.name} have {kept} and {value}, and a run has "
            "one. Give some of them to another run by name",
        )


@lru_cache(maxsize=4096)
def _size_name(od_system: object, size: object) -> str:
    """Return a size as its table prints it, as it was typed where no table has it."""
    if not isinstance(size, str):
        return ""
    if od_system not in system_names():
        return size
    try:
        return size_name(str(od_system), size)
    except EstimatorError:
        return size
