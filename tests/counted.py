"""How much a function does, counted: the same on every machine and under any load."""

import sys


def lines_of(work):
    """Return how many lines of Python a function runs, each round of a loop counted.

    What runs inside a library written in another language is not seen.
    """
    count = 0

    def note(frame, event, argument):
        nonlocal count
        count += event == "line"
        return note

    before = sys.gettrace()
    sys.settrace(note)
    try:
        work()
    finally:
        sys.settrace(before)
    return count
