"""Rules of the Scenarios table: which inputs may be changed, each once in a scenario."""

from collections.abc import Iterator

from estimator.input_errors.entries import Broken, Entry, Sheets, broken
from estimator.inputs.dictionary import LEAVE_OUT
from estimator.models.job import omitted

TABLE = "scenarios"
BASE_NAME = "base"


def base_name(sheets: Sheets) -> Iterator[Broken]:
    """Refuse a scenario by the name of the job as it stands."""
    for entry in sheets.rows(TABLE):
        name = entry.get("scenario")
        if name is not None and name.casefold() == BASE_NAME:
            message = f"{name!r} is the name of the base job. Use another name"
            yield broken(TABLE, entry, "scenario", message)


def inputs_once(sheets: Sheets) -> Iterator[Broken]:
    """Refuse an input that a scenario changes twice."""
    seen: dict[tuple[str, str], Entry] = {}
    for entry in sheets.rows(TABLE):
        name, header = entry.get("scenario"), entry.get("input")
        if name is None or header is None:
            continue
        before = seen.setdefault((name.casefold(), header), entry)
        if before is not entry:
            message = (
                f"{header!r} is already changed in {name!r}, at {before.where('input')}. Change "
                "each input once per scenario"
            )
            yield broken(TABLE, entry, "input", message)


def known_runs(sheets: Sheets) -> Iterator[Broken]:
    """Refuse a scenario that omits unknown runs, or all, or pipe that has no price."""
    schedule = sheets.rows("schedule")
    runs = {entry.get("run_id") for entry in schedule}
    priced = {entry.get("run_id") for entry in schedule if not entry.blank("pipe_price")}
    for entry in [] if None in runs else sheets.rows(TABLE):
        if entry.get("input") != LEAVE_OUT or entry.get("value") is None:
            continue
        names, only_pipe = omitted(str(entry.get("value")))
        unknown = [name for name in names if name not in runs]
        free = [name for name in names or runs if name not in priced] if only_pipe else []
        if unknown:
            message = (
                f"{', '.join(unknown)}: no such run in this schedule. Enter run names separated "
                "by semicolons, or pipe, or pipe of and run names"
            )
            yield broken(TABLE, entry, "value", message)
        elif only_pipe and len(free) == len(names or runs):
            yield broken(TABLE, entry, "value", "None of this pipe has a price. Price it first")
        elif not only_pipe and runs <= set(names):
            yield broken(TABLE, entry, "value", "No run would be left. Keep at least one")


RULES = (base_name, inputs_once, known_runs)
