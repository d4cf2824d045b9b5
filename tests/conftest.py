"""Which tests are quick, how workers share them, and Hypothesis repeatable where CI runs it."""

import os

import pytest
from hypothesis import settings
from xdist.scheduler import LoadFileScheduling

from tests import office, reach

settings.register_profile("people", deadline=None)
settings.register_profile("ci", deadline=None, derandomize=True)
settings.load_profile("ci" if os.environ.get("CI") else "people")


def pytest_configure(config):
    if config.option.markexpr == "quick":
        settings.load_profile("ci")


ALL = ("",)
NOT_QUICK = {
    "test_cli": ALL,
    "test_cycle_simulation": ALL,
    "test_excel_accepts": ("test_every_kind_of_workbook_is_without_fault[saved by LibreOffice",),
    "test_explain": ("test_every_printed_sum_holds",),
    "test_explain_sheet": ALL,
    "test_fleet_choice": (
        "test_the_pick_is_close",
        "test_the_optimum_is_that",
        "test_a_large_job_is_bundled",
    ),
    "test_functions": ("test_no_input_ever_raises", "test_the_stand_ins", "test_ten_thousand_rows"),
    "test_hydrotest": ("test_sheet_", "test_sheets_"),
    "test_live": ALL,
    "test_macro_book": ALL,
    "test_random_jobs": ALL,
    "test_reader": ("test_any_values", "test_any_order", "test_ten_thousand_runs"),
    "test_results": ALL,
    "test_risk": ("test_interpolation", "test_another_seed", "test_of_a_large_job"),
    "test_scenarios": ("test_compare_",),
    "test_template": ("test_libreoffice",),
}
"""Beginnings of the names of tests that take more than a second, by file."""
NOT_QUICK_EXAMPLES = ("raw_water_main", "tailings_line")
"""What runs for each example is quick for one of them."""


def is_quick(item):
    if item.name.startswith(NOT_QUICK.get(item.path.stem, ("\0",))):
        return False
    if any(example in item.name for example in NOT_QUICK_EXAMPLES):
        return False
    return not any(reach.needs_office(function) for function in reach.functions_of(item))


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
