"""Rules of paid hours: shifts with time for work, days of 24 hours."""

from collections.abc import Iterator

from estimator.input_errors.entries import Broken, Entry, Sheets, above, broken, header
from estimator.units import DAY_MIN, HOUR_MIN

LOST = ("startup_min", "wrapup_min", "breaks_min")
OWN_HOURS = ("overtime", "crew_dates")
"""Tables whose rows may have a paid shift of their own."""


def _own_hours(sheets: Sheets) -> list[tuple[str, Entry]]:
    return [(table, entry) for table in OWN_HOURS for entry in sheets.rows(table)]


def straight_time(sheets: Sheets) -> Iterator[Broken]:
    """Refuse a shift shorter than its straight time."""
    for job in sheets.rows("job"):
        if above(job, "straight_hours", "shift_hours"):
            got, allowed = job.show("straight_hours"), job.show("shift_hours")
            message = f"{got} is longer than the shift length ({allowed})"
            yield broken("job", job, "straight_hours", message)


def time_for_work(sheets: Sheets) -> Iterator[Broken]:
    """Refuse a shift that start-up, wrap-up and breaks leave no time in."""
    for job in sheets.rows("job"):
        parts = [job.get(key) for key in LOST]
        if None in parts:
            continue
        lost, hours = sum(parts), job.get("shift_hours")
        if hours is not None and hours * HOUR_MIN <= lost:
            message = (
                f"Startup, wrap-up and breaks take {lost:g} min and leave no time in a shift of "
                f"{hours * HOUR_MIN:g} min"
            )
            yield broken("job", job, "startup_min", message)
        own = [(table, entry, "shift_hours") for table, entry in _own_hours(sheets)]
        for table, entry, key in (*own, ("job", job, "night_hours")):
            hours = entry.get(key)
            if hours and hours * HOUR_MIN <= lost:
                message = (
                    f"{entry.show(key)} leaves no time after startup, wrap-up and breaks "
                    f"({lost:g} min)"
                )
                yield broken(table, entry, key, message)


def hours_of_a_day(sheets: Sheets) -> Iterator[Broken]:
    """Refuse a day shift, usual or of some dates, that is over 24 h with its night shift."""
    for job in sheets.rows("job"):
        night = job.get("night_hours") or 0.0
        for table, entry in (("job", job), *_own_hours(sheets)):
            hours = entry.get("shift_hours")
            if night and hours is not None and (hours + night) * HOUR_MIN > DAY_MIN:
                message = (
                    f"{entry.show('shift_hours')} plus {header('job', 'night_hours')} "
                    f"({job.show('night_hours')}) is more than {DAY_MIN / HOUR_MIN:g} h. "
                    "Shorten one of them"
                )
                yield broken(table, entry, "shift_hours", message)


RULES = (straight_time, time_for_work, hours_of_a_day)
