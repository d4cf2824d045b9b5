"""Rules of the Scenarios table: which inputs may be changed, each once in a scenario."""

from collections.abc import Iterator

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


RULES = (base_name, inputs_once)
