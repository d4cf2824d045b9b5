"""How far a command is, on one line of the terminal that is gone when it ends."""

from __future__ import annotations

import sys
import time
from collections.abc import Iterator
from contextlib import contextmanager

from estimator.cli.screen import is_quiet
from estimator.study import Watcher

AGAIN_AFTER_S = 0.1
COUNTED_AFTER_S = 0.5
"""A count that is over sooner is not shown."""


class ProgressLine:
    """One line on the terminal; nothing where the errors go to a file, or with ``--quiet``."""

    def __init__(self) -> None:
        self.shown = sys.stderr.isatty() and not is_quiet()
        self.step_name = "Planning runs"
        self.width = 0
        self.begun = self.counted = time.monotonic()

    def step(self, name: str) -> None:
        """Say which step begins."""
        self.step_name, self.begun = name, time.monotonic()
        self._write(name)

    def count(self, done: int, total: int) -> None:
        """Say how many of all are done in this step."""
        now = time.monotonic()
        if now - self.begun < COUNTED_AFTER_S or now - self.counted < AGAIN_AFTER_S:
            return
        self.counted = now
        self._write(f"{self.step_name}: {done:,} of {total:,}")

    def clear(self) -> None:
        """Take the line away."""
        if self.width:
            self._write("")
            sys.stderr.write("\r")
            sys.stderr.flush()

    def _write(self, text: str) -> None:
        if self.shown:
            sys.stderr.write(f"\r{text:{self.width}}")
            sys.stderr.flush()
            self.width = len(text)


@contextmanager
def watched() -> Iterator[Watcher]:
    """Give who shows how far a study is; the line is gone at the end, however it ends."""
    line = ProgressLine()
    try:
        yield Watcher(line.count, line.step, line.count)
    finally:
        line.clear()
