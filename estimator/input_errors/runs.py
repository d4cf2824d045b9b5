"""Rules of the pipe schedule: what a run is made of, and what it names elsewhere."""

from collections.abc import Iterator, Mapping
from functools import lru_cache

from estimator.errors import EstimatorError
from estimator.input_errors.entries import Broken, Entry, Sheets, above, broken, describe
from estimator.models.job import split_names
from estimator.models.job_inputs import EVERY_RUN
from estimator.standards.pipe_sizes import pipe_od_mm
from estimator.standards.pipe_walls import min_wall_mm

TABLE = "schedule"
SMALLER_ENDS = (("reducers", "reducer"), ("reducing_tees", "reducing tee"))


def known_classes(sheets: Sheets) -> Iterator[Broken]:
    """Refuse a class for a run that is not among the machines."""
    known = [entry.get("class_id") for entry in sheets.rows("machines")]
    for entry in [] if None in known else sheets.rows(TABLE):
        asked = entry.get("machine")
        if asked is not None and asked not in known:
            names = ", ".join(known)
            message = f"{asked!r} is not on the Machines sheet. Use one of: {names}"
            yield broken(TABLE, entry, "machine", message)


def known_explained(sheets: Sheets) -> Iterator[Broken]:
    """Refuse a run on the Job sheet, to be explained, that is not in the schedule."""
    known = [entry.get("run_id") for entry in sheets.rows(TABLE)]
    folded = [name.casefold() for name in known if name is not None]
    for job in [] if None in known else sheets.rows("job"):
        asked = job.get("explain_run")
        if asked is None or asked in known or asked.casefold() == EVERY_RUN:
            continue
        if folded.count(asked.strip().casefold()) != 1:
            message = (
                f"{describe(asked)} is not a run of the Pipe schedule. Enter a run, or "
                f"{EVERY_RUN}, or leave it blank"
            )
            yield broken("job", job, "explain_run", message)


def known_runs(sheets: Sheets) -> Iterator[Broken]:
    """Refuse names of joined runs and of runs before that are not in the schedule."""
    entries = sheets.rows(TABLE)
    known = {entry.get("run_id") for entry in entries}
    for key in ("joins", "after"):
        for entry in [] if None in known else entries:
            unknown = [name for name in _named(entry, key) if name not in known]
            if unknown:
                message = (
                    f"{', '.join(unknown)}: no such run in this schedule. Enter run names "
                    "separated by semicolons"
                )
                yield broken(TABLE, entry, key, message)


def not_after_itself(sheets: Sheets) -> Iterator[Broken]:
    """Refuse a start after the run itself."""
    for entry in sheets.rows(TABLE):
        name = entry.get("run_id")
        if name is not None and name in _named(entry, "after"):
            yield broken(TABLE, entry, "after", f"{name} is this run. Enter other runs")


def no_circles(sheets: Sheets) -> Iterator[Broken]:
    """Refuse runs that start after each other in a circle, once for each circle."""
    entries = {
        entry.get("run_id"): entry
        for entry in sheets.rows(TABLE)
        if entry.get("run_id") is not None
    }
    before = {
        name: [other for other in _named(entry, "after") if other in entries and other != name]
        for name, entry in entries.items()
    }
    for circle in _circles(before):
        text = " after ".join([*circle, circle[0]])
        message = f"These runs wait for each other: {text}. Clear one of their Start after cells"
        yield broken(TABLE, entries[circle[0]], "after", message)


def _named(entry: Entry, key: str) -> tuple[str, ...]:
    return split_names(entry.get(key) or "")


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


def smaller_ends(sheets: Sheets) -> Iterator[Broken]:
    """Refuse reducers and reducing tees without a smaller size to lead to."""
    for entry in sheets.rows(TABLE):
        size = entry.get("reduce_to")
        counts = [(entry.get(key) or 0, word) for key, word in SMALLER_ENDS]
        if any(count for count, _ in counts) and entry.blank("reduce_to"):
            counted = " and ".join(f"{n} {word}{'s' * (n != 1)}" for n, word in counts if n)
            message = f"The cell is blank. Enter the smaller size of the {counted}"
            yield broken(TABLE, entry, "reduce_to", message)
        od_system, main = entry.get("od_system"), entry.get("size")
        if not (size and main and od_system) or size_problem(od_system, main):
            continue
        why = size_problem(od_system, size)
        if not why and pipe_od_mm(od_system, size) >= pipe_od_mm(od_system, main):
            why = f"{size!r} is not smaller than the run's {main}"
        if why:
            yield broken(TABLE, entry, "reduce_to", why)


@lru_cache(maxsize=1024)
def size_problem(od_system: str, size: str) -> str:
    """Return why a size is not one of its system, empty if it is."""
    try:
        pipe_od_mm(od_system, size)
    except EstimatorError as error:
        return str(error)
    return ""


@lru_cache(maxsize=1024)
def wall_problem(od_system: str, size: str, dr: float) -> str:
    """Return why a pipe of this size and ratio is not listed, empty if it is."""
    try:
        min_wall_mm(od_system, size, dr)
    except EstimatorError as error:
        return str(error)
    return ""


def listed_walls(sheets: Sheets) -> Iterator[Broken]:
    """Refuse a size that its system does not list, and a ratio whose wall no table lists."""
    for entry in sheets.rows(TABLE):
        od_system, size, dr = entry.get("od_system"), entry.get("size"), entry.get("dr")
        if od_system is None or size is None:
            continue
        if why := size_problem(od_system, size):
            yield broken(TABLE, entry, "size", why)
        elif dr is not None and (why := wall_problem(od_system, size, dr)):
            yield broken(TABLE, entry, "dr", why)


def string_lengths(sheets: Sheets) -> Iterator[Broken]:
    """Refuse a string shorter than one stick."""
    for entry in sheets.rows(TABLE):
        if above(entry, "stick_length_m", "string_length_m"):
            got, stick = entry.show("string_length_m"), entry.show("stick_length_m")
            message = f"{got} is shorter than one stick or coil ({stick})"
            yield broken(TABLE, entry, "string_length_m", message)


RULES = (
    known_explained,
    known_classes,
    known_runs,
    not_after_itself,
    no_circles,
    smaller_ends,
    listed_walls,
    string_lengths,
)
