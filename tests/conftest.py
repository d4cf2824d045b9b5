"""Which tests are quick, how workers share them, and Hypothesis repeatable where CI runs it."""

import gc
import os
import sys
from pathlib import Path

import pytest
from hypothesis import settings
from xdist.scheduler import LoadFileScheduling

from tests import office, reach

HERE = Path(__file__).parent
sys.dont_write_bytecode = False
os.environ.pop("PYTHONDONTWRITEBYTECODE", None)
"""Compiled tests are kept, here and in the commands that tests run: collecting takes half."""
settings.register_profile("people", deadline=None)
settings.register_profile("ci", deadline=None, derandomize=True, database=None, max_examples=15)
settings.load_profile("ci" if os.environ.get("CI") else "people")

os.fsync = lambda handle: None
"""No test cuts the power: to wait for the disk at each save takes hundredths of a second."""

gc.set_threshold(200_000, 50, 1000)
"""Tests make many objects and few cycles: to look for these as often as usual takes a seventh."""


SHARING = (
    "test_results", "test_explain_sheet", "test_nothing_cut_off", "test_printed_pages",
    "test_joint_pages", "test_json_schema", "test_newcomer", "test_color_rules",
    "test_good_practice", "test_page_texts", "test_print", "test_quotes", "test_rental_request",
    "test_shown_sums",
)  # fmt: skip
"""Files that ask for the whole examples: on one worker these are estimated and written once."""
LONGEST_FIRST = (
    "test_live", *SHARING, "test_random_jobs", "test_award_door", "test_excel_accepts",
    "test_status", "test_docs_commands", "test_forecast", "test_kit", "test_template",
    "test_press", "test_reader", "test_scenarios", "test_site_records",
    "test_followers", "test_inputs_bite", "test_assumptions", "test_fault_tables", "test_one_sheet",
)  # fmt: skip
"""Files that take longest: begun last, one of them would run on alone."""


def pytest_configure(config):
    config.option.loadscopereorder = False
    if config.option.markexpr == "quick":
        settings.load_profile("ci")


ALL = ("",)
NOT_QUICK = {
    "test_assumptions": ("test_readme_keeps", "test_only_what_a_plan"),
    "test_award_door": ("test_the_work_of_an_action",),
    "test_baseline": (
        "test_command_",
        "test_an_estimate_leaves",
    ),
    "test_caches": ("test_a_job_never",),
    "test_claim": ("test_claims_one_after",),
    "test_cli": ALL,
    "test_color_rules": ("test_no_rule_has_a_function",),
    "test_command_line": (
        "test_the_steps_of_a_study",
        "test_one_is_not_many",
        "test_each_shell",
        "test_tab_completes",
    ),
    "test_company": (
        "test_figures_",
        "test_the_company_workbook",
        "test_reading_a_workbook",
        "test_into_the_other",
        "test_a_mark_is",
        "test_the_new_workbook",
    ),
    "test_county": ("test_the_clients_pages", "test_our_usual_terms"),
    "test_cycle_simulation": ALL,
    "test_diff": ("test_the_sheet_holds",),
    "test_docs": ("test_the_site_builds",),
    "test_docs_commands": ("test_a_command_that_is_shown",),
    "test_equipment": (
        "test_sheet_answers",
        "test_summary_is_the_sum",
    ),
    "test_excel_accepts": ALL,
    "test_excel_rules": ("test_every_rule_has_its_planted_fault", "test_each_planted_fault"),
    "test_excel_setup": ("test_undo_brings",),
    "test_explain": (
        "test_days_of_the_run",
        "test_every_printed_sum_holds",
        "test_no_step_with_a_sum",
        "test_command_gives",
        "test_the_chain_ends",
    ),
    "test_explain_sheet": ALL,
    "test_fault_command": ("test_json_on_the_screen",),
    "test_fault_foreign": ("test_texts_like_formulas",),
    "test_fault_inputs": ("test_a_value_in_",),
    "test_fault_package": ("test_a_part_that_is_damaged",),
    "test_fault_same_answer": ALL,
    "test_fault_tables": ALL,
    "test_fault_saving": (
        "test_kills_",
        "test_json_onto",
        "test_a_backup_put_back",
    ),
    "test_fleet_choice": (
        "test_the_pick_is_close",
        "test_the_optimum_is_that",
        "test_a_large_job_is_bundled",
    ),
    "test_followers": ("test_formulas_that_look_at_a_page", "test_formulas_that_wait"),
    "test_forecast": (
        "test_pace_after",
        "test_one_wild_day",
        "test_a_job_as_planned",
    ),
    "test_functions": (
        "test_no_input_ever_raises",
        "test_the_stand_ins",
        "test_ten_thousand_rows",
    ),
    "test_gantt": ("test_cells_hold", "test_all_rules", "test_printed_pages"),
    "test_good_practice": ALL,
    "test_hydrotest": (
        "test_sheet_",
        "test_sheets_",
    ),
    "test_import": ("test_rows_that_are",),
    "test_input_aliases": ("test_old_headers_and_cell",),
    "test_input_check": ("test_array_formulas",),
    "test_joint_pages": ALL,
    "test_json_schema": ("test_every_example",),
    "test_kit": ("test_each_package",),
    "test_left_out": ALL,
    "test_live": ALL,
    "test_log_update": ("test_rows_not_made",),
    "test_logger_file": ALL,
    "test_macro_book": ALL,
    "test_mutation": ("test_faults_of_money",),
    "test_newcomer": ALL,
    "test_nothing_cut_off": ALL,
    "test_notebook": ("test_the_notebook_sizes", "test_the_notebook_draws"),
    "test_on_site": ("test_all_joints_are",),
    "test_one_more_line": ALL,
    "test_options": (
        "test_the_choice_over",
        "test_options_that_are_not",
        "test_the_command_prints",
        "test_a_large_job_has",
    ),
    "test_outside": ("test_no_number_below",),
    "test_packaging": ("test_two_builds", "test_the_source_archive"),
    "test_page_texts": ALL,
    "test_past": ("test_the_table",),
    "test_plan_order": ("test_no_run_starts", "test_every_joint_is", "test_moments_keep"),
    "test_press": (
        "test_a_workbook_that_is_not_open",
        "test_a_system_without_excel",
    ),
    "test_press_refused": ("test_a_protected_page", "test_a_workbook_that", "test_a_sheet_of"),
    "test_print": (
        "test_the_demo_job",
        "test_each_example_prints",
        "test_risk_that_has",
        "test_the_table_by_size",
        "test_only_the_sheets",
        "test_a_renamed",
    ),
    "test_python_api": ("test_the_page_runs",),
    "test_printed_pages": ("test_warnings_and_control",),
    "test_quotes": (
        "test_request_adds",
        "test_a_bad_quote",
        "test_a_line_has",
    ),
    "test_random_jobs": ALL,
    "test_reader": (
        "test_any_values",
        "test_any_order",
        "test_ten_thousand_runs",
        "test_inputs_that_contradict",
    ),
    "test_recorded": (
        "test_every_input_is_off",
        "test_every_recorded_sum",
        "test_explain_ends",
        "test_every_step_of_the_stages",
        "test_recorded_numbers",
    ),
    "test_rental_request": ALL,
    "test_results": ALL,
    "test_risk": (
        "test_interpolation",
        "test_another_seed",
        "test_of_a_large_job",
        "test_the_share_at",
    ),
    "test_same_job": ALL,
    "test_scenarios": (
        "test_a_scenario_marked",
        "test_compare_",
        "test_every_allowed_value",
        "test_a_value_is_read_as",
    ),
    "test_scripts": ALL,
    "test_setting_up": ALL,
    "test_shared_plans": ALL,
    "test_shown_sums": ALL,
    "test_site_records": (
        "test_the_summary_sheet",
        "test_the_pages_of_a_run",
        "test_the_command_starts",
        "test_a_unit_that",
        "test_a_workbook_with_macros",
    ),
    "test_stand_ins": ALL,
    "test_stages": ("test_a_total_is_that", "test_plans_of_one_study"),
    "test_takeoff": (
        "test_each_table_is_read",
        "test_any_names",
    ),
    "test_template": (
        "test_libreoffice",
        "test_build_gives",
        "test_committed_examples",
    ),
    "test_typed_limits": (
        "test_every_size_is_joined",
        "test_every_limit_of",
        "test_a_limit_typed_with",
        "test_bands_and",
    ),
    "test_week_sheets": ("test_command_",),
    "test_wheel": ALL,
}
"""Beginnings of the names of tests that take more than half a second, by file."""
NOT_QUICK_EXAMPLES = ("plant_piping", "tailings_line")
"""What runs for each example is quick for one of them, the one that takes least."""


class Backward(pytest.Package):
    """The tests from the last file to the first."""

    def collect(self):
        yield from reversed([*super().collect()])


def pytest_collect_directory(path, parent):
    """Have every other worker begin at the end: each finds compiled what another has come by."""
    number = os.environ.get("PYTEST_XDIST_WORKER", "gw0").removeprefix("gw")
    if int(number) % 2 and path == HERE:
        return Backward.from_parent(parent, path=path)
    return None


def pytest_ignore_collect(collection_path, config):
    """Leave alone, and do not even import, the files that hold no quick test."""
    if config.option.markexpr == "quick" and NOT_QUICK.get(collection_path.stem) == ALL:
        return True
    return None


def is_quick(item):
    if item.get_closest_marker("slow") is not None:
        return False
    if item.name.startswith(NOT_QUICK.get(item.path.stem, ("\0",))):
        return False
    if any(example in item.name for example in NOT_QUICK_EXAMPLES):
        return False
    return not any(reach.needs_office(function) for function in reach.functions_of(item))


def pytest_collection_modifyitems(items):
    for item in items:
        if is_quick(item):
            item.add_marker(pytest.mark.quick)
    place = {name: number for number, name in enumerate(LONGEST_FIRST)}
    items.sort(key=lambda item: (place.get(item.path.stem, len(place)), *turn_of(item.path)))


def turn_of(path):
    """Return what puts the files in one order, whichever way a worker came by them."""
    return path.parent != HERE, path


def pytest_collection_finish():
    gc.collect()
    gc.freeze()


@pytest.hookimpl(tryfirst=True)
def pytest_runtest_setup(item):
    office.REFUSED_FOR[:] = [item.nodeid] if item.get_closest_marker("quick") else []


class Sharing(LoadFileScheduling):
    """Keeps the tests of a file on one worker, and those of the files that share the examples."""

    def _split_scope(self, nodeid):
        file = super()._split_scope(nodeid)
        return "examples" if file.rpartition("/")[2].removesuffix(".py") in SHARING else file


@pytest.hookimpl(optionalhook=True)
def pytest_xdist_make_scheduler(config, log):
    """Keep tests on one worker that share what they have built and recalculated."""
    return Sharing(config, log)
