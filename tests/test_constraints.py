"""The pinned packages: each list pins the same version, with hashes, from nowhere in particular."""

import importlib.metadata
import re
from pathlib import Path

import pytest
from packaging.requirements import Requirement
from packaging.utils import canonicalize_name

FOLDER = Path(__file__).parent.parent / "constraints"
LISTS = sorted(FOLDER.glob("*.txt"))
PIN = re.compile(r"^([\w.-]+)==([^\s;]+)", re.MULTILINE)


def test_every_list_pins_the_same_versions():
    versions = {}
    for path in LISTS:
        for name, version in PIN.findall(path.read_text("utf-8")):
            versions.setdefault(name.casefold(), {}).setdefault(version, []).append(path.name)
    assert len(versions) > 20
    assert {name: found for name, found in versions.items() if len(found) > 1} == {}


def test_every_pin_has_its_hashes_and_no_list_names_a_registry():
    for path in LISTS:
        text = path.read_text("utf-8")
        pins = re.split(r"^(?=[\w.-]+==)", text, flags=re.MULTILINE)[1:]
        assert all("--hash=sha256:" in pin for pin in pins), path.name
        assert not re.search(r"https?://|--index-url|--find-links", text), path.name


@pytest.mark.parametrize("name", ["dev.txt", "site.txt"])
def test_a_list_holds_what_its_packages_need(name):
    """They are installed as they are, by what the packages say that they need here."""
    pinned = {canonicalize_name(one) for one, _ in PIN.findall((FOLDER / name).read_text("utf-8"))}
    here = {canonicalize_name(one.name): one for one in importlib.metadata.distributions()}
    assert len(pinned & here.keys()) > 20
    missing = [
        f"{package} needs {text}"
        for package in sorted(pinned & here.keys())
        for text in here[package].requires or ()
        if is_wanted(needed := Requirement(text)) and canonicalize_name(needed.name) not in pinned
    ]
    assert missing == []


def is_wanted(needed):
    return needed.marker is None or needed.marker.evaluate({"extra": ""})
