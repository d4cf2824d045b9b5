"""Plant faults: ``python -m tests.mutation [--number N] [--seed S] [--only PART] [--again]``."""

import argparse
import contextlib
import csv
import os
from collections import Counter, defaultdict
from collections.abc import Iterator, Mapping
from pathlib import Path

import pytest

from tests.mutation import nearest, page
from tests.mutation.faults import ROOT, Fault, core_files, faults_of, sample
from tests.mutation.session import Planter, keep, read

TESTS = (
    "assumptions", "award_door", "award_identities", "band_times", "baseline",
    "baseline_by_hand", "bid", "bid_items", "butt_kinds", "by_week", "caches", "cells", "claim",
    "cooling_by_air", "cost", "cost_by_hand", "cost_by_run", "counting", "county", "crew_costs",
    "criticality", "cycle", "diff", "earned_value", "equipment", "equipment_by_hand", "explain",
    "field_cards", "fitting_prices", "fleet", "fleet_by_hand", "fleet_choice", "forecast",
    "forecast_by_hand", "foreman_day", "functions_core", "fusion", "gantt", "geometry",
    "hydrotest", "joint_by_hand", "joint_log", "joint_more", "kinds", "learning", "left",
    "lifting", "log_update", "money", "moves_by_hand", "on_site", "one_sheet", "options",
    "options_by_hand", "order_of_rows", "other_costs", "outside", "past", "pay_by_hand",
    "plan_by_hand", "plan_order", "planning", "plausible", "power", "power_by_hand",
    "priced_sheets", "progress_by_hand", "published_rates", "quotes", "recorded",
    "reference_tables", "rental", "rental_request", "rented", "return_to_strings", "risk",
    "risk_by_hand", "row_formulas", "rules", "run_order", "scenarios", "schedule_lines",
    "second_planner", "sharing",
    "shifts", "site_formulas", "site_records", "stages", "standards", "status",
    "status_by_hand", "steps", "takeoff", "takeoff_by_hand", "takeoff_typed", "thermal",
    "typed_limits", "units", "utilization", "week_sheets", "weekly_overtime",
    "what_ifs_by_hand", "working_calendar",
)  # fmt: skip
"""Tests that ask the core, by file; what they need of the office is left out."""
COLUMNS = ("places", "planted", "noticed", "explained", "open")


def read_explained() -> dict[tuple[str, str, str, str], str]:
    """Return why each fault that is named changes no result, by what it is found by."""
    path = Path(__file__).parent / "explained.csv"
    with path.open(encoding="utf-8") as file:
        return {(row["file"], row["function"], row["text"], row["change"]): row["why"]
                for row in csv.DictReader(file)}  # fmt: skip


def near(faults: list[Fault]) -> list[str]:
    """Return the tests nearest to the modules of some faults, and those of the name of one."""
    modules = list(dict.fromkeys(fault.file for fault in faults))
    named = [f"tests/test_{Path(module).stem}.py" for module in modules]
    known = [name for name in named if (ROOT / name).exists()]
    return list(dict.fromkeys([*nearest.tests_of(modules), *known]))


def plant(files: list[str], planter: Planter) -> None:
    """Plant faults in a session of tests that says nothing."""
    quiet = ("-q", "--tb=no", "--assert=plain", "-o", "tmp_path_retention_policy=none")
    off = ("-p", "no:cacheprovider", "-p", "no:xdist")
    with (
        Path(os.devnull).open("w", encoding="utf-8") as nowhere,
        contextlib.redirect_stdout(nowhere),
    ):
        code = pytest.main([*quiet, *off, *files], plugins=[planter])
    if code not in (pytest.ExitCode.OK, pytest.ExitCode.NO_TESTS_COLLECTED):
        raise SystemExit(f"the tests do not run: {code!r}")


def scored(faults: list[Fault], results: Path) -> Iterator[tuple[Fault, str]]:
    """Yield each fault that was planted with its column of the score."""
    outcomes = {row["key"]: row["outcome"] for row in read(results)}
    explained = read_explained()
    for fault in faults:
        if fault.key in outcomes:
            noticed = outcomes[fault.key] == "noticed"
            known = "explained" if fault.reason in explained else "open"
            yield fault, "noticed" if noticed else known


def places() -> Counter[str]:
    """Return how many faults could be planted, by file."""
    found = [faults_of(path) for path in core_files()]
    return Counter({faults[0].file: len(faults) for faults in found if faults})


def score(
    outcomes: list[tuple[Fault, str]], of_files: Mapping[str, int]
) -> dict[str, tuple[int, ...]]:
    """Return the score by module: places, planted, noticed, explained and open."""
    counted: dict[str, Counter[str]] = defaultdict(Counter)
    for fault, outcome in outcomes:
        counted[fault.file][outcome] += 1
        counted[fault.file]["planted"] += 1
    return {
        module_of(file): (of_files[file], *(counts[column] for column in COLUMNS[1:]))
        for file, counts in counted.items()
    }


def module_of(file: str) -> str:
    """Return what the score calls a file."""
    return file.removeprefix("estimator/")


def main() -> None:
    """Plant a sample of faults and say how many were noticed."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--number", type=int, default=800, help="how many, over all modules")
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--only", default="", help="parts of paths: cost/markup,plan/")
    parser.add_argument("--again", action="store_true", help="forget the outcomes known so far")
    parser.add_argument("--open", action="store_true", help="plant anew what went unnoticed")
    parser.add_argument("--tests", nargs="*", help="test files, such as cost; else the nearest")
    parser.add_argument("--all-tests", action="store_true", help="of the core, not the nearest")
    parser.add_argument("--folder", type=Path, default=ROOT / "build" / "mutation")
    parser.add_argument("--cpu", type=float, default=3.0, help="seconds for each fault")
    parser.add_argument("--score", action="store_true", help="write the score, in docs/ too")
    parser.add_argument("--nearest", action="store_true", help="write the tests of each module")
    asked = parser.parse_args()
    asked.folder.mkdir(parents=True, exist_ok=True)
    results, reached = asked.folder / "outcomes.csv", asked.folder / "reached.bin"
    if asked.again:
        results.unlink(missing_ok=True)
        reached.unlink(missing_ok=True)
    faults = sample(asked.number, asked.seed, asked.only)
    if asked.open:
        forget_unnoticed(faults, results)
    names = TESTS if asked.all_tests else asked.tests
    files = [f"tests/test_{name}.py" for name in names or ()] or near(faults)
    plant(sorted(str(ROOT / file) for file in files), Planter(faults, results, reached, asked.cpu))
    outcomes = list(scored(faults, results))
    for fault, outcome in outcomes:
        if outcome == "open":
            print(f"{fault.file}:{fault.line} {fault.function}: {fault.change} in {fault.text}")
    rows = score(outcomes, places())
    print("  ".join(f"{column:>6}" for column in COLUMNS))
    for name, counts in [*rows.items(), ("all", tuple(map(sum, zip(*rows.values(), strict=True))))]:
        print("  ".join(f"{count:>6}" for count in counts), name, sep="  ")
    if asked.nearest:
        nearest.write(read(results))
    if asked.score:
        page.write(rows, {module_of(file): count for file, count in places().items()})


def forget_unnoticed(faults: list[Fault], results: Path) -> None:
    """Leave out of the outcomes those of some faults that no test noticed."""
    asked = {fault.key for fault in faults}
    rows = [row for row in read(results)
            if row["outcome"] == "noticed" or row["key"] not in asked]  # fmt: skip
    keep(rows, results)


if __name__ == "__main__":
    main()
