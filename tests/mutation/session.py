"""Plants faults inside one warm test session: each in a fork, against the tests that reach it.

Each fault is planted in a child process, in the code of the function that is already loaded, and
the quickest tests that come by its line run until one fails. ``reached.py`` knows those tests.
"""

import csv
import functools
import gc
import importlib
import time
import types
from collections import defaultdict
from collections.abc import Iterator
from pathlib import Path

import pytest

from estimator import api
from estimator.workbook.book import parse_workbook
from tests import each
from tests.mutation.child import NO_END, at_most, in_child
from tests.mutation.faults import ROOT, Fault, core_files, planted
from tests.mutation.reached import fails, of_tests
from tests.small_book import small_book

COLUMNS = ("file", "function", "number", "change", "code", "outcome", "by")
SURVIVED, NOTICED = 0, 1
ENDLESS = " (no end)"
KEPT = ("estimator.standards", "estimator.inputs", "estimator.workbook")
"""Whose caches rest on no calculation but that of units."""


Tests = list[tuple[float, pytest.Item]]
"""Tests with the seconds that each takes."""


class Planter:
    """A pytest plugin that runs faults in place of the session's tests.

    Parameters
    ----------
    faults : list of Fault
        What to plant.
    results : Path
        File of outcomes; what stands there is not planted again.
    places : Path
        Where the tests that come by each line are kept.
    most_cpu_s : float, optional
        What the tests of one fault may take together; one that has begun goes on to its end.
    """

    def __init__(
        self, faults: list[Fault], results: Path, places: Path, most_cpu_s: float = 10.0
    ) -> None:
        self.faults, self.results, self.places = faults, results, places
        self.most_cpu_s = most_cpu_s
        self.noticed: dict[tuple[str, str], set[str]] = defaultdict(set)
        """The tests that noticed faults of each function, and of each file."""
        self.sound: dict[str, bool] = {}
        """Whether each test that noticed something passes without it."""

    @pytest.hookimpl(tryfirst=True)
    def pytest_collection(self) -> None:
        """Draw few examples in each property test, and stop at the first that fails."""
        from hypothesis import Phase, settings

        settings.register_profile("faults", deadline=None, derandomize=True, max_examples=8,
                                  database=None, phases=(Phase.explicit, Phase.generate),
                                  report_multiple_bugs=False)  # fmt: skip
        settings.load_profile("faults")
        each.MOST_FAILED = 1

    @pytest.hookimpl(tryfirst=True)
    def pytest_runtestloop(self, session: pytest.Session) -> bool:
        """Plant every fault whose outcome is not known yet."""
        warm_up()
        session.items[:] = choose(session.items)
        items = {item.nodeid: item for item in session.items}
        gc.unfreeze()
        self.functions, self.caches = functions_of_core(), caches()
        reached = of_tests(session.items, self.places, self._forget)
        known = {row["key"] for row in read(self.results)}
        if not known:
            keep([], self.results)
        for row in read(self.results):
            self._note(str(row["file"]), str(row["function"]), str(row["by"]))
        gc.freeze()
        with self.results.open("a", newline="", encoding="utf-8") as file:
            writer = csv.writer(file)
            for fault in self.faults:
                if fault.key in known:
                    continue
                chosen = [
                    (taken, items[name]) for taken, name in reached.tests(fault) if name in items
                ]
                outcome, by = self._try(self._likely_first(chosen, fault), fault)
                self._note(fault.file, fault.function, by)
                writer.writerow((*fault.key, outcome, by))
                file.flush()
        return True

    def _note(self, file: str, function: str, by: str) -> None:
        """Keep which test noticed a fault of a function."""
        self.noticed[file, function].add(by.removesuffix(ENDLESS))
        self.noticed[file, ""].add(by.removesuffix(ENDLESS))

    def _likely_first(self, tests: Tests, fault: Fault) -> Tests:
        """Put first what noticed another fault of the function, then tests named after the module.

        Then what noticed another fault of the file.
        """
        function, file = (self.noticed[fault.file, name] for name in (fault.function, ""))
        named = f"test_{Path(fault.file).stem}"

        def likely(one: tuple[float, pytest.Item]) -> tuple[bool, bool, bool]:
            name = one[1].nodeid
            return name not in function, named not in name, name not in file

        return sorted(tests, key=likely)

    def _try(self, tests: Tests, fault: Fault) -> tuple[str, str]:
        """Return whether a test noticed a fault, and which.

        A test that notices one must pass without it, in a child like that of the fault.
        """
        said = self.results.with_suffix(".test")
        while tests:
            said.unlink(missing_ok=True)
            code = in_child(functools.partial(self._run, tests, fault, said))
            if code not in (SURVIVED, NOTICED, NO_END):
                raise RuntimeError(f"{fault} cannot be planted, or its tests cannot run: {code}")
            if code == SURVIVED:
                return "survived", ""
            by = said.read_text("utf-8")
            if self._passes(by, tests, said):
                return "noticed", by + (ENDLESS if code != NOTICED else "")
            tests = [one for one in tests if one[1].nodeid != by]
        return "not reached", ""

    def _passes(self, name: str, tests: Tests, said: Path) -> bool:
        """Return whether a test passes where nothing is planted."""
        if name not in self.sound:
            alone = [one for one in tests if one[1].nodeid == name]
            self.sound[name] = in_child(functools.partial(self._run, alone, None, said)) == SURVIVED
        return self.sound[name]

    def _run(self, tests: Tests, fault: Fault | None, said: Path) -> int:
        """Run tests with a fault until one fails; in a child."""
        self._forget(all_of_them=fault is not None and fault.file.endswith("units.py"))
        if fault is not None:
            self._plant(fault)
        for taken, item in tests:
            said.write_text(item.nodeid, "utf-8")
            at_most(2 + 5 * taken)
            if fails(item):
                return NOTICED
            if time.process_time() > self.most_cpu_s:
                break
        return SURVIVED

    def _plant(self, fault: Fault) -> None:
        """Put a fault into the loaded function."""
        path = str(ROOT / fault.file)
        new = _code_of(compile(planted(fault), path, "exec"), fault.function)
        found = self.functions[path, fault.begin, new.co_name]
        if not found:
            raise LookupError(f"{fault.function} is not loaded")
        for function in found:
            function.__code__ = new

    def _forget(self, *, all_of_them: bool = False) -> None:
        """Empty the caches that may rest on a calculation."""
        for cache in self.caches:
            if all_of_them or not cache.__module__.startswith(KEPT):
                cache.cache_clear()


def read(results: Path) -> Iterator[dict[str, object]]:
    """Yield the outcomes known so far, each with the key of its fault."""
    if not results.exists():
        return
    with results.open(encoding="utf-8") as file:
        for row in csv.DictReader(file):
            key = row["file"], row["function"], int(row["number"]), row["change"], row["code"]
            yield {**row, "key": key}


def keep(rows: list[dict[str, object]], results: Path) -> None:
    """Write outcomes anew."""
    with results.open("w", newline="", encoding="utf-8") as file:
        writer = csv.DictWriter(file, COLUMNS, extrasaction="ignore")
        writer.writeheader()
        writer.writerows(rows)


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


def warm_up() -> None:
    """Load every module of the core, and the tables and words that no fault changes."""
    for path in core_files():
        name = ".".join(path.relative_to(ROOT).with_suffix("").parts)
        importlib.import_module(name.removesuffix(".__init__"))
    api.estimate_workbook(parse_workbook(small_book("plant_piping")))


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
    """Return the caches of the estimator's functions."""
    return [one for one in gc.get_objects() if isinstance(one, functools._lru_cache_wrapper)
            and str(one.__module__).startswith("estimator.")]  # fmt: skip


def _code_of(module: types.CodeType, name: str) -> types.CodeType:
    """Return the code of a function or method inside that of its module."""
    code = module
    for part in name.split("."):
        code = next(one for one in code.co_consts
                    if isinstance(one, types.CodeType) and one.co_name == part)  # fmt: skip
    return code
