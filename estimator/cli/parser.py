"""The parser of the command: what it does with nothing given, or something mistyped."""

from __future__ import annotations

import argparse
import sys
from collections.abc import Iterable, Iterator, Sequence
from typing import Any, NoReturn

WRONG_USAGE = 2
"""Exit code, as ``argparse`` has it."""
LIKENESS = 0.6
"""From 0 to 1: how near a word must come to one that is known, to be taken for a slip."""


class Parser(argparse.ArgumentParser):
    """Says what a mistyped option may have meant; shows its help where nothing was given."""

    given: Sequence[str] = ()

    def __init__(self, **settings: Any) -> None:  # noqa: ANN401
        """Take no shortened options: a slip of the hand is asked about, not guessed."""
        super().__init__(**settings, allow_abbrev=False)

    def parse_known_args(  # type: ignore[override]
        self, args: Sequence[str] | None = None, namespace: argparse.Namespace | None = None
    ) -> tuple[argparse.Namespace, list[str]]:
        """Parse the arguments; nothing may be left over."""
        self.given = list(sys.argv[1:] if args is None else args)
        found: tuple[argparse.Namespace, list[str]] = super().parse_known_args(
            self.given, namespace
        )
        if found[1]:
            self.error(f"does not take: {' '.join(found[1])}")
        return found

    def error(self, message: str) -> NoReturn:
        """End with the message, and what each unknown option may have meant."""
        if self.given:
            self.print_usage(sys.stderr)
        else:
            self.print_help(sys.stderr)
        hints = "".join(f". {hint}" for hint in self._hints())
        self.exit(WRONG_USAGE, f"{self.prog}: {message}{hints}\n")

    def _print_message(self, message: str, file: Any = None) -> None:  # noqa: ANN401
        """Print a message; a screen that takes nothing is the caller's to report."""
        (file or sys.stderr).write(message)

    def _hints(self) -> Iterator[str]:
        known = self._option_string_actions
        for word in self.given:
            option = word.partition("=")[0]
            if option.startswith("--") and option not in known:
                begun = [one for one in known if one.startswith(option)]
                yield from did_you_mean(option, begun or known, likeness=0 if begun else LIKENESS)


def did_you_mean(word: str, known: Iterable[str], likeness: float = LIKENESS) -> Iterator[str]:
    """Yield the question whether something known was meant, nothing where none is near.

    >>> list(did_you_mean("estimat", ["estimate", "explain"]))
    ['Did you mean estimate?']
    """
    from difflib import get_close_matches

    near = get_close_matches(word, list(known), n=1, cutoff=likeness)
    if near:
        yield f"Did you mean {near[0]}?"


def refuse_unknown_command(parser: Parser, given: Sequence[str], known: Sequence[str]) -> None:
    """End with wrong usage if the first word that is no option is no command either."""
    word = next((one for one in given if not one.startswith("-")), "")
    if word and word not in known:
        parser.given = given
        hints = list(did_you_mean(word, known)) or [f"Use one of: {', '.join(known)}"]
        parser.error(f"there is no command {word!r}. {hints[0]}")


def refuse_empty(parser: Parser, given: Sequence[str]) -> None:
    """End with wrong usage if an argument is empty, as a variable that is not set makes it."""
    before = ""
    for one in given:
        option, equals, value = one.partition("=")
        if not one or (option.startswith("--") and equals and not value):
            name = before if before.startswith("-") and not one else option
            text = f"{name} is followed by nothing" if name else "an argument is empty"
            parser.given = given
            parser.error(f"{text}. Give a file name or value")
        before = one


def add_quiet(parser: argparse.ArgumentParser, **default: Any) -> None:  # noqa: ANN401
    """Add the option that leaves out all but problems and JSON."""
    parser.add_argument(
        "-q", "--quiet", action="store_true",
        help="print nothing but problems, and the JSON that was asked for", **default,
    )  # fmt: skip
