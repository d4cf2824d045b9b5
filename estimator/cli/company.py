"""``estimator company``: the workbook whose figures every new job begins with, set once."""

import argparse
import datetime as dt
import sys

from estimator import files
from estimator.display import UnitSystem, counted
from estimator.errors import EstimatorError, InputError, Problem, naming_file
from estimator.inputs.dictionary import input_tables
from estimator.workbook.read.own_figures import OwnFigures, own_figures
from workbook_template.company import Company, company_of

SETTING = "company.txt"
MOST_SHOWN = 20


def add_options(parser: argparse.ArgumentParser) -> None:
    """Add the options of ``estimator company``."""
    parser.add_argument(
        "file", metavar="FILE", nargs="?", default="",
        help="workbook whose crews, wages, fleet, times, rates, prices and calendar new jobs take; "
        "without it, the one that is set is shown",
    )  # fmt: skip
    parser.add_argument("--forget", action="store_true", help="use no company workbook from now on")
    parser.set_defaults(run=run_company)


def run_company(options: argparse.Namespace) -> int:
    """Set, show or forget the company workbook."""
    path = files.settings_path(SETTING)
    if options.forget:
        files.delete(path)
        sys.stdout.write("No company workbook from now on\n")
        return 0
    if options.file:
        read_figures(options.file)
        files.make_folder(files.folder_of(path))
        files.save_atomically(path, f"{files.whole_path(options.file)}\n".encode())
    path = company_workbook()
    said = f"Company workbook: {path}\nestimator new takes its figures\n" if path else (
        "No company workbook. Set one: estimator company FILE\n"
    )  # fmt: skip
    sys.stdout.write(said)
    return 0


def company_workbook() -> str:
    """Return the path of the company workbook, empty where none is set."""
    path = files.settings_path(SETTING)
    return files.read_bytes(path).decode("utf-8").strip() if files.exists(path) else ""


def read_figures(path: str) -> OwnFigures:
    """Return the figures of a workbook; what is wrong in it is reported with its name.

    Raises
    ------
    EstimatorError
        If it is not there or cannot be read.
    InputError
        With every figure that is wrong.
    """
    if not files.exists(path):
        raise EstimatorError(
            f"{path} was not found. Name another with --rates-from, or set another with "
            "estimator company FILE; --no-company makes a workbook without it"
        )
    try:
        with naming_file(path):
            return own_figures(files.read_bytes(path))
    except InputError as error:
        name = files.name_of(path)
        named = (Problem(f"{name} {one.where}", one.message) for one in error.problems)
        raise InputError(list(named)) from error


def figures_for(own: OwnFigures, system: UnitSystem, months: int) -> Company:
    """Return the figures for a new workbook of a unit system, as old as they are today."""
    if months < 1:
        raise InputError(
            [Problem("--old-after", f"{months} is outside the allowed range (1 month or more)")]
        )
    return company_of(own, system, today(), months)


def today() -> dt.date:
    """Return the date from which the age of a figure counts."""
    return dt.date.today()


def say_source(own: Company, source: str, months: int) -> None:
    """Say where the figures come from, and which of them are old."""
    sys.stdout.write(f"Figures from {source}\n")
    old = list(own.old)
    if not old:
        return
    sheets = {table.table: table.sheet for table in input_tables()}
    marked, age = counted(len(old), "figure"), counted(months, "month")
    sys.stdout.write(f"{marked} marked in Basis: older than {age}\n")
    for table, name, basis in old[:MOST_SHOWN]:
        sys.stdout.write(f"    {sheets[table]}: {name}: {basis}\n")
    if len(old) > MOST_SHOWN:
        sys.stdout.write(f"    and {len(old) - MOST_SHOWN} more\n")
