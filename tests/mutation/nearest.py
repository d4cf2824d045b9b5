"""Run the tests that notice most in the modules that changed: ``make near``.

``nearest.csv`` has the files of tests by module, as ``python -m tests.mutation --nearest`` writes
it: of all faults that were noticed, those that noticed the most of what the ones before left.
"""

import argparse
import csv
import re
import subprocess
import sys
from collections import defaultdict
from collections.abc import Iterable, Iterator, Mapping
from pathlib import Path

from tests.mutation.faults import ROOT, core_files

TABLE = Path(__file__).parent / "nearest.csv"
MOST_FILES, MOST_S = 6, 60
Noticed = Mapping[str, Mapping[str, set[object]]]
"""The faults that each file of tests noticed, by module."""


def noticed_by(outcomes: Iterable[Mapping[str, object]]) -> Noticed:
    """Return which file of tests noticed which faults, by module."""
    found: dict[str, dict[str, set[object]]] = defaultdict(lambda: defaultdict(set))
    for row in outcomes:
        if row["outcome"] == "noticed":
            found[str(row["file"])][str(row["by"]).partition("::")[0]].add(row["key"])
    return found


def nearest(tests: Mapping[str, set[object]]) -> Iterator[str]:
    """Yield the files of tests of one module, each time the one that notices most of the rest."""
    left = set().union(*tests.values())
    while left:
        best = max(sorted(tests), key=lambda name: len(tests[name] & left))
        yield best
        left -= tests[best]


def write(outcomes: Iterable[Mapping[str, object]], path: Path = TABLE) -> None:
    """Write the table anew; modules of which no fault was noticed keep their tests."""
    core = {str(place.relative_to(ROOT)) for place in core_files()}
    tests = {module: files for module, files in read(path).items() if module in core}
    for module, found in noticed_by(outcomes).items():
        tests[module] = [*nearest(found)][:MOST_FILES]
    with path.open("w", newline="", encoding="utf-8") as file:
        writer = csv.writer(file, lineterminator="\n")
        writer.writerow(("module", "tests"))
        writer.writerows((module, " ".join(files)) for module, files in sorted(tests.items()))


def read(path: Path) -> dict[str, list[str]]:
    """Return the tests of each module that the table has."""
    if not path.exists():
        return {}
    with path.open(encoding="utf-8") as file:
        return {row["module"]: row["tests"].split() for row in csv.DictReader(file)}


def tests_of(modules: Iterable[str]) -> list[str]:
    """Return the files of tests of some modules, each once: by the table, else who imports them."""
    known = read(TABLE)
    found = (known.get(module) or importing(module) for module in modules)
    return list(dict.fromkeys(test for tests in found for test in tests))


def importing(module: str) -> list[str]:
    """Return the files of tests that import a module by its name."""
    dotted = module.removesuffix(".py").replace("/", ".")
    package, _, name = dotted.rpartition(".")
    imports = re.compile(
        rf"^(from {dotted} |import {dotted}$|from {package} import (\([^)]*|.*)\b{name}\b)", re.M
    )
    files = sorted((ROOT / "tests").glob("test_*.py"))
    return [f"tests/{file.name}" for file in files if imports.search(file.read_text("utf-8"))]


def changed() -> list[str]:
    """Return the modules of the core that differ from the last commit."""
    asked = ("git", "diff", "--name-only", "HEAD", "--", "estimator")
    names = subprocess.run(asked, cwd=ROOT, capture_output=True, text=True, check=True).stdout
    core = {str(path.relative_to(ROOT)) for path in core_files()}
    return [name for name in names.splitlines() if name in core]


def main() -> None:
    """Run them, and end as they do."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("modules", nargs="*", help="in place of those that changed")
    modules = parser.parse_args().modules or changed()
    if not modules:
        print("No module of the calculation core differs from the last commit.")
        return
    tests = tests_of(modules)
    print(f"{', '.join(modules)}: {' '.join(tests) or 'all quick tests'}", flush=True)
    asked = (sys.executable, "-m", "pytest", "-q", "-x", "-m", "quick", *tests)
    try:
        sys.exit(subprocess.call(asked, cwd=ROOT, timeout=MOST_S))
    except subprocess.TimeoutExpired:
        sys.exit(f"They did not end in {MOST_S} s: a loop without end, or a busy computer.")


if __name__ == "__main__":
    main()
