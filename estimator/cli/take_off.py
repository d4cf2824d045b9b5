"""``estimator import``: a takeoff of somebody else's making into the pipe schedule."""

import argparse
import sys
from collections.abc import Iterator

from estimator import files
from estimator.cli.ending import print_problems
from estimator.cli.screen import notify
from estimator.cli.table import left_columns
from estimator.display import counted
from estimator.errors import InputError, Problem
from estimator.standards.pipe_names import size_label
from estimator.takeoff.answers import Answer, Answers, load
from estimator.takeoff.foreign import ForeignTable, read_foreign
from estimator.takeoff.into import Import, read_takeoff
from estimator.takeoff.runs import TakenRun
from estimator.takeoff.schedule import APPEND, REPLACE, Target, open_target

HEADS = ("No.", "What", "Found", "Read as", "Unit", "Known", "Note")
WIDEST = 44
RUN_HEADS = ("Run", "Size", "DR", "Length", "Placement", "Fittings")
RUNS_SHOWN = 15
PROMPT = "Accept these readings? y = yes, n = no, or the number of one to change: "
NEXT_TIME = ".map.csv"


def add_options(parser: argparse.ArgumentParser) -> None:
    """Add the options of ``estimator import``."""
    parser.add_argument(
        "takeoff", metavar="TAKEOFF", help="a CSV file or workbook; may be the job itself"
    )
    parser.add_argument("--into", metavar="JOB", required=True, help="workbook to fill in")
    parser.add_argument("--sheet", default="", help="sheet of TAKEOFF that holds the table")
    parser.add_argument(
        "--map", metavar="FILE", default="",
        help=f"how the table is read, kept for the next one (default: TAKEOFF{NEXT_TIME})",
    )  # fmt: skip
    parser.add_argument("--yes", action="store_true", help="accept every reading as guessed")
    there = parser.add_mutually_exclusive_group()
    there.add_argument(
        f"--{REPLACE}", dest="mode", action="store_const", const=REPLACE, default="",
        help="replace the existing rows with the runs",
    )  # fmt: skip
    there.add_argument(
        f"--{APPEND}", dest="mode", action="store_const", const=APPEND,
        help="add the runs below the existing rows",
    )  # fmt: skip
    parser.set_defaults(run=run_import)


def run_import(options: argparse.Namespace) -> int:
    """Read a takeoff with the user, and write its runs into the workbook."""
    if files.is_same(options.takeoff, options.into) and not options.sheet:
        raise InputError([Problem("--sheet", "name the sheet of the job that holds the takeoff")])
    files.refuse_unsavable(options.into)
    before = files.read_bytes(options.into)
    target = open_target(before, options.into)
    path = options.map or f"{options.takeoff}{NEXT_TIME}"
    known = load(files.read_bytes(path), path) if files.exists(path) else Answers()
    table = read_foreign(options.takeoff, options.sheet, known)
    found = _agreed(options, table, target, known, path)
    if found is None:
        return 1
    backup = files.save_with_backup(options.into, found.data, notify, read=before)
    files.save_atomically(path, found.answers.confirmed().saved())
    sys.stdout.write(
        f"{options.into}: {counted(len(found.runs), 'run')} with "
        f"{counted(found.fittings, 'fitting')} written to {target.table.sheet}. The previous "
        f"version is {backup}\n"
        f"How the table was read is kept in {path}\n"
        f"Next: estimator check {options.into}\n"
    )
    return 0


def _agreed(
    options: argparse.Namespace, table: ForeignTable, target: Target, answers: Answers, path: str
) -> Import | None:
    """Return the import that the user agrees to, None if there is none."""
    before: Answers | None = None
    while True:
        try:
            found = read_takeoff(table, target, answers, options.mode)
        except InputError as error:
            if before is None:
                raise
            print_problems(error.problems)
            answers, before = before, None
            continue
        asking = bool(found.answers.open) and not options.yes
        _say(_shown(found))
        if found.problems:
            print_problems(found.problems)
            sys.stderr.write(f"{counted(len(found.problems), 'problem')}, nothing was written\n")
        if not asking:
            return None if found.problems else found
        if not _at_terminal():
            _refuse(found, path)
            return None
        said = input(PROMPT).strip().casefold()
        if said in ("y", "yes") and not found.problems:
            return found
        if not said.isdigit() or not 1 <= int(said) <= len(found.answers.asked):
            sys.stdout.write("Nothing was written.\n")
            return None
        before = found.answers.again()
        answers = _changed(found.answers, found.answers.asked[int(said) - 1])


def _at_terminal() -> bool:
    return sys.stdin.isatty() and sys.stdout.isatty()


def _changed(answers: Answers, answer: Answer) -> Answers:
    """Return the answers with another meaning of one, as typed."""
    if answer.choices:
        sys.stdout.write(f"One of: {', '.join(answer.choices)}\n")
    said = input(f"{answer.what} {answer.found}: read as: ")
    return answers.changed(answer, said)


def _refuse(taken: Import, path: str) -> None:
    files.save_atomically(path, taken.answers.saved())
    sys.stderr.write(
        f"{counted(len(taken.answers.open), 'reading')} above are guesses that nobody has "
        "confirmed, so nothing was written. Run again with --yes to accept them; or "
        f"correct them in {path}, set confirmed to yes there, and run again\n"
    )


def _shown(taken: Import) -> Iterator[str]:
    rows = [HEADS, *(_line(number, one) for number, one in enumerate(taken.answers.asked, 1))]
    yield "How the table is read:"
    yield from left_columns(rows)
    if taken.left_out:
        yield "Rows left out:"
        yield from (f"    {line}" for line in taken.rows_left_out())
    yield from left_columns([RUN_HEADS, *(_run(taken, run) for run in taken.runs[:RUNS_SHOWN])])
    if len(taken.runs) > RUNS_SHOWN:
        yield f"and {len(taken.runs) - RUNS_SHOWN} more"
    yield f"{taken.totals}. Compare these with the totals of the table"


def _run(taken: Import, run: TakenRun) -> tuple[str, ...]:
    value = run.values.get
    system = str(value("od_system") or "")
    return (
        run.name,
        size_label(system, run.size) if system and run.size else system or run.size,
        f"{value('dr') or '':g}" if isinstance(value("dr"), float) else str(value("dr") or ""),
        f"{run.length(taken.length_unit):,.10g} {taken.length_unit}",
        str(value("placement") or ""),
        str(run.fittings or ""),
    )


def _line(number: int, one: Answer) -> tuple[str, ...]:
    known = "yes" if one.confirmed else "guess"
    texts = (one.what, one.found, one.meaning, one.unit, known, one.note)
    return (
        str(number),
        *(text if len(text) <= WIDEST else f"{text[: WIDEST - 3]}..." for text in texts),
    )


def _say(lines: Iterator[str]) -> None:
    sys.stdout.write("".join(f"{line}\n" for line in lines))
    sys.stdout.flush()
