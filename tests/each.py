"""One test over many small cases: quicker to collect and run than a test for each of them."""

import functools
import inspect

import pytest

MOST_SHOWN = 10
MOST_CASES = None
MOST_FAILED = float("inf")
"""How many cases are run, and how many may fail: where faults are planted, not all."""
Param = type(pytest.param())


def each(names, cases, ids=str):
    """Run a test for every case, as ``pytest.mark.parametrize`` does, and name all that fail.

    ``names`` are those of the arguments, with commas; the other arguments are fixtures. ``cases``
    that take time to make are a function that makes them, asked when the test runs.
    """
    keys = [name.strip() for name in names.split(",")] if isinstance(names, str) else names

    def rows_of(cases):
        rows = [row_of(case, len(keys), ids) for case in cases]
        assert rows, "no case"
        return rows

    ready = None if callable(cases) else rows_of(cases)

    def decorate(test):
        def run(**fixtures):
            rows, failed = ready or rows_of(cases()), []
            for label, values in rows[:MOST_CASES]:
                try:
                    test(**dict(zip(keys, values, strict=True)), **fixtures)
                except Exception as error:
                    failed.append((label, error))
                if len(failed) >= MOST_FAILED:
                    break
            if failed:
                raise AssertionError(described(failed, len(rows))) from failed[0][1]

        functools.update_wrapper(run, test)
        given = inspect.signature(test)
        others = [p for name, p in given.parameters.items() if name not in keys]
        run.__signature__ = given.replace(parameters=others)
        return run

    return decorate


def row_of(case, count, ids):
    """Return what a case is called, and its values."""
    if isinstance(case, Param):
        return case.id or ", ".join(map(ids, case.values)), case.values
    values = tuple(case) if count > 1 else (case,)
    return ", ".join(map(ids, values)), values


def described(failed, count):
    shown = [f"{label}: {type(error).__name__}: {error}" for label, error in failed[:MOST_SHOWN]]
    more = [f"and {len(failed) - MOST_SHOWN} more"] if len(failed) > MOST_SHOWN else []
    return "\n".join([f"{len(failed)} of {count} cases fail", *shown, *more])
