"""The first runs of an example, as the template writes it: a whole workbook, quick to estimate."""

import functools

import pytest

from workbook_template import build_template, example_system, table_sheet
from workbook_template.macro_book import build_macro_book

FIRST_RUNS = 12
RANGES = ("productivity", "fuel price")
"""One that asks for other plans and one that does not: every other plan doubles their number."""


@functools.cache
def small_book(name="raw_water_main", *, macros=False):
    """Return the bytes of an example with its first runs and two ranges only."""
    rows_of = table_sheet.table_rows

    def first_runs(table, system, example):
        rows = rows_of(table, system, example)
        if table == "risk":
            return [row for row in rows if row["factor"] in RANGES]
        return rows[:FIRST_RUNS] if table == "schedule" else rows

    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(table_sheet, "table_rows", first_runs)
        build = build_macro_book if macros else build_template
        return build(example_system(name), name)
