"""What the pages for the client have in common: no status, version or caution, and their foot."""

import math

from estimator.display import show_date
from estimator.models.job_inputs import CoverInputs
from estimator.workbook.results.builder import Context, SheetBuilder, breadth
from estimator.workbook.sheet.spec import Cell

LINE_HEIGHT, ROW_HEIGHT = 12.0, 15.0
DOT = " \N{MIDDLE DOT} "


class ClientPage(SheetBuilder):
    """A sheet without the heading that our own sheets carry."""

    def __init__(self, context: Context, key: str) -> None:
        super().__init__(context, key, key)
        self.grid.clear()
        self.heights.clear()
        self.last_row = 0
        self.status = None

    def text(self, text: str, first: int, last: int, letters: float, style: str = "plain") -> int:
        """Append a line of text across some columns, as high as its lines need."""
        row = self.add(Cell(text, style), column=first, height=height_of(text, letters))
        self.merge(row, first, last)
        return row


def height_of(text: str, letters: float) -> float:
    """Return the height of a row whose text wraps after so many small letters."""
    lines = max(1, math.ceil(breadth(text) / letters))
    return ROW_HEIGHT + LINE_HEIGHT * (lines - 1)


def bid_title(cover: CoverInputs) -> str:
    """Return how the bid is called: ``Bid 2027-014, revision 0``.

    The first issue of a bid without a number is ``Bid``.
    """
    number = f" {cover.bid_number}" if cover.bid_number else ""
    if not number and not cover.bid_revision:
        return "Bid"
    return f"Bid{number}, revision {cover.bid_revision}"


def dated_title(context: Context) -> str:
    """Return how the bid is called, with its date."""
    cover = context.estimate.job.cover
    return f"{bid_title(cover)}, {show_date(cover.estimate_date, context.system)}"
