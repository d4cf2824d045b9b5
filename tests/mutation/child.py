"""Work in a fork of this process, with limits that count its own work alone."""

import os
import resource
import signal
from collections.abc import Callable

BROKEN, NO_END = 3, 4
MOST_BYTES = 4 << 30


def in_child(work: Callable[[], int]) -> int:
    """Run some work in a fork and return its exit code; nothing that it says is seen."""
    child = os.fork()
    if child == 0:
        code = BROKEN
        try:
            null = os.open(os.devnull, os.O_RDWR)
            for stream in range(3):
                os.dup2(null, stream)
            signal.signal(signal.SIGPROF, lambda *_: os._exit(NO_END))
            resource.setrlimit(resource.RLIMIT_AS, (MOST_BYTES, MOST_BYTES))
            code = work()
        finally:
            os._exit(code)
    _, status = os.waitpid(child, 0)
    return os.waitstatus_to_exitcode(status)


def at_most(cpu_s: float) -> None:
    """End the child with ``NO_END`` after some more seconds of its own work."""
    signal.setitimer(signal.ITIMER_PROF, cpu_s)
