"""``estimator functions``: the cell functions for Excel, with help on their arguments."""

import argparse
import sys
import textwrap
from collections.abc import Iterator

from estimator.errors import UnknownNameError

WIDTH, NAME_WIDTH = 96, 20
MARGIN = "    "
ABOUT = (
    "Cell functions for Excel on Windows. Each argument may be one cell or a whole column. "
    "Arguments in [brackets] are optional. A blank row returns a blank; wrong input returns a "
    "message."
)


def add_options(parser: argparse.ArgumentParser) -> None:
    """Add the options of ``estimator functions``."""
    parser.add_argument(
        "name", nargs="?", metavar="NAME", help="show only this one: PE_WALL or wall"
    )
    parser.set_defaults(run=run_functions)


def run_functions(options: argparse.Namespace) -> int:
    """Print the help of every cell function, or of one."""
    sys.stdout.write("\n".join(lines(options.name)) + "\n")
    return 0


def lines(name: str | None = None) -> Iterator[str]:
    """Yield the help, line by line.

    Parameters
    ----------
    name : str, optional
        A function, with or without ``PE_``, in any case; all of them if not given.

    Raises
    ------
    UnknownNameError
        If there is no such function.
    """
    from estimator.excel.functions import PREFIX, catalog

    known = {function.name: function for function in catalog()}
    if name is None:
        yield from textwrap.wrap(ABOUT, WIDTH)
        chosen = list(known.values())
    else:
        wanted = PREFIX + name.upper().removeprefix(PREFIX)
        if wanted not in known:
            raise UnknownNameError("cell function", name, tuple(known))
        chosen = [known[wanted]]
    for function in chosen:
        yield "" if name is None else "Arguments in [brackets] are optional."
        yield from textwrap.wrap(function.signature, WIDTH, subsequent_indent=MARGIN * 2)
        yield from textwrap.wrap(
            function.description, WIDTH, initial_indent=MARGIN, subsequent_indent=MARGIN
        )
        for argument in function.arguments:
            head = f"{MARGIN}{argument.name:{NAME_WIDTH}}"
            yield from textwrap.wrap(
                argument.doc, WIDTH, initial_indent=head, subsequent_indent=" " * len(head)
            )
