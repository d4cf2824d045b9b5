"""The gallery: every sheet with its picture and what it is for, to look at before reading."""

import re
from collections.abc import Iterator
from itertools import groupby
from typing import NamedTuple

from workbook_template.content import own_rows
from workbook_template.markdown import GENERATED

PICTURES = "pictures"
UNDER_WAY = (
    ("estimate",),
    ("status", "--date", "2027-03-26"),
    ("log",),
    ("request",),
    ("cards",),
    ("claim", "--date", "2027-03-26"),
)
"""What makes the sheets of the gallery out of the example under way."""
INTRO = (
    "For anyone who wants to look before reading: the first page of every sheet, as it prints.",
    "The job is the example `under_way`, a raw water main after four weeks of work; Changes",
    "compares the county example with its addendum. `make pictures` makes new pictures.",
)


class Pictured(NamedTuple):
    """A sheet of the gallery: in which part, its name, what it is for."""

    part: str
    sheet: str
    about: str

    @property
    def file(self) -> str:
        """Return the file of its picture, in the folder of the pictures.

        >>> Pictured("Results", "Cost by run", "").file
        'cost_by_run.png'
        """
        return re.sub(r"\W+", "_", self.sheet.lower()) + ".png"


def pictured() -> Iterator[Pictured]:
    """Yield every sheet of the gallery, in its order."""
    return (Pictured(**row) for row in own_rows("gallery.csv"))


def gallery_page() -> str:
    """Return the page with all pictures."""
    lines = ["# Gallery", "", GENERATED, "", *INTRO, ""]
    for part, members in groupby(pictured(), lambda one: one.part):
        lines += [f"## {part}", ""]
        for one in members:
            lines += [f"### {one.sheet}", "", f"{one.about}.", ""]
            lines += [f"![{one.sheet}]({PICTURES}/{one.file})", ""]
    return "\n".join(lines)
