"""The description for a package index: README without what leads nowhere there.

On an index a link to a file of the project and a picture of it are dead. They become the name of
the file, which the source archive holds.
"""

import re
from pathlib import Path

README = Path(__file__).parent.parent / "README.md"
PICTURES = re.compile(r"^\|[^\n]*\|\n\|[-|]+\|\n\| !\[[^\n]*\n+", re.MULTILINE)
LINK = re.compile(r"\[([^\]]+)\]\((?!https:)([^)#]+)(?:#[^)]*)?\)")
NOTE = "Files that are named here are in the source archive.\n\n"


def index_page() -> str:
    """Return the description, every link of it good on any page."""
    title, _, rest = README.read_text("utf-8").partition("\n\n")
    return f"{title}\n\n{NOTE}{LINK.sub(_named, PICTURES.sub('', rest))}"


def _named(link: re.Match[str]) -> str:
    """Return the text of a link and the file that it names."""
    text, file = link[1].strip("`"), link[2]
    return f"`{file}`" if text in (file, f"{file}/") else f"{text} (`{file}`)"
