"""The kit for an office: what is in it, what its set-up refuses, an install without a network."""

import hashlib
import importlib.metadata
import json
import os
import re
import shutil
import subprocess
import sys
import zipfile
from dataclasses import replace
from pathlib import Path

import pytest
from packaging.requirements import Requirement
from packaging.utils import canonicalize_name

from estimator.version import VERSION
from release_kit.__main__ import main
from release_kit.build import OWN_NAME, ROOT, build_kit, pip
from release_kit.files import set_up
from release_kit.systems import PYTHONS, SYSTEMS, pinned_for

LISTED = (ROOT / "constraints" / "excel.txt").read_text("utf-8")
HERE = f"{sys.version_info[0]}.{sys.version_info[1]}"
NAMES = {
    system.name: {each.name for each in pinned_for(system, LISTED)} for system in SYSTEMS.values()
}


class NoRegistry:
    """Stands in for pip: makes empty packages of the names that it is asked for."""

    def __init__(self):
        self.asked = []

    def __call__(self, arguments):
        self.asked.append(arguments)
        if arguments[0] == "wheel":
            assert not list(Path(arguments[-1]).rglob("__pycache__"))
            names = [("pe_joint_estimator", VERSION)]
        else:
            text = Path(arguments[arguments.index("-r") + 1]).read_text()
            names = re.findall(r"^([\w.-]+)==(\S+) --hash", text, re.MULTILINE)
        folder = Path(arguments[arguments.index("-d" if "-d" in arguments else "-w") + 1])
        for name, version in names:
            (folder / f"{name.replace('-', '_')}-{version}-py3-none-any.whl").write_text(name)


@pytest.fixture(scope="module", params=SYSTEMS)
def kit(request, tmp_path_factory):
    """Every kit, its packages made up: system, what pip was asked, folder, zip file."""
    run, system = NoRegistry(), SYSTEMS[request.param]
    archive = build_kit(system, tmp_path_factory.mktemp("kit"), run)
    return system, run, archive.with_suffix(""), archive


def test_each_package_is_fetched_for_every_python_and_checked(kit):
    system, run, *_ = kit
    downloads = [arguments for arguments in run.asked if arguments[0] == "download"]
    assert [each[each.index("--python-version") + 1] for each in downloads] == list(PYTHONS)
    for each in downloads:
        assert {"--require-hashes", "--only-binary=:all:", "--no-deps", *system.tags} <= set(each)


def test_the_list_of_a_kit_names_each_file_by_its_hash(kit):
    system, _, folder, _ = kit
    lines = (folder / "packages.txt").read_text().splitlines()
    files = {hashlib.sha256(p.read_bytes()).hexdigest() for p in (folder / "packages").iterdir()}
    assert {line.rpartition(":")[2] for line in lines} == files
    assert {line.partition("==")[0] for line in lines} == NAMES[system.name] | {OWN_NAME}


def test_a_kit_has_the_scripts_of_its_system_only(kit):
    system, _, folder, archive = kit
    expected = {f"{name}{system.scripts}" for name in ("setup", "uninstall", "estimate")}
    assert {p.name for p in folder.iterdir() if p.suffix in (".cmd", ".command")} == expected
    facts = json.loads((folder / "kit.json").read_text())
    assert (facts["platform"], facts["pythons"]) == (system.platform, list(PYTHONS))
    with zipfile.ZipFile(archive) as packed:
        names = {info.filename.partition("/")[2] for info in packed.infolist()}
        modes = {i.filename: i.external_attr >> 16 for i in packed.infolist()}
    there = {path.relative_to(folder).as_posix() for path in folder.rglob("*") if path.is_file()}
    assert {name for name in names if not name.endswith("/")} == there
    assert {"set_up.py", "READ ME.txt", "excel_check.md", "LICENSE", "docs/excel.md"} <= there
    if system.scripts == ".command":
        assert all(modes[f"{folder.name}/{name}"] & 0o100 for name in expected)


def test_what_excel_needs_is_in_the_kit_of_its_system():
    assert "pywin32" in NAMES["windows-x64"]
    assert {"appscript", "psutil"} <= NAMES["mac-arm64"]
    assert not {"pywin32", "appscript", "psutil"} & NAMES["linux-x64"]
    for names in NAMES.values():
        assert {"xlwings", "lxml", "numpy", "pydantic"} <= names
        assert not {"setuptools", "wheel", "pytest"} & names


@pytest.mark.parametrize("name", SYSTEMS)
def test_no_package_needs_one_that_is_not_in_the_kit(name):
    """By what the installed packages say that they need on that system."""
    marked = {**SYSTEMS[name].marked, "extra": ""}
    known = {canonicalize_name(each) for each in NAMES[name]}
    for package in NAMES[name] - {"pywin32", "appscript", "psutil"}:
        for text in importlib.metadata.requires(package) or ():
            needed = Requirement(text)
            if needed.marker is None or needed.marker.evaluate(marked):
                assert canonicalize_name(needed.name) in known, f"{package} needs {text}"


def test_scripts_try_the_pythons_that_the_kit_has_packages_for():
    backwards = " ".join(reversed(PYTHONS))
    files = ROOT / "release_kit" / "files"
    assert f"in ({backwards}) do" in (files / "setup.cmd").read_text()
    unix = (files / "setup.command").read_text()
    assert f"in {backwards} 3; do" in unix
    first, last = (version.replace(".", ", ") for version in (PYTHONS[0], PYTHONS[-1]))
    assert f"({first}) <= sys.version_info[:2] <= ({last})" in unix


def test_an_unknown_system_is_reported(capsys):
    with pytest.raises(SystemExit):
        main(["windows-32"])
    assert "no system windows-32; there are windows-x64, mac-arm64" in capsys.readouterr().err


# What the set-up refuses


FACTS = {"system": "64-bit Windows", "platform": sys.platform, "machine": "x86_64",
         "pythons": [HERE]}  # fmt: skip


@pytest.mark.parametrize(
    ("facts", "message"),
    [
        ({"platform": "win32"}, "this kit is for 64-bit Windows: take the kit of this system"),
        ({"pythons": ["3.98", "3.99"]}, rf"needs Python 3\.98, 3\.99 \(64-bit.*found {HERE}, "),
        ({"machine": "amd64"}, r"found one for linux-"),
    ],
)
def test_a_python_that_the_packages_are_not_for_is_refused(facts, message):
    with pytest.raises(set_up.CannotError, match=message):
        set_up.check_python({**FACTS, **facts})


def test_a_32_bit_python_is_refused(monkeypatch):
    monkeypatch.setattr(set_up.struct, "calcsize", lambda _: 4)
    with pytest.raises(set_up.CannotError, match="found a 32-bit one"):
        set_up.check_python(FACTS)


@pytest.mark.parametrize(
    ("folder", "platform", "message"),
    [
        ("\\\\server\\share\\kit", "win32", "is on the network: copy the folder"),
        ("/Users/me/my jobs/kit", "darwin", "no blanks and only plain letters"),
        ("/Users/J\xf6rg/kit", "darwin", "no blanks and only plain letters"),
    ],
)
def test_a_folder_that_excel_could_not_use_is_refused(folder, platform, message, monkeypatch):
    monkeypatch.setattr(set_up, "HERE", folder)
    monkeypatch.setattr(set_up.sys, "platform", platform)
    with pytest.raises(set_up.CannotError, match=message):
        set_up.check_folder()


def test_a_package_that_was_changed_is_refused_and_nothing_else_is_done(tmp_path, monkeypatch):
    """The environment's Python is one that says what pip says to a wrong hash."""
    python = tmp_path / "python"
    python.write_text("#!/bin/sh\necho THESE PACKAGES DO NOT MATCH THE HASHES >&2\nexit 1\n")
    python.chmod(0o755)
    monkeypatch.setattr(set_up, "PYTHON", python)
    monkeypatch.setattr(set_up, "HERE", tmp_path)
    with pytest.raises(set_up.CannotError, match="DO NOT MATCH THE HASHES"):
        set_up.install()
    python.unlink()
    with pytest.raises(set_up.CannotError, match="may not be started"):
        set_up.install()


# The whole of it


def without_network(command, folder):
    """Run a command with no network, by the system where it allows that, else by dead proxies."""
    cut = ["unshare", "-rn"]
    if subprocess.run([*cut, "true"], capture_output=True, check=False).returncode:
        cut = []
    dead = {f"{kind}_proxy": "http://127.0.0.1:9" for kind in ("http", "https")}
    keep = {key: value for key, value in os.environ.items() if not key.startswith("PIP_")}
    return subprocess.run(
        [*cut, *command], cwd=folder, env={**keep, **dead}, capture_output=True, text=True,
        timeout=400, check=False,
    )  # fmt: skip


@pytest.mark.slow
def test_the_kit_installs_without_a_network_estimates_and_goes_again(tmp_path):
    if sys.platform != "linux" or os.uname().machine != "x86_64" or HERE not in PYTHONS:
        pytest.skip("there is no kit for this system")
    system = replace(SYSTEMS["linux-x64"])
    archive = build_kit(system, tmp_path, pip, [HERE])
    shutil.rmtree(archive.with_suffix(""))
    office = tmp_path / "an office"
    with zipfile.ZipFile(archive) as packed:
        packed.extractall(office)
    (kit,) = office.iterdir()
    done = without_network([sys.executable, kit / "set_up.py", "si"], tmp_path)
    assert done.returncode == 0, done.stdout + done.stderr
    for message in ("Installing the packages of this folder", "first_job.xlsm is made, in SI units",
                 "Set up.", str(kit / ".venv/bin/python"), "uninstall.command"):  # fmt: skip
        assert message in done.stdout
    python = kit / ".venv" / "bin" / "python"
    checked = without_network([python, "-m", "pip", "check"], tmp_path)
    assert "No broken requirements" in checked.stdout
    job = kit / "examples" / "raw_water_main.xlsx"
    run = without_network(["sh", kit / "estimate.command", job], tmp_path)
    assert run.returncode == 0, run.stderr
    assert "Bid" in run.stdout
    first = kit / "first_job.xlsm"
    before = first.read_bytes()
    caches = list((kit / ".venv").rglob("estimator/__pycache__/*.pyc"))
    assert caches
    gone = without_network(["sh", kit / "uninstall.command"], tmp_path)
    assert gone.returncode == 0, gone.stderr
    assert not (kit / ".venv").exists()
    assert first.read_bytes() == before


@pytest.mark.slow
def test_setup_script_finds_a_python_and_says_what_is_wrong_with_the_kit(tmp_path):
    """Run as a user starts it, in a folder whose facts are those of another system."""
    files = ROOT / "release_kit" / "files"
    for name in ("setup.command", "set_up.py"):
        shutil.copy(files / name, tmp_path)
    facts = {**FACTS, "version": VERSION, "platform": "win32"}
    (tmp_path / "kit.json").write_text(json.dumps(facts))
    run = subprocess.run(
        ["sh", tmp_path / "setup.command"], capture_output=True, text=True, timeout=60, check=False
    )
    assert run.returncode == 1
    assert "NOT set up: this kit is for 64-bit Windows" in run.stdout
    assert not (tmp_path / ".venv").exists()
