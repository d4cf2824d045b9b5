"""The faults that ``make mutants`` plants: each changes the code, and only that."""

import ast
import csv
import subprocess
import sys
from dataclasses import replace
from pathlib import Path

from tests.mutation import __main__ as main
from tests.mutation import child, faults, nearest, page, reached, session

FILES = ("money.py", "cost/markup.py", "working_time/clock.py", "equipment/rental_tiers.py")


def test_every_fault_changes_one_function_and_still_compiles():
    for name in FILES:
        path = faults.ROOT / "estimator" / name
        before = ast.dump(ast.parse(path.read_text("utf-8")))
        found = faults.faults_of(path)
        assert found or name == "working_time/clock.py"
        for fault in found:
            tree = faults.planted(fault)
            compile(tree, str(path), "exec")
            assert ast.dump(tree) != before, fault


def test_a_sample_is_the_same_each_time_and_reaches_every_module_with_faults():
    drawn = faults.sample(200, 7)
    assert drawn == faults.sample(200, 7) != faults.sample(200, 8)
    files = {path.name for path in faults.core_files() if faults.faults_of(path)}
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
    known = {fault.reason for path in faults.core_files() for fault in faults.faults_of(path)}
    for reason, why in main.read_explained().items():
        assert reason in known, reason
        assert why, reason


FAULT = faults.Fault("estimator/a.py", "f", 3, "Add -> Sub", "c0de", 10, 12, 13, "a + b")


def test_outcomes_are_read_back_by_their_faults(tmp_path):
    path = tmp_path / "outcomes.csv"
    assert list(session.read(path)) == []
    session.keep([], path)
    with path.open("a", encoding="utf-8") as file:
        file.write("estimator/a.py,f,3,Add -> Sub,c0de,noticed,test\n")
    (row,) = session.read(path)
    assert row["key"] == replace(FAULT, begin=99, line=99, last_line=99).key
    assert row["key"] != replace(FAULT, code="new").key
    main.forget_unnoticed([FAULT], path)
    assert len(list(session.read(path))) == 1


def test_the_score_counts_by_module_and_part():
    other = replace(FAULT, file="estimator/b/c.py")
    places = {FAULT.file: 5, other.file: 1}
    found = main.score([(FAULT, "noticed"), (FAULT, "explained"), (other, "open")], places)
    assert found == {"a.py": (5, 2, 1, 1, 0), "b/c.py": (1, 1, 0, 0, 1)}
    rows = [page.Row(name, at, found[name]) for name, at in (("a.py", "c1"), ("b/c.py", "c2"))]
    said = page.passage([*rows, page.Row("b/d.py", "", (4, 0, 0, 0, 0))])
    assert said.removeprefix(page.HEAD).splitlines() == [
        "| units and money | 5 | 2 | 1 | 1 | 0 |", "| b | 5 | 1 | 0 | 0 | 1 |",
        "| **all** | 10 | 3 | 1 | 1 | 1 |", "", "Planted at commit c1, c2, by module.",
    ]  # fmt: skip


def test_the_score_keeps_what_was_found_before(tmp_path, monkeypatch):
    """Of three modules one is planted anew, one is gone, one was never planted."""
    table, text = tmp_path / "score.csv", tmp_path / "page.md"
    table.write_text("h\na.py,c1,5,5,5,0,0\nb.py,c1,9,9,9,0,0\ngone.py,c1,1,1,1,0,0\n", "utf-8")
    text.write_text(f"Before.\n{page.BEGIN}old\n{page.END}\nAfter.\n", "utf-8")
    monkeypatch.setattr(page, "TABLE", table)
    monkeypatch.setattr(page, "PAGE", text)
    monkeypatch.setattr(page, "commit", lambda: "c2")
    page.write({"b.py": (3, 3, 2, 1, 0)}, {"a.py": 5, "b.py": 3, "new.py": 7})
    rows = [page.Row("a.py", "c1", (5, 5, 5, 0, 0)), page.Row("b.py", "c2", (3, 3, 2, 1, 0)),
            page.Row("new.py", "", (7, 0, 0, 0, 0))]  # fmt: skip
    assert page.read(table) == rows
    assert text.read_text("utf-8") == (
        f"Before.\n{page.BEGIN}{page.passage(rows)}{page.END}\nAfter.\n"
    )


def test_the_page_has_the_score_of_the_table():
    rows = page.read(page.TABLE)
    assert page.passage(rows) in page.PAGE.read_text("utf-8")
    for row in rows:
        places, planted, *outcomes = row.counts
        assert planted == sum(outcomes) <= places, row


def test_the_nearest_tests_are_those_that_notice_most_of_what_is_left(tmp_path):
    """b notices three of four faults, a and c the fourth: b, then a by name."""
    noticed = {"a": (1, 2), "b": (2, 3, 4), "c": (1,)}
    rows = [{"file": "estimator/a.py", "outcome": "noticed", "by": f"{name}::test", "key": key}
            for name, keys in noticed.items() for key in keys]  # fmt: skip
    rows.append({"file": "estimator/b.py", "outcome": "survived", "by": "", "key": 5})
    path = tmp_path / "nearest.csv"
    nearest.write(rows, path)
    assert path.read_text("utf-8") == "module,tests\nestimator/a.py,b a\n"
    path.write_text("module,tests\nestimator/gone.py,c\nestimator/money.py,c d\n", "utf-8")
    nearest.write(rows, path)
    assert nearest.read(path) == {"estimator/a.py": ["b", "a"], "estimator/money.py": ["c", "d"]}


def test_the_nearest_tests_of_a_module_are_there():
    with nearest.TABLE.open(encoding="utf-8") as file:
        tests = {row["module"]: row["tests"].split() for row in csv.DictReader(file)}
    assert len(tests) > 50
    for module, names in tests.items():
        missing = [name for name in (module, *names) if not (faults.ROOT / name).exists()]
        assert not missing, f"make mutants MUTANTS=--nearest writes them anew: {missing}"
        assert names == nearest.tests_of([module])
    assert nearest.tests_of(["estimator/nowhere.py"]) == []


def test_a_module_that_is_not_in_the_table_has_the_tests_that_import_it():
    assert "tests/test_mutation.py" in nearest.importing("tests/mutation/child.py")
    assert "tests/test_claim.py" in nearest.importing("estimator/progress/claim.py")
    assert "tests/test_claim.py" not in nearest.importing("estimator/progress/past.py")


def test_a_fault_is_shown_to_the_tests_that_come_by_its_lines_the_quickest_first():
    """The fault stands in lines 12 and 13, of a function that begins in 10: 2 and 3 from there."""
    lines = {("estimator/a.py", "f", offset): offset + 1 for offset in range(6)}
    seen = {"slow": reached.Seen(3.0, 1 << 3), "quick": reached.Seen(0.1, 1 << 4 | 1 << 1),
            "elsewhere": reached.Seen(0.0, 1 << 1 | 1 << 5)}  # fmt: skip
    found = reached.Reached(lines, {"test_a.py": ("digest", seen)})
    assert found.tests(FAULT) == [(0.1, "quick"), (3.0, "slow")]


def test_lines_that_are_come_by(tmp_path):
    path = tmp_path / "watched.py"
    path.write_text("def f(a):\n    if a:\n        return 1\n    return [2 for _ in 'ab']\n")
    space = {}
    exec(compile(path.read_text(), str(path), "exec"), space)
    for value, numbers in ((1, {2, 3}), (0, {2, 4})):
        watch = reached.Watch([str(path)])
        before = sys.gettrace()
        sys.settrace(watch.enter)
        space["f"](value)
        sys.settrace(before)
        assert {number for _, number in watch.seen()} - {1} == numbers


def test_a_child_ends_by_itself_by_its_limit_or_broken():
    def endless():
        child.at_most(0.1)
        while True:
            pass

    assert child.in_child(lambda: 1) == 1
    assert child.in_child(endless) == child.NO_END
    assert child.in_child(lambda: 1 // 0) == child.BROKEN


def test_faults_of_money_are_noticed_or_explained(tmp_path):
    """The whole way on the smallest module: the half-cent rule has a test, ``Decimal(1)`` none."""
    command = [sys.executable, "-m", "tests.mutation", "--only", "money.py", "--tests", "money",
               "--folder", str(tmp_path)]  # fmt: skip
    done = subprocess.run(command, cwd=faults.ROOT, capture_output=True, text=True, check=True)
    assert done.stdout.split()[-5:] == ["2", "1", "1", "0", "all"]
