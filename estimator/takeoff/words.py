"""The words of other people's takeoffs, from ``words.csv``: what each means here."""

import csv
import re
from collections.abc import Mapping
from functools import cache
from importlib import resources

from estimator.data_class import dataclass
from estimator.inputs.dictionary import squeeze

_NOT_A_WORD = re.compile(r"[^a-z0-9/]+")

_TOTAL = re.compile(r"(?:grand |sub ?)?totals?\b|sum\b|.*\b(?:sub ?)?totals?$")


@dataclass(frozen=True)
class Word:
    """One word or phrase: its meaning, and how strongly it stands for that (1 is surest)."""

    text: str
    meaning: str
    rank: int


def plain(text: str) -> str:
    """Return a text in lower case, with single spaces for all that is no letter or figure.

    >>> plain("Nom. Dia. (in)"), plain('12" 90-ell')
    ('nom dia in', '12 90 ell')
    """
    return _NOT_A_WORD.sub(" ", text.casefold()).replace("/", " ").strip()


def is_total(text: str) -> bool:
    """Return whether a text heads a row of sums.

    >>> is_total("Sub-total FM-1"), is_total("FM-1 subtotal"), is_total("Summit to road")
    (True, True, False)
    """
    return _TOTAL.match(plain(text)) is not None


@cache
def _by_kind() -> Mapping[str, tuple[Word, ...]]:
    text = resources.files(__package__).joinpath("words.csv").read_text("utf-8")
    found: dict[str, list[Word]] = {}
    for row in csv.DictReader(text.splitlines()):
        word = Word(row["word"], row["meaning"], int(row["rank"]))
        found.setdefault(row["what"], []).append(word)
    return {kind: tuple(words) for kind, words in found.items()}


@cache
def exactly(kind: str) -> Mapping[str, Word]:
    """Return the words of a kind by their plain text."""
    return {plain(word.text): word for word in _by_kind()[kind]}


@cache
def spelled(kind: str) -> frozenset[str]:
    """Return the words of a kind as they are spelled, squeezed."""
    return frozenset(squeeze(word.text) for word in _by_kind()[kind])


@cache
def _pattern(kind: str) -> re.Pattern[str]:
    longest_first = sorted(exactly(kind), key=len, reverse=True)
    return re.compile(rf"(?<![a-z0-9])(?:{'|'.join(map(re.escape, longest_first))})(?![a-z0-9])")


def find(kind: str, text: str) -> Word | None:
    """Return the word of a kind that a text holds: the surest, of these the longest, the first.

    >>> find("fitting", "12 in 90 ell").meaning, find("placement", "by HDD, 3 passes").meaning
    ('elbows', 'pullback')
    """
    found = [exactly(kind)[hit] for hit in _pattern(kind).findall(plain(text))]
    return min(found, key=lambda word: (word.rank, -len(word.text)), default=None)


def find_last(kind: str, text: str, weaker: int) -> Word | None:
    """Return the word with which a name ends, or the surest in it, as one of a weaker rank.

    >>> find_last("column", "Approx. Length", 5).meaning
    'segments_m'
    >>> find_last("column", "Line Size", 5).meaning
    'size'
    """
    name = plain(text)
    hits = _pattern(kind).findall(name)
    ending = next((hit for hit in hits if name.endswith(f" {hit}")), None)
    found = exactly(kind)[ending] if ending else find(kind, text)
    return None if found is None else Word(found.text, found.meaning, found.rank + weaker)
