"""Which tests are quick, how workers share them, and Hypothesis repeatable where CI runs it."""

import os

import pytest
from hypothesis import settings
from xdist.scheduler import LoadFileScheduling

from tests import office

settings.register_profile("people", deadline=None)
settings.register_profile("ci", deadline=None, derandomize=True)
settings.load_profile("ci" if os.environ.get("CI") else "people")

ALL = ("",)
NOT_QUICK = {
    "test_bid": ("test_bid_follows_names", "test_blank_cells_read", "test_light_comes_on_for"),
    "test_cli": ALL,
    "test_cycle_simulation": ALL,
    "test_equipment": ("test_hours_and_waiver_recalculate",),
    "test_excel_accepts": ("test_every_kind_of_workbook_is_without_fault[saved by LibreOffice",),
    "test_explain": ("test_every_printed_sum_holds",),
    "test_explain_sheet": ("test_explain_shows_when",),
    "test_fleet_choice": (
        "test_the_pick_is_close",
        "test_the_optimum_is_that",
        "test_a_large_job_is_bundled",
    ),
    "test_functions": ("test_no_input_ever_raises", "test_the_stand_ins", "test_ten_thousand_rows"),
    "test_gantt": ("test_bars_deadline", "test_deadline_that_is_typed"),
    "test_hydrotest": ("test_sheet_", "test_sheets_"),
    "test_kinds": ("test_a_new_cost_line",),
    "test_live": ALL,
    "test_macro_book": ALL,
    "test_options": ("test_recalculated",),
    "test_package": (
        "test_cached_values",
        "test_user_formulas_that",
        "test_chart_is_drawn",
        "test_a_renamed_sheet",
        "test_replacing_a_saved",
        "test_calculation_chain",
        "test_a_workbook_that_libreoffice",
        "test_a_workbook_that_openpyxl",
        "test_dates_follow",
        "test_a_workbook_with_prefixed",
        "test_a_bare_workbook",
    ),
    "test_random_jobs": ALL,
    "test_reader": (
        "test_any_values",
        "test_any_order",
        "test_ten_thousand_runs",
        "test_a_file_that_libreoffice",
    ),
    "test_results": ALL,
    "test_risk": ("test_interpolation", "test_another_seed", "test_of_a_large_job"),
    "test_scenarios": ("test_compare_",),
    "test_sheet_xml": ("test_user_text_is_data", "test_formula_results"),
    "test_shifts": ("test_recalculated",),
    "test_template": ("test_libreoffice",),
    "test_vba_run": ALL,
    "test_working_calendar": ("test_worked_days_agree",),
}
"""Beginnings of the names of tests that take long or ask for LibreOffice, by file.

What runs for each example is quick for one of them. All others are marked ``quick`` and run at
each save; the office tells when one of them asks for it."""
NOT_QUICK_EXAMPLES = ("raw_water_main", "tailings_line")


def is_quick(item):
    slow = item.name.startswith(NOT_QUICK.get(item.path.stem, ("\0",)))
    return not slow and not any(example in item.name for example in NOT_QUICK_EXAMPLES)


def pytest_collection_modifyitems(items):
    for item in items:
        if is_quick(item):
            item.add_marker(pytest.mark.quick)


@pytest.hookimpl(tryfirst=True)
def pytest_runtest_setup(item):
    office.REFUSED_FOR[:] = [item.nodeid] if item.get_closest_marker("quick") else []


@pytest.hookimpl(optionalhook=True)
def pytest_xdist_make_scheduler(config, log):
    """Keep the tests of a file on one worker: they share what they have built and recalculated."""
    return LoadFileScheduling(config, log)
