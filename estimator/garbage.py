"""How often Python looks for garbage while an estimate is made, and that it does not at the end."""

import atexit
import gc
from collections.abc import Iterator
from contextlib import contextmanager

COLLECT_EVERY = (100_000, 20, 100)
"""Thresholds of the garbage collector: results are trees and live to the end, so that it finds
nothing, and the usual thresholds let it search them over and over."""


@contextmanager
def few_collections() -> Iterator[None]:
    """Have the garbage collector look seldom for a while."""
    before = gc.get_threshold()
    gc.set_threshold(*COLLECT_EVERY)
    try:
        yield
    finally:
        gc.set_threshold(*before)


def end_without_search() -> None:
    """Let this process end without a last search for garbage: its memory goes anyway.

    Whoever started it, such as Excel, waits for its end; after a press the search took 0.05 s.
    """
    atexit.register(gc.freeze)
