"""The notebook runs from its first cell to its last, in the folder where it stands."""

import json
import os
import shutil
import subprocess
import sys
from importlib.util import find_spec
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
    assert first.iloc[-1] == pytest.approx(held["estimate"].total_labor_hours)


GIVEN = """
import pandas
days = pandas.date_range("2027-03-01", periods=3)
curves = {"one": pandas.Series([1, 2, 3], days), "two": pandas.Series([2, 3, 3], days)}
"""
SAID = """
for line in axes.lines:
    print(line.get_label(), *line.get_ydata())
"""


BESIDE = Path(sys.prefix) / "notebook"


@pytest.mark.skipif(not BESIDE.exists() and find_spec("matplotlib") is None,
                    reason="matplotlib is in the extra notebook; make test brings it")  # fmt: skip
def test_the_notebook_draws_both_curves(tmp_path):
    """In a Python of its own: matplotlib is beside the environment, or xlwings would load it."""
    (cell,) = [cell for cell in CELLS if DRAWS in cell]
    beside = {"PYTHONPATH": str(BESIDE), "MPLBACKEND": "Agg",
              "MPLCONFIGDIR": str(tmp_path)}  # fmt: skip
    done = subprocess.run([sys.executable, "-c", GIVEN + cell + SAID], env=os.environ | beside,
                          capture_output=True, text=True, check=False)  # fmt: skip
    assert done.returncode == 0, done.stderr
    assert done.stdout.split() == ["one", "1", "2", "3", "two", "2", "3", "3"]


def test_the_notebook_is_plain_and_holds_no_output():
    """Outputs would be old the day after; nbformat 4.5 wants an id for each cell."""
    assert (NOTEBOOK["nbformat"], NOTEBOOK["nbformat_minor"]) == (4, 5)
    assert len({cell["id"] for cell in NOTEBOOK["cells"]}) == len(NOTEBOOK["cells"])
    assert all(not cell.get("outputs") for cell in NOTEBOOK["cells"])
