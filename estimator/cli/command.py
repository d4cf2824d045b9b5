"""The command ``estimator``: its subcommands and their options."""

from __future__ import annotations

import argparse
import importlib
import re
import sys
from collections.abc import Callable, Sequence
from typing import TYPE_CHECKING

from estimator.cli.ending import DONE, ended, print_problems
from estimator.cli.parser import (
    WRONG_USAGE,
    Parser,
    add_quiet,
    refuse_empty,
    refuse_unknown_command,
)
from estimator.cli.screen import SCREEN, screen_for, take_any_text
from estimator.environment import variable
from estimator.errors import InputError, Problem
from estimator.version import VERSION

if TYPE_CHECKING:
    from estimator.display import UnitSystem

TAB_PRESSED = "_ARGCOMPLETE"
"""Set by a shell that asks what could stand next; estimator/cli/completion.py answers."""
NEGATIVE = re.compile(r"-\d")
OLD_AFTER_MONTHS = 12


def main(arguments: Sequence[str] | None = None) -> int:
    """Run the command and return its exit code."""
    given = sys.argv[1:] if arguments is None else arguments
    if variable(TAB_PRESSED) is not None:
        from estimator.cli.completion import answer

        answer()
    take_any_text()
    return ended(lambda: _run(given))


def _run(arguments: Sequence[str]) -> int:
    parser = build_parser(arguments)
    if not arguments:
        parser.print_help()
        return WRONG_USAGE
    refuse_unknown_command(parser, arguments, [name for name, *_ in COMMANDS])
    refuse_empty(parser, arguments)
    options = parser.parse_args(attach_negative_values(arguments))
    run: Callable[[argparse.Namespace], int] = options.run
    on_screen = getattr(options, "json", None) == SCREEN
    with screen_for(quiet=options.quiet, json=on_screen):
        return run(options)


def attach_negative_values(arguments: Sequence[str]) -> list[str]:
    """Join a value such as ``-25C`` to the option before it, so that it is not taken for one.

    >>> attach_negative_values(["--ambient", "-25C"])
    ['--ambient=-25C']
    """
    attached: list[str] = []
    for argument in arguments:
        if attached and NEGATIVE.match(argument) and attached[-1].startswith("--"):
            attached[-1] += f"={argument}"
        else:
            attached.append(argument)
    return attached


COMMANDS = (
    ("new", "make an input workbook", ""),
    ("company", "say which workbook holds the company's figures", "company"),
    ("import", "fill the pipe schedule from somebody else's takeoff", "take_off"),
    ("estimate", "estimate a workbook and write the results", ""),
    ("check", "check the inputs of a workbook", ""),
    ("compare", "compare scenarios with the base job", "compare"),
    ("diff", "compare two versions of a job and price each change", "diff"),
    ("options", "price other crews, machines and shifts", "options"),
    ("lookahead", "three weeks by day, and what must be ready", "lookahead"),
    ("basis", "weigh the assumptions that the price rests on", "basis"),
    ("print", "print the pages of one reader as PDF", "print_pages"),
    ("explain", "explain one run from schedule to price", "explain"),
    ("baseline", "freeze the awarded job, to compare with progress", "baseline"),
    ("cards", "field cards to print and cut, one for each pipe and machine", "cards"),
    ("status", "where the job stands on a date, and when it ends", "status"),
    ("log", "start the site records of a job, or sum up its joint log", "log"),
    ("claim", "claim progress by bid item, less previous claims", "claim"),
    ("change", "price a change order: remaining work with it, less without it", "change"),
    ("past", "what past jobs suggest for crew-paced times", "past"),
    ("request", "ask rental suppliers by capability, one page each", "request"),
    ("joint", "fusion parameters for one joint", "joint"),
    ("functions", "list the Excel cell functions", "functions"),
    ("completion", "print lines that complete commands and options in a shell", "completion"),
    ("press", "press Estimate in the workbook that is open in Excel", "press"),
    ("excel-setup", "point Excel to this Python, or undo it", "excel"),
)


def build_parser(arguments: Sequence[str] | None = None) -> Parser:
    """Return the parser of all subcommands; only the one asked for gets its options."""
    parser = Parser(
        prog="estimator",
        description="Estimate polyethylene butt fusion jobs in a workbook.",
        epilog="Exit codes: 0 done, 1 bad input, 2 wrong usage, 3 a fault of the estimator, 130 "
        "stopped, 141 a closed pipe. Planning figures only. The makers' instructions, the "
        "qualified procedure, the specification and local code govern.",
    )
    parser.add_argument("--version", action="version", version=f"estimator {VERSION}")
    add_quiet(parser, default=False)
    commands = parser.add_subparsers(title="commands", required=True, metavar="COMMAND")
    own = {"new": _add_new, "estimate": _add_estimate, "check": _add_check}
    for name, about, module in COMMANDS:
        command = commands.add_parser(name, help=about)
        if arguments is None or name in arguments:
            add = own.get(name) or importlib.import_module(f"estimator.cli.{module}").add_options
            add(command)
            add_quiet(command, default=argparse.SUPPRESS)
    return parser


def _add_new(parser: argparse.ArgumentParser) -> None:
    parser.add_argument(
        "file", metavar="FILE", help="workbook to make: .xlsx, or .xlsm with buttons"
    )
    parser.add_argument("--units", choices=("us", "si"), help="unit system (default: us)")
    example = parser.add_argument("--example", metavar="NAME", help="fill in an example job")
    example.completer = _names_of_examples  # type: ignore[attr-defined]
    parser.add_argument(
        "--rates-from", metavar="LAST", default="",
        help="take crews, wages, fleet, times, rates, prices and calendar from this workbook",
    )  # fmt: skip
    parser.add_argument(
        "--old-after", metavar="MONTHS", type=int, default=OLD_AFTER_MONTHS,
        help="mark figures that are older (default: %(default)s months)",
    )  # fmt: skip
    parser.add_argument(
        "--no-company", action="store_true", help="ignore the company workbook this time"
    )
    parser.add_argument(
        "--force", action="store_true", help="replace FILE if it exists; keep the previous version"
    )
    parser.set_defaults(run=run_new)


def _names_of_examples(**_line: object) -> tuple[str, ...]:
    """Return what Tab offers; the names are read only then."""
    from workbook_template import builder

    return builder.example_names()


def _add_estimate(parser: argparse.ArgumentParser) -> None:
    from estimator.cli import output

    output.add_options(parser)
    parser.set_defaults(run=run_estimate)


def _add_check(parser: argparse.ArgumentParser) -> None:
    from estimator.cli.json_option import add_json

    parser.add_argument("file", metavar="FILE", help="input workbook")
    add_json(parser)
    parser.set_defaults(run=run_check)


def run_new(options: argparse.Namespace) -> int:
    """Make an input workbook."""
    from estimator import files
    from estimator.cli import company
    from workbook_template import macro_book

    if files.exists(options.file) and not options.force:
        raise InputError([Problem(options.file, "already exists. Use --force to replace it")])
    files.refuse_unsavable(options.file)
    source = _figures_from(options)
    found = company.read_figures(source) if source else None
    system = found.system if found and not options.units else _unit_system(options)
    own = company.figures_for(found, system, options.old_after) if found else None
    data = macro_book.build_by_name(options.file, system, options.example, own)
    _save_new(options.file, data)
    if own is not None:
        company.say_source(own, source, options.old_after)
    sys.stdout.write(f"{options.file} is ready. Fill in the yellow cells, then run\n")
    sys.stdout.write(f"  estimator estimate {options.file}\n")
    if files.suffix(options.file) == ".xlsm":
        sys.stdout.write("or press Estimate on its Start sheet in Excel (see docs/excel.md)\n")
    return DONE


def _save_new(path: str, data: bytes) -> None:
    """Save a new workbook; the one that it replaces is kept beside it."""
    from estimator import files
    from estimator.cli.screen import notify

    if not files.exists(path):
        files.save_atomically(path, data)
        return
    backup = files.save_with_backup(path, data, notify)
    sys.stdout.write(f"The previous version is {backup}\n")


def _figures_from(options: argparse.Namespace) -> str:
    """Return the workbook whose figures come along, empty for none; examples have their own."""
    from estimator.cli import company

    if options.example is not None and options.rates_from:
        raise InputError([Problem("--rates-from", "an example has its own rates. Leave one out")])
    if options.example is not None or options.no_company:
        return str(options.rates_from)
    return options.rates_from or company.company_workbook()


def _unit_system(options: argparse.Namespace) -> UnitSystem:
    from workbook_template import builder

    asked: UnitSystem = "SI" if options.units == "si" else "US"
    if options.example is None or options.units is not None:
        return asked
    return builder.example_system(options.example)


def run_estimate(options: argparse.Namespace) -> int:
    """Estimate a workbook and write the results into it."""
    from estimator import api
    from estimator.cli import output
    from estimator.cli.progress import watched
    from estimator.export.as_json import estimate_json
    from estimator.export.as_text import summarize

    workbook = output.read(options)
    with watched() as watcher:
        estimate = api.estimate_workbook(workbook, watcher)
    path = output.deliver(options, workbook, estimate, lambda: estimate_json(estimate))
    sys.stdout.write(summarize(estimate, path))
    return DONE


def run_check(options: argparse.Namespace) -> int:
    """Check the inputs of a workbook by estimating it; nothing is written."""
    from estimator import api
    from estimator.cli.json_option import deliver_json, refuse_json_over
    from estimator.cli.progress import watched
    from estimator.display import counted
    from estimator.export.as_json import check_json

    refuse_json_over(options.json, options.file)
    try:
        workbook = api.read_workbook(options.file)
        with watched() as watcher:
            estimate = api.estimate_workbook(workbook, watcher, ranges=False)
    except InputError as error:
        deliver_json(options.json, check_json(None, problems=error.problems))
        raise
    print_problems(estimate.warnings)
    runs, warnings = len(workbook.job.runs), estimate.warnings
    deliver_json(options.json, check_json(runs, warnings=warnings))
    for title, rows in workbook.places.rows_read_text().items():
        sys.stdout.write(f"{title}: read {rows}\n")
    sys.stdout.write(
        f"{options.file}: inputs OK, {counted(runs, 'run')}, {counted(len(warnings), 'warning')}\n"
    )
    return DONE
