"""Lifting gear on rent: the class of each crew by day, with the reasons."""

import datetime as dt
from collections.abc import Sequence

from estimator.display import show_need
from estimator.equipment.class_by_day import DayNeed, Terms, choose_by_day, rank
from estimator.equipment.haulage import Haulage
from estimator.equipment.spans import Chosen, Use, rent, stays
from estimator.errors import Problem
from estimator.models.choice import Reason, Rejection
from estimator.models.equipment import Lifter
from estimator.models.job import Job
from estimator.models.job_inputs import EquipmentInputs
from estimator.models.places import Places
from estimator.models.rental import RentalSpan
from estimator.models.sized_run import SizedRun
from estimator.units import at_most, from_si
from estimator.working_time.shifts import Shifts

Lines = Sequence[tuple[dt.date, SizedRun]]


def lifting_spans(
    job: Job, crew: int, lines: Lines, places: Places, problems: list[Problem]
) -> list[RentalSpan]:
    """Return the lifting gear of a crew, or note in ``problems`` what none in stock carries.

    Parameters
    ----------
    job : Job
        The job with its Lifting sheet.
    crew : int
        Number of the crew.
    lines : sequence of (date, SizedRun)
        The crew's runs by day, by rising date.
    places : Places
        Where each input stands, for the message.
    problems : list of Problem
        Gets one more where a stick is too heavy for every class in stock.
    """
    quantity = job.resources.lifters_per_crew
    ranked = rank(job.lifting, quantity)
    needs = day_needs(job.equipment, lines)
    hours = Shifts.of(job).engine_hours([need.date for need in needs]) / len(needs)
    fuel = {row.class_id: fuel_a_day(job, row, hours) for row in ranked}
    chosen = choose_by_day(needs, ranked, Terms(Haulage.of(job), fuel))
    if chosen is None:
        problems.append(_too_heavy(job, lines, places))
        return []
    classes = {row.class_id: row for row in ranked}
    spans: list[RentalSpan] = []
    for class_id, dates in chosen.items():
        item = classes[class_id]
        for stay in stays(job, item, Use(crew, dates, quantity)):
            used = set(stay.dates)
            heaviest = _heaviest([run for date, run in lines if date in used])
            spans.append(rent(job, _chosen(job, item, heaviest), stay))
    return spans


def day_needs(equipment: EquipmentInputs, lines: Lines) -> list[DayNeed]:
    """Return what must be lifted on each day: its heaviest stick, with the reserve."""
    masses: dict[dt.date, float] = {}
    for date, run in lines:
        masses[date] = max(masses.get(date, 0.0), with_reserve(equipment, run))
    return [DayNeed(date, masses[date]) for date in sorted(masses)]


def with_reserve(equipment: EquipmentInputs, run: SizedRun) -> float:
    """Return the mass of a stick of a run with the lifting reserve, in kg."""
    return run.stick_mass_kg * (1 + equipment.lift_reserve)


def fuel_a_day(job: Job, item: Lifter, engine_hours: float) -> float:
    """Return the fuel money of a lifting class on a day of so many engine hours."""
    price = job.rates.fuel_price
    liters = item.fuel_rate_l_h * job.equipment.lift_working_share * engine_hours
    return from_si(liters, price.per) * price.amount


def _heaviest(runs: Sequence[SizedRun]) -> SizedRun:
    return max(runs, key=lambda run: run.stick_mass_kg)


def _too_heavy(job: Job, lines: Lines, places: Places) -> Problem:
    heaviest = _heaviest([run for _, run in lines])
    first = job.lifting[0].class_id if job.lifting else ""
    in_stock = [item.capacity_kg for item in job.lifting
                if item.stock >= job.resources.lifters_per_crew]  # fmt: skip
    asked = show_need(
        with_reserve(job.equipment, heaviest), in_stock, "mass", job.cover.unit_system
    )
    at_once = (
        f", {job.resources.lifters_per_crew} at once" if job.resources.lifters_per_crew > 1 else ""
    )
    return Problem(
        places.where("lifting", first, "capacity_kg"),
        f"Capacity: no class in stock{at_once} lifts a stick of run {heaviest.run_id}. With "
        f"its reserve it needs {asked}",
    )


def _chosen(job: Job, item: Lifter, heaviest: SizedRun) -> Chosen:
    """Return a class that is on rent for its days, and why each smaller one is not."""
    mass = with_reserve(job.equipment, heaviest)
    why = Reason(
        text=f"heaviest stick on these days: run {heaviest.run_id}, {{need}} with reserve; "
        "capacity {limit}",
        kind="mass",
        need=mass,
        limit=item.capacity_kg,
    )
    smaller = (other for other in job.lifting if other.capacity_kg < item.capacity_kg)
    at_once = job.resources.lifters_per_crew
    return Chosen(
        kind="lifting",
        item=item,
        why=why,
        rejected=tuple(_rejection(at_once, other, mass) for other in smaller),
        fuel_l_h=item.fuel_rate_l_h * job.equipment.lift_working_share,
    )


def _rejection(at_once: int, item: Lifter, mass: float) -> Rejection:
    if not at_most(mass, item.capacity_kg):
        return Rejection(
            class_id=item.class_id,
            text="lifts {limit}, needs {need}",
            kind="mass",
            need=mass,
            limit=item.capacity_kg,
        )
    if item.stock < at_once:
        text = f"{at_once} needed at once, only {item.stock} in stock"
        return Rejection(class_id=item.class_id, text=text)
    return Rejection(class_id=item.class_id, text="fits, but a class already on rent costs less")
