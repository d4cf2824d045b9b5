"""Plants faults inside one warm test session: each in a fork, against the tests that reach it.

First every test runs once, and what functions of the core it enters is noted with its time. Then
each fault is planted in a child process, in the code of the function that is already loaded, and
the quickest tests that enter the function run until one fails.
"""

import ast
import contextlib
import csv
import functools
import gc
import os
import pickle
import signal
import sys
import time
import types
from collections import defaultdict
from collections.abc import Callable, Iterator
from pathlib import Path

import pytest

from tests.mutation.faults import ROOT, Fault, core_files, planted

MOST_SECONDS, MOST_TESTS = 20, 40
COLUMNS = ("file", "function", "number", "line", "change", "outcome", "by")
Reached = dict[tuple[str, str], list[tuple[float, str]]]


class Planter:
    """A pytest plugin that runs faults in place of the session's tests.

    Parameters
    ----------
    faults : list of Fault
        What to plant.
    results : Path
        File of outcomes; what stands there is not planted again.
    reached : Path
        Where the tests that enter each function are kept.
    """

    def __init__(self, faults: list[Fault], results: Path, reached: Path) -> None:
        self.faults, self.results, self.reached = faults, results, reached

    @pytest.hookimpl(tryfirst=True)
    def pytest_collection(self) -> None:
        """Draw few examples in each property test; many tests are asked about each fault."""
        from hypothesis import settings

        settings.register_profile("faults", deadline=None, derandomize=True, max_examples=8,
                                  database=None)  # fmt: skip
        settings.load_profile("faults")

    @pytest.hookimpl(tryfirst=True)
    def pytest_runtestloop(self, session: pytest.Session) -> bool:
        """Plant every fault whose outcome is not known yet."""
        session.items[:] = choose(session.items)
        items = {item.nodeid: item for item in session.items}
        self.functions, self.caches = functions_of_core(), caches()
        if not self.reached.exists():
            _in_child(lambda: self._note(session), 3600)
        reached: Reached = pickle.loads(self.reached.read_bytes())
        known = {row["key"] for row in read(self.results)}
        new = not self.results.exists()
        with self.results.open("a", newline="", encoding="utf-8") as file:
            writer = csv.DictWriter(file, COLUMNS)
            if new:
                writer.writeheader()
            for fault in self.faults:
                if fault.key in known:
                    continue
                tests = sorted(reached.get((fault.file, fault.function), ()))[:MOST_TESTS]
                chosen = [items[name] for _, name in tests if name in items]
                outcome, by = self._try(chosen, fault)
                writer.writerow({"file": fault.file, "function": fault.function,
                                 "number": fault.number, "line": fault.line,
                                 "change": fault.change, "outcome": outcome, "by": by})  # fmt: skip
                file.flush()
        return True

    def _try(self, items: list[pytest.Item], fault: Fault) -> tuple[str, str]:
        """Return whether a test noticed a fault, and which."""
        if not items:
            return "not reached", ""
        said = self.results.with_suffix(".test")
        said.unlink(missing_ok=True)

        def run() -> int:
            self._plant(fault)
            end = time.monotonic() + MOST_SECONDS
            for item in items:
                if time.monotonic() > end:
                    break
                said.write_text(item.nodeid, "utf-8")
                if _fails(item):
                    return 1
            return 0

        code = _in_child(run, 2 * MOST_SECONDS)
        by = said.read_text("utf-8") if said.exists() else ""
        return {0: ("survived", ""), 1: ("noticed", by)}.get(code, ("noticed", f"{by} (no end)"))

    def _plant(self, fault: Fault) -> None:
        """Put a fault into the loaded function, and forget what was cached."""
        path = str(ROOT / fault.file)
        new = _code_of(compile(planted(fault), path, "exec"), fault.function)
        for function in self.functions[path, _line_of(path, fault.function), new.co_name]:
            function.__code__ = new
        for cache in self.caches:
            cache.cache_clear()

    def _note(self, session: pytest.Session) -> int:
        """Run every test and note the functions of the core that it enters, with its time."""
        names = _names_of_core()
        found: Reached = defaultdict(list)
        for item in session.items:
            codes: set[types.CodeType] = set()
            see = functools.partial(_see, codes)
            start = time.perf_counter()
            sys.settrace(see)
            with contextlib.suppress(BaseException):
                _fails(item)
            sys.settrace(None)
            taken = time.perf_counter() - start
            places = {(code.co_filename, code.co_firstlineno) for code in codes}
            for name in {names[place] for place in places if place in names}:
                found[name].append((taken, item.nodeid))
        self.reached.write_bytes(pickle.dumps(dict(found)))
        return 0


def read(results: Path) -> Iterator[dict[str, object]]:
    """Yield the outcomes known so far, each with the key of its fault."""
    if not results.exists():
        return
    with results.open(encoding="utf-8") as file:
        for row in csv.DictReader(file):
            key = row["file"], row["function"], int(row["number"]), row["change"]
            yield {**row, "key": key}


def choose(items: list[pytest.Item]) -> list[pytest.Item]:
    """Return the quick tests, and of modules that can get ready for faults the cases that are.

    Such a module works out, once in ``before_faults``, what is slow and does not rest on the core.
    """
    chosen: list[pytest.Item] = []
    ready: dict[object, tuple[str, ...]] = {}
    for item in items:
        module = getattr(item, "module", None)
        if hasattr(module, "before_faults"):
            if module not in ready:
                ready[module] = module.before_faults()
            if any(case in item.name for case in ready[module]):
                chosen.append(item)
        elif item.get_closest_marker("quick") is not None:
            chosen.append(item)
    return chosen


def functions_of_core() -> dict[tuple[str, int, str], list[types.FunctionType]]:
    """Return the loaded functions of the core by file, first line and name."""
    found: dict[tuple[str, int, str], list[types.FunctionType]] = defaultdict(list)
    folder = str(ROOT / "estimator")
    for thing in gc.get_objects():
        if isinstance(thing, types.FunctionType) and thing.__code__.co_filename.startswith(folder):
            code = thing.__code__
            found[code.co_filename, code.co_firstlineno, code.co_name].append(thing)
    return found


def caches() -> list["functools._lru_cache_wrapper[object]"]:
    """Return every cache of a function."""
    return [x for x in gc.get_objects() if isinstance(x, functools._lru_cache_wrapper)]


def _see(codes: set[types.CodeType], frame: types.FrameType, event: str, _: object) -> None:
    """Note the code that is entered; its lines are not looked at."""
    if event == "call":
        codes.add(frame.f_code)


def _fails(item: pytest.Item) -> bool:
    """Run one test with its fixtures and return whether it failed."""
    before = item.session.testsfailed
    item.config.hook.pytest_runtest_protocol(item=item, nextitem=None)
    return item.session.testsfailed > before


def _in_child(work: Callable[[], int], seconds: int) -> int:
    """Run some work in a fork and return its exit code; -1 where it did not end in time."""
    child = os.fork()
    if child == 0:
        code = 3
        try:
            null = os.open(os.devnull, os.O_WRONLY)
            os.dup2(null, 1)
            os.dup2(null, 2)
            signal.alarm(seconds)
            code = work()
        except BaseException:
            code = 3
        finally:
            os._exit(code)
    _, status = os.waitpid(child, 0)
    return os.waitstatus_to_exitcode(status)


def _names_of_core() -> dict[tuple[str, int], tuple[str, str]]:
    """Return the outermost function of each code of the core, by its file and first line."""
    from tests.mutation.faults import outermost

    found: dict[tuple[str, int], tuple[str, str]] = {}
    for path in core_files():
        tree = ast.parse(path.read_text("utf-8"))
        for name, function in outermost(tree):
            for node in ast.walk(function):
                if isinstance(node, ast.FunctionDef | ast.Lambda | ast.GeneratorExp):
                    found[str(path), _first_line(node)] = str(path.relative_to(ROOT)), name
    return found


def _first_line(node: ast.AST) -> int:
    """Return the line at which the code of a function begins: that of its first decorator."""
    decorators = getattr(node, "decorator_list", [])
    return min([node.lineno, *(one.lineno for one in decorators)])  # type: ignore[attr-defined]


def _line_of(path: str, name: str) -> int:
    from tests.mutation.faults import outermost

    return _first_line(dict(outermost(ast.parse(Path(path).read_text("utf-8"))))[name])


def _code_of(module: types.CodeType, name: str) -> types.CodeType:
    """Return the code of a function or method inside that of its module."""
    code = module
    for part in name.split("."):
        code = next(one for one in code.co_consts
                    if isinstance(one, types.CodeType) and one.co_name == part)  # fmt: skip
    return code
