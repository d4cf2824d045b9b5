"""How often Python looks for garbage while an estimate is made."""

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
