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
    "power": set(),
    "fleet": {"power", "rental", "soak_check"},
    "cost": set(),
    "price_by_size": {"cost"},
    "fleet_choice": {"rental"},
    "fleet_search": {"fleet_choice"},
    "fleet_solver": {"fleet_choice", "fleet_search", "rental"},
    "fleet_problem": {"fleet_choice", "machines", "power", "working_calendar"},
    "fleet_pick": {"fleet_choice", "fleet_problem", "fleet_solver", "review"},
    "review": {"geometry", "working_calendar"},
    "sizing": {"counting", "cycle", "fusion", "geometry", "machines", "working_calendar"},
    "risk_draws": set(),
    "risk_price": {"risk_draws"},
    "risk_surface": {"cost", "fleet", "planning", "risk_draws", "sizing", "working_calendar"},
    "risk": {"risk_draws", "risk_price", "risk_surface"},
    "pipeline": {"cost", "fleet", "fleet_pick", "planning", "price_by_size"}
    | {"review", "risk", "sizing"},
    "scenarios": {"cost", "pipeline"},
    "options": {"pipeline", "review", "scenarios"},
    "options_told": set(),
    "fleet_told": set(),
    "report": {"fusion", "report_choices"},
    "report_choices": {"options_told"},
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
