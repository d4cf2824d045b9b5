"""What goes to the screen, whatever its encoding can hold."""

import json
import sys


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
    as_they_are = (getattr(sys.stdout, "encoding", None) or "").lower().startswith("utf")
    sys.stdout.write(json.dumps(data, indent=2, ensure_ascii=not as_they_are) + "\n")
