"""``estimator excel-setup``: lets Excel find this Python, and takes that back."""

import argparse
import sys

from estimator.excel import setup
from estimator.excel.installed import Python, this_python, xlwings_version

NEXT = """\
Next: run estimator new job.xlsm, open it in Excel, enable macros, and press Estimate.
For trust settings, cell functions and troubleshooting, see docs/excel.md.
"""


def add_options(parser: argparse.ArgumentParser) -> None:
    """Add the options of ``estimator excel-setup``."""
    parser.add_argument("--undo", action="store_true", help="restore the previous settings")
    parser.add_argument(
        "--dry-run", action="store_true", help="show what would change; change nothing"
    )
    parser.add_argument("--config", metavar="PATH", default="", help="use another settings file")
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
        sys.stdout.write("Dry run. Nothing was changed.\n")
    elif not options.undo:
        sys.stdout.write(NEXT)
    return 0


def _undo(place: setup.Place) -> list[setup.Change]:
    changes = setup.undo_changes(place)
    if not changes:
        sys.stdout.write(f"Nothing to undo. No setup is recorded next to {place.config}\n")
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
        f"note    this Python is {python.bits}-bit. The edition of Excel (32-bit or 64-bit) "
        "cannot be seen from here. By its design, xlwings does not need them to match"
    ]
    if python.starts:
        text.append(
            f"note    it starts {python.starts}: where programs must be allowed, allow both"
        )
    missing = setup.missing_libraries(place, python.path, version)
    if missing:
        text.append(
            f"note    {' and '.join(missing)} not found next to Python. The button works without "
            "it; cell functions do not. Reinstall xlwings"
        )
    if python.slow_packages:
        text.append(
            f"note    {' and '.join(python.slow_packages)} installed in this Python. xlwings "
            "loads them every time you press a button. Use an environment without them"
        )
    return text
