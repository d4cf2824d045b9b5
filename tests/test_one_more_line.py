"""A cost line is added by a row of the table, a row of the input list and one function.

Just these three are put into a copy of the package, and the line is seen wherever cost is shown.
"""

import json
import os
import re
import shutil
import subprocess
import sys
from decimal import Decimal
from pathlib import Path

import pytest

from tests.office import after_edits

ROOT = Path(__file__).parent.parent
TABLE, INPUTS = "cost/crews.py", "inputs/inputs.csv"
INPUT_ROW = (
    "rates,street_permit,Street permit,money,permit,no,0,5000,,,,,,14,"
    "What the city takes for each crew. Blank: none\n"
)
FUNCTION = '''

def permits(planned: PlannedJob) -> Quantity:
    """Return two permits for each crew with work."""
    return Quantity(2 * crews_at_work(planned).value)

'''
LINE = """    CountedLine(
        "indirect.street_permit", INDIRECT, "Other costs", "Street permits",
        "two for each crew", "street_permit", permits, own_item="Street permits",
    ),
"""


def put_in(path, before, text):
    """Put a text before another one, which stands there once."""
    old = path.read_text("utf-8")
    assert old.count(before) == 1
    path.write_text(old.replace(before, text + before), "utf-8")


@pytest.fixture(scope="module")
def folder(tmp_path_factory):
    """A copy of the package with the line, and the workbook that it estimated."""
    folder = tmp_path_factory.mktemp("more")
    package = folder / "estimator"
    shutil.copytree(ROOT / "estimator", package, ignore=shutil.ignore_patterns("__pycache__"))
    put_in(package / TABLE, "\n\nCREW_LINES = (\n", FUNCTION.rstrip("\n"))
    put_in(package / TABLE, ")  # fmt: skip\n", LINE)
    with (package / INPUTS).open("a", encoding="utf-8") as rows:
        rows.write(INPUT_ROW)
    return folder


@pytest.fixture(scope="module")
def seen(folder):
    """What the estimator with the line makes of a job of one crew, place by place."""
    done = subprocess.run(
        [sys.executable, "-m", "tests.one_more_line", str(folder)],
        cwd=folder,
        env={**os.environ, "PYTHONPATH": os.pathsep.join([str(folder), str(ROOT)])},
        capture_output=True, text=True, check=False,
    )  # fmt: skip
    assert done.returncode == 0, done.stderr
    known = json.loads(done.stdout)
    assert known.pop("package") == str(folder)
    return known


def test_its_rate_is_a_cell_of_new_workbooks_with_its_limits(seen):
    sheet, cell = seen["cell"].replace("'", "").replace("$", "").split("!")
    assert sheet == "Rates"
    assert seen["refused"] == [
        f"Rates!{cell}: Street permit: -5 is outside the allowed range (0 to 5,000)"
    ]


def test_it_is_a_live_row_of_the_cost_sheet(seen):
    """Two permits for one crew at $125 are $250."""
    words = ["Other costs", "Street permits", "two for each crew"]
    rest = ["Street permits", "labor-hours", "all"]
    assert seen["cost"] == [[*words, 2, "permit", 125, 250, *rest]]
    ((*_, rate, amount, _, _, _),) = seen["formula"]
    assert rate == f"={seen['cell']}"
    assert re.fullmatch(r"=ROUND\(D(\d+)\*F\1,2\)", amount)


def test_the_client_pays_for_it_in_its_own_bid_item(seen):
    """$250 with 10 % overhead and 5 % contingency is 287.50, with 12 % profit 322."""
    assert [row[1:] for row in seen["bid items"]] == [["Street permits", 1, "LS", 322, 322]]
    assert seen["price"] == "322.00"


def test_every_run_carries_its_share(seen):
    """Each of the six is rounded to a cent, which may leave half a cent of each."""
    shares = [Decimal(text) for text in seen["by run"].values()]
    assert len(shares) == 6
    assert min(shares) > 0
    assert abs(sum(shares) - 250) <= 6 * Decimal("0.005")


def test_json_and_explain_hold_it(seen):
    (line,) = seen["json"]
    assert (line["quantity"], line["unit"], line["rate"], line["amount"]) == (2, "permit", 125, 250)
    (text,) = seen["explain"]
    cell = seen["cell"].replace("'", "").replace("$", "")
    assert text.split(maxsplit=2)[2] == f"ROUND(2 x 125, 2) = 250 $   [{cell}]"


def test_scenarios_and_options_pay_it_by_their_crews(seen):
    by_crews = {"Two crews": "500.00"}
    for name, rise in seen["what if"].items():
        assert rise == by_crews.get(name, "500.00" if name.startswith("2 crews") else "250.00")
    assert {"Two crews", "Night shift"} <= seen["what if"].keys()
    assert sum(name.startswith("2 crews") for name in seen["what if"]) >= 3


def test_the_choice_over_the_job_reckons_with_it(seen):
    """One crew more is two permits more."""
    assert seen["crew"] == pytest.approx(250)


def test_a_new_rate_is_paid_at_once_and_one_taken_away_is_noticed(seen, folder):
    """Two at $130 are $260; without a rate the line itself goes, which takes a new estimate."""
    sheet, cell = seen["cell"].replace("'", "").replace("$", "").split("!")
    row = re.search(r"D(\d+)", seen["formula"][0][6])[1]
    edits, path = [{sheet: {cell: 130}}, {sheet: {cell: None}}], folder / "bid.xlsx"
    checks = after_edits(path, edits, ("Checks", ["B3"]))
    assert checks == [["OK"], ["OK"], ["Inputs changed: run Estimate again"]]
    assert after_edits(path, edits[:1], ("Cost", [f"G{row}"])) == [["250.00"], ["260.00"]]
