"""What goes to the screen, whatever its encoding can hold."""

import io
import json
import sys
from collections.abc import Iterator
from contextlib import contextmanager, redirect_stdout
from typing import TextIO

SCREEN = "-"
"""Given as a path, the screen."""


def take_any_text() -> None:
    """Let the screen show an escape for a letter that its encoding does not have."""
    for stream in (sys.stdout, sys.stderr):
        reconfigure = getattr(stream, "reconfigure", None)
        if reconfigure is not None:
            reconfigure(errors="backslashreplace")


def notify(text: str) -> None:
    """Print what the user should know beside the results."""
    sys.stderr.write(f"{text}\n")


def json_text(data: object) -> str:
    """Return data as JSON in any letters, for a file."""
    return json.dumps(data, indent=2, ensure_ascii=False) + "\n"


def print_json(data: object) -> None:
    """Print data as JSON; letters beyond ASCII as they are where the screen has them all."""
    stream = sys.stdout.screen if isinstance(sys.stdout, BesideJson) else sys.stdout
    as_they_are = (getattr(stream, "encoding", None) or "").lower().startswith("utf")
    stream.write(json.dumps(data, indent=2, ensure_ascii=not as_they_are) + "\n")


class BesideJson(io.TextIOBase):
    """Stands before a screen that is left to JSON: text goes beside it, or nowhere."""

    def __init__(self, screen: TextIO, beside: TextIO | None) -> None:
        self.screen, self.beside = screen, beside

    def write(self, text: str) -> int:
        """Show text beside the JSON, where it is shown at all."""
        return len(text) if self.beside is None else self.beside.write(text)

    def flush(self) -> None:
        """Show what there is."""
        self.screen.flush()


@contextmanager
def screen_for(*, quiet: bool, json: bool) -> Iterator[None]:
    """Leave the screen to JSON where it goes there; be quiet but for problems where asked."""
    if not (quiet or json):
        yield
        return
    with redirect_stdout(BesideJson(sys.stdout, None if quiet else sys.stderr)):
        yield


def is_quiet() -> bool:
    """Say whether only problems and JSON are shown."""
    return isinstance(sys.stdout, BesideJson) and sys.stdout.beside is None
