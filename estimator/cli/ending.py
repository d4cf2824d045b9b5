"""How a command ends: its exit code, and one plain message for whatever stops it."""

import errno
import sys
from collections.abc import Callable, Sequence

from estimator.cli import stopped
from estimator.errors import EstimatorError, InputError, Problem
from estimator.garbage import few_collections

DONE, BAD_INPUT, OUR_FAULT, NOBODY_READS = 0, 1, 3, 141
"""Exit codes; the last is that by which systems report a closed pipe."""
REPORT = "estimator-error.txt"
NO_ROOM = (errno.ENOSPC, errno.EIO)
"""What a screen that is sent to a full disk answers."""


def ended(run: Callable[[], int]) -> int:
    """Run a command and return its exit code; nothing but wrong usage gets past this."""
    try:
        with few_collections():
            code = _code_of(run)
        sys.stdout.flush()
    except InputError as error:
        print_problems(error.problems)
    except EstimatorError as error:
        sys.stderr.write(f"{error}\n")
    except BrokenPipeError:
        return _closed()
    except (KeyboardInterrupt, EOFError):
        return stopped()
    except MemoryError:
        sys.stderr.write("This computer has too little memory free for the job\n")
    except OSError as error:
        is_screen = error.errno in NO_ROOM and not error.filename
        return _not_printed(error) if is_screen else _reported()
    except Exception:  # whatever it is, the user gets a sentence and we get the report
        return _reported()
    else:
        return code
    return BAD_INPUT


def _code_of(run: Callable[[], int]) -> int:
    """Return the exit code of a command; one that ends by itself, as help does, has printed."""
    try:
        return run()
    except SystemExit:
        sys.stdout.flush()
        raise


def print_problems(problems: Sequence[Problem]) -> None:
    """Print each problem on a line of its own."""
    for problem in problems:
        sys.stderr.write(f"{problem}\n")


def _closed() -> int:
    """Send what is still to be printed nowhere: who read it has gone."""
    from estimator import files

    files.discard_output()
    return NOBODY_READS


def _not_printed(error: OSError) -> int:
    """Say why nothing could be printed: a full disk, to which the screen was sent."""
    _closed()
    sys.stderr.write(f"The results cannot be printed: {error.strerror or error}\n")
    return BAD_INPUT


def _reported() -> int:
    import traceback

    from estimator import files

    path = files.temporary_path(REPORT)
    text = traceback.format_exc()
    try:
        files.save_atomically(path, text.encode("utf-8", "backslashreplace"))
    except EstimatorError:
        path = text
    sys.stderr.write(
        "This is a fault of the estimator, not of your input. No file was left half-written. "
        f"Please report it, with the contents of {path}\n"
    )
    return OUR_FAULT
