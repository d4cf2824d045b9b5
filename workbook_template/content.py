"""What goes into the input cells: defaults and example jobs, read from CSV files.

Keys are those of the input list. They name the unit in which a job holds a value; the files here
hold it in the units of their example, or of the system in their own name.
"""

import csv
import datetime as dt
from collections.abc import Mapping
from functools import cache
from importlib import resources
from importlib.resources.abc import Traversable

from estimator.display import UnitSystem
from estimator.errors import UnknownNameError
from estimator.inputs.dictionary import Field, fields

Value = str | int | float | dt.date | None
Row = Mapping[str, Value]

TEXT_KINDS = frozenset({"text", "choice", "choices", "weekdays", "size"})
NUMBER_OR_TEXT_KINDS = frozenset({"ratio", "segments", "any"})


def package_folder() -> Traversable:
    """Return the folder that holds the CSV files of this package."""
    return resources.files("workbook_template")


def read_csv(file: Traversable) -> list[dict[str, str]]:
    """Return the rows of a CSV file by its header."""
    return list(csv.DictReader(file.read_text("utf-8").splitlines()))


@cache
def own_rows(name: str) -> tuple[Mapping[str, str], ...]:
    """Return the rows of a CSV file that stands directly in this package."""
    return tuple(read_csv(package_folder() / name))


def example_names() -> tuple[str, ...]:
    """Return the names of the example jobs, in alphabetical order."""
    jobs = (package_folder() / "jobs").iterdir()
    return tuple(sorted(job.name for job in jobs if (job / "job.csv").is_file()))


def example_system(name: str) -> UnitSystem:
    """Return the unit system of an example job.

    Raises
    ------
    UnknownNameError
        If there is no example of that name.
    """
    return "SI" if named_overrides("job", name)["unit_system"] == "SI" else "US"


def job_files(example: str, name: str) -> list[Traversable]:
    """Return the files of that name of an example: its own, then that of the job it is based on.

    Raises
    ------
    UnknownNameError
        If there is no example of that name.
    """
    if example not in example_names():
        raise UnknownNameError("example", example, example_names())
    folder = package_folder() / "jobs" / example
    based_on = folder / "based_on.txt"
    found = [folder / name] if (folder / name).is_file() else []
    if based_on.is_file():
        found += job_files(based_on.read_text("utf-8").strip(), name)
    return found


def named_overrides(table: str, example: str) -> dict[str, str]:
    """Return the named values that an example job sets, as text by key."""
    values: dict[str, str] = {}
    for file in reversed(job_files(example, f"{table}.csv")):
        values.update({row["key"]: row["value"] for row in read_csv(file)})
    _refuse_unknown(table, values)
    return values


def named_values(table: str, system: UnitSystem, example: str | None) -> dict[str, Value]:
    """Return the values of a sheet of named cells: the example's, else the defaults.

    Parameters
    ----------
    table : str
        ``job`` or ``rates``.
    system : {'US', 'SI'}
        Units of the values.
    example : str or None
        Name of an example job; None for the template, where facts of the job stay empty.
    """
    own = named_overrides(table, example) if example else {}
    return {
        field.key: typed(field, own.get(field.key, field.default(system)))
        for field in fields(table)
    }


def table_rows(table: str, system: UnitSystem, example: str | None) -> list[dict[str, Value]]:
    """Return the rows of a table: the example's where it has them, else the defaults.

    A table without either, such as the pipe schedule of the template, has no rows.
    """
    file = _table_file(table, system, example)
    rows = read_csv(file) if file is not None else []
    for row in rows:
        _refuse_unknown(table, row)
    return [{f.key: typed(f, row.get(f.key, "")) for f in fields(table)} for row in rows]


def _table_file(table: str, system: UnitSystem, example: str | None) -> Traversable | None:
    defaults = package_folder() / "defaults"
    files = [defaults / f"{table}_{system.lower()}.csv", defaults / f"{table}.csv"]
    if example is not None:
        files = [*job_files(example, f"{table}.csv"), *files]
    return next((file for file in files if file.is_file()), None)


def _refuse_unknown(table: str, row: Mapping[str, str]) -> None:
    keys = [field.key for field in fields(table)]
    for key in row:
        if key not in keys:
            raise UnknownNameError(f"key of table {table}", key, keys)


def typed(field: Field, text: str) -> Value:
    """Return a CSV text as the value that its cell holds.

    Sizes stay text, so that ``1-1/4`` never becomes a date. A ratio or segments are a number
    where the text is one.
    """
    if not text:
        return None
    if field.kind == "date":
        return dt.date.fromisoformat(text)
    if field.kind in TEXT_KINDS:
        return text
    try:
        number = float(text)
    except ValueError:
        if field.kind in NUMBER_OR_TEXT_KINDS:
            return text
        raise
    return int(number) if number.is_integer() else number
