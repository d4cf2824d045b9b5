"""Second look at equipment: choices close to a limit, and more on rent than is in stock."""

from collections.abc import Iterator, Sequence

from estimator.display import RUNS_TO_MOVE, counted, describe, name_runs, show_apart, show_date
from estimator.equipment.near_limits import Near, near_capacity, near_limits
from estimator.equipment.stock import Period, held_between, short_periods
from estimator.errors import Problem
from estimator.joint.machines import Demand, obstacle
from estimator.models.choice import Reason
from estimator.models.equipment import Lifter, RentalItem
from estimator.models.estimate import Estimate
from estimator.models.places import Places
from estimator.models.plan import PlanLine
from estimator.models.planned_job import PlannedJob
from estimator.models.rental import RentalSpan
from estimator.models.rental_kinds import FLEET_TABLES, rental_items, spans_by_class
from estimator.power.machine_power import NO_SUPPLY
from estimator.standards import tables
from estimator.units import at_most

LIMIT_CELLS: dict[Near, str] = {"gauge high": "max_gauge_mpa", "gauge low": "min_gauge_mpa"}
LIMIT_ADVICE: dict[Near, str] = {
    "gauge high": "Check the machine's own chart",
    "gauge low": "Check that the gauge can be read there",
}

LOAD_CHART = "Check the load chart at the working radius"
ON_SITE = "The other crew has a machine of this class on site, which saves a second one"


def machines_near_limit(estimate: Estimate, places: Places) -> Iterator[Problem]:
    """Warn where a machine works close to a limit, once for each class and limit.

    A pipe at the end of the diameter range is only marked on the Equipment sheet: ranges are
    nominal sizes, so that many pipes are the largest of their class.
    """
    for machine in estimate.job.machines:
        near: dict[Near, dict[str, Reason]] = {}
        for run in estimate.runs:
            if run.machine.class_id != machine.class_id:
                continue
            gauge, share = run.machine.gauge_mpa, estimate.job.equipment.near_limit
            for limit, reason in near_limits(machine, run.geometry.od_mm, gauge, share):
                near.setdefault(limit, {})[run.run_id] = reason
        for limit, key in LIMIT_CELLS.items():
            if limit in near:
                worst = _worst(limit, list(near[limit].values()))
                text = describe(worst, estimate.job.cover.unit_system)
                yield Problem(
                    places.where("machines", machine.class_id, key),
                    f"Class {machine.class_id}: {text} ({name_runs(list(near[limit]))}). "
                    f"{LIMIT_ADVICE[limit]}",
                    alike=LIMIT_ADVICE[limit],
                )


def _worst(limit: Near, reasons: Sequence[Reason]) -> Reason:
    pick = max if limit == "gauge high" else min
    return pick(reasons, key=lambda reason: reason.need)


def lifting_near_capacity(estimate: Estimate, places: Places) -> Iterator[Problem]:
    """Warn where a stick with its reserve takes nearly all that its lifting class carries."""
    warned = set()
    for span in estimate.fleet.spans:
        why = span.why
        if span.kind != "lifting" or span.class_id in warned:
            continue
        if near_capacity(why.need, why.limit, estimate.job.equipment.near_limit):
            warned.add(span.class_id)
            need, limit = show_apart(why.need, why.limit, "mass", estimate.job.cover.unit_system)
            yield Problem(
                places.where("lifting", span.class_id, "capacity_kg"),
                f"Class {span.class_id}: the heaviest stick with reserve ({need}) is close to "
                f"the capacity ({limit}). {LOAD_CHART}",
                alike=LOAD_CHART,
            )


def stock_exceeded(estimate: PlannedJob, places: Places) -> Iterator[Problem]:
    """Warn where crews together hold more of a class than is in stock, and when."""
    items, system = rental_items(estimate.job), estimate.job.cover.unit_system
    for (kind, class_id), spans in spans_by_class(estimate.job, estimate.fleet.spans).items():
        item = items[kind, class_id]
        for short in short_periods(spans, item.stock):
            way_out = _way_out(estimate, kind, item, spans, short)
            yield Problem(
                places.where(FLEET_TABLES[kind], class_id, "stock"),
                f"In stock: {item.stock} of class {class_id}, but the plan needs "
                f"{short.quantity} at once from {show_date(short.first, system)} to "
                f"{show_date(short.last, system)}: {short.quantity - item.stock} short. {way_out}",
                serious=True,
                alike=way_out,
            )


def _way_out(
    estimate: PlannedJob, kind: str, item: RentalItem, spans: Sequence[RentalSpan], short: Period
) -> str:
    free = [other.class_id for other in free_classes(estimate, kind, item, spans, short)]
    if free:
        return f"Class {' or '.join(free)} also fits and is free on those dates"
    return "No other class that fits is free on those dates. Rent more, or plan fewer crews at once"


def free_classes(
    estimate: PlannedJob, kind: str, item: RentalItem, spans: Sequence[RentalSpan], short: Period
) -> list[RentalItem]:
    """Return the other classes that fit in place of one, and of which enough are free.

    Parameters
    ----------
    estimate : PlannedJob
        The job with its plan and gear.
    kind : str
        Kind of gear.
    item : RentalItem
        The class of which there are too few.
    spans : sequence of RentalSpan
        What of it is on rent.
    short : Period
        When there are too few, and how many the plan holds.
    """
    held = spans_by_class(estimate.job, estimate.fleet.spans)
    missing = short.quantity - item.stock

    def spare(other: RentalItem) -> int:
        taken = held.get((kind, other.class_id), [])
        return other.stock - held_between(taken, short.first, short.last)

    fit = _also_fit(estimate, kind, item, spans)
    return [other for other in fit if spare(other) >= missing]


def _also_fit(
    estimate: PlannedJob, kind: str, item: RentalItem, spans: Sequence[RentalSpan]
) -> list[RentalItem]:
    """Return the other classes that can do what this one does on its spans."""
    others = [
        other
        for (other_kind, _), other in rental_items(estimate.job).items()
        if other_kind == kind and other is not item
    ]
    if kind == "machine":
        return [other for other in others if _serves_all(estimate, item.class_id, other.class_id)]
    if kind == "generator":
        failing = {rejected.class_id for span in spans for rejected in span.rejected}
        return [other for other in others if other.class_id not in failing]
    need = max(span.why.need for span in spans)
    return [
        other for other in others if isinstance(other, Lifter) and at_most(need, other.capacity_kg)
    ]


def _serves_all(estimate: PlannedJob, class_id: str, other_id: str) -> bool:
    """Return whether another machine class can make all joints of this one."""
    other = next(machine for machine in estimate.job.machines if machine.class_id == other_id)
    asked: set[tuple[float, float, float, str]] = set()
    demand = Demand.of(estimate.job)
    for run, sized in estimate.pairs:
        if sized.machine.class_id != class_id:
            continue
        pipe = sized.geometry
        kind = pipe.od_mm, pipe.wall_mm, sized.timing.ambient_c, run.placement
        if kind in asked:
            continue
        if obstacle(other, run, pipe, sized.fusion, demand) is not None:
            return False
        asked.add(kind)
    return True


def machines_already_on_site(estimate: Estimate, places: Places) -> Iterator[Problem]:
    """Yield where a class comes for a crew for little work while another crew has one on site.

    Little work: on rent for twice the days on which it is used, or longer.
    """
    machines = [span for span in estimate.fleet.spans if span.kind == "machine"]
    for span in machines:
        others = [
            other.crew
            for other in machines
            if other.class_id == span.class_id
            and other.crew != span.crew
            and other.on_rent <= span.on_rent
            and other.off_rent >= span.off_rent
            and other.work_days > span.work_days
        ]
        if others and span.calendar_days >= 2 * span.work_days:
            lines, system = _lines_of(estimate, span), estimate.job.cover.unit_system
            on_rent, off_rent = (show_date(day, system) for day in (span.on_rent, span.off_rent))
            runs = name_runs([*dict.fromkeys(line.run_id for line in lines)], RUNS_TO_MOVE)
            yield Problem(
                places.where("schedule", lines[0].run_id, "crew"),
                f"Class {span.class_id} is on rent for crew {span.crew} from {on_rent} to "
                f"{off_rent}, {counted(span.calendar_days, 'day')} for "
                f"{counted(span.work_days, 'day')} of work. Give crew {others[0]} {runs}. "
                f"{ON_SITE}",
                alike=ON_SITE,
            )


def _lines_of(estimate: Estimate, span: RentalSpan) -> list[PlanLine]:
    return [
        line
        for line in estimate.plan.by_crew[span.crew]
        if line.machine == span.class_id and span.on_rent <= line.date <= span.off_rent
    ]


def cables_to_settle(estimate: Estimate, places: Places) -> Iterator[Problem]:
    """Name machine classes whose cable the tables do not settle."""
    own = {machine.class_id for machine in estimate.job.machines if machine.self_powered}
    for class_id, need in estimate.fleet.power.items():
        if class_id in own or need.cable_note in {"", NO_SUPPLY}:
            continue
        drop = "" if need.cable_drop is None else f" ({need.cable_drop:.1%} drop)"
        yield Problem(
            places.where("job", "", "cable_length_m"),
            f"Cable to class {class_id}: {need.cable_note}{drop}",
        )


def sets_at_low_load(estimate: Estimate, places: Places) -> Iterator[Problem]:
    """Remark on generators whose average load is a small share of their rating."""
    row = tables.find_row("power_practice", "quantity", "least_load_share")
    least = tables.number(row, "value")
    fouls = (
        f"A diesel generator fouls when it runs for long below {least:.0%} of its rating "
        f"({row['confidence']})"
    )
    for check in estimate.fleet.sets:
        if check.mean_kw is None or check.mean_kw >= least * check.rated_kw:
            continue
        yield Problem(
            places.where("generators", check.class_id, "rated_kw"),
            f"Class {check.class_id} with crew {check.crew}: average load {check.mean_kw:.1f} kW "
            f"is {check.mean_kw / check.rated_kw:.0%} of its rating; {check.decides} sets its "
            f"size. {fouls}",
            alike=fouls,
        )
