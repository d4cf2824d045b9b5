"""Every text that a user sees is in the trade's words: the term table, text by text.

``test_wording.py`` keeps old names out of every line. Words that are wrong only where a user reads
them (*mean*, *gear*, *tier*) are looked for here: in the pages, the help of commands and cell
functions, the messages, the sheets, the macros, the JSON schema and the kit, but not in code.
"""

import argparse
import ast
import csv
import functools
import json
import re
from itertools import pairwise
from pathlib import Path

import pytest

from estimator.cli.command import build_parser
from estimator.excel import functions, functions_vba

ROOT = Path(__file__).parent.parent
NOT_OURS = {"input_aliases.csv", "words.csv", "mapping.csv", "takeoff.csv", "takeoff.map.csv"}
"""What older workbooks and other people write."""
TITLES = re.compile(
    r"Heat Fusion Joining|Welding of thermoplastics - heated tool welding of PE pipes"
    r"|Welded and Seamless|Did you mean|its own cooling rest"
)
PAGES_WITH_MEAN = ("docs/method.md", "docs/nomenclature.md", "docs/package_index.md")

WRONG = {
    "trial fusion": r"\b(test|trial) joints?\b",
    "excess hours": r"\bhours beyond the rental\b",
    "peak on rent": r"\bmost at once\b",
    "allocated by": r"\bshared out\b|\bshared by\b",
    "done while the last joint cools": r"\bbehind cooling\b",
    "probability": r"\bchances? (to|of|not|that)\b",
    "relaxation time after pulling": r"\brest of pulled\b",
    "override": r"\bown (heat soak|soak|cooling|rest|interfacial pressure)\b",
    "crews to try, up to": r"\bcrews to consider\b",
    "bid validity": r"\bbid valid for\b",
    "per diem": r"\bsubsistence\b",
    "jobsite overhead": r"\bsite overhead\b",
    "home office overhead": r"(?<!home )\boffice overhead\b",
    "equipment": r"\bgears?\b",
    "generator": r"\b(shared|diesel|larger|smaller|large) sets?\b",
    "onboard power": r"\bown power\b",
    "pullback, slipline": r"\bpull-in\b|\bslip-lin",
    "startup, setup": r"\bstart-up\b|\bset-up\b",
    "costs more, lowest cost": r"\bdear(er|est)\b",
    "earlier": r"\bsooner\b",
    "base job": r"\bjob as it stands\b",
    "average": r"\bmean\b(?! to\b)",
    "rate period": r"\btiers?\b",
    "quote": r"\bsuppliers?'?s? offers?\b",
    "surface restoration": r"\breinstatement\b",
    "ordered by others": r"\bby order of others\b",
    "thrust blocks": r"\banchor blocks?\b",
    "retorque": r"\bre-?tighten",
    "butt fusion": r"\bweld(s|ed|ing)?\b|\bjoining\b",
    "buyer": r"\bpurchaser",
    "takeoff": r"\btake-off",
    "for anyone who": r"^For who\b",
    "X is not ..., what to do": r"(^|: )got (the |no |\{\}|')|, allowed:? \S",
    "again, new": r"\banew\b",
    "10%": r"\d %",
    "American spelling": r"\b(metres?|litres?|fibres?|mould\w*|ploughs?|catalogues?|analyse[ds]?"
    r"|cancell(ed|ing)|travell(ed|ing)|modell(ed|ing)|labell(ed|ing)|fulfil|whilst|towards"
    r"|afterwards|draught|storeys?|honour\w*|favour\w*|neighbour\w*|vapour|sceptic\w*)\b",
}


def texts():
    """Yield each text that a user sees, with the place in which it stands."""
    for path in (ROOT / "README.md", *sorted((ROOT / "docs").glob("*.md"))):
        yield from lines_of(path, code=r"```.*?```|`[^`\n]*`|\]\([^)]*\)|<[^>]*>")
    for folder in ("estimator", "workbook_template", "release_kit"):
        for path in sorted((ROOT / folder).rglob("*")):
            if path.name in NOT_OURS or "jobs" in path.parts:
                continue
            if path.suffix == ".py":
                yield from literals_of(path)
            elif path.suffix == ".csv":
                yield from cells_of(path)
            elif path.suffix in (".txt", ".md", ".bas", ".cmd", ".command"):
                yield from lines_of(path, code=r"`[^`\n]*`|\]\([^)]*\)")
    yield from helps(build_parser(), "estimator")
    for known in functions.catalog():
        yield known.name, getattr(functions, known.name).__doc__ or ""
    yield "cell functions in VBA", functions_vba.module_text()
    schema = json.loads((ROOT / "docs" / "estimate.schema.json").read_text("utf-8"))
    yield from ((f"schema {key}", text) for key, text in descriptions(schema, ""))


def lines_of(path, code):
    kept = re.sub(code, lambda m: "\n" * m[0].count("\n"), path.read_text("utf-8"), flags=re.DOTALL)
    for number, line in enumerate(kept.splitlines(), 1):
        yield f"{path.relative_to(ROOT).as_posix()}:{number}", line


def literals_of(path):
    """Yield the texts of a module, f-strings whole, without what explains code."""
    nodes = [*ast.walk(ast.parse(path.read_text("utf-8")))]
    apart = {id(node.value) for node in nodes if isinstance(node, ast.Expr)}
    apart.update(id(p) for node in nodes if isinstance(node, ast.JoinedStr) for p in node.values)
    for node in nodes:
        text = literal(node)
        if " " in text and id(node) not in apart:
            yield f"{path.relative_to(ROOT).as_posix()}:{node.lineno}", text


def literal(node):
    if isinstance(node, ast.Constant):
        return node.value if isinstance(node.value, str) else ""
    if isinstance(node, ast.JoinedStr):
        return "".join(literal(part) if isinstance(part, ast.Constant) else "{}"
                       for part in node.values)  # fmt: skip
    return ""


def cells_of(path):
    with path.open(encoding="utf-8", newline="") as file:
        for number, row in enumerate(csv.reader(file), 1):
            for cell in row:
                if " " in cell:
                    yield f"{path.relative_to(ROOT).as_posix()}:{number}", cell


def helps(parser, name):
    yield f"{name} --help", parser.format_help()
    for action in parser._actions:
        if isinstance(action, argparse._SubParsersAction):
            for command, below in action.choices.items():
                yield from helps(below, f"{name} {command}")


def descriptions(node, key):
    if isinstance(node, dict):
        for name, value in node.items():
            if name == "description" and isinstance(value, str):
                yield key, value
            else:
                yield from descriptions(value, f"{key}.{name}")
    elif isinstance(node, list):
        for value in node:
            yield from descriptions(value, key)


@functools.cache
def all_texts():
    """Return all texts: read when the first test asks, not by every worker that collects."""
    return tuple(texts())


@functools.cache
def ours():
    """Return all texts without the titles of others."""
    return tuple((place, TITLES.sub("", text)) for place, text in all_texts())


@pytest.mark.parametrize("word", WRONG)
def test_no_text_that_a_user_sees_has_the_wrong_word(word):
    pattern = re.compile(WRONG[word], re.IGNORECASE | re.MULTILINE)
    found = [
        f"{place}: {match[0]!r} in {text.strip()[:100]!r}"
        for place, text in ours()
        if (match := pattern.search(text))
        and not (word == "average" and place.startswith(PAGES_WITH_MEAN))
    ]
    assert not found, f"use {word!r}: " + "\n".join(found)


def test_the_words_are_looked_for_where_a_user_reads():
    places = " ".join(place for place, _ in all_texts())
    for kind in ("docs/method.md", "README.md", "estimator/inputs/site_inputs.csv", "joint --help",
                 "estimator/workbook/results/request_sheet.py", "EstimatorMacros.bas", "schema ",
                 "PE_WALL", "in VBA", "release_kit/files/READ ME.txt", "result_columns.csv",
                 "estimator/workbook/results/cautions.csv"):  # fmt: skip
        assert kind in places, kind


SAID_AS_IT_IS = 0.6
"""Part of the words of a message on the page Messages that must stand together in the program."""


def pairs(text):
    return list(pairwise(re.findall(r"\b[a-z]{2,}\b", text.lower())))


def test_every_message_that_the_docs_quote_is_one_of_the_program():
    program = [text for place, text in all_texts() if place.startswith("estimator/")]
    said = {pair for text in program for pair in pairs(text)}
    page = (ROOT / "docs" / "errors.md").read_text("utf-8")
    quoted = [m for row in re.findall(r"^\| (`.*?) \|", page, re.MULTILINE)
              for m in re.findall(r"`([^`]+)`", row)]  # fmt: skip
    assert len(quoted) > 30
    strange = []
    for message in quoted:
        each = pairs(message.replace("...", " "))
        known = [pair for pair in each if pair in said]
        if len(known) < SAID_AS_IT_IS * len(each):
            strange.append(message)
    assert not strange
