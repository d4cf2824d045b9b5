"""Which tests come by which line of the calculation core, and how long each takes."""

import ast
import functools
import hashlib
import itertools
import pickle
import sys
import time
import types
from collections.abc import Callable, Iterable, Iterator
from dataclasses import dataclass, field
from pathlib import Path

import pytest

from tests import each
from tests.mutation.child import at_most, in_child
from tests.mutation.faults import ROOT, Fault, core_files, first_line, outermost

MOST_CPU_S, MOST_CASES = 6.0, 30
"""A test that takes longer while its lines are noted is none of the quickest. Of one over many
cases the lines of the first are noted."""
Line = tuple[str, str, int]
"""File, outermost function, and the line counted from where that begins."""


@dataclass
class Seen:
    """What one test came by, as one bit for each line of ``Reached.lines``."""

    taken_s: float
    lines: int


@dataclass
class Reached:
    """What the tests came by, by file and name."""

    lines: dict[Line, int] = field(default_factory=dict)
    of_files: dict[str, tuple[str, dict[str, Seen]]] = field(default_factory=dict)
    """The digest of each file of tests with what its tests came by."""

    def tests(self, fault: Fault) -> list[tuple[float, str]]:
        """Return the tests that come by a fault, the quickest first."""
        offsets = range(fault.line - fault.begin, fault.last_line - fault.begin + 1)
        places = {(fault.file, fault.function, offset) for offset in offsets}
        mask = sum(1 << self.lines[place] for place in places & self.lines.keys())
        return sorted((seen.taken_s, name) for _, tests in self.of_files.values()
                      for name, seen in tests.items() if seen.lines & mask)  # fmt: skip


def of_tests(items: list[pytest.Item], kept: Path, forget: Callable[[], None]) -> Reached:
    """Return what tests come by: as it was kept for files that did not change, noted for others."""
    known = pickle.loads(kept.read_bytes()) if kept.exists() else Reached()
    for line in lines_of_core():
        known.lines.setdefault(line, len(known.lines))
    for path, group in itertools.groupby(items, key=lambda item: item.path):
        digest = hashlib.sha256(path.read_bytes()).hexdigest()
        if known.of_files.get(path.name, ("",))[0] != digest:
            tests = list(group)
            known.of_files[path.name] = digest, _noted(tests, known.lines, kept, forget)
            kept.write_bytes(pickle.dumps(known))
    return known


def lines_of_core() -> Iterator[Line]:
    """Yield each line of the functions of the core."""
    for path in core_files():
        for _, line in _lines_of(path):
            yield line


@functools.cache
def _lines_of(path: Path) -> list[tuple[int, Line]]:
    file = str(path.relative_to(ROOT))
    return [
        (number, (file, name, number - first_line(function)))
        for name, function in outermost(ast.parse(path.read_text("utf-8")))
        for number in range(first_line(function), (function.end_lineno or 0) + 1)
    ]


def _noted(items: list[pytest.Item], lines: dict[Line, int], kept: Path,
           forget: Callable[[], None]) -> dict[str, Seen]:  # fmt: skip
    """Run tests, each in a child, and return what those that pass came by."""
    said = kept.with_suffix(".one")
    found: dict[str, Seen] = {}
    for item in items:
        said.unlink(missing_ok=True)
        in_child(functools.partial(_note, item, lines, said, forget))
        if said.exists():
            found[item.nodeid] = pickle.loads(said.read_bytes())
    return found


def _note(item: pytest.Item, lines: dict[Line, int], said: Path,
          forget: Callable[[], None]) -> int:  # fmt: skip
    forget()
    each.MOST_CASES = MOST_CASES
    at_most(MOST_CPU_S)
    watch = Watch(map(str, core_files()))
    start = time.process_time()
    sys.settrace(watch.enter)
    failed = fails(item)
    sys.settrace(None)
    if not failed:
        taken, mask = time.process_time() - start, 0
        for path, number in watch.seen():
            line = dict(_lines_of(Path(path))).get(number)
            mask |= 1 << lines[line] if line else 0
        said.write_bytes(pickle.dumps(Seen(taken, mask)))
    return 0


class Watch:
    """Notes the lines that are come by, of some files; each line of a function once."""

    def __init__(self, files: Iterable[str]) -> None:
        self.files = set(files)
        self.left: dict[types.CodeType, set[int] | None] = {}

    def enter(self, frame: types.FrameType, event: str, _: object) -> Callable[..., object] | None:
        """Look at the lines of a function that still has some unseen; a trace function."""
        code = frame.f_code
        try:
            left = self.left[code]
        except KeyError:
            left = self.left[code] = lines_in(code) if code.co_filename in self.files else None
        return self.line if left else None

    def line(self, frame: types.FrameType, event: str, _: object) -> Callable[..., object]:
        """Note a line; a local trace function."""
        left = self.left[frame.f_code]
        if left:
            left.discard(frame.f_lineno)
        else:
            frame.f_trace_lines = False
        return self.line

    def seen(self) -> set[tuple[str, int]]:
        """Return the files and lines that were come by."""
        return {
            (code.co_filename, number)
            for code, left in self.left.items() if left is not None
            for number in lines_in(code) - left
        }  # fmt: skip


def lines_in(code: types.CodeType) -> set[int]:
    """Return the numbers of the lines of a function's own code."""
    return {number for _, _, number in code.co_lines() if number is not None}


def fails(item: pytest.Item) -> bool:
    """Run one test with its fixtures and return whether it failed."""
    before = item.session.testsfailed
    item.config.hook.pytest_runtest_protocol(item=item, nextitem=None)
    return item.session.testsfailed > before
