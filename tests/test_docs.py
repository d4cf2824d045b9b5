"""The docs say what is: generated pages are fresh, commands and links exist."""

import re
from pathlib import Path

import pytest

from estimator.cli.command import build_parser
from workbook_template.docs_pages import pages

ROOT = Path(__file__).parent.parent
DOCS = ROOT / "docs"
WRITTEN = (*sorted(DOCS.glob("*.md")), ROOT / "README.md", ROOT / "DEVELOPERS.md")


@pytest.mark.parametrize("name", sorted(pages()))
def test_generated_page_is_fresh(name):
    assert (DOCS / name).read_text("utf-8") == pages()[name]()


def test_every_command_is_in_the_readme():
    readme = (ROOT / "README.md").read_text("utf-8")
    for command in subcommands():
        assert f"estimator {command}" in readme


def subcommands():
    actions = [a for a in build_parser()._actions if a.choices and a.dest != "version"]
    return sorted(actions[0].choices)


@pytest.mark.parametrize("page", WRITTEN, ids=lambda p: p.name)
def test_links_lead_somewhere(page):
    for target in re.findall(r"\]\(([^)#]+)\)", page.read_text("utf-8")):
        assert (page.parent / target).exists(), f"{page.name} links to {target}"


@pytest.mark.parametrize("page", WRITTEN, ids=lambda p: p.name)
def test_files_named_in_tables_exist(page):
    for name in re.findall(r"`(test_\w+\.py)`", page.read_text("utf-8")):
        assert (ROOT / "tests" / name).exists(), f"{page.name} names {name}"
