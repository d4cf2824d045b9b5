"""The generated page of all commands with their options, from the parser itself."""

import argparse
from collections.abc import Iterator

from estimator.cli.command import COMMANDS, build_parser
from workbook_template.markdown import GENERATED, table_lines

INTRO = (
    "For anyone who types commands or writes them into a script. Dates are written 2027-06-04.",
    "Exit codes: 0 done, 1 bad input, 2 wrong usage, 3 a fault of the estimator, 130 stopped, 141",
    "a closed pipe.",
)
EVERYWHERE = ("help",)


def commands_page() -> str:
    """Return the reference of every command."""
    lines = ["# Commands", "", GENERATED, "", *INTRO, ""]
    parsers = _subcommands(build_parser())
    for name, about, _ in COMMANDS:
        lines += [f"## estimator {name}", "", f"{about[0].upper()}{about[1:]}.", ""]
        lines += table_lines(("argument", "what it does"), _rows(parsers[name]))
        lines.append("")
    return "\n".join(lines)


def _subcommands(parser: argparse.ArgumentParser) -> dict[str, argparse.ArgumentParser]:
    found = next(a for a in parser._actions if isinstance(a, argparse._SubParsersAction))
    return dict(found.choices)


def _rows(parser: argparse.ArgumentParser) -> Iterator[tuple[str, str]]:
    for action in parser._actions:
        if action.dest in EVERYWHERE:
            continue
        default = {"default": action.default, "prog": parser.prog}
        yield _written(action), (action.help or "") % default


def _written(action: argparse.Action) -> str:
    """Return an argument as it is typed."""
    choices = "|".join(map(str, action.choices or ()))
    value = "" if action.nargs == 0 else str(action.metavar or choices or action.dest)
    names = ", ".join(action.option_strings)
    shown = " ".join(filter(None, (names, value)))
    return f"`{shown}`" if action.required or not action.option_strings else f"[`{shown}`]"
