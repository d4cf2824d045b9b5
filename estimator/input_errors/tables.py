"""Rules of whole tables: no empty one, no name twice, values that rise, every month."""

from collections.abc import Iterator
from itertools import pairwise

from estimator.input_errors.entries import Broken, Entry, Sheets, broken, header
from estimator.inputs.dictionary import fields, input_tables

UNIQUE_KEYS = (
    ("schedule", "run_id"),
    ("machines", "class_id"),
    ("generators", "class_id"),
    ("lifting", "class_id"),
    ("crew", "role"),
    ("size_bands", "band"),
    ("weather", "month"),
    ("risk", "factor"),
    ("material_prices", "what"),
    ("owner_items", "item"),
)
RISING = (("size_bands", "od_to_mm"), ("cold_factors", "from_c"))
NEVER_EMPTY = ("schedule", "machines", "crew", "size_bands", "task_times", "cold_factors")


def never_empty(sheets: Sheets) -> Iterator[Broken]:
    """Refuse an empty table without which nothing can be estimated."""
    titles = {table.table: table.title for table in input_tables()}
    for name in NEVER_EMPTY:
        if sheets.has(name) and not sheets.rows(name):
            message = f"{titles[name]}: the table is empty. Enter at least one row"
            yield Broken(name, None, "", message)


def names_once(sheets: Sheets) -> Iterator[Broken]:
    """Refuse a run, class, role, band or month that stands twice."""
    for table, key in UNIQUE_KEYS:
        first: dict[str, Entry] = {}
        for entry in sheets.rows(table):
            name = entry.get(key)
            if name is None:
                continue
            before = first.setdefault(str(name).casefold(), entry)
            if before is not entry:
                where = before.where(key)
                message = f"{name!r} is already used in {where}. Use each name once"
                yield broken(table, entry, key, message)


def rising(sheets: Sheets) -> Iterator[Broken]:
    """Refuse size bands and cold factors that do not rise from row to row."""
    for table, key in RISING:
        known = [entry for entry in sheets.rows(table) if entry.get(key) is not None]
        for before, entry in pairwise(known):
            if entry.get(key) <= before.get(key):
                message = (
                    f"{entry.show(key)} is not above {before.show(key)} in the row before. "
                    "Values must go up from row to row"
                )
                yield broken(table, entry, key, message)


def every_month(sheets: Sheets) -> Iterator[Broken]:
    """Refuse a weather table without every month."""
    found = [entry.get("month") for entry in sheets.rows("weather")]
    if not sheets.has("weather") or None in found:
        return
    months = next(field.allowed for field in fields("weather") if field.key == "month")
    missing = [month for month in months if month not in found]
    if missing:
        has = len(months) - len(missing)
        message = f"The table has {has} of {len(months)} months. Add {', '.join(missing)}"
        yield Broken("weather", None, "", f"{header('weather', 'month')}: {message}")


RULES = (never_empty, names_once, rising, every_month)
