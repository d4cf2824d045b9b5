"""Days of the week as people type them: ``Mon-Fri``, ``Sat-Thu``, ``Mon, Wed``."""

import calendar
import re

DAY_NAMES = ("Mon", "Tue", "Wed", "Thu", "Fri", "Sat", "Sun")
WEEK_DAYS, SHORT_NAME = 7, 3


def weekdays(text: str) -> frozenset[int]:
    """Return the weekday numbers (Monday 0) of days and spans such as ``Sat-Thu`` or ``Mon, Wed``.

    Names are known by their first three letters, in any case.

    Raises
    ------
    ValueError
        If a name is not a weekday.

    Examples
    --------
    >>> sorted(weekdays("Sun-Tue")), sorted(weekdays("Mon-Wed, Fri"))
    ([0, 1, 6], [0, 1, 2, 4])
    """
    found: set[int] = set()
    for part in re.split("[,;]", text):
        first, *rest = (_weekday(name) for name in part.split("-", 1))
        last = rest[0] if rest else first
        found.update((first + step) % WEEK_DAYS for step in range((last - first) % WEEK_DAYS + 1))
    return frozenset(found)


def _weekday(name: str) -> int:
    typed = name.strip().capitalize()
    for number, whole in enumerate(calendar.day_name):
        if len(typed) >= SHORT_NAME and whole.startswith(typed):
            return number
    message = f"{name!r} is not a weekday"
    raise ValueError(message)


def weekday_text(text: str) -> str:
    """Return days and spans of a week in their short form.

    >>> weekday_text("saturday - thu"), weekday_text("mon;wed")
    ('Sat-Thu', 'Mon, Wed')
    """
    weekdays(text)
    spans = ("-".join(DAY_NAMES[_weekday(name)] for name in part.split("-", 1))
             for part in re.split("[,;]", text))  # fmt: skip
    return ", ".join(spans)
