"""Plant faults: ``python -m tests.mutation [--number N] [--seed S] [--only PART] [--again]``."""

import argparse
import contextlib
import csv
import os
from collections import Counter
from pathlib import Path

import pytest

from tests.mutation.faults import ROOT, sample
from tests.mutation.session import Planter, read

TESTS = (
    "band_times", "bid", "bid_items", "butt_kinds", "cost", "cost_by_run", "counting",
    "crew_costs", "criticality", "cycle", "equipment", "fitting_prices", "fleet", "fusion",
    "geometry", "hydrotest", "kinds", "left", "lifting", "money", "on_site", "one_sheet",
    "order_of_rows", "other_costs", "plan_order", "planning", "power", "rental",
    "return_to_strings", "run_order", "second_planner", "shifts", "steps", "thermal", "units",
    "utilization", "weekly_overtime", "working_calendar",
)  # fmt: skip
"""Tests of the core that take moments, by file; those of whole workbooks are left out."""


def read_explained() -> set[tuple[str, str, str]]:
    """Return the faults that change no result, by file, function and change."""
    path = Path(__file__).parent / "explained.csv"
    with path.open(encoding="utf-8") as file:
        return {(row["file"], row["function"], row["change"]) for row in csv.DictReader(file)}


def main() -> None:
    """Plant a sample of faults and say how many were noticed."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--number", type=int, default=800, help="how many, over all modules")
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--only", default="", help="part of a path, such as cost/markup")
    parser.add_argument("--again", action="store_true", help="forget the outcomes known so far")
    parser.add_argument("--tests", nargs="*", default=TESTS, help="test files, such as cost")
    parser.add_argument("--folder", type=Path, default=ROOT / "build" / "mutation")
    asked = parser.parse_args()
    asked.folder.mkdir(parents=True, exist_ok=True)
    results, reached = asked.folder / "outcomes.csv", asked.folder / "reached.bin"
    if asked.again:
        results.unlink(missing_ok=True)
        reached.unlink(missing_ok=True)
    faults = sample(asked.number, asked.seed, asked.only)
    files = [str(ROOT / "tests" / f"test_{name}.py") for name in asked.tests]
    with (
        Path(os.devnull).open("w", encoding="utf-8") as nowhere,
        contextlib.redirect_stdout(nowhere),
    ):
        pytest.main(["-q", "-p", "no:cacheprovider", "-p", "no:xdist", *files],
                    plugins=[Planter(faults, results, reached)])  # fmt: skip
    wanted = {fault.key for fault in faults}
    rows = [row for row in read(results) if row["key"] in wanted]
    counted = Counter(str(row["outcome"]) for row in rows)
    explained = read_explained()
    for row in rows:
        if (row["file"], row["function"], row["change"]) in explained and row[
            "outcome"
        ] != "noticed":
            counted["survived, explained"] += 1
            counted[str(row["outcome"])] -= 1
        elif row["outcome"] != "noticed":
            print(f"{row['file']}:{row['line']} {row['function']}: {row['change']} "
                  f"({row['outcome']})")  # fmt: skip
    print(f"{len(rows)} planted: " + ", ".join(f"{n} {name}" for name, n in counted.items()))


if __name__ == "__main__":
    main()
