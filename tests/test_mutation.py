"""The faults that ``make mutants`` plants: each changes the code, and only that."""

import ast
import csv
from pathlib import Path

from tests.mutation import faults, session

FILES = ("money.py", "cost/markup.py", "working_time/clock.py", "equipment/tiers.py")


def test_every_fault_changes_one_function_and_still_compiles():
    for name in FILES:
        path = faults.ROOT / "estimator" / name
        before = ast.dump(ast.parse(path.read_text("utf-8")))
        found = list(faults.faults_of(path))
        assert found or name == "working_time/clock.py"
        for fault in found:
            tree = faults.planted(fault)
            compile(tree, str(path), "exec")
            assert ast.dump(tree) != before, fault


def test_a_sample_is_the_same_each_time_and_reaches_every_module_with_faults():
    drawn = faults.sample(200, 7)
    assert drawn == faults.sample(200, 7) != faults.sample(200, 8)
    files = {path.name for path in faults.core_files() if any(True for _ in faults.faults_of(path))}
    assert {Path(fault.file).name for fault in drawn} == files


def test_a_swap_is_that_of_the_words(tmp_path):
    """Worked by hand: the sites of a small function in the order of the text."""
    tree = ast.parse(
        "def f(a, b=2):\n    if a <= b:\n        return max(a, 3) * -b\n    raise E(1)\n"
    )
    ((_, function),) = faults.outermost(tree)
    words = [word for node in faults.sites(function) for word in faults.changes(node)]
    assert words == ["LtE -> Lt", "Mult -> Div", "max -> min", "3 -> 4", "USub dropped"]


def test_what_is_explained_can_be_planted():
    path = Path(faults.__file__).parent / "explained.csv"
    with path.open(encoding="utf-8") as file:
        rows = list(csv.DictReader(file))
    known = {(fault.file, fault.function, fault.change)
             for path in faults.core_files() for fault in faults.faults_of(path)}  # fmt: skip
    for row in rows:
        assert (row["file"], row["function"], row["change"]) in known, row
        assert row["why"], row


def test_outcomes_are_read_back_by_their_faults(tmp_path):
    path = tmp_path / "outcomes.csv"
    assert list(session.read(path)) == []
    path.write_text(",".join(session.COLUMNS) + "\na.py,f,3,12,Add -> Sub,noticed,test\n", "utf-8")
    (row,) = session.read(path)
    assert row["key"] == faults.Fault("a.py", "f", 3, 99, "Add -> Sub").key
