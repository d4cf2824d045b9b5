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
    "planning": {"working_calendar", "cycle"},
    "rental": set(),
    "derating": set(),
    "motors": set(),
    "cables": {"motors"},
    "power": {"derating", "motors"},
    "generator": {"derating", "power"},
    "machine_power": {"cables", "generator", "motors", "power"},
    "fleet_power": {"generator", "power"},
    "rental_spans": {"rental"},
    "lifting_choice": {"rental"},
    "lifting": {"lifting_choice", "rental_spans"},
    "fleet": {"fleet_power", "lifting", "machine_power", "rental_spans", "soak_check"},
    "fleet_tables": set(),
    "cost_rental": {"fleet_tables"},
    "cost": {"cost_rental"},
    "price_by_size": {"cost"},
    "near_limits": {"machines"},
    "rental_stock": set(),
    "machine_options": {"machines", "near_limits", "price_by_size", "rental_spans"},
    "review_limits": {"fleet_tables", "machines", "near_limits", "rental_stock"},
    "review_power": {"machine_power"},
    "review": {"geometry", "review_limits", "review_power", "working_calendar"},
    "sizing": {"counting", "cycle", "fusion", "geometry", "machines", "working_calendar"},
    "risk_draws": set(),
    "risk_price": {"risk_draws"},
    "risk_surface": {"cost", "fleet", "planning", "risk_draws", "sizing", "working_calendar"},
    "risk": {"risk_draws", "risk_price", "risk_surface"},
    "pipeline": {"cost", "fleet", "planning", "price_by_size", "review", "risk", "sizing"},
    "scenarios": {"pipeline"},
    "report": {"fusion"},
    "summary": set(),
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
