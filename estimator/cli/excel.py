"""``estimator excel-setup``: lets Excel find this Python, and takes that back."""

import argparse
import sys

from estimator.excel import setup
from estimator.excel.installed import Python, this_python, xlwings_version

NEXT = """\
Now: estimator new job.xlsm, open it in Excel, allow its macros, press Estimate.
Trust settings, cell functions and what to do when it does not work: docs/excel.md.
"""


def add_options(parser: argparse.ArgumentParser) -> None:
    """Add the options of ``estimator excel-setup``."""
    parser.add_argument("--undo", action="store_true", help="bring back what was there before")
    parser.add_argument("--dry-run", action="store_true", help="say what would be done, do nothing")
    parser.add_argument(
        "--config", metavar="PATH", default="", help="another settings file than this user's own"
    )
    parser.set_defaults(run=run_setup)


def run_setup(options: argparse.Namespace) -> int:
    """Write this Python into xlwings' settings of the user, or undo that; say every step."""
    place = setup.find_place(sys.platform, options.config)
    changes = _undo(place) if options.undo else _set_up(place)
    for change in changes:
        if not options.dry_run:
            setup.apply(change)
        sys.stdout.write(f"{change.text}\n")
    if options.dry_run:
        sys.stdout.write("Dry run: nothing was changed.\n")
    elif not options.undo:
        sys.stdout.write(NEXT)
    return 0


def _undo(place: setup.Place) -> list[setup.Change]:
    changes = setup.undo_changes(place)
    if not changes:
        sys.stdout.write(f"Nothing to undo: no setup is recorded beside {place.config}\n")
    return changes


def _set_up(place: setup.Place) -> list[setup.Change]:
    python, version = this_python(), xlwings_version()
    changes = setup.setup_changes(place, python, version)
    lines = [
        f"Python  {python.path}, {python.version}, {python.bits}-bit",
        f"xlwings {version}",
        f"file    {place.config}: {setup.text_before(place)}",
        *_cautions(place, python, version),
    ]
    sys.stdout.write("".join(f"{line}\n" for line in lines))
    return changes


def _cautions(place: setup.Place, python: Python, version: str) -> list[str]:
    text = [
        f"note    this Python is {python.bits}-bit; whether Excel is the 32-bit or the 64-bit "
        "edition cannot be seen from here. By its design xlwings does not need them to be alike"
    ]
    if python.starts:
        text.append(
            f"note    it starts {python.starts}: where programs must be allowed, allow both"
        )
    missing = setup.missing_libraries(place, python.path, version)
    if missing:
        text.append(
            f"note    {' and '.join(missing)} not found beside Python: the button works without, "
            "cell functions do not. Install xlwings anew"
        )
    if python.slow_packages:
        text.append(
            f"note    {' and '.join(python.slow_packages)} installed in this Python: xlwings loads "
            "them at every press of a button. Use an environment without them"
        )
    return text
