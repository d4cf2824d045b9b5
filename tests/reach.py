"""Which tests ask for LibreOffice: seen from their code, their fixtures and their helpers."""

import functools
import inspect
import types

OFFICE = ("tests.office", "tests.lo_engine")


def functions_of(item):
    """Return the functions that a test runs: its own and those of its fixtures."""
    function = getattr(item, "function", None)
    if function is None:
        return []
    inner = getattr(getattr(item.obj, "hypothesis", None), "inner_test", function)
    named = item._fixtureinfo.name2fixturedefs.values()
    return [inner, *(fixture.func for fixtures in named for fixture in fixtures)]


@functools.cache
def needs_office(function):
    """Return whether a function of the tests, or one that it calls, uses the office."""
    function = inspect.unwrap(function)
    waiting, seen = [function], set()
    while waiting:
        one = waiting.pop()
        if is_of_office(one):
            return True
        code = getattr(one, "__code__", None)
        if code is None or one in seen or not one.__module__.startswith("tests."):
            continue
        seen.add(one)
        names = names_in(code)
        waiting += [one.__globals__[name] for name in names if name in one.__globals__]
    return False


def is_of_office(thing):
    if isinstance(thing, types.ModuleType):
        return thing.__name__ in OFFICE
    return isinstance(thing, types.FunctionType | type) and thing.__module__ in OFFICE


def names_in(code):
    """Return the names that code uses, those in its inner functions among them."""
    found = set(code.co_names)
    for constant in code.co_consts:
        if isinstance(constant, types.CodeType):
            found |= names_in(constant)
    return found
