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
STAGES = (
    "geometry", "counting", "fusion", "cycle", "machines", "planning", "rental", "power",
    "cost", "money", "units", "working_calendar",
)  # fmt: skip
MAY_IMPORT = ("models", "standards", "units", "errors", "money", "fusion_methods", "version")
JOINED_STAGES = {"cost": {"units"}, "machines": {"fusion"}, "planning": {"working_calendar"}}


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


@pytest.mark.parametrize("stage", STAGES)
def test_pure_stages_import_only_nouns_and_tables(stage):
    allowed = {*MAY_IMPORT, *JOINED_STAGES.get(stage, set())}
    for name in imported(PACKAGE / f"{stage}.py"):
        root, _, rest = name.partition(".")
        if root == "estimator" and rest:
            assert rest.partition(".")[0] in allowed | {"rental"}, f"{stage} imports {name}"
