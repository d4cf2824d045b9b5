"""Second look at fittings: each one has a price, or Checks names it."""

from collections import defaultdict
from collections.abc import Iterator, Sequence

from estimator.cost.fittings import Fittings, fittings
from estimator.display import counted, name_runs
from estimator.errors import Problem
from estimator.models.estimate import Estimate
from estimator.models.places import Places
from estimator.models.priced_items import FittingPrice

TABLE, TITLE = FittingPrice.TABLE, "Fitting prices"


def unpriced_fittings(estimate: Estimate, places: Places) -> Iterator[Problem]:
    """Name fittings without a price: by size and run, or in one sentence where none has one."""
    every = [each for each in fittings(estimate.job) if each.is_bought]
    if estimate.job.fitting_prices:
        yield from _by_kind([each for each in every if each.price is None], places)
    elif every and any(run.pipe_price is not None for run in estimate.job.runs):
        number = counted(sum(each.number for each in every), "fitting")
        message = f"No price for {number} of the pipe schedule, while pipe is priced. Enter prices"
        yield Problem(_free_row(places), f"{message} on the sheet {TITLE}, or on Other costs")


def _by_kind(missing: Sequence[Fittings], places: Places) -> Iterator[Problem]:
    groups: dict[str, list[Fittings]] = defaultdict(list)
    for each in missing:
        groups[each.label].append(each)
    for label, some in groups.items():
        number = sum(each.number for each in some)
        where, what = _place(some[0], places)
        runs = name_runs([each.run.run_id for each in some])
        yield Problem(where, f"No price for {number} x {label} ({runs}). {what}", serious=True)


def _place(each: Fittings, places: Places) -> tuple[str, str]:
    """Return where the price is to be typed, and what to do."""
    if sum(row.price is not None for row in each.rows) > 1:
        where = places.where("schedule", each.run.run_id, "fittings_made")
        return where, "There is more than one: enter molded or fabricated here"
    if each.others and each.angle is None:
        where = places.where("schedule", each.run.run_id, "elbow_angles")
        return where, "Prices are by angle: enter the angles here, such as 4 x 90; 2 x 45"
    if each.rows:
        return places.where(TABLE, each.rows[0].row_name, "price"), "Enter it here"
    return _free_row(places), f"Add a row to the sheet {TITLE}"


def _free_row(places: Places) -> str:
    """Return the first cell below the rows that were read, the sheet's name without a workbook."""
    area = places.columns.get((TABLE, "kind"))
    if area is None:
        return TITLE
    sheet, _, cells = area.rpartition("!")
    first = int(cells.partition(":")[0].rpartition("$")[2])
    rows = places.rows_read.get(TITLE, ())
    return f"{sheet.strip(chr(39))}!{cells[1]}{max(rows, default=first - 1) + 1}"
