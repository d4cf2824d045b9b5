"""Entries that are allowed but look like slips of the keyboard, each with its cell.

Ranges and factors are our own assumptions, in the table ``plausible`` of the standards.
"""

from collections.abc import Iterator, Sequence
from typing import NamedTuple

from estimator.display import figure, name_runs, show, unit_of
from estimator.errors import Problem
from estimator.models.equipment import RentalItem
from estimator.models.estimate import Estimate
from estimator.models.places import Places
from estimator.models.rates import MoneyRate
from estimator.standards import tables
from estimator.standards.pieces import TABLE, stick_lengths
from estimator.units import at_least, from_si, to_si

LIKE_A_DOLLAR = ("$", "US$", "USD", "C$", "CAD", "A$", "AUD", "€", "EUR", "£", "GBP")
"""Currencies for which the ranges of prices hold."""
FEWEST_RUNS, FEWEST_ROWS = 3, 3
RENTED = ("machines", "generators", "lifting")
PER_HOUR, PER_LITER, PER_KG = "h", "L", "kg"


class Row(NamedTuple):
    """A number of one row of an input table: the row's name, its cell, how it shows."""

    name: str
    where: str
    value: float
    shown: str


def outliers(rows: Sequence[Row], factor: float) -> Iterator[tuple[Row, float]]:
    """Yield the rows far above the largest, or far below the smallest, of all others.

    Parameters
    ----------
    rows : sequence of Row
        Rows with numbers above 0; fewer than three show nothing.
    factor : float
        How many times above or below passes.

    Yields
    ------
    Row, float
        The row, and how many times it is the next one; below 1 where it is smaller.
    """
    if len(rows) < FEWEST_ROWS:
        return
    ranked = sorted(rows, key=lambda row: row.value)
    if ranked[0].value * factor < ranked[1].value:
        yield ranked[0], ranked[0].value / ranked[1].value
    if ranked[-1].value > factor * ranked[-2].value:
        yield ranked[-1], ranked[-1].value / ranked[-2].value


def _known(quantity: str) -> tables.Row:
    return tables.find_row(TABLE, "quantity", quantity)


def _factor(quantity: str) -> float:
    return tables.number(_known(quantity), "factor")


def sticks_of_no_usual_length(estimate: Estimate, places: Places) -> Iterator[Problem]:
    """Warn of sticks that are shorter or longer than pipe comes in, coils aside."""
    known, system = stick_lengths(), estimate.job.cover.unit_system
    low, high = (show(each, "length", system) for each in (known.low_m, known.high_m))
    found: dict[float, list[str]] = {}
    for run, sized in estimate.pairs:
        stick = run.stick_length_m
        if not (known.is_stick(stick) or known.is_coil(stick, sized.geometry.od_mm)):
            found.setdefault(stick, []).append(run.run_id)
    for stick, run_ids in found.items():
        yield Problem(
            places.where("schedule", run_ids[0], "stick_length_m"),
            f"Stick or coil length: {show(stick, 'length', system)} is unusual. Sticks are "
            f"{low} to {high} (our assumption); "
            f"only small pipe comes in coils: {name_runs(run_ids)}",
        )


def runs_shorter_than_a_stick(estimate: Estimate, places: Places) -> Iterator[Problem]:
    """Warn of runs with joints that are shorter than one stick."""
    short = [
        run.run_id
        for run, sized in estimate.pairs
        if sized.counts.has_work and not at_least(run.length_m, run.stick_length_m)
    ]
    if short:
        yield Problem(
            places.where("schedule", short[0], "segments_m"),
            f"Length: shorter than one stick or coil: {name_runs(short)}. Check both lengths",
        )


def segments_like_a_slip(estimate: Estimate, places: Places) -> Iterator[Problem]:
    """Warn of many segments, and of segments under a stick whose number is that of a length."""
    most, system = tables.number(_known("segments"), "high"), estimate.job.cover.unit_system
    unit = unit_of("length", system)
    for run in estimate.job.runs:
        segments = run.segments_m
        number, first = len(segments), segments[0]
        equal = number > 1 and len(set(segments)) == 1
        stick = run.stick_length_m
        if equal and not at_least(first, stick) and at_least(to_si(number, unit), stick):
            shown = figure(from_si(first, unit))
            text = (
                f"each under a stick, so that no two sticks are joined. Where {shown} of {number} "
                f"are meant, enter {shown} x {number}"
            )
        elif number > most:
            text = f"more than {most:.0f} (our assumption). Check the number"
        else:
            continue
        of = f"{number} of {show(first, 'length', system)}" if equal else f"{number}"
        yield Problem(
            places.where("schedule", run.run_id, "segments_m"),
            f"Length: run {run.run_id} has {of} as segments, {text}",
        )


def run_far_longer(estimate: Estimate, places: Places) -> Iterator[Problem]:
    """Warn of a run that is many times the next longest."""
    system = estimate.job.cover.unit_system
    rows = [
        Row(run.run_id, places.where("schedule", run.run_id, "segments_m"), run.length_m,
            show(run.length_m, "length", system))
        for run in estimate.job.runs
    ]  # fmt: skip
    for row, times in outliers(rows, _factor("run length")):
        if times > 1:
            yield Problem(
                row.where,
                f"Length: run {row.name} has {row.shown}, {times:.0f} times the next longest run. "
                "Check for a digit too many",
            )


def wages_far_off(estimate: Estimate, places: Places) -> Iterator[Problem]:
    """Warn of a wage far from the others or from what is usual."""
    rows = [
        Row(role.role, places.where("crew", role.role, "wage"), role.wage.amount,
            _money(estimate, role.wage))
        for role in estimate.job.crew
        if role.wage.amount
    ]  # fmt: skip
    yield from _far("Wage", "wage", rows, _in_range(estimate, "wage"), "of the other roles")


def fuel_price_far_off(estimate: Estimate, places: Places) -> Iterator[Problem]:
    """Warn of a fuel price that is not usual."""
    price = estimate.job.rates.fuel_price
    if price.amount:
        where = places.where("rates", "", "fuel_price")
        by_liter = price.amount / to_si(1.0, price.per)
        row = Row("", where, by_liter, _money(estimate, price))
        yield from _far("Fuel price", "fuel price", [row], _in_range(estimate, "fuel price"), "")


def pipe_prices_far_off(estimate: Estimate, places: Places) -> Iterator[Problem]:
    """Warn of a pipe price that by weight is far from the others or from what is usual."""
    rows = []
    for run, sized in estimate.pairs:
        if run.pipe_price is not None and run.pipe_price.amount:
            by_weight = run.pipe_price.amount / to_si(1.0, run.pipe_price.per)
            by_weight /= sized.geometry.weight_kg_m
            rows.append(Row(
                run.run_id, places.where("schedule", run.run_id, "pipe_price"), by_weight,
                f"{_money(estimate, run.pipe_price)}, {by_weight:.3g} a kg",
            ))  # fmt: skip
    usual = _in_range(estimate, "pipe price")
    yield from _far("Pipe price", "pipe price", _one_of_each(rows), usual, "of the other pipe")


def _one_of_each(rows: Sequence[Row]) -> list[Row]:
    """Return the first row of each value, so that runs of one pipe count once."""
    return list({row.value: row for row in reversed(rows)}.values())


def rental_rates_far_off(estimate: Estimate, places: Places) -> Iterator[Problem]:
    """Warn of a day rate or a delivery far from those of the other classes of its sheet."""
    for table in RENTED:
        items: Sequence[RentalItem] = getattr(estimate.job, table)
        for key, quantity, word in (
            ("day_rate", "day rate", "Day rate"), ("delivery", "delivery", "Delivery"),
        ):  # fmt: skip
            rows = [
                Row(item.class_id, places.where(table, item.class_id, key), rate.amount,
                    _money(estimate, rate))
                for item in items
                for rate in [getattr(item, key)]
                if rate.amount
            ]  # fmt: skip
            yield from _far(word, quantity, rows, None, "of the other classes")


def _in_range(estimate: Estimate, quantity: str) -> tuple[float, float] | None:
    """Return the usual range of a price, None in a currency of which we know none."""
    if estimate.job.cover.currency.strip().upper() not in LIKE_A_DOLLAR:
        return None
    known = _known(quantity)
    return tables.number(known, "low"), tables.number(known, "high")


def _far(
    header: str,
    quantity: str,
    rows: Sequence[Row],
    usual: tuple[float, float] | None,
    others: str,
) -> Iterator[Problem]:
    reported = set()
    for row in rows:
        if usual is not None and not usual[0] <= row.value <= usual[1]:
            reported.add(row.name)
            unit = _known(quantity)["unit"]
            yield Problem(
                row.where,
                f"{header}: {row.shown} is unusual{_of(row)}; {usual[0]:g} to {usual[1]:g} "
                f"{unit} is expected (our assumption). Check the decimal point and the unit",
            )
    if _known(quantity)["factor"] is None:
        return
    for row, times in outliers(rows, _factor(quantity)):
        if row.name not in reported:
            text = f"{times:.1f} times the highest" if times > 1 else f"{times:.2f} of the lowest"
            yield Problem(
                row.where,
                f"{header}: {row.shown}{_of(row)} is {text} {others}. Check the decimal point",
            )


def _of(row: Row) -> str:
    return f" for {row.name}" if row.name else ""


def _money(estimate: Estimate, rate: MoneyRate) -> str:
    return f"{estimate.job.cover.currency}{figure(rate.amount)} per {rate.per}"


def part_of_the_pipe_priced(estimate: Estimate, places: Places) -> Iterator[Problem]:
    """Warn where some runs have a pipe price and others none."""
    yield from _in_part(
        estimate, places, "pipe_price",
        "No pipe price for {}, while other runs have one. That pipe is not in the price",
    )  # fmt: skip


def part_of_the_job_tested(estimate: Estimate, places: Places) -> Iterator[Problem]:
    """Warn where some runs are in a test section and others in none."""
    yield from _in_part(
        estimate, places, "test_section", "No test section for {}. No hydrotest is planned there"
    )  # fmt: skip


def _in_part(estimate: Estimate, places: Places, key: str, text: str) -> Iterator[Problem]:
    without = [run.run_id for run in estimate.job.runs if getattr(run, key) is None]
    if without and len(without) < len(estimate.job.runs):
        where = places.where("schedule", without[0], key)
        yield Problem(where, text.format(name_runs(without)))


PLAUSIBLE = (
    sticks_of_no_usual_length,
    runs_shorter_than_a_stick,
    segments_like_a_slip,
    run_far_longer,
    wages_far_off,
    fuel_price_far_off,
    pipe_prices_far_off,
    rental_rates_far_off,
    part_of_the_pipe_priced,
    part_of_the_job_tested,
)
