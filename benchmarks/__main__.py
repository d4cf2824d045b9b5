"""``make bench``: measures each row of the table and writes it into docs/performance.md.

Every line is a command or a task in a process of its own, by processor time (user and system), so
that other work on the machine matters less; seconds travel badly, ratios within one run travel.
``python -m benchmarks ROW ...`` measures some rows and prints them, without writing.
"""

import datetime as dt
import json
import math
import shutil
import sys
import tempfile
from collections.abc import Iterator
from dataclasses import dataclass
from functools import cached_property
from pathlib import Path

from benchmarks import hand_built
from benchmarks.measured import COMMAND, PYTHON, ROOT, Taken, least, least_of, machine, once
from benchmarks.workbooks import job_of
from workbook_template import build_template

PAGE = ROOT / "docs" / "performance.md"
BEGIN, END = "<!-- measured: make bench writes this -->", "<!-- end of what make bench writes -->"
EXAMPLE = ROOT / "examples" / "raw_water_main.xlsx"
UNO_PYTHON = "/usr/bin/python3"
JOINT = ("joint", "--od-system", "IPS", "--size", "8", "--dr", "11", "--piston-area", "5in2",
         "--drag", "30psi")  # fmt: skip
STARTS, ROUNDS = 9, 2
SMALL, SOME, MANY, MOST = 40, 1_000, 10_000, 20_000
PRESS = (
    "import xlwings, estimator.excel.live\nfrom estimator.garbage import few_collections\n"
    "with few_collections():\n    import estimator.excel.work"
)
LEAN = "import sys; sys.modules.update(pandas=None, matplotlib=None, PIL=None, cryptography=None)\n"
"""Before a start: what xlwings loads where it is installed is not there, as in an office."""
HEAD = "| What | CPU s | Peak MB | Goal | Found | Met |\n|---|---|---|---|---|---|\n"


@dataclass(frozen=True)
class Line:
    """One line of the table: what was found stands against a goal, less is better."""

    what: str
    taken: Taken
    found: float
    goal: float
    unit: str
    """What the goal counts: ``x`` times a baseline, ``s`` or ``MB``."""

    def text(self) -> str:
        """Return the line in Markdown."""
        memory = f"{self.taken.peak_mb:,.0f}" if self.taken.peak_mb else "-"
        goal, found = (f"{_figures(each)} {self.unit}".strip() for each in (self.goal, self.found))
        met = "yes" if self.found <= self.goal else "no"
        return f"| {self.what} | {self.taken.cpu_s:.2f} | {memory} | {goal} | {found} | {met} |\n"


def _figures(value: float) -> str:
    """Return a number to three figures, or to the unit where it has more."""
    return f"{value:,.3g}" if abs(value) < 1_000 else f"{value:,.0f}"


class Bench:
    """Measures what was asked for; a baseline that several lines need is measured once."""

    def __init__(self, folder: Path) -> None:
        self.folder = folder

    def starts(self) -> Iterator[Line]:
        """What is asked often, against a Python that does nothing."""
        bare = self.bare
        for name, arguments in (("--help", ("--help",)), ("--version", ("--version",)),
                                ("joint", JOINT)):  # fmt: skip
            taken = least((*COMMAND, *arguments), STARTS)
            yield Line(f"`estimator {name}`, against bare Python", taken,
                       taken.cpu_s / bare.cpu_s, 5.0, "x")  # fmt: skip

    def press(self) -> Iterator[Line]:
        """What a press loads, against ``import xlwings`` alone; here, and as in an office."""
        for before, where in (("", ""), (LEAN, ", without pandas and matplotlib")):
            alone = least((PYTHON, "-c", f"{before}import xlwings"), STARTS)
            taken = least((PYTHON, "-c", before + PRESS), STARTS)
            yield Line(f"start of a press, against `import xlwings`{where}", taken,
                       taken.cpu_s / alone.cpu_s, 1.5, "x")  # fmt: skip

    def example(self) -> Iterator[Line]:
        """An example of 40 runs, with ranges, options, assumptions and scenarios."""
        path = self.folder / "example.xlsx"
        taken = self._estimated(EXAMPLE.read_bytes(), path, ROUNDS + 1)
        yield Line("example of 40 runs, everything on", taken, taken.cpu_s, 1.0, "s")

    def some(self) -> Iterator[Line]:
        """A thousand runs with everything that is done without being asked."""
        taken = self._estimated(job_of(SOME), self.folder / "some.xlsx", ROUNDS)
        yield Line(f"{SOME:,} runs, everything on", taken, taken.cpu_s, 4.0, "s")

    def many(self) -> Iterator[Line]:
        """Ten thousand runs without ranges, and how it grows from there."""
        taken, path = self.ten_thousand, self.folder / "many.xlsx"
        yield Line(f"{MANY:,} runs, no risk", taken, taken.cpu_s, 7.0, "s")
        yield Line(f"{MANY:,} runs, no risk: memory", taken, taken.peak_mb, 300.0, "MB")
        cells = self._task("same_cells", path)
        yield Line(f"{MANY:,} runs, against its cells through calamine and XlsxWriter", taken,
                   taken.cpu_s / json.loads(cells.output)["seconds"], 0.4, "x")  # fmt: skip
        more = self._estimated(job_of(MOST, trials=0), self.folder / "most.xlsx", 1)
        power = math.log(more.cpu_s / taken.cpu_s, MOST / MANY)
        yield Line(f"{MOST:,} runs: growth exponent of time from {MANY:,}", more, power, 1.1, "")
        memory = math.log(more.peak_mb / taken.peak_mb, MOST / MANY)
        yield Line(f"{MOST:,} runs: growth exponent of memory", more, memory, 1.0, "")
        step = (more.peak_mb - taken.peak_mb) * 50_000 / (MOST - MANY)
        yield Line("memory for each 50,000 runs, by the last step", more, step, 500.0, "MB")

    def recalculation(self) -> Iterator[Line]:
        """A hard recalculation in LibreOffice, against a book built by hand."""
        if not shutil.which("soffice"):
            return
        _ = self.ten_thousand
        many = self.folder / "many.xlsx"
        ours, theirs = self._in_office("recalculate", many, self._hand_built(MANY))
        yield Line(f"hard recalculation of {MANY:,} runs, against a hand-built book",
                   Taken(ours, 0.0, ""), ours / theirs, 2.0, "x")  # fmt: skip

    def load(self) -> Iterator[Line]:
        """Opening a new workbook in LibreOffice, against two books built by hand."""
        if not shutil.which("soffice"):
            return
        path, typed = self.folder / "new.xlsx", self.folder / "typed.xlsx"
        path.write_bytes(build_template("US"))
        hand_built.type_again(path, typed)
        ours, typed_s, hand = self._in_office("load", path, typed, self._hand_built(SMALL))
        against = {"a hand-built book of 3 sheets": (hand, 1.0),
                   "its sheets and cells without any look": (typed_s, 2.0)}  # fmt: skip
        for what, (theirs, goal) in against.items():
            yield Line(f"a new workbook opened, against {what}", Taken(ours, 0.0, ""),
                       ours / theirs, goal, "x")  # fmt: skip

    def _hand_built(self, runs: int) -> Path:
        path = self.folder / "hand.xlsx"
        hand_built.build(path, runs)
        return path

    def _in_office(self, what: str, *paths: Path) -> list[float]:
        """Return what LibreOffice takes with each workbook."""
        worker = (UNO_PYTHON, str(ROOT / "benchmarks" / "office_time.py"))
        found: list[float] = json.loads(once((*worker, what, *map(str, paths))).output)
        return found

    def risk(self) -> Iterator[Line]:
        """Ranges of a thousand runs from ten thousand trials, the estimate not counted."""
        path = self.folder / "risk.xlsx"
        path.write_bytes(job_of(SOME))
        taken = self._task("trials", path)
        spent = json.loads(taken.output)["seconds"]
        yield Line(f"risk, 10,000 trials, {SOME:,} runs", taken._replace(cpu_s=spent),
                   spent, 2.0, "s")  # fmt: skip

    def joints(self) -> Iterator[Line]:
        """A million joints laid out over crews and days, against a loop over a heap of crews."""
        path = self.folder / "joints.xlsx"
        path.write_bytes(job_of(SOME, trials=0))
        taken = self._task("joints", path)
        reported = json.loads(taken.output)
        yield Line(f"{reported['joints']:,} joints planned, against a heap loop",
                   taken._replace(cpu_s=reported["seconds"]),
                   reported["seconds"] / reported["heap"], 3.0, "x")  # fmt: skip

    @cached_property
    def bare(self) -> Taken:
        """A Python that does nothing."""
        return least((PYTHON, "-c", "pass"), STARTS)

    @cached_property
    def ten_thousand(self) -> Taken:
        """The file of ten thousand runs without ranges."""
        return self._estimated(job_of(MANY, trials=0), self.folder / "many.xlsx", ROUNDS)

    def _estimated(self, data: bytes, path: Path, times: int) -> Taken:
        """Estimate a workbook with the command, each time as it was before."""
        every = []
        for _ in range(times):
            path.write_bytes(data)
            every.append(once((*COMMAND, "estimate", str(path))))
        return least_of(every)

    def _task(self, name: str, path: Path) -> Taken:
        return once((PYTHON, "-m", "benchmarks.tasks", name, str(path)))


ROWS = ("starts", "example", "some", "many", "recalculation", "load", "risk", "joints", "press")


def main(asked: list[str]) -> None:
    """Measure the rows that are asked for, all of them without names; all are written."""
    on = machine()
    with tempfile.TemporaryDirectory() as folder:
        bench = Bench(Path(folder))
        lines = []
        for name in asked or ROWS:
            for line in getattr(bench, name)():
                lines.append(line.text())
                sys.stdout.write(lines[-1])
                sys.stdout.flush()
        yardstick = bench.bare.cpu_s
    if asked:
        return
    text = PAGE.read_text("utf-8")
    before, after = text.partition(BEGIN)[0], text.partition(END)[2]
    day = dt.datetime.now(tz=dt.UTC).date().isoformat()
    reported = f"{day}, {on}; bare Python {yardstick * 1000:.0f} ms of processor time.\n\n"
    PAGE.write_text(f"{before}{BEGIN}\n{reported}{HEAD}{''.join(lines)}{END}{after}", "utf-8")


if __name__ == "__main__":
    main(sys.argv[1:])
