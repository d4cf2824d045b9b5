"""Rules of dates and paid hours: shifts with time for work, days of 24 hours, dates in order."""

from collections.abc import Iterator

from estimator.rules.entries import Broken, Entry, Sheets, above, broken, header
from estimator.units import DAY_MIN, HOUR_MIN

LOST = ("startup_min", "wrapup_min", "breaks_min")


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
        others = [("overtime", entry, "shift_hours") for entry in sheets.rows("overtime")]
        for table, entry, key in (*others, ("job", job, "night_hours")):
            hours = entry.get(key)
            if hours and hours * HOUR_MIN <= lost:
                message = (
                    f"{entry.show(key)} leaves no time after startup, wrap-up and breaks "
                    f"({lost:g} min)"
                )
                yield broken(table, entry, key, message)


def hours_of_a_day(sheets: Sheets) -> Iterator[Broken]:
    """Refuse a day shift, usual or on overtime dates, that is over 24 h with its night shift."""
    for job in sheets.rows("job"):
        night = job.get("night_hours") or 0.0
        overtime = [("overtime", entry) for entry in sheets.rows("overtime")]
        for table, entry in (("job", job), *overtime):
            hours = entry.get("shift_hours")
            if night and hours is not None and (hours + night) * HOUR_MIN > DAY_MIN:
                message = (
                    f"{entry.show('shift_hours')} plus {header('job', 'night_hours')} "
                    f"({job.show('night_hours')}) is more than {DAY_MIN / HOUR_MIN:g} h. "
                    "Shorten one of them"
                )
                yield broken(table, entry, "shift_hours", message)


def overtime_dates(sheets: Sheets) -> Iterator[Broken]:
    """Refuse overtime dates that run backwards or stand in two rows."""
    spans: list[Entry] = []
    for entry in sheets.rows("overtime"):
        first, last = entry.get("from_date"), entry.get("to_date")
        if first is None or last is None:
            continue
        if first > last:
            message = f"{entry.show('to_date')} is before the From date ({first:%Y-%m-%d})"
            yield broken("overtime", entry, "to_date", message)
            continue
        for other in spans:
            if first <= other.get("to_date") and other.get("from_date") <= last:
                where = other.where("from_date")
                message = f"These dates overlap the row at {where}. List each date once"
                yield broken("overtime", entry, "from_date", message)
        spans.append(entry)


def dates_in_order(sheets: Sheets) -> Iterator[Broken]:
    """Refuse a deadline before the start; warn of a start in the past."""
    for job in sheets.rows("job"):
        if above(job, "start", "deadline"):
            start = f"{job.get('start'):%Y-%m-%d}"
            message = f"{job.show('deadline')} is before the start date ({start})"
            yield broken("job", job, "deadline", message)
        if above(job, "estimate_date", "start"):
            made = f"{job.get('estimate_date'):%Y-%m-%d}"
            message = f"{job.show('start')} is before the estimate date ({made})"
            yield broken("job", job, "start", message, warning=True)


RULES = (straight_time, time_for_work, hours_of_a_day, overtime_dates, dates_in_order)
