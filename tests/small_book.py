"""The first runs of an example, as the template writes it: a whole workbook, quick to estimate."""

import functools

import pytest

from workbook_template import build_template, table_sheet
from workbook_template.macro_book import build_macro_book

FIRST_RUNS = 12


@functools.cache
def small_book(*, macros=False):
    """Return the bytes of the raw water main with its first runs only."""
    rows_of = table_sheet.table_rows

    def first_runs(table, system, example):
        rows = rows_of(table, system, example)
        return rows[:FIRST_RUNS] if table == "schedule" else rows

    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(table_sheet, "table_rows", first_runs)
        build = build_macro_book if macros else build_template
        return build("US", "raw_water_main")
