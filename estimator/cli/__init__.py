"""The command ``estimator``: one module per subcommand.

In: the arguments of the command line.
Out: text on the screen, files saved, an exit code.
May not know: how anything is worked out; each subcommand is imported when asked for.
"""

from estimator.cli.command import main

__all__ = ["main"]
