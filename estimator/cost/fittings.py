"""Cost lines of the fittings that have a price for their kind, size and DR."""

from collections import defaultdict
from collections.abc import Iterator, Mapping, Sequence

from estimator.cost.rates import DIRECT, given_price
from estimator.data_class import dataclass
from estimator.models.estimate import CostLine, Quantity
from estimator.models.job import Job, Run
from estimator.models.kinds import FITTINGS, OWN_RUN, TO_SMALLER, WITH_ANGLE, WITHOUT_JOINT
from estimator.models.planned_job import PlannedJob
from estimator.models.priced_items import FittingPrice
from estimator.standards.pipe_names import pipe_label

Key = tuple[str, str, str, str | None, float]


@dataclass(frozen=True)
class Fittings:
    """Fittings of one kind and angle on one run, with the rows of prices that are for them.

    A row is for them where kind, size, smaller size and DR are the same, the row's angle is theirs,
    and neither row nor run says another make: nothing is interpolated, and no near size taken. A
    row without an angle or a make is for all of them. ``others`` are the rows for other angles.
    """

    run: Run
    kind: str
    number: int
    rows: tuple[FittingPrice, ...]
    angle: float | None = None
    others: tuple[FittingPrice, ...] = ()

    @property
    def price(self) -> FittingPrice | None:
        """The one row with a price; None where there is none, or more than one."""
        found = [row for row in self.rows if row.price is not None]
        for key, asked in (("angle", self.angle), ("made", self.run.fittings_made)):
            exact = [row for row in found if getattr(row, key) is not None] if asked else []
            found = exact or found
        return found[0] if len(found) == 1 else None

    @property
    def is_bought(self) -> bool:
        """Whether it must have a price: a bend of the pipe itself need not."""
        return self.kind not in WITHOUT_JOINT or bool(self.rows)

    @property
    def label(self) -> str:
        """What it is called, such as ``elbow, 12 in IPS DR 17``."""
        run, to = self.run, f" x {self.run.reduce_to}" if self.kind in TO_SMALLER else ""
        made = f"{run.fittings_made} " if run.fittings_made else ""
        angle = f"{self.angle:g} degree " if self.angle is not None else ""
        return f"{made}{angle}{self.kind}, {pipe_label(run.od_system, f'{run.size}{to}', run.dr)}"


def fittings(job: Job) -> Iterator[Fittings]:
    """Yield the fittings of every run, kind by kind."""
    rows: dict[Key, list[FittingPrice]] = defaultdict(list)
    for row in job.fitting_prices:
        rows[row.kind, row.od_system, row.size, row.to_size, row.dr].append(row)
    for run in job.runs:
        for kind, column in FITTINGS.items():
            by_angle = (
                run.elbows_by_angle if kind == WITH_ANGLE else ((None, getattr(run, column)),)
            )
            for angle, number in by_angle:
                if number:
                    listed = _rows_for(rows, run, kind)
                    own = tuple(row for row in listed if row.angle in (None, angle))
                    others = tuple(row for row in listed if row not in own)
                    yield Fittings(run, kind, number, own, angle, others)


def _rows_for(
    rows: Mapping[Key, Sequence[FittingPrice]], run: Run, kind: str
) -> tuple[FittingPrice, ...]:
    to_size = run.reduce_to if kind in TO_SMALLER else None
    found = rows.get((kind, run.od_system, run.size, to_size, run.dr), ())
    asked = run.fittings_made
    return tuple(row for row in found if asked is None or row.made in (None, asked))


def fitting_lines(planned: PlannedJob) -> Iterator[CostLine]:
    """Fittings of the runs, each by the price of its kind, size and DR."""
    if not planned.job.fitting_prices:
        return
    for each in fittings(planned.job):
        row, run = each.price, each.run
        if row is not None:
            angle = "" if each.angle is None else f" {each.angle:g}"
            yield CostLine(
                key=f"fitting.{run.run_id}.{each.kind}{angle}",
                section=DIRECT,
                cost_type="Fittings",
                item=f"Run {run.run_id}: {each.label}",
                basis="pipe schedule",
                quantity=Quantity(float(each.number)),
                unit="each",
                rate=given_price.worked(row, "price"),
                allocated_by=OWN_RUN,
                charged_to=run.run_id,
            )
