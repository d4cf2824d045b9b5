"""``estimator completion``: what a shell needs so that Tab completes commands and options."""

from __future__ import annotations

import argparse
import sys

from estimator.environment import variable

SHELLS = ("bash", "zsh", "fish", "powershell")
LINE = "COMP_LINE"
"""The line so far, as the shell passes it."""


def add_options(parser: argparse.ArgumentParser) -> None:
    """Add the options of ``estimator completion``."""
    parser.add_argument("shell", metavar="SHELL", choices=SHELLS, help=", ".join(SHELLS))
    parser.set_defaults(run=run_completion)


def run_completion(options: argparse.Namespace) -> int:
    """Print the lines for the start-up file of a shell."""
    from argcomplete.shell_integration import shellcode

    sys.stdout.write(shellcode(["estimator"], shell=options.shell))
    return 0


def answer() -> None:
    """Tell the shell what could stand next, and end; only the command in the line is loaded."""
    import argcomplete

    from estimator.cli.command import build_parser

    argcomplete.autocomplete(build_parser((variable(LINE) or "").split()))
