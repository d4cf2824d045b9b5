"""Rules of the Scenarios table: which inputs may be changed, each once in a scenario."""

from collections.abc import Iterator

from estimator.inputs.dictionary import LEAVE_OUT
from estimator.models.job import split_names
from estimator.rules.entries import Broken, Entry, Sheets, broken

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
    """Refuse a scenario that leaves out unknown runs, or all."""
    runs = {entry.get("run_id") for entry in sheets.rows("schedule")}
    for entry in [] if None in runs else sheets.rows(TABLE):
        if entry.get("input") != LEAVE_OUT or entry.get("value") is None:
            continue
        names = split_names(str(entry.get("value")))
        unknown = [name for name in names if name not in runs]
        if unknown:
            message = (
                f"{', '.join(unknown)}: no such run in this schedule. Enter run names separated "
                "by semicolons"
            )
            yield broken(TABLE, entry, "value", message)
        elif runs <= set(names):
            yield broken(TABLE, entry, "value", "No run would be left. Keep at least one")


RULES = (base_name, inputs_once, known_runs)
