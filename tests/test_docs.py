"""The docs say what is: generated pages are fresh, commands and links exist."""

import csv
import functools
import importlib.util
import math
import os
import re
import shlex
import subprocess
import sys
from pathlib import Path

import pytest

from estimator.cli import main
from estimator.cli.command import build_parser
from estimator.export.rows import RunRow
from estimator.export.schema import HydrotestShape, JointShape, RunShape, TotalsShape
from estimator.joint.fusion import Method, fusion_parameters
from estimator.joint.geometry import pipe_geometry
from estimator.workbook.results.result_columns import result_columns
from tests.each import each
from workbook_template.content import own_rows
from workbook_template.docs_pages import pages
from workbook_template.gallery import PICTURES, pictured
from workbook_template.markdown import GENERATED

ROOT = Path(__file__).parent.parent
DOCS = ROOT / "docs"
WRITTEN = (
    *sorted(DOCS.glob("*.md")),
    *(
        ROOT / name
        for name in (
            "README.md",
            "DEVELOPERS.md",
            "CONTRIBUTING.md",
            "tests/README.md",
            "benchmarks/README.md",
        )
    ),
)


@pytest.mark.parametrize("name", sorted(pages()))
def test_generated_page_is_fresh(name):
    assert (DOCS / name).read_text("utf-8") == pages()[name]()


def test_every_command_is_in_the_readme():
    readme = (ROOT / "README.md").read_text("utf-8")
    for command in subcommands():
        assert f"estimator {command}" in readme


@functools.cache
def subcommands():
    actions = [a for a in build_parser()._actions if a.choices and a.dest != "version"]
    return sorted(actions[0].choices)


@pytest.mark.parametrize("page", WRITTEN, ids=lambda p: p.name)
def test_links_lead_somewhere(page):
    for target in re.findall(r"\]\(([^)#]+)\)", page.read_text("utf-8")):
        assert (page.parent / target).exists(), f"{page.name} links to {target}"


SHOWN = sorted(set(DOCS.glob("*.md")) - {DOCS / "package_index.md", DOCS / "index.md"})
MOST_WORDS = 20_000
"""Of all pages that somebody writes; code, commands and the bars of tables are no words."""


@each("page", SHOWN, ids=lambda p: p.name)
def test_a_page_says_first_for_whom_it_is(page):
    paragraphs = page.read_text("utf-8").split("\n\n")[1:4]
    first = next((text for text in paragraphs if text != GENERATED), "")
    assert first.startswith("For "), first


def test_the_pages_stay_short():
    by_hand = [page for page in DOCS.glob("*.md") if page.name not in pages()]
    made = r"^```.*?^```$|^<!-- (?:measured|planted):.*?^<!-- end"
    text = "".join(
        re.sub(made, "", page.read_text("utf-8"), flags=re.MULTILINE | re.DOTALL)
        for page in by_hand
    )
    words = [one for one in text.split() if re.search(r"\w", one)]
    assert 15_000 < len(words) < MOST_WORDS


def test_the_site_has_every_page():
    """A strict build says so too; this needs no mkdocs."""
    listed = set(
        re.findall(r"- (\w+\.md)$", (ROOT / "mkdocs.yml").read_text("utf-8"), re.MULTILINE)
    )
    assert listed == {page.name for page in DOCS.glob("*.md")} - {"package_index.md"}


def test_the_site_builds_without_a_warning(tmp_path):
    """Links, anchors and pages are checked by mkdocs; equations are set; nothing is fetched."""
    if importlib.util.find_spec("mkdocs") is None:
        pytest.skip("mkdocs comes with: make site")
    done = subprocess.run(
        [sys.executable, "-m", "mkdocs", "build", "--quiet", "--strict", "-d", str(tmp_path)],
        cwd=ROOT, env={**os.environ, "NO_MKDOCS_2_WARNING": "1"}, capture_output=True, text=True,
        check=False,
    )  # fmt: skip
    assert done.returncode == 0, done.stderr
    method = (tmp_path / "method.html").read_text("utf-8")
    assert method.count("<math") > 40
    assert "merror" not in method
    fetched = re.findall(
        r"(?:src|href)=\"(https?://[^\"]+)\"", (tmp_path / "index.html").read_text()
    )
    assert [address for address in fetched if "squidfunk" not in address] == []


def test_every_sheet_is_in_the_gallery_with_its_picture():
    rows = own_rows("sheets.csv")
    shown = {one.sheet for one in pictured()}
    assert {row["sheet"] for row in rows} - shown == set()
    files = {path.name for path in (DOCS / PICTURES).glob("*.png")}
    assert files == {one.file for one in pictured()}


def test_every_symbol_of_the_nomenclature_is_found_where_it_says():
    headers = {" ".join(column.header.split()) for column in result_columns("joints")}
    names = {*RunRow._fields, *RunShape.__annotations__, *JointShape.__annotations__}
    names |= {*HydrotestShape.__annotations__, *TotalsShape.__annotations__}
    for row in own_rows("nomenclature.csv"):
        assert not row["result"] or row["result"] in headers, row
        assert not row["field"] or row["field"] in names, row


def test_a_stranger_finds_where_a_cooling_time_comes_from(capsys):
    """docs/where_from.md beside the program: time, confidence and source as the page has them."""
    page = " ".join((DOCS / "where_from.md").read_text("utf-8").split())
    (command,) = re.findall(r"``` estimator (joint [^`]+?) ```", page)
    assert main(shlex.split(command)) == 0
    line = next(x for x in capsys.readouterr().out.splitlines() if x.startswith("Cool under"))
    value, _, source = line.partition("[")
    assert f"Cooling reads {value.split()[3]} min" in page
    assert f"`[{source.strip()}`" in page
    for method in Method:
        assert f"| `{method.value}` |" in page


def table_below(page, heading):
    """Return the rows of the first table below a heading of a page, by header."""
    text = (DOCS / page).read_text("utf-8").partition(f"\n## {heading}\n")[2]
    lines = [line for line in text.partition("\n## ")[0].splitlines() if line.startswith("|")]
    head, _, *rows = ([cell.strip() for cell in line[1:-1].split("|")] for line in lines)
    return [dict(zip(head, row, strict=True)) for row in rows]


def linear(wall, row, band):
    low, high = float(row["wall_from_mm"]), float(row["wall_to_mm"])
    first, last = float(row[f"{band}_from_min"]), float(row[f"{band}_to_min"])
    return first + (last - first) * (wall - low) / (high - low)


def by_squares(wall, row):
    return sum(float(row[name]) * wall**power for power, name in
               enumerate(("constant", "per_wall", "per_wall_squared")))  # fmt: skip


COOLING_OF = {
    "f2620": lambda wall, row, _: float(row["value"]) * wall,
    "dvs2207": linear,
    "iso21307-slp": lambda wall, row, _: by_squares(wall, row),
}


WALLS = {"IPS": "IPS, iron pipe sizes: minimum wall, in", "ISO": "ISO metric: minimum wall, mm"}


@each("system, size, dr, method, band, sure", [
    ("IPS", "24", "DR 17", "f2620", "", "common practice"),
    ("ISO", "315", "SDR 11", "dvs2207", "mild", "one source"),
    ("ISO", "110", "SDR 11", "iso21307-slp", "", "confirmed"),
])  # fmt: skip
def test_the_site_alone_answers_where_a_cooling_time_comes_from(
    system, size, dr, method, band, sure
):
    """Home, Where from, the table it names: two clicks; the wall is one click from home.

    24 in DR 17 is 11 x 1.412 in; 315 mm SDR 11 is 28.6 mm, between 24 and 34 min; 110 mm is 10 + 3.
    """
    home = (DOCS / "index.md").read_text("utf-8")
    assert "(where_from.md)" in home
    assert "(pipes.md)" in home
    (said,) = (row for row in table_below("where_from.md", "Cooling by method")
               if row["method"] == f"`{method}`")  # fmt: skip
    assert sure in said["how sure"]
    anchor = re.search(r"\(standards\.md#(\w+)\)", said["table"])[1]
    walls = table_below("pipes.md", WALLS[system])
    wall = float(next(row[dr] for row in walls if row["size"] == size))
    (row,) = (
        row for row in table_below("standards.md", anchor)
        if row.get("item", row.get("figure", "cooling")) in ("cooling", "cool")
        and row.get("method", method) == method
        and float(row.get("wall_from_mm") or 0) <= wall < float(row.get("wall_to_mm") or math.inf)
    )  # fmt: skip
    assert (row["confidence"], bool(row["clause"])) == (sure, True)
    pipe = pipe_geometry(system, size, float(dr.split()[1]), "PE4710")
    found = fusion_parameters(method, pipe.od_mm, pipe.wall_mm, 23.0)
    assert found.cool_s == pytest.approx(60 * COOLING_OF[method](wall, row, band))


@pytest.mark.parametrize("page", WRITTEN, ids=lambda p: p.name)
def test_files_named_in_tables_exist(page):
    for name in re.findall(r"`(test_\w+\.py)`", page.read_text("utf-8")):
        assert (ROOT / "tests" / name).exists(), f"{page.name} names {name}"


def test_what_would_confirm_each_remembered_row_of_a_new_workbook_is_said():
    """A row of the defaults that says "from memory" stands on the page of standards' figures."""
    page = pages()["standards.md"]()
    defaults = ROOT / "workbook_template" / "defaults"
    remembered = [
        next(iter(row.values()))
        for file in sorted(defaults.glob("*.csv"))
        for row in csv.DictReader(file.read_text("utf-8").splitlines())
        if any("from memory" in str(value) for value in row.values())
    ]
    assert len(remembered) >= 10
    said = page[page.index("Rows of a new workbook") : page.index("## limits")]
    rows = [line.split(" | ") for line in said.splitlines() if line.startswith("| ")]
    assert set(remembered) <= {name for row in rows for name in row[1].split("; ")}
