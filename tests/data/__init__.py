"""Published values that the tests replay; each file is named after its source."""

import csv
from pathlib import Path


def read_cases(name):
    """Return the rows of one file as mappings of text."""
    with (Path(__file__).parent / f"{name}.csv").open(encoding="utf-8", newline="") as file:
        return list(csv.DictReader(file))
