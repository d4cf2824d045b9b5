"""What is published: archives that hold everything, the same bytes twice, fitting licenses."""

import csv
import hashlib
import importlib.metadata
import os
import re
import shutil
import subprocess
import sys
import tarfile
import tomllib
from pathlib import Path

import pytest

from estimator.version import VERSION

ROOT = Path(__file__).parent.parent
DATE = "1767225600"
"""1 January 2026."""
BUILD = (
    "import os, backend;"
    "os.makedirs('out');"
    "print(backend.build_sdist('out')); print(backend.build_wheel('out'))"
)
LICENSES = {
    row["package"]: row
    for row in csv.DictReader((ROOT / "constraints/licenses.csv").read_text("utf-8").splitlines())
}
COPYLEFT = re.compile(r"GPL|Mozilla|MPL|EUPL|CDDL|EPL|CC-BY-SA", re.IGNORECASE)


def tracked():
    """Return the files of the project; a test skips where git does not know them."""
    git = shutil.which("git")
    if git is None or not (ROOT / ".git").exists():
        pytest.skip("git does not know the files here")
    done = subprocess.run(
        [git, "ls-files", "-z", "--cached", "--others", "--exclude-standard"],
        cwd=ROOT, capture_output=True, text=True, check=True,
    )  # fmt: skip
    return [name for name in done.stdout.split("\0") if name and (ROOT / name).is_file()]


def built(folder, names, age):
    """Return the archives built from a copy of the project whose files are of another age."""
    for name in names:
        (folder / name).parent.mkdir(parents=True, exist_ok=True)
        shutil.copy(ROOT / name, folder / name)
        os.utime(folder / name, (age, age))
    environment = {**os.environ, "SOURCE_DATE_EPOCH": DATE, "PYTHONPATH": "release_kit"}
    done = subprocess.run(
        [sys.executable, "-c", BUILD], cwd=folder, env=environment, capture_output=True, text=True,
        check=False,
    )  # fmt: skip
    assert done.returncode == 0, done.stderr[-2000:]
    return sorted((folder / "out").iterdir())


@pytest.fixture(scope="module")
def twice(tmp_path_factory):
    names = tracked()
    folders = (tmp_path_factory.mktemp("first"), tmp_path_factory.mktemp("second"))
    return [
        built(folder, names, age) for folder, age in zip(folders, (10**9, 1.5 * 10**9), strict=True)
    ]


def test_two_builds_of_one_date_have_the_same_bytes(twice):
    first, second = (
        {path.name: hashlib.sha256(path.read_bytes()).hexdigest() for path in made}
        for made in twice
    )
    assert len(first) == 2
    assert first == second


def test_the_source_archive_holds_tests_data_and_docs(twice):
    archive = next(path for path in twice[0] if path.name.endswith(".tar.gz"))
    with tarfile.open(archive) as file:
        held = {name.partition("/")[2] for name in file.getnames()}
    assert {"tests/conftest.py", "docs/method.md", "examples/raw_water_main.xlsx"} <= held
    assert set(tracked()) - held == set()


def pinned(*lists):
    return {
        name.casefold()
        for one in lists
        for name in re.findall(
            r"^([\w.-]+)==", (ROOT / f"constraints/{one}.txt").read_text("utf-8"), re.MULTILINE
        )
    }


def test_the_license_of_every_package_at_run_time_is_listed():
    assert set(LICENSES) == pinned("run", "excel", "import")


def test_no_license_at_run_time_asks_to_pass_on_the_source():
    assert [name for name, row in LICENSES.items() if COPYLEFT.search(row["license"])] == []


def test_the_list_of_licenses_says_what_the_packages_say():
    """Those that are not installed here belong to another system."""
    seen = 0
    for name, row in LICENSES.items():
        try:
            found = importlib.metadata.metadata(name)
        except importlib.metadata.PackageNotFoundError:
            continue
        said = found.get("License-Expression") or found.get("License") or ""
        words = re.sub(r"\W", "", said.replace(" Software License", "-2.0")).casefold()
        assert words == re.sub(r"\W", "", row["license"]).casefold(), name
        seen += 1
    assert seen > 12


CHANGES = {"Added", "Changed", "Deprecated", "Removed", "Fixed", "Security"}
"""The headings of Keep a Changelog 1.1."""
MOST_WORDS = 2_500


def test_the_changelog_is_notes_for_a_user():
    """Newest version first, each with its date but what is not released; short enough to read."""
    text = (ROOT / "CHANGELOG.md").read_text("utf-8")
    first, *released = re.split(r"^## ", text, flags=re.MULTILINE)[1:]
    assert first.startswith("Unreleased\n")
    for one in released:
        assert re.match(r"\d+\.\d+\.\d+ - \d{4}-\d\d-\d\d\n", one), one[:40]
    assert set(re.findall(r"^### (.+)$", text, re.MULTILINE)) <= CHANGES
    assert 200 < len(first.split()) < MOST_WORDS
    newest = released[0].split(" ")[0] if released else VERSION
    assert newest == VERSION


def test_the_pages_for_an_index_hold_no_link_that_is_dead_there():
    project = tomllib.loads((ROOT / "pyproject.toml").read_text("utf-8"))["project"]
    page = (ROOT / project["readme"]).read_text("utf-8")
    targets = re.findall(r"\]\(([^)]+)\)", page)
    assert [target for target in targets if not target.startswith("https:")] == []
    assert "docs/excel.md" in page


def test_metadata_names_only_what_is_there():
    """No address is invented: there is none yet."""
    project = tomllib.loads((ROOT / "pyproject.toml").read_text("utf-8"))["project"]
    assert "urls" not in project
    assert all((ROOT / name).is_file() for name in project["license-files"])
    assert "Typing :: Typed" in project["classifiers"]
