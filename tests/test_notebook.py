"""The notebook runs from its first cell to its last, in the folder where it stands."""

import json
import shutil
from pathlib import Path

import pytest

EXAMPLES = Path(__file__).parent.parent / "examples"
NOTEBOOK = json.loads((EXAMPLES / "size_a_job.ipynb").read_text("utf-8"))
CELLS = ["".join(cell["source"]) for cell in NOTEBOOK["cells"] if cell["cell_type"] == "code"]
DRAWS = "matplotlib"


def test_the_notebook_sizes_compares_and_adds_up(tmp_path, monkeypatch):
    pytest.importorskip("pandas")
    shutil.copy(EXAMPLES / "raw_water_main.xlsx", tmp_path)
    monkeypatch.chdir(tmp_path)
    held = {}
    for number, cell in enumerate(CELLS, 1):
        if DRAWS not in cell:
            exec(compile(cell, f"cell {number}", "exec"), held)
    assert set(held["methods"].index) == {"f2620", "iso21307-slp", "dvs2207"}
    first, second = held["curves"].values()
    assert second.index[-1] < first.index[-1]
    assert first.iloc[-1] == pytest.approx(held["found"].total_labor_hours)


def test_the_notebook_draws_both_curves(monkeypatch):
    """Where matplotlib is: extra ``notebook``."""
    pytest.importorskip("matplotlib", reason="matplotlib is in the extra notebook")
    pandas = pytest.importorskip("pandas")
    monkeypatch.setenv("MPLBACKEND", "Agg")
    days = pandas.date_range("2027-03-01", periods=3)
    held = {
        "curves": {"one": pandas.Series([1, 2, 3], days), "two": pandas.Series([2, 3, 3], days)}
    }
    (cell,) = [cell for cell in CELLS if DRAWS in cell]
    exec(compile(cell, "drawing", "exec"), held)
    assert [line.get_label() for line in held["axes"].lines] == ["one", "two"]


def test_the_notebook_is_plain_and_holds_no_output():
    """Outputs would be old the day after; nbformat 4.5 wants an id for each cell."""
    assert (NOTEBOOK["nbformat"], NOTEBOOK["nbformat_minor"]) == (4, 5)
    assert len({cell["id"] for cell in NOTEBOOK["cells"]}) == len(NOTEBOOK["cells"])
    assert all(not cell.get("outputs") for cell in NOTEBOOK["cells"])
