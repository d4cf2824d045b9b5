"""Words that were taken out stay out: one term for one thing, in the trade's American English."""

import re
from pathlib import Path

import pytest

ROOT = Path(__file__).parent.parent
FOLDERS = ("estimator", "workbook_template", "release_kit", "docs", "tests")
READ = (".py", ".csv", ".md", ".bas", ".txt", ".toml", ".cmd", ".sh")
OLD_NAMES = {"CHANGELOG.md", "input_aliases.csv", "test_wording.py"}
"""Where old words must stand: what was renamed, and what older workbooks hold."""

OLD = {
    "said or shown": r"\btold\b|\btells\b|_told|told_",
    "rework": r"\bremade\b|\bremakes?\b|_remake|remake_",
    "total": r"\bin all\b(?! cases)",
    "fix": r"\bmend(s|ed|ing)?\b",
    "accept": r"\bputs? up with\b",
    "estimate: Estimate": r"\bfound: Estimate\b",
    "liquidated damages": r"late[_ ]charges?|finishing late",
    "break_deadlock": r"\bloosen",
    "look around": r"\blook round\b",
    "check status": r"\bcheck[_ ]light\b",
    "fleet optimization": r"machine choice over the job",
    "useful machines per crew": r"\bmachines that pay\b",
    "probability": r"\bchance not exceeded\b",
    "singular": r"(?<![\d,.])1 (runs|joints|warnings|days|crews|machines|workdays|rows|sticks)\b",
    "American spelling": r"\b(labour|(de)?mobilisation|utilis\w+|optimis\w+|recognis\w+|organis\w+"
    r"|colour\w*|behaviour|centre[ds]?|grey|judgement|programme|licence|cheque|aluminium|kerb)\b",
}


def written():
    """Yield each text file of the project that somebody reads, by its path in it."""
    for folder in FOLDERS:
        for path in sorted((ROOT / folder).rglob("*")):
            if path.suffix in READ and path.name not in OLD_NAMES and "data" not in path.parts:
                yield path
    yield from (ROOT / "README.md", ROOT / "DEVELOPERS.md")


TEXTS = {path.relative_to(ROOT).as_posix(): path.read_text("utf-8") for path in written()}


@pytest.mark.parametrize("word", OLD)
def test_an_old_word_does_not_come_back(word):
    pattern = re.compile(OLD[word], re.IGNORECASE)
    found = [
        f"{name}:{number}: {line.strip()[:80]}"
        for name, text in TEXTS.items()
        for number, line in enumerate(text.splitlines(), 1)
        if pattern.search(line)
    ]
    assert not found, f"use {word!r} in place of it: " + "\n".join(found)


def test_the_words_are_looked_for_where_people_read():
    assert {"docs/method.md", "estimator/inputs/inputs.csv", "README.md"} <= TEXTS.keys()
    assert re.search(OLD["singular"], "there is work for 1 runs")
    assert not re.search(OLD["singular"], "there are 11 runs, 2.1 days")


LONGEST_SENTENCE = 40


def sentences(text):
    """Yield the sentences of a page in the words that they have; blocks of code have none."""
    for block in re.sub(r"```.*?```", "", text, flags=re.DOTALL).split("\n\n"):
        for part in re.split(r"\n\s*(?=- |\d+\. |\|)", block):
            if not part.lstrip().startswith(("|", "#")):
                yield from re.split(r"(?<=[.!?:;])\s+", " ".join(part.split()))


def test_no_sentence_of_a_page_is_too_long_to_read_once():
    pages = {name: text for name, text in TEXTS.items() if name.endswith(".md")}
    long = [
        f"{name}: {len(one.split())} words: {one[:80]}"
        for name, text in pages.items()
        for one in sentences(text)
        if len(one.split()) > LONGEST_SENTENCE
    ]
    assert not long, "\n".join(long)
