"""The command ``estimator``: exit 0 done, 1 bad input, 2 wrong usage."""

import argparse
import re
import sys
from collections.abc import Callable, Sequence

from estimator import (
    cli_compare,
    cli_excel,
    cli_explain,
    cli_functions,
    cli_joint,
    cli_options,
    cli_output,
)
from estimator.display import UnitSystem
from estimator.errors import EstimatorError, InputError, Problem
from estimator.version import VERSION

DONE, BAD_INPUT = 0, 1
NEGATIVE = re.compile(r"-\d")
PROGRESS_FROM_RUNS = 500


def main(arguments: Sequence[str] | None = None) -> int:
    """Run the command and return its exit code."""
    given = sys.argv[1:] if arguments is None else arguments
    options = build_parser().parse_args(attach_negative_values(given))
    run: Callable[[argparse.Namespace], int] = options.run
    try:
        return run(options)
    except InputError as error:
        tell_problems(error.problems)
    except EstimatorError as error:
        sys.stderr.write(f"{error}\n")
    return BAD_INPUT


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


def build_parser() -> argparse.ArgumentParser:
    """Return the parser of all subcommands."""
    parser = argparse.ArgumentParser(
        prog="estimator",
        description="Estimates butt fusion jobs in polyethylene pipe, in the workbook.",
        epilog="Planning figures only: the makers' instructions, the qualified procedure, the "
        "specification and local code govern.",
    )
    parser.add_argument("--version", action="version", version=f"estimator {VERSION}")
    commands = parser.add_subparsers(title="commands", required=True, metavar="COMMAND")
    _add_new(commands.add_parser("new", help="make an input workbook"))
    _add_estimate(commands.add_parser("estimate", help="estimate a workbook, write the results"))
    _add_check(commands.add_parser("check", help="check the inputs of a workbook"))
    cli_compare.add_options(commands.add_parser("compare", help="scenarios beside the base"))
    cli_options.add_options(
        commands.add_parser("options", help="other crews, machines and shifts, and their price")
    )
    cli_explain.add_options(commands.add_parser("explain", help="one run from schedule to price"))
    cli_joint.add_options(commands.add_parser("joint", help="parameters of one joint"))
    cli_functions.add_options(commands.add_parser("functions", help="the cell functions for Excel"))
    setup_help = "let Excel find this Python, or undo that"
    cli_excel.add_options(commands.add_parser("excel-setup", help=setup_help))
    return parser


def _add_new(parser: argparse.ArgumentParser) -> None:
    parser.add_argument(
        "file", metavar="FILE", help="workbook to make: .xlsx, or .xlsm with the buttons"
    )
    parser.add_argument("--units", choices=("us", "si"), help="unit system (us if not given)")
    parser.add_argument("--example", metavar="NAME", help="fill in an example job")
    parser.add_argument("--force", action="store_true", help="replace FILE if it is there")
    parser.set_defaults(run=run_new)


def _add_estimate(parser: argparse.ArgumentParser) -> None:
    cli_output.add_options(parser)
    parser.set_defaults(run=run_estimate)


def _add_check(parser: argparse.ArgumentParser) -> None:
    parser.add_argument("file", metavar="FILE", help="workbook with the inputs")
    parser.set_defaults(run=run_check)


def run_new(options: argparse.Namespace) -> int:
    """Make an input workbook."""
    from estimator import files
    from workbook_template import macro_book

    if files.exists(options.file) and not options.force:
        raise InputError([Problem(options.file, "is there already; --force replaces it")])
    system = _unit_system(options)
    data = macro_book.build_by_name(options.file, system, options.example)
    files.save_atomically(options.file, data)
    sys.stdout.write(f"{options.file} is ready: fill in the yellow cells, then run\n")
    sys.stdout.write(f"  estimator estimate {options.file}\n")
    if files.suffix(options.file) == ".xlsm":
        sys.stdout.write("or press Estimate on its Start sheet in Excel; see docs/excel.md\n")
    return DONE


def _unit_system(options: argparse.Namespace) -> UnitSystem:
    from workbook_template import builder

    asked: UnitSystem = "SI" if options.units == "si" else "US"
    if options.example is None or options.units is not None:
        return asked
    return builder.example_system(options.example)


def run_estimate(options: argparse.Namespace) -> int:
    """Estimate a workbook and write the results into it."""
    from estimator import api
    from estimator.report import estimate_json
    from estimator.summary import summarise

    workbook = api.read_workbook(options.file)
    found = api.estimate_workbook(workbook, show_progress)
    path = cli_output.deliver(options, workbook, found, lambda: estimate_json(found))
    cli_output.tell(options, summarise(found, path))
    return DONE


def run_check(options: argparse.Namespace) -> int:
    """Check the inputs of a workbook by estimating it; nothing is written."""
    from estimator import api

    workbook = api.read_workbook(options.file)
    found = api.estimate_workbook(workbook, ranges=False)
    tell_problems(found.warnings)
    runs, warnings = len(workbook.job.runs), len(found.warnings)
    sys.stdout.write(f"{options.file}: inputs are good, {runs} runs, {warnings} warnings\n")
    return DONE


def tell_problems(problems: Sequence[Problem]) -> None:
    """Print each problem on a line of its own."""
    for problem in problems:
        sys.stderr.write(f"{problem}\n")


def show_progress(done: int, total: int) -> None:
    """Show how far the planning of a long job is, on a terminal only."""
    if total >= PROGRESS_FROM_RUNS and sys.stderr.isatty():
        end = "\n" if done == total else "\r"
        sys.stderr.write(f"planning run {done} of {total}{end}")
