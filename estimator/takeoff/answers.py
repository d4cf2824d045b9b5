"""How a foreign table is read: every guess, and what the user has confirmed or changed.

All guesses go through ``Answers.settle``, so none is made unseen. They are kept as a small CSV
file for the next table of the same kind.
"""

import csv
import io
from collections.abc import Iterator, Mapping
from dataclasses import replace

from estimator.data_class import dataclass
from estimator.errors import InputError, Problem
from estimator.inputs.dictionary import squeeze

FILE, HEADER_ROW, COLUMN, BLANK = "file", "header row", "column", "blank"
WORD, FITTING, RULE, LEFT_OUT = "word", "fitting", "rule", "left out"
KINDS = (FILE, HEADER_ROW, COLUMN, BLANK, WORD, FITTING, RULE, LEFT_OUT)
HEADS = ("what", "found", "read as", "unit", "confirmed", "note")
YES, NO = "yes", "no"

LIKE_FORMULAS = ("=", "+", "-", "@", "\t", "\r", "'")
"""Beginnings of a text that a spreadsheet program takes for a formula, or does not show."""


@dataclass(frozen=True)
class Answer:
    """How one thing that was found is read; ``note`` says why or where, ``choices`` what else."""

    what: str
    found: str
    meaning: str
    unit: str = ""
    note: str = ""
    confirmed: bool = False
    choices: tuple[str, ...] = ()

    @property
    def key(self) -> tuple[str, str]:
        """What sets it apart from all others."""
        return self.what, squeeze(self.found)


class Answers:
    """The readings of one table: those known from before, and those asked for now."""

    def __init__(self, known: Mapping[tuple[str, str], Answer] | None = None) -> None:
        self._known = dict(known or {})
        self._asked: dict[tuple[str, str], Answer] = {}

    def settle(self, guess: Answer) -> Answer:
        """Return how something is read: as the user said before, else as guessed.

        Raises
        ------
        InputError
            If what the user said is no choice here.
        """
        known = self._known.get(guess.key)
        answer = guess if known is None else replace(known, note=guess.note, choices=guess.choices)
        if answer.choices and answer.meaning not in answer.choices:
            answer = replace(answer, meaning=_choice(answer))
        first = self._asked.setdefault(guess.key, answer)
        return first

    @property
    def asked(self) -> tuple[Answer, ...]:
        """Every reading of this table, in the order of the kinds."""
        return tuple(sorted(self._asked.values(), key=lambda answer: KINDS.index(answer.what)))

    @property
    def open(self) -> tuple[Answer, ...]:
        """The readings that nobody has confirmed."""
        return tuple(answer for answer in self.asked if not answer.confirmed)

    def again(self) -> "Answers":
        """Return what is known, for the table to be read again."""
        return Answers(self._known)

    def changed(self, answer: Answer, meaning: str) -> "Answers":
        """Return the readings with another meaning of one, for the table to be read again."""
        said = replace(answer, meaning=meaning.strip(), confirmed=True)
        return Answers({**self._known, answer.key: said})

    def confirmed(self) -> "Answers":
        """Return the readings with all that were asked for confirmed."""
        said = {key: replace(answer, confirmed=True) for key, answer in self._asked.items()}
        return Answers({**self._known, **said})

    def saved(self) -> bytes:
        """Return the readings as a CSV file; those of other tables of the kind stay in it."""
        text = io.StringIO()
        writer = csv.writer(text, lineterminator="\n")
        writer.writerow(HEADS)
        both = {**self._known, **self._asked}
        for answer in sorted(both.values(), key=lambda one: KINDS.index(one.what)):
            state = YES if answer.confirmed else NO
            texts = (answer.what, answer.found, answer.meaning, answer.unit, state, answer.note)
            writer.writerow(map(_as_text, texts))
        return text.getvalue().encode("utf-8-sig")


def _as_text(text: str) -> str:
    """Return a text so that no spreadsheet program takes it for a formula.

    >>> _as_text("=1+1"), _as_text("Run"), _typed(_as_text("'=1"))
    ("'=1+1", 'Run', "'=1")
    """
    return f"'{text}" if text.startswith(LIKE_FORMULAS) else text


def _typed(text: str) -> str:
    """Return what ``_as_text`` was given."""
    return text[1:] if text.startswith("'") and text[1:].startswith(LIKE_FORMULAS) else text


def _choice(answer: Answer) -> str:
    """Return the choice that a meaning is, in any case and spacing."""
    by_name = {squeeze(choice): choice for choice in answer.choices}
    found = by_name.get(squeeze(answer.meaning))
    if found is None:
        allowed = ", ".join(answer.choices)
        place = f"{answer.what} {answer.found!r}" if answer.found else answer.what
        raise InputError(
            [Problem(place, f"{answer.meaning!r} is not a choice. Use one of: {allowed}")]
        )
    return found


def load(content: bytes, name: str) -> Answers:
    """Return the readings that a file holds.

    Raises
    ------
    InputError
        With every row that is none.
    """
    rows = csv.reader(io.StringIO(content.decode("utf-8-sig", "replace")))
    numbered = [(number, row) for number, row in enumerate(rows, 1) if any(row)]
    problems = list(_faults(numbered, name))
    if problems:
        raise InputError(problems)
    answers = [_answer([_typed(text) for text in row]) for _, row in numbered[1:]]
    return Answers({answer.key: answer for answer in answers})


def _faults(rows: list[tuple[int, list[str]]], name: str) -> Iterator[Problem]:
    if not rows or tuple(rows[0][1]) != HEADS:
        yield Problem(name, f"must begin with the heads {', '.join(HEADS)}")
        return
    for number, row in rows[1:]:
        if len(row) != len(HEADS) or row[0] not in KINDS:
            use = f"Give {len(HEADS)} cells, the first one of: {', '.join(KINDS)}"
            yield Problem(f"{name}, row {number}", f"{row!r} is not a reading. {use}")


def _answer(row: list[str]) -> Answer:
    what, found, meaning, unit, confirmed, note = row
    return Answer(what, found, meaning, unit, note, confirmed=squeeze(confirmed) == YES)
