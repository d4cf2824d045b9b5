"""What the shell says to the command beside its arguments."""

import os


def variable(name: str) -> str | None:
    """Return a variable of the environment, None where it is not set."""
    return os.environ.get(name)
