"""Expected values of the tests: published, worked by hand, and our own arithmetic (README.md)."""

import csv
from pathlib import Path


def read_cases(name):
    """Return the rows of a file such as ``published/joining_rates`` as mappings of text."""
    with (Path(__file__).parent / f"{name}.csv").open(encoding="utf-8", newline="") as file:
        return list(csv.DictReader(file))
