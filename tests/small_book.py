"""The first runs of an example, as the template writes it: a whole workbook, quick to estimate."""

import functools

import pytest

from workbook_template import build_template, content, example_system, table_sheet
from workbook_template.macro_book import build_macro_book

FIRST_RUNS, MORE_RUNS = 6, 12
"""Of raw_water_main; the others take more runs to have two sizes."""
RANGES = ("productivity", "fuel price")
"""One that asks for other plans and one that does not: every other plan doubles their number."""
FEW_OPTIONS = {"option_crews": "1", "option_longest_shift_hours": "10"}
"""As many machines as in a job of that size, and no more crews and shifts than needed."""


@functools.cache
def small_book(name="raw_water_main", *, macros=False, runs=None):
    """Return the bytes of an example with its first runs and two ranges only.

    Who does not ask for a number of runs gets few options, too.
    """
    most = runs or (FIRST_RUNS if name == "raw_water_main" else MORE_RUNS)
    rows_of, values_of = table_sheet.table_rows, content.named_overrides

    def first_runs(table, system, example):
        rows = rows_of(table, system, example)
        if table == "risk":
            return [row for row in rows if row["factor"] in RANGES]
        return rows[:most] if table == "schedule" else rows

    def few_options(table, example):
        return values_of(table, example) | ({} if runs or table != "job" else FEW_OPTIONS)

    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(table_sheet, "table_rows", first_runs)
        patch.setattr(content, "named_overrides", few_options)
        build = build_macro_book if macros else build_template
        return build(example_system(name), name)
