"""What the pages for the client have in common: no status, version or caution, and their foot."""

from estimator.display import show_date
from estimator.models.job_inputs import CoverInputs
from estimator.workbook.results.builder import Context, SheetBuilder
from estimator.workbook.sheet.foot import DOT, Foot
from estimator.workbook.sheet.look import PIXELS_PER_INCH, pixels_of
from estimator.workbook.sheet.spec import Cell


class ClientPage(SheetBuilder):
    """A sheet without the heading that our own sheets carry."""

    def __init__(self, context: Context, key: str) -> None:
        super().__init__(context, key, key)
        self.grid.clear()
        self.heights.clear()
        self.last_row = 0
        self.status = None

    def text(self, cell: Cell, first: int, last: int) -> int:
        """Append a text that runs across some columns."""
        row = self.add(cell, column=first)
        self.merge(row, first, last)
        return row


def with_sign(context: Context, bare: str, dollars: str) -> str:
    """Return the style of an amount that carries the currency: in dollars it has their sign."""
    return dollars if context.currency == "$" else bare


def inches(*widths: float) -> tuple[float, ...]:
    """Return column widths in characters that take so many inches of paper."""
    return tuple(round((width * PIXELS_PER_INCH - pixels_of(0)) / 7, 3) for width in widths)


def foot_of(context: Context, *, for_client: bool) -> Foot:
    """Return what the foot of a result sheet says: the bid or the estimate, its revision, the job.

    A client's page is called by the bid, our own by the job and the sheet.
    """
    cover = context.estimate.job.cover
    if for_client:
        return Foot(cover.job_name, before=f"{bid_of(context)}{DOT}")
    return Foot(cover.job_name, after=f"{DOT}estimate of {_dated(context)}", names_sheet=True)


def bid_of(context: Context) -> str:
    """Return how a foot calls the bid: ``Bid 2027-014 of Jan 18, 2027, revision 0``."""
    number = context.estimate.job.cover.bid_number
    return f"{' '.join(filter(None, ('Bid', number)))} of {_dated(context)}"


def _dated(context: Context) -> str:
    cover = context.estimate.job.cover
    return f"{show_date(cover.estimate_date, context.system)}, revision {cover.bid_revision}"


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
