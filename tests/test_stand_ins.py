"""What stands in for an object in a test worked by hand has only names that the program has.

A field that was renamed, and left as it was in a stand-in, lets a test go on that tries nothing.
"""

import ast
from pathlib import Path

import numpy as np
import pytest

from estimator.inputs.dictionary import fields, input_tables, site_tables

ROOT = Path(__file__).parent.parent
BY_HAND = sorted((ROOT / "tests").glob("test_*_by_hand.py"))
OF_LIBRARIES = {*dir(np.random.Generator), "_replace"}


def fields_of(tree):
    """Yield the fields, methods and attributes that the classes of a module have."""
    for node in ast.walk(tree):
        if isinstance(node, ast.ClassDef):
            for part in node.body:
                if isinstance(part, ast.AnnAssign) and isinstance(part.target, ast.Name):
                    yield part.target.id
                elif isinstance(part, ast.FunctionDef):
                    yield part.name
        elif isinstance(node, ast.Attribute) and isinstance(node.ctx, ast.Store):
            yield node.attr


def stood_in(tree):
    """Yield the line and the name of each field of the stand-ins of a module."""
    for node in ast.walk(tree):
        if isinstance(node, ast.Call) and getattr(node.func, "id", "") == "SimpleNamespace":
            yield from ((node.lineno, field.arg) for field in node.keywords if field.arg)


def tree_of(path):
    return ast.parse(path.read_text("utf-8"))


@pytest.fixture(scope="module")
def known():
    of_program = {name for path in (ROOT / "estimator").rglob("*.py")
                  for name in fields_of(tree_of(path))}  # fmt: skip
    tables = (*input_tables(), *site_tables())
    inputs = {field.key for table in tables for field in fields(table.table)}
    return of_program | inputs | OF_LIBRARIES


def test_a_stand_in_has_only_names_of_the_program(known):
    strange = [f"{path.name}:{line} {name}" for path in BY_HAND
               for line, name in stood_in(tree_of(path)) if name not in known]  # fmt: skip
    assert strange == []


def test_a_name_that_is_gone_would_be_found(known):
    names = [name for _, name in stood_in(ast.parse("SimpleNamespace(finish=1, finnish=2)"))]
    assert [name for name in names if name not in known] == ["finnish"]
