"""What is installed is all that the checkout has, and the mark that it is typed."""

import os
import shutil
import subprocess
import sys
import zipfile
from pathlib import Path

import pytest

ROOT = Path(__file__).parent.parent
PACKAGES = ("estimator", "workbook_template")
SOURCES = (
    *PACKAGES, "pyproject.toml", "LICENSE", "docs/package_index.md", "release_kit/backend.py",
)  # fmt: skip
BUILD = "import backend; print(backend.build_wheel('.'))"


@pytest.fixture(scope="module")
def wheel(tmp_path_factory):
    """Names in the wheel, and its metadata."""
    folder = tmp_path_factory.mktemp("wheel")
    for name in SOURCES:
        source = ROOT / name
        if source.is_dir():
            shutil.copytree(source, folder / name, ignore=shutil.ignore_patterns("__pycache__"))
        else:
            (folder / name).parent.mkdir(exist_ok=True)
            shutil.copy(source, folder / name)
    done = subprocess.run(
        [sys.executable, "-c", BUILD], cwd=folder, capture_output=True, text=True, check=True,
        env={**os.environ, "PYTHONDONTWRITEBYTECODE": "1", "PYTHONPATH": "release_kit"},
    )  # fmt: skip
    with zipfile.ZipFile(folder / done.stdout.splitlines()[-1]) as file:
        return set(file.namelist())


@pytest.mark.parametrize("package", PACKAGES)
def test_the_wheel_says_that_it_is_typed(wheel, package):
    """PEP 561: without the mark a type checker ignores our annotations."""
    assert f"{package}/py.typed" in wheel


def test_the_wheel_holds_every_module_and_table_and_no_test(wheel):
    ours = {
        path.relative_to(ROOT).as_posix()
        for package in PACKAGES
        for path in (ROOT / package).rglob("*")
        if path.is_file() and "__pycache__" not in path.parts
    }
    assert ours - wheel == set()
    others = {name for name in wheel - ours if ".dist-info/" not in name}
    assert others == set()
