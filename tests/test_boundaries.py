"""Each outside world has one door, and the pure stages know nothing of spreadsheets."""

import ast
from pathlib import Path

import pytest

PACKAGE = Path(__file__).parent.parent / "estimator"
DOORS = {
    "lxml": "workbook",
    "python_calamine": "workbook",
    "zipfile": "workbook",
    "xlsxwriter": "nowhere in the estimator",
    "openpyxl": "nowhere in the estimator",
    "xlwings": "excel",
    "pathlib": "files.py",
    "os": "files.py",
    "tempfile": "files.py",
    "shutil": "files.py",
}
NOUNS = {"models", "standards", "units", "errors", "money", "version", "display"}
STAGES = {
    "units": {"errors"},
    "errors": set(),
    "money": set(),
    "display": {"models", "units"},
    "geometry": {"standards", "units", "errors", "models"},
    "fusion": {"fusion_methods"},
    "thermal": set(),
    "soak_check": {"thermal"},
    "counting": set(),
    "cycle": set(),
    "machines": {"fusion"},
    "working_calendar": set(),
    "utilisation": {"shifts"},
    "shifts": set(),
    "planning_tasks": set(),
    "planning_crews": {"shifts", "working_calendar"},
    "planning_paid": {"planning_crews", "shifts", "working_calendar"},
    "planning": {"cycle", "planning_crews", "planning_paid", "planning_tasks"},
    "criticality": {"working_calendar"},
    "rental": set(),
    "derating": set(),
    "motors": set(),
    "cables": {"motors"},
    "power": {"derating", "motors"},
    "generator": {"derating", "power"},
    "machine_power": {"cables", "generator", "motors", "power"},
    "rental_spans": {"rental", "shifts"},
    "lifting_choice": {"rental"},
    "lifting": {"lifting_choice", "rental_spans", "shifts"},
    "fleet_power": {"generator", "power", "shifts"},
    "fleet": {"fleet_power", "lifting", "machine_power", "rental_spans", "soak_check"},
    "fleet_tables": set(),
    "hydrotest": {"shifts", "working_calendar"},
    "cost_rates": set(),
    "cost_hydrotest": {"cost_rates"},
    "cost_labour": {"cost_rates"},
    "cost_materials": {"cost_rates"},
    "cost_rental": {"fleet_tables"},
    "cost": {"cost_hydrotest", "cost_labour", "cost_materials", "cost_rates", "cost_rental"},
    "bid_price": {"cost_rates"},
    "price_by_size": set(),
    "cost_by_run": {"cost_hydrotest", "cost_materials", "price_by_size"},
    "bid_items": {"cost_by_run", "price_by_size"},
    "estimate_class": set(),
    "near_limits": {"machines"},
    "rental_stock": set(),
    "machine_options": {"machines", "near_limits", "price_by_size", "rental_spans"},
    "review_limits": {"fleet_tables", "machines", "near_limits", "rental_stock"},
    "fleet_choice": {"rental"},
    "fleet_search": {"fleet_choice"},
    "fleet_solver": {"fleet_choice", "fleet_search", "rental"},
    "fleet_problem": {
        "fleet_choice",
        "generator",
        "machines",
        "planning_tasks",
        "power",
        "shifts",
        "working_calendar",
    },
    "fleet_pick": {"fleet_choice", "fleet_problem", "fleet_solver", "review_limits"},
    "review": {"geometry", "hydrotest", "review_limits", "review_power", "working_calendar"},
    "review_power": {"machine_power"},
    "sizing": {"counting", "cycle", "fusion", "geometry", "machines", "shifts", "working_calendar"},
    "risk_draws": set(),
    "risk_price": {"risk_draws"},
    "risk_surface": {
        "cost",
        "fleet",
        "hydrotest",
        "planning",
        "risk_draws",
        "sizing",
        "working_calendar",
    },
    "risk": {"cost_materials", "risk_draws", "risk_price", "risk_surface"},
    "pipeline": {
        "bid_items",
        "bid_price",
        "cost",
        "cost_by_run",
        "fleet",
        "fleet_pick",
        "hydrotest",
        "planning",
        "review",
        "risk",
        "sizing",
    },
    "scenarios": {"cost", "pipeline"},
    "options": {"pipeline", "review_limits", "scenarios", "sizing"},
    "options_told": set(),
    "fleet_told": set(),
    "report": {"fusion", "report_choices", "report_money"},
    "report_choices": {"options_told"},
    "report_money": set(),
    "summary": {"fleet_told"},
}
"""Which other stages each stage may use, besides the nouns."""


def imported(path: Path) -> set[str]:
    names = set()
    for node in ast.walk(ast.parse(path.read_text("utf-8"))):
        if isinstance(node, ast.Import):
            names |= {alias.name for alias in node.names}
        elif isinstance(node, ast.ImportFrom) and node.module:
            names |= {node.module} | {f"{node.module}.{alias.name}" for alias in node.names}
    return names


@pytest.mark.parametrize("path", sorted(PACKAGE.rglob("*.py")), ids=lambda p: p.name)
def test_each_outside_world_has_one_door(path):
    place = path.relative_to(PACKAGE).parts[0]
    for name in {name.partition(".")[0] for name in imported(path)} & DOORS.keys():
        assert DOORS[name] == place, f"{path} imports {name}"


@pytest.mark.parametrize(("stage", "others"), STAGES.items(), ids=STAGES.keys())
def test_stages_import_nouns_and_the_stages_they_join(stage, others):
    for name in imported(PACKAGE / f"{stage}.py"):
        root, _, rest = name.partition(".")
        if root == "estimator" and rest:
            assert rest.partition(".")[0] in NOUNS | others, f"{stage} imports {name}"
