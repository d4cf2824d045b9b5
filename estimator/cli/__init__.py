"""The command ``estimator``: one module per subcommand.

In: the arguments of the command line.
Out: text on the screen, files saved, an exit code.
May not know: how anything is worked out; each subcommand is imported when asked for.
"""

import sys
from collections.abc import Sequence

STOPPED = 130
"""Exit code by which systems report an interrupt."""


def main(arguments: Sequence[str] | None = None) -> int:
    """Run the command and return its exit code, also if it is stopped while it is loaded."""
    try:
        from estimator.cli.command import main as run
    except KeyboardInterrupt:
        return stopped()
    return run(arguments)


def stopped() -> int:
    """Say that the user stopped the command; return its exit code."""
    sys.stderr.write("Stopped. No file was left half-written\n")
    return STOPPED


__all__ = ["main"]
