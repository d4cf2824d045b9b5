"""What stands at the foot of a printed page, so that a loose one can be put back."""

from collections.abc import Mapping
from typing import NamedTuple

from estimator.workbook.sheet.look import BOX_IN, FONT, FOOTER, SMALL
from estimator.workbook.sheet.text_width import text_pixels

PIXELS_PER_INCH = 96
DOT = " \N{MIDDLE DOT} "
SHEET_NAME = "&A"
"""Code of the programs for the name of a sheet, as it is when the page prints."""
LONGEST_PAGES = "Page 999 of 999"
GAP, RESERVE = 24, 1.04
"""Pixels between both ends of a foot; how much broader some programs draw letters."""
LONGEST_FOOT = 200
"""Letters, doubled ones included, of the 255 that the programs take for the whole foot."""
CUT = "..."


class Foot(NamedTuple):
    """What the left end of a foot says: a job, what stands before and after it.

    ``names_sheet`` puts the name of the sheet first; pages that carry a title each leave it out.
    """

    job: str
    before: str = ""
    after: str = ""
    names_sheet: bool = False

    @property
    def text(self) -> str:
        """What it says beside the name of the sheet."""
        return f"{self.before}{self.job}{self.after}"


def footer_of(foot: Foot | None, sheet: str, *, across: bool) -> Mapping[str, str]:
    """Return the foot of the pages of a sheet by its place, in the codes of the programs.

    A job whose name has no room on the page is cut, so that what stands after it stays.

    >>> footer_of(Foot("Bid 7 & 8"), "Cost", across=False)["Left"]
    '&"Arial"&8Bid 7 && 8'
    >>> footer_of(Foot("Main", names_sheet=True), "Cost", across=False)["Left"]
    '&"Arial"&8&A \N{MIDDLE DOT} Main'
    """
    if foot is None:
        return FOOTER
    room = BOX_IN[across] * PIXELS_PER_INCH - GAP - _pixels(LONGEST_PAGES)
    name = f"{sheet}{DOT}" if foot.names_sheet else ""
    short, cut = foot.job, ""
    while short and not _fits(f"{name}{foot._replace(job=short + cut).text}", room):
        short, cut = short[:-1].rstrip(), CUT
    text = _literal(foot._replace(job=short + cut).text)
    if foot.names_sheet:
        text = f"{SHEET_NAME}{DOT}{text}"
    apart = " " if text[:1].isdigit() else ""
    return {"Left": f'&"{FONT}"&8{apart}{text}', "Center": "", "Right": FOOTER["Right"]}


def _fits(text: str, room: float) -> bool:
    return _pixels(text) <= room and len(_literal(text)) <= LONGEST_FOOT


def _pixels(text: str) -> float:
    return text_pixels(text, SMALL) * RESERVE


def _literal(text: str) -> str:
    """Return a text as the programs take it."""
    return text.replace("&", "&&")
