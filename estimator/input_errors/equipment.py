"""Rules of machines, generators and lifting gear, of their rental, and of the risk ranges."""

from collections.abc import Iterator

from estimator.equipment.rental_tiers import FOUR_WEEK_DAYS, WEEK_DAYS
from estimator.input_errors.entries import Broken, Entry, Sheets, above, broken, header

RENTED = ("machines", "generators", "lifting")
NEEDED_BY_HYDRAULIC = ("piston_area_mm2", "min_gauge_mpa", "max_gauge_mpa")
TIERS = (
    ("day_rate", "week_rate", WEEK_DAYS),
    ("week_rate", "four_week_rate", FOUR_WEEK_DAYS // WEEK_DAYS),
)


def ranges_of_machines(sheets: Sheets) -> Iterator[Broken]:
    """Refuse machine ranges that run downwards."""
    for entry in sheets.rows("machines"):
        for low, high in (("od_min_mm", "od_max_mm"), ("min_gauge_mpa", "max_gauge_mpa")):
            yield from _downwards("machines", entry, low, high)


def parts_of_machines(sheets: Sheets) -> Iterator[Broken]:
    """Refuse a drive or an own engine without its figures."""
    for entry in sheets.rows("machines"):
        if entry.get("drive") == "hydraulic":
            for key in NEEDED_BY_HYDRAULIC:
                if entry.blank(key):
                    message = "The cell is blank. A hydraulic machine needs a value"
                    yield broken("machines", entry, key, message)
        if entry.get("self_powered") and entry.blank("fuel_rate_l_h"):
            message = "The cell is blank. A machine with onboard power needs a value"
            yield broken("machines", entry, "fuel_rate_l_h", message)


def machines_in_stock(sheets: Sheets) -> Iterator[Broken]:
    """Refuse a fleet without a machine in stock."""
    entries = sheets.rows("machines")
    if entries and all(entry.get("stock") == 0 for entry in entries):
        message = "Every class has 0 in stock. Enter 1 or more for at least one class"
        yield broken("machines", entries[0], "stock", message)


def generator_fuel(sheets: Sheets) -> Iterator[Broken]:
    """Refuse a generator that takes less fuel at a larger part of its load."""
    for entry in sheets.rows("generators"):
        half = entry.show("fuel_half_l_h")
        if above(entry, "fuel_half_l_h", "fuel_full_l_h"):
            message = f"{entry.show('fuel_full_l_h')} is below the fuel at half load ({half})"
            yield broken("generators", entry, "fuel_full_l_h", message)
        if above(entry, "fuel_quarter_l_h", "fuel_half_l_h"):
            message = f"{entry.show('fuel_quarter_l_h')} is above the fuel at half load ({half})"
            yield broken("generators", entry, "fuel_quarter_l_h", message)


def rental_tiers(sheets: Sheets) -> Iterator[Broken]:
    """Name rental tiers that are never the cheapest, a likely slip of the keyboard."""
    for table in RENTED:
        for entry in sheets.rows(table):
            yield from _idle_tiers(table, entry)


def _idle_tiers(table: str, entry: Entry) -> Iterator[Broken]:
    """Compare each tier of one class with the next longer one."""
    for short, long, times in TIERS:
        if entry.get(short) is None or entry.get(long) is None:
            continue
        short_amount, long_amount = entry.get(short).amount, entry.get(long).amount
        names = header(table, short), header(table, long)
        message = ""
        if long_amount < short_amount:
            message = (
                f"{long_amount:,g} is below the {names[0]} ({short_amount:,g}), so the {names[0]} "
                "is never the cheaper one. Check both rates"
            )
        elif long_amount > times * short_amount:
            message = (
                f"{long_amount:,g} is more than {times} x the {names[0]} ({short_amount:,g}), so "
                f"the {names[1]} is never the cheaper one. Check both rates"
            )
        if message:
            yield broken(table, entry, long, message, warning=True)


def risk_ranges(sheets: Sheets) -> Iterator[Broken]:
    """Refuse a range whose low, most likely and high value do not rise."""
    for entry in sheets.rows("risk"):
        for low, high in (("low", "likely"), ("likely", "high")):
            yield from _downwards("risk", entry, low, high)


def _downwards(table: str, entry: Entry, low: str, high: str) -> Iterator[Broken]:
    if above(entry, low, high):
        message = f"{entry.show(low)} is above {header(table, high)} ({entry.show(high)})"
        yield broken(table, entry, low, message)


RULES = (
    ranges_of_machines,
    parts_of_machines,
    machines_in_stock,
    generator_fuel,
    rental_tiers,
    risk_ranges,
)
