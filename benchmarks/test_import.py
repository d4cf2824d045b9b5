"""A takeoff of ten thousand rows into the blank workbook: read, understood, written, checked."""

import pytest

from estimator.takeoff.answers import Answers
from estimator.takeoff.foreign import read_foreign
from estimator.takeoff.into import read_takeoff
from estimator.takeoff.schedule import open_target
from workbook_template import build_template

ROWS, ROUNDS = 10_000, 3
HEAD = "Line,Item,Nom. Dia.,SDR,Lin Ft,Qty,Method\n"
SIZES = (4, 6, 8, 12, 16, 24)


def takeoff(path):
    """Write runs of two rows each, every fourth with elbows on a row of their own."""
    rows = []
    for number in range(ROWS // 5 * 2):
        size = SIZES[number % len(SIZES)]
        rows += [f"L{number:05},HDPE pipe,{size},17,{60 + number % 40},,open cut"] * 2
        if number % 2:
            rows.append(f"L{number:05},90 ell,{size},17,,2 ea,")
    path.write_text(HEAD + "\n".join(rows) + "\n", "utf-8")
    return len(rows)


def whole(path):
    target = open_target(build_template("US"), "job.xlsx")
    answers = Answers()
    return read_takeoff(read_foreign(str(path), "", answers), target, answers, "")


@pytest.mark.benchmark(group="import")
def test_ten_thousand_rows_of_others(benchmark, tmp_path):
    path = tmp_path / "takeoff.csv"
    assert takeoff(path) == ROWS
    found = benchmark.pedantic(whole, args=(path,), rounds=ROUNDS)
    assert not found.problems
    assert len(found.runs) == ROWS // 5 * 2
