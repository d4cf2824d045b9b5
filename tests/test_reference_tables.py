"""Pipe sizes against the pipe table that the package pandapipes ships (read, not imported)."""

import csv
import re
from importlib.util import find_spec
from pathlib import Path

import pytest

from estimator.joint.geometry import min_wall_mm, pipe_od_mm
from tests.each import each

DIFFERENT = {
    "20_PE_100_SDR_11": "2.0 mm: ISO 4427-2 lifts small walls; two pages against the 1.9 mm here",
    "32_PE_100_SDR_11": "3.0 mm: the same lift, against 2.9 mm here",
    "450_PE_100_SDR_11": "40.9 mm by the ISO 4065 rule and on two pages, against 41.0 mm here",
}
HALF_A_DIGIT, ONE_DIGIT = 0.05, 0.1
TYPE = re.compile(r"(\d+)_PE_100_SDR_([\d.]+)")


def pe_rows():
    found = find_spec("pandapipes")
    if found is None or found.origin is None:
        return []
    path = Path(found.origin).parent / "std_types" / "library" / "Pipe.csv"
    rows = csv.DictReader(path.read_text("utf-8").splitlines(), delimiter=";")
    return [row for row in rows if TYPE.fullmatch(row["std_type"])]


@pytest.mark.skipif(not pe_rows(), reason="pandapipes is not installed")
@each("row", pe_rows(), ids=lambda row: row["std_type"])
def test_metric_diameter_and_wall_match_the_pandapipes_table(row):
    allowed = ONE_DIGIT if row["std_type"] in DIFFERENT else HALF_A_DIGIT
    size, sdr = TYPE.fullmatch(row["std_type"]).groups()
    wall = (float(row["outer_diameter_mm"]) - float(row["inner_diameter_mm"])) / 2
    assert pipe_od_mm("ISO", size) == float(row["outer_diameter_mm"])
    assert min_wall_mm("ISO", size, float(sdr)) == pytest.approx(wall, abs=allowed + 1e-9)
