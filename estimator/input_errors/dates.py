"""Rules of dates: forwards, each once, and in the order of the job."""

import datetime as dt
from collections.abc import Hashable, Iterator

from estimator.input_errors.entries import Broken, Entry, Sheets, above, broken

SPANS = ("overtime", "crew_dates", "holds")
"""Tables with a first and a last date; a blank last date is open."""
ONCE: tuple[tuple[str, str], ...] = (("overtime", ""), ("crew_dates", "crew"))
"""Tables that have each date once, for each value of a column where one is named."""


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


def dates_forward(sheets: Sheets) -> Iterator[Broken]:
    """Refuse dates that run backwards."""
    for table in SPANS:
        for entry in sheets.rows(table):
            if above(entry, "from_date", "to_date"):
                first = f"{entry.get('from_date'):%Y-%m-%d}"
                message = f"{entry.show('to_date')} is before the From date ({first})"
                yield broken(table, entry, "to_date", message)


def dates_once(sheets: Sheets) -> Iterator[Broken]:
    """Refuse dates that stand in two rows, of a crew where they are by crew."""
    for table, by in ONCE:
        before: dict[Hashable, list[Entry]] = {}
        for entry in sheets.rows(table):
            key = entry.get(by) if by else ""
            if key is None or not _usable(entry):
                continue
            others = before.setdefault(key, [])
            for other in others:
                if _overlap(entry, other):
                    where = other.where("from_date")
                    message = f"These dates overlap the row at {where}. List each date once"
                    yield broken(table, entry, "from_date", message)
            others.append(entry)


def _usable(entry: Entry) -> bool:
    """Return whether a row has dates that run forwards, the last one perhaps open."""
    known = entry.get("to_date") is not None or entry.blank("to_date")
    return entry.get("from_date") is not None and known and not above(entry, "from_date", "to_date")


def _overlap(one: Entry, other: Entry) -> bool:
    latest = dt.date.max
    return bool(
        one.get("from_date") <= (other.get("to_date") or latest)
        and other.get("from_date") <= (one.get("to_date") or latest)
    )


RULES = (dates_in_order, dates_forward, dates_once)
