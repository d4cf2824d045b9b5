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
    "criticality": {"working_calendar"},
    "shifts": set(),
    "planning_tasks": set(),
    "planning_crews": {"shifts", "working_calendar"},
    "planning_paid": {"planning_crews", "shifts", "working_calendar"},
    "planning": {"cycle", "planning_crews", "planning_paid", "planning_tasks"},
    "rental": set(),
    "power": set(),
    "fleet": {"power", "rental", "shifts", "soak_check"},
    "cost": set(),
    "price_by_size": {"cost"},
    "review": {"geometry", "working_calendar"},
    "sizing": {"counting", "cycle", "fusion", "geometry", "machines", "shifts", "working_calendar"},
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
