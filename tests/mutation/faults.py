"""The faults that can be planted: one operator, comparison, constant or function at a time."""

import ast
import copy
import functools
import hashlib
import random
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

ROOT = Path(__file__).parents[2]
CORE = (
    "working_time", "joint", "power", "plan", "equipment", "cost", "progress", "risk", "optimize",
    "whatif", "takeoff", "money.py", "units.py", "standards/pipe_sizes.py",
    "standards/pipe_walls.py", "inputs/weekdays.py",
)  # fmt: skip
SWAPS: dict[type[ast.AST], type[ast.AST]] = {
    ast.Add: ast.Sub, ast.Sub: ast.Add, ast.Mult: ast.Div, ast.Div: ast.Mult,
    ast.FloorDiv: ast.Div, ast.Mod: ast.Mult, ast.Pow: ast.Mult,
    ast.Lt: ast.LtE, ast.LtE: ast.Lt, ast.Gt: ast.GtE, ast.GtE: ast.Gt,
    ast.Eq: ast.NotEq, ast.NotEq: ast.Eq, ast.In: ast.NotIn, ast.NotIn: ast.In,
    ast.Is: ast.IsNot, ast.IsNot: ast.Is, ast.And: ast.Or, ast.Or: ast.And,
}  # fmt: skip
CALLS = {
    "min": "max", "max": "min", "any": "all", "all": "any", "ceil": "floor", "floor": "ceil",
    "greatest": "least", "least": "greatest",
}  # fmt: skip
Function = ast.FunctionDef | ast.AsyncFunctionDef


@dataclass(frozen=True)
class Fault:
    """One fault: the file, the function from the outside in, which node of it, and what changes.

    ``number`` counts the nodes of the outermost function that can be changed; ``code`` parts one
    form of that function from the next, ``begin`` is the line where it begins; ``text`` is what
    changes, as it stands without the fault.
    """

    file: str
    function: str
    number: int
    change: str
    code: str
    begin: int
    line: int
    last_line: int
    text: str

    @property
    def reason(self) -> tuple[str, str, str, str]:
        """What it is found by among the faults that are explained."""
        return self.file, self.function, self.text, self.change

    @property
    def key(self) -> tuple[str, str, int, str, str]:
        """What it is known by when other lines of the file move."""
        return self.file, self.function, self.number, self.change, self.code


def core_files() -> list[Path]:
    """Return the modules of the calculation core."""
    found: list[Path] = []
    for name in CORE:
        place = ROOT / "estimator" / name
        found += [place] if place.suffix else sorted(place.rglob("*.py"))
    return found


@functools.cache
def faults_of(path: Path) -> tuple[Fault, ...]:
    """Return every fault that can be planted in a module."""
    return tuple(_faults_of(path))


def _faults_of(path: Path) -> Iterator[Fault]:
    tree = ast.parse(path.read_text("utf-8"))
    file = str(path.relative_to(ROOT))
    for name, function in outermost(tree):
        code = hashlib.sha256(ast.dump(function).encode()).hexdigest()[:8]
        parents = {child: node for node in ast.walk(function)
                   for child in ast.iter_child_nodes(node)}  # fmt: skip
        for number, node in enumerate(sites(function)):
            where = getattr(node, "test", node)
            line, last = getattr(where, "lineno", 0), getattr(where, "end_lineno", 0)
            for change in changes(node):
                yield Fault(file, name, number, change, code, first_line(function), line, last,
                            _text(node, parents))  # fmt: skip


def _text(node: ast.AST, parents: dict[ast.AST, ast.AST]) -> str:
    """Return the first line of what is changed; of a number, what it stands in."""
    shown = parents[node] if isinstance(node, ast.Constant) else getattr(node, "test", node)
    return ast.unparse(shown).splitlines()[0]


def first_line(node: ast.AST) -> int:
    """Return the line at which the code of a function begins: that of its first decorator."""
    decorators = getattr(node, "decorator_list", [])
    return min([node.lineno, *(one.lineno for one in decorators)])  # type: ignore[attr-defined]


def outermost(tree: ast.Module) -> Iterator[tuple[str, Function]]:
    """Yield the functions of a module and the methods of its classes, with their names."""
    for node in tree.body:
        if isinstance(node, Function):
            yield node.name, node
        elif isinstance(node, ast.ClassDef):
            for inner in node.body:
                if isinstance(inner, Function):
                    yield f"{node.name}.{inner.name}", inner


def sites(function: Function) -> list[ast.AST]:
    """Return the nodes of a function that can be changed: none in annotations, texts or raises."""
    found: list[ast.AST] = []

    def look(node: ast.AST) -> None:
        if isinstance(node, ast.Raise | ast.JoinedStr | ast.Assert):
            return
        if any(True for _ in changes(node)):
            found.append(node)
        for name, value in ast.iter_fields(node):
            if name in ("annotation", "returns", "decorator_list", "args") and not isinstance(
                node, ast.Call
            ):
                continue
            for child in value if isinstance(value, list) else [value]:
                if isinstance(child, ast.AST):
                    look(child)

    for statement in function.body:
        look(statement)
    return found


def changes(node: ast.AST) -> Iterator[str]:
    """Yield what can be changed of a node, in words."""
    operator = getattr(node, "op", None)
    if isinstance(node, ast.BinOp | ast.BoolOp | ast.AugAssign) and type(operator) in SWAPS:
        yield f"{type(operator).__name__} -> {SWAPS[type(operator)].__name__}"
    elif isinstance(node, ast.UnaryOp) and isinstance(operator, ast.Not | ast.USub):
        yield f"{type(operator).__name__} dropped"
    elif isinstance(node, ast.Compare) and type(node.ops[0]) in SWAPS:
        yield f"{type(node.ops[0]).__name__} -> {SWAPS[type(node.ops[0])].__name__}"
    elif isinstance(node, ast.If | ast.IfExp | ast.While) and not isinstance(
        node.test, ast.Compare | ast.BoolOp | ast.UnaryOp
    ):
        yield "condition turned round"
    elif isinstance(node, ast.Constant) and isinstance(node.value, bool):
        yield f"{node.value} -> {not node.value}"
    elif isinstance(node, ast.Constant) and isinstance(node.value, int | float):
        yield f"{node.value} -> {node.value + 1}"
    elif isinstance(node, ast.Call) and _called(node) in CALLS:
        yield f"{_called(node)} -> {CALLS[_called(node)]}"


def _called(node: ast.Call) -> str:
    function = node.func
    return function.id if isinstance(function, ast.Name) else getattr(function, "attr", "")


def planted(fault: Fault) -> ast.Module:
    """Return a module with one fault in it."""
    tree = ast.parse((ROOT / fault.file).read_text("utf-8"))
    function = dict(outermost(tree))[fault.function]
    _change(sites(function)[fault.number])
    return ast.fix_missing_locations(tree)


def _change(node: ast.AST) -> None:
    """Change a node in place."""
    if isinstance(node, ast.BinOp | ast.BoolOp | ast.AugAssign):
        node.op = SWAPS[type(node.op)]()  # type: ignore[assignment]
    elif isinstance(node, ast.UnaryOp):
        node.op = ast.UAdd() if isinstance(node.op, ast.USub) else ast.Not()
        if isinstance(node.op, ast.Not):
            node.operand = ast.UnaryOp(ast.Not(), node.operand)
    elif isinstance(node, ast.Compare):
        node.ops[0] = SWAPS[type(node.ops[0])]()  # type: ignore[call-overload]
    elif isinstance(node, ast.If | ast.IfExp | ast.While):
        node.test = ast.UnaryOp(ast.Not(), copy.copy(node.test))
    elif isinstance(node, ast.Constant) and isinstance(node.value, bool):
        node.value = not node.value
    elif isinstance(node, ast.Constant) and isinstance(node.value, int | float):
        node.value += 1
    elif isinstance(node, ast.Call):
        name = CALLS[_called(node)]
        if isinstance(node.func, ast.Name) and name in ("ceil", "floor", "greatest", "least"):
            module = "math" if name in ("ceil", "floor") else "estimator.steps.marks"
            node.func = ast.Attribute(_imported(module), name, ast.Load())
        elif isinstance(node.func, ast.Name):
            node.func.id = name
        elif isinstance(node.func, ast.Attribute):
            node.func.attr = name


def _imported(module: str) -> ast.expr:
    """Return an expression that is a module, whatever the file imports."""
    call = ast.parse(f"__import__('importlib').import_module('{module}')", mode="eval")
    return call.body


def sample(number: int, seed: int, only: str = "") -> list[Fault]:
    """Return faults drawn at random, the same for the same seed; all of them if there are fewer.

    Each file gives its part, so that the small ones are looked at too.
    """
    chance = random.Random(seed)
    by_file = [faults_of(path) for path in core_files()]
    parts = only.split(",")
    by_file = [found for found in by_file
               if found and any(part in found[0].file for part in parts)]  # fmt: skip
    total = sum(map(len, by_file))
    if number >= total:
        return [fault for found in by_file for fault in found]
    drawn: list[Fault] = []
    for found in by_file:
        share = max(1, round(number * len(found) / total))
        drawn += chance.sample(found, min(share, len(found)))
    return sorted(drawn, key=lambda fault: (fault.file, fault.line, fault.number))
