"""Setting up says what is missing, installs what the README needs, and repairs itself."""

import re
import runpy
import shutil
import subprocess
import sys
from pathlib import Path

import pytest

ROOT = Path(__file__).parent.parent
OLD_PYTHON = """\
#!/bin/sh
# A Python that takes itself for an old one.
if [ "$1" = -c ]; then
    exec {python} -c "import sys; sys.version_info = (3, 10, 4, 'final', 0); exec(sys.argv[1])" "$2"
fi
touch "{folder}/was-run"
"""
COPYING_PYTHON = """\
#!/bin/sh
# A Python that copies an environment: to put pip into a new one takes nearly all the time.
if [ "$2" = venv ]; then
    exec cp -a "{folder}/whole/." "$3"
fi
exec {python} "$@"
"""


def made(folder, *arguments):
    """Run make on the project's own Makefile in a folder of its own."""
    shutil.copy(ROOT / "Makefile", folder)
    return subprocess.run(
        ["make", *arguments], cwd=folder, capture_output=True, text=True, timeout=120, check=False
    )


def test_an_old_python_gets_one_line_before_anything_is_made(tmp_path):
    python = script(tmp_path / "python3.10", OLD_PYTHON)
    run = made(tmp_path, f"PYTHON={python}", ".venv/bin/python")
    assert run.returncode != 0
    lines = [line for line in run.stderr.splitlines() if not line.startswith("make")]
    assert lines == [
        "needs Python 3.11 or later, found 3.10: name another, as in make PYTHON=python3.12"
    ]
    assert not (tmp_path / ".venv").exists()
    assert not (tmp_path / "was-run").exists()


def test_an_old_python_that_is_at_hand_gets_one_line_too(monkeypatch):
    """Without an environment, as ``python -m estimator`` in the folder."""
    monkeypatch.setattr(sys, "version_info", (3, 10, 13))
    with pytest.raises(SystemExit) as ended:
        runpy.run_module("estimator", run_name="__main__")
    assert ended.value.code == "needs Python 3.11 or later, found 3.10"


def script(path, text):
    """Write a Python of our own that can be started."""
    path.write_text(text.format(python=sys.executable, folder=path.parent))
    path.chmod(0o755)
    return path


def made_anew(folder, python):
    """Have a broken environment made anew, and only once."""
    run = made(folder, f"PYTHON={python}", ".venv/bin/python")
    assert run.returncode == 0, run.stderr
    assert "The Python in .venv does not work: setting it up anew" in run.stdout
    assert not (folder / ".venv" / ".run").exists()
    again = made(folder, ".venv/bin/python")
    assert "anew" not in again.stdout
    assert "Setting up" not in again.stdout
    return folder / ".venv"


def broken_environment(folder, broken):
    environment = folder / ".venv"
    (environment / "bin").mkdir(parents=True)
    if broken == "its Python is gone":
        (environment / "bin" / "python").symlink_to(folder / "gone")
    if broken == "it has no pip":
        command = [sys.executable, "-m", "venv", "--without-pip", environment]
        subprocess.run(command, check=True, timeout=60)
    (environment / ".run").touch()


@pytest.fixture(scope="module")
def repaired(tmp_path_factory):
    folder = tmp_path_factory.mktemp("gone")
    broken_environment(folder, "its Python is gone")
    return made_anew(folder, sys.executable)


def test_an_environment_whose_python_is_gone_is_made_anew(repaired):
    subprocess.run([repaired / "bin/python", "-c", "import pip"], check=True, timeout=60)


@pytest.mark.parametrize("broken", ["it was never finished", "it has no pip"])
def test_a_broken_environment_is_made_anew(tmp_path, repaired, broken):
    (tmp_path / "whole").symlink_to(repaired)
    broken_environment(tmp_path, broken)
    made_anew(tmp_path, script(tmp_path / "copying", COPYING_PYTHON))


def test_the_readme_installs_what_its_lines_need():
    """Every line of the README runs after its own install: .xlsm and press need xlwings."""
    readme = (ROOT / "README.md").read_text("utf-8")
    lists = set(re.findall(r"install --require-hashes -r (\S+)", readme))
    assert {name.replace("\\", "/") for name in lists} == {"constraints/excel.txt"}
    assert "estimator new job.xlsm" in readme
    assert re.search(r"^xlwings==", (ROOT / "constraints/excel.txt").read_text(), re.MULTILINE)
    assert "-r constraints/excel.txt" in (ROOT / "Makefile").read_text()


@pytest.mark.parametrize("page", ["README.md", "docs/excel.md"])
def test_no_page_tells_to_start_an_unsigned_launcher(page):
    """Offices that allow python.exe often block the small programs that pip makes beside it."""
    text = (ROOT / page).read_text("utf-8")
    assert re.findall(r"(?:Scripts\\|\.venv/bin/)(?!python\b)\S+", text) == []
    assert re.findall(r"^ *pip3? .*", text, re.MULTILINE) == []
