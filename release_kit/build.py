"""Puts a kit together: packages, scripts, documents, list of hashes, zip file."""

import hashlib
import json
import os
import shutil
import subprocess
import sys
import tempfile
import zipfile
from collections.abc import Callable, Iterator, Sequence
from dataclasses import replace
from pathlib import Path

from estimator.version import VERSION
from release_kit.systems import PYTHONS, Pinned, System, pinned_for

ROOT = Path(__file__).parent.parent
FILES = Path(__file__).parent / "files"
OWN_NAME = "pe-joint-estimator"
SOURCES = ("estimator", "workbook_template")
BESIDE = ("pyproject.toml", "LICENSE", "docs/package_index.md", "release_kit/backend.py")
DATE_OF_FILES = "315619200"
"""Seconds of 2 January 1980: the same sources give the same package."""

Run = Callable[[Sequence[str]], None]


def build_kit(system: System, folder: Path, run: Run, pythons: Sequence[str] = PYTHONS) -> Path:
    """Build the kit of a system and return its zip file.

    Parameters
    ----------
    system : System
        What it is for.
    folder : Path
        Where the kit's folder and zip file go; an earlier kit there is replaced.
    run : callable
        Runs a command of pip, given its arguments.
    pythons : sequence of str
        Versions of Python whose packages go in.
    """
    kit = folder / f"job-estimator-{VERSION}-{system.name}"
    shutil.rmtree(kit, ignore_errors=True)
    packages = kit / "packages"
    packages.mkdir(parents=True)
    listed = (ROOT / "constraints" / "excel.txt").read_text("utf-8")
    pinned = list(pinned_for(system, listed))
    download(system, pinned, packages, run, pythons)
    own_package(packages, run)
    pinned.append(Pinned(OWN_NAME, VERSION, ()))
    lines = "".join(f"{package.line}\n" for package in with_own_hashes(pinned, packages))
    (kit / "packages.txt").write_text(lines, "ascii")
    _write_facts(system, kit, pythons)
    _copy_files(system, kit)
    return _zipped(kit)


def download(
    system: System, pinned: Sequence[Pinned], packages: Path, run: Run, pythons: Sequence[str]
) -> None:
    """Fetch the packages for every version of Python, each checked by its hash."""
    with tempfile.TemporaryDirectory() as name:
        wanted = Path(name) / "wanted.txt"
        wanted.write_text("".join(f"{package.line}\n" for package in pinned), "ascii")
        tags = [option for tag in system.tags for option in ("--platform", tag)]
        for python in pythons:
            run([
                "download", "--no-deps", "--require-hashes", "--only-binary=:all:", *tags,
                "--python-version", python, "-r", str(wanted), "-d", str(packages),
            ])  # fmt: skip


def own_package(packages: Path, run: Run) -> None:
    """Build the estimator's own package from a clean copy of its sources."""
    with tempfile.TemporaryDirectory() as name:
        copy = Path(name)
        for source in SOURCES:
            unwanted = shutil.ignore_patterns("__pycache__")
            shutil.copytree(ROOT / source, copy / source, ignore=unwanted)
        for file in BESIDE:
            (copy / file).parent.mkdir(exist_ok=True)
            shutil.copy(ROOT / file, copy / file)
        run(["wheel", "--no-deps", "--no-build-isolation", "--no-index", "-w", str(packages), name])


def with_own_hashes(pinned: Sequence[Pinned], packages: Path) -> Iterator[Pinned]:
    """Yield the packages with the hashes of the files that are there, and of no others."""
    hashes: dict[str, list[str]] = {}
    for wheel in sorted(packages.glob("*.whl")):
        digest = hashlib.sha256(wheel.read_bytes()).hexdigest()
        name = wheel.name.partition("-")[0].replace("_", "-").lower()
        hashes.setdefault(name, []).append(f"--hash=sha256:{digest}")
    for package in pinned:
        yield replace(package, hashes=tuple(hashes[package.name.lower()]))


def pip(arguments: Sequence[str]) -> None:
    """Run pip; what it prints is shown only if it fails."""
    command = [sys.executable, "-m", "pip", "--disable-pip-version-check", *arguments]
    environment = {**os.environ, "SOURCE_DATE_EPOCH": DATE_OF_FILES}
    done = subprocess.run(command, env=environment, capture_output=True, text=True, check=False)
    if done.returncode:
        sys.exit(f"{done.stdout}{done.stderr}pip {arguments[0]} failed")


def _write_facts(system: System, kit: Path, pythons: Sequence[str]) -> None:
    facts = {
        "version": VERSION,
        "system": system.label,
        "platform": system.platform,
        "machine": system.machine,
        "pythons": list(pythons),
    }
    (kit / "kit.json").write_text(json.dumps(facts, indent=1), "ascii")


def _copy_files(system: System, kit: Path) -> None:
    scripts = [path for path in (*FILES.iterdir(), *ROOT.iterdir()) if path.suffix in SCRIPTS]
    plain = (FILES / "set_up.py", FILES / "READ ME.txt", FILES / "excel_check.md", ROOT / "LICENSE")
    for path in (*plain, *scripts):
        if path.suffix not in SCRIPTS or path.suffix == system.scripts:
            shutil.copy(path, kit)
    shutil.copytree(ROOT / "docs", kit / "docs")
    shutil.copytree(ROOT / "examples", kit / "examples")


def _zipped(kit: Path) -> Path:
    target = kit.with_name(f"{kit.name}.zip")
    with zipfile.ZipFile(target, "w", zipfile.ZIP_DEFLATED) as archive:
        for path in sorted(kit.rglob("*")):
            packed = path.suffix == ".whl"
            kind = zipfile.ZIP_STORED if packed else zipfile.ZIP_DEFLATED
            archive.write(path, path.relative_to(kit.parent), kind)
    return target


SCRIPTS = (".cmd", ".command")
