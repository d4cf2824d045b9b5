"""Each outside world has one door, and a folder uses only what stands before it."""

import ast
import functools
import re
from collections.abc import Iterator
from pathlib import Path

from tests.each import each

PACKAGE = Path(__file__).parent.parent / "estimator"
DOORS = {
    "lxml": "workbook",
    "python_calamine": "workbook",
    "zipfile": "workbook",
    "xlsxwriter": "nowhere in the estimator",
    "openpyxl": "nowhere in the estimator",
    "xlwings": "excel",
    "pandas": "takeoff",
    "pathlib": "files.py",
    "os": "files.py environment.py",
    "tempfile": "files.py",
    "shutil": "files.py",
}
NOUNS = {
    "data_class", "environment", "errors", "garbage", "units", "money", "version", "display",
    "models", "inputs", "standards", "steps",
}  # fmt: skip
RULE = {
    "working_time": "",
    "joint": "working_time",
    "power": "working_time",
    "plan": "working_time joint",
    "equipment": "working_time joint power",
    "cost": "equipment",
    "warnings": "working_time joint power plan equipment cost",
    "input_errors": "working_time joint equipment",
    "stages": "joint plan equipment cost",
    "optimize": "working_time joint power plan equipment cost warnings stages",
    "risk": "working_time joint plan cost stages",
    "progress": "working_time joint plan equipment cost stages risk",
    "pipeline": "joint plan cost warnings input_errors stages optimize",
    "explain": "working_time joint power plan equipment cost pipeline",
    "whatif": "working_time joint plan equipment cost warnings input_errors stages pipeline",
    "study": "joint plan risk pipeline whatif",
    "export": "joint plan equipment cost optimize progress whatif",
    "files": "",
    "workbook": "files input_errors working_time joint plan equipment cost optimize progress "
    "explain whatif",
    "takeoff": "files input_errors joint workbook",
    "after_award": "joint equipment progress pipeline workbook whatif",
    "award_actions": "",
    "excel": "files input_errors joint power equipment progress pipeline study whatif export "
    "workbook after_award award_actions",
    "api": "files joint plan equipment progress pipeline study whatif workbook after_award",
    "python_api": "files pipeline export workbook api",
    "cli": "files joint equipment progress pipeline explain whatif study export workbook takeoff "
    "excel after_award award_actions api",
}
"""Which folders each folder may use, besides the nouns; nouns use nouns alone."""
INSIDE_WORKBOOK = ["sheet", "package", "read", "results", "book"]
"""The same for the folders of the workbook: each may use those before it."""


@functools.cache
def nodes_of(path: Path) -> tuple[list[ast.Import | ast.ImportFrom], set[str]]:
    """Return the imports of a module, and the names that it calls."""
    imports, called = [], set()
    for node in ast.walk(ast.parse(path.read_text("utf-8"))):
        if isinstance(node, ast.Import | ast.ImportFrom):
            imports.append(node)
        elif isinstance(node, ast.Call) and isinstance(node.func, ast.Name):
            called.add(node.func.id)
    return imports, called


def imported(path: Path) -> set[str]:
    names = set()
    for node in nodes_of(path)[0]:
        if isinstance(node, ast.Import):
            names |= {alias.name for alias in node.names}
        elif node.module:
            names |= {node.module} | {f"{node.module}.{alias.name}" for alias in node.names}
    return names


def places(path: Path) -> list[list[str]]:
    """Return the parts, below the estimator, of every module of ours that a module imports."""
    parts = [name.split(".") for name in imported(path)]
    return [rest for root, *rest in parts if root == "estimator" and rest]


MODULES = sorted(PACKAGE.rglob("*.py"))
INNER = [path for path in MODULES if path.name not in {"__init__.py", "__main__.py"}]


@each("path", MODULES, ids=lambda p: p.relative_to(PACKAGE).as_posix())
def test_each_outside_world_has_one_door(path):
    place = path.relative_to(PACKAGE).parts[0]
    for name in {name.partition(".")[0] for name in imported(path)} & DOORS.keys():
        assert place in DOORS[name].split(), f"{path} imports {name}"


def test_every_module_has_its_rule():
    names = {path.relative_to(PACKAGE).parts[0].removesuffix(".py") for path in MODULES}
    assert names == NOUNS | RULE.keys() | {"__init__", "__main__"}


def test_the_rule_has_no_circle():
    order = list(RULE)
    for place, others in RULE.items():
        assert set(others.split()) <= set(order[: order.index(place)]), place


@each("path", INNER, ids=lambda p: p.relative_to(PACKAGE).as_posix())
def test_folders_use_what_stands_before_them(path):
    here = path.relative_to(PACKAGE).parts[0].removesuffix(".py")
    for place in {parts[0] for parts in places(path)}:
        assert place in NOUNS | {here} | set(RULE.get(here, "").split()), f"{path} uses {place}"


@each("path", sorted((PACKAGE / "workbook").rglob("*.py")), ids=lambda p: p.name)
def test_folders_of_the_workbook_use_what_stands_before_them(path):
    here = path.relative_to(PACKAGE / "workbook").parts[0].removesuffix(".py")
    for place in {parts[1] for parts in places(path) if parts[0] == "workbook" and parts[1:]}:
        before = INSIDE_WORKBOOK[: INSIDE_WORKBOOK.index(here) + 1]
        assert place in before, f"{path} uses {place}"


def face_of(folder: Path) -> set[str]:
    """Return the names that a folder gives out: its ``__all__``."""
    for node in ast.parse((folder / "__init__.py").read_text("utf-8")).body:
        if isinstance(node, ast.Assign) and ast.unparse(node.targets[0]) == "__all__":
            return set(ast.literal_eval(node.value))
    return set()


FACES = {path.parent.name: face_of(path.parent) for path in PACKAGE.glob("*/__init__.py")}


def test_some_folders_have_a_face_that_hides_no_module():
    """A name that is also a module of its folder would hide it."""
    with_one = {folder for folder, names in FACES.items() if names}
    assert {"plan", "cost", "warnings", "optimize", "risk", "whatif"} <= with_one
    for folder, names in FACES.items():
        assert not names & {path.stem for path in (PACKAGE / folder).iterdir()}, folder


@each("path", MODULES, ids=lambda p: p.relative_to(PACKAGE).as_posix())
def test_what_a_folder_gives_out_is_taken_from_its_face(path):
    here = path.relative_to(PACKAGE).parts[0]
    for node in nodes_of(path)[0]:
        if isinstance(node, ast.ImportFrom) and (node.module or "").startswith("estimator."):
            folder, *module = node.module.split(".")[1:]
            if folder != here and module:
                behind = {alias.name for alias in node.names} & FACES.get(folder, set())
                assert not behind, f"{path}: {behind} from behind the face of {folder}"


def is_module(name: str) -> bool:
    path = PACKAGE.parent / name.replace(".", "/")
    return path.is_dir() or path.with_suffix(".py").is_file()


@each("path", MODULES, ids=lambda p: p.relative_to(PACKAGE).as_posix())
def test_modules_keep_their_names_where_they_are_imported(path):
    for node in nodes_of(path)[0]:
        if isinstance(node, ast.ImportFrom) and node.module:
            for alias in node.names:
                renamed = alias.asname is not None and is_module(f"{node.module}.{alias.name}")
                assert not renamed, f"{path}: {alias.name} as {alias.asname}"


BUILT = {
    "WorkingCalendar": "working_time/working_days.py",
    "Shifts": "working_time/shifts.py",
    "Timetable": "working_time/shifts.py",
    "Holds": "working_time/on_site.py",
    "MonthlyAmbient": "working_time/ambient.py",
    "Roster": "working_time/roster.py",
    "Sizer": "joint/shared.py joint/sizing.py",
}
"""What is built in one place, by real inputs; all others ask for it."""


@each("path", MODULES, ids=lambda p: p.relative_to(PACKAGE).as_posix())
def test_calendars_shifts_and_sizers_are_built_in_one_place(path):
    here = path.relative_to(PACKAGE).as_posix()
    for name in nodes_of(path)[1]:
        places = BUILT.get(name)
        assert places is None or here in places.split(), f"{path} builds {name}"


def test_the_guide_draws_every_folder_and_file():
    """The block under "The shape" names what lies in the package, and nothing else."""
    guide = (PACKAGE.parent / "DEVELOPERS.md").read_text("utf-8")
    block = guide.partition("## The shape")[2].split("```")[1]
    block = re.sub(r"\([^)]*\)", "", block)
    drawn = {name.strip("/,").removesuffix(".py") for name in block.replace("->", "").split()}
    assert drawn - {"workbook_template"} == NOUNS | RULE.keys()


OF_A_JOB = {"Job", "PlannedJob", "PricedJob"}
CHANGES_IT = {"changed", "model_copy", "model_dump_json", "input"}


def read_of(function: ast.FunctionDef, name: str) -> set[str]:
    """Return what a function reads of a parameter; an empty text where it takes the whole."""
    above = {child: node for node in ast.walk(function) for child in ast.iter_child_nodes(node)}
    read = set()
    for node in ast.walk(function):
        if isinstance(node, ast.Name) and node.id == name:
            parts = []
            while isinstance(node := above[node], ast.Attribute) and len(parts) < 2:
                parts.append(node.attr)
            read.add(".".join(parts) if parts[:1] == ["job"] else "".join(parts[:1]))
    return {"" if one == "job" else one for one in read}


@each("path", MODULES, ids=lambda p: p.relative_to(PACKAGE).as_posix())
def test_who_reads_one_group_of_a_job_asks_for_that_group(path):
    """Functions that count for a cost line all take the job: a row of its table names them."""
    for function in ast.walk(ast.parse(path.read_text("utf-8"))):
        if isinstance(function, ast.FunctionDef):
            counts = "Quantity" in ast.unparse(function.returns or function)
            for given in function.args.args:
                kind = ast.unparse(given.annotation) if given.annotation else ""
                read = read_of(function, given.arg) if kind in OF_A_JOB else set()
                alone = len(read) == 1 and not read & {"", *CHANGES_IT}
                assert counts or not alone, f"{path}: {function.name} reads {read} alone"


def behind_the_faces() -> Iterator[tuple[str, str, str]]:
    """Yield each name that is taken from behind a face: the folder, the name, and who takes it."""
    for path in MODULES:
        here = path.relative_to(PACKAGE).parts[0].removesuffix(".py")
        for node in nodes_of(path)[0]:
            if isinstance(node, ast.ImportFrom) and (node.module or "").startswith("estimator."):
                folder, *module = node.module.split(".")[1:]
                if folder != here and module and FACES.get(folder):
                    yield from ((folder, alias.name, here) for alias in node.names)


def test_what_two_folders_ask_of_another_stands_in_its_face():
    """Unless a module of that folder has the name, or two of its modules have one of it each."""
    takers: dict[tuple[str, str], set[str]] = {}
    for folder, name, here in behind_the_faces():
        takers.setdefault((folder, name), set()).add(here)
    for (folder, name), rooms in takers.items():
        sources = [path.read_text("utf-8") for path in (PACKAGE / folder).glob("*.py")]
        of_modules = sum(f"\ndef {name}(" in source for source in sources)
        hidden = (PACKAGE / folder / f"{name}.py").exists() or of_modules > 1
        assert len(rooms) < 2 or hidden, f"{name} of {folder}, asked by {rooms}"
