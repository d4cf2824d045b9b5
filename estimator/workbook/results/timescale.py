"""The time scale of a bar chart in cells: one column for a day, a week, or some weeks."""

import datetime as dt
from collections import Counter
from collections.abc import Iterator

from estimator.data_class import dataclass

MOST_COLUMNS = 24
"""More do not fit beside the names on one page, with the joints in them."""
DAY, WEEK, TWO_WEEKS, FOUR_WEEKS = 1, 7, 14, 28
COLUMNS_OF = ((2, 3), (3, 8), (5, 12))
"""Columns at their narrowest that hold texts of so many letters, bold: Mar, Mar 2027, Mar/Apr 2027.
"""
MONTH_WIDTH = 3.2
"""Characters of column width that the short name of a month takes, bold and in small type."""
YEAR_WIDTH = 3.6
"""Characters of column width that a year takes, bold and in small type."""


@dataclass(frozen=True)
class TimeScale:
    """Columns of equal length, each known by its first date.

    Parameters
    ----------
    first : datetime.date
        Date of the first column.
    step : int
        Days of a column: 1, 7, 14, or a multiple of 28.
    count : int
        Number of columns.
    """

    first: dt.date
    step: int
    count: int

    @classmethod
    def over(
        cls,
        start: dt.date,
        finish: dt.date,
        deadline: dt.date | None,
        most: int = MOST_COLUMNS,
    ) -> "TimeScale":
        """Return the finest scale that shows a plan in ``most`` columns or less.

        Columns of weeks begin on a Monday. The deadline is shown too if it comes after the start
        and needs no coarser scale.
        """
        scales = (cls._between(start, finish, step) for step in _steps())
        scale = next(scale for scale in scales if scale.count <= most)
        if deadline is None or deadline <= finish:
            return scale
        wider = cls._between(start, deadline, scale.step)
        return wider if wider.count <= most else scale

    @classmethod
    def _between(cls, start: dt.date, finish: dt.date, step: int) -> "TimeScale":
        first = start if step == DAY else start - dt.timedelta(days=start.weekday())
        return cls(first, step, (finish - first).days // step + 1)

    @property
    def shows_months(self) -> bool:
        """Whether the columns are so long that each is headed by its month."""
        return self.step >= FOUR_WEEKS

    @property
    def month_width(self) -> float:
        """Characters of width that a column headed by its month takes, and a year over it alone."""
        years = Counter(date.year for date in self.dates)
        return YEAR_WIDTH if 1 in years.values() else MONTH_WIDTH

    @property
    def dates(self) -> list[dt.date]:
        """First date of each column."""
        return [self.first + dt.timedelta(days=self.step * place) for place in range(self.count)]

    def place(self, date: dt.date) -> int:
        """Return which column a date is in, counted from 0."""
        return (date - self.first).days // self.step

    def days_of(self, place: int) -> list[dt.date]:
        """Return the dates of one column."""
        start = self.first + dt.timedelta(days=self.step * place)
        return [start + dt.timedelta(days=n) for n in range(self.step)]

    def bands(self) -> list[str]:
        """Return the heading over each column: the month where it begins, of long columns the year.

        A month of one column at an end shares the heading of its neighbor. The year stands with
        the first month that has room; then with each January, or in its place. A heading of months
        that has no room is left out.
        """
        texts = [""] * self.count
        if self.shows_months:
            years = [date.year for date in self.dates]
            for year in dict.fromkeys(years):
                texts[years.index(year)] = f"{year}"
            return texts
        is_said = False
        for number, band in enumerate(self._months()):
            is_new = number > 0 and band.month.month == 1
            wants_year = is_new or not is_said
            dated = f"{band.name} {band.month:%Y}"
            if wants_year and band.holds(dated):
                texts[band.place], is_said = dated, True
            elif is_new and "/" not in band.name:
                is_said = band.room > 1
                texts[band.place] = f"{band.month:%Y}" if is_said else ""
            elif band.holds(band.name):
                texts[band.place] = band.name
        return texts

    def _months(self) -> list["_Months"]:
        """Return what stands over the columns, those of one column at an end with the next."""
        months = [date.replace(day=1) for date in self.dates]
        found = [
            _Months(months.index(month), months.count(month), month, f"{month:%b}")
            for month in dict.fromkeys(months)
        ]
        if len(found) > 1 and found[0].room == 1:
            found[:2] = [found[0].joined(found[1])]
        if len(found) > 1 and found[-1].room == 1:
            found[-2:] = [found[-2].joined(found[-1])]
        return found


@dataclass(frozen=True)
class _Months:
    """A heading: its first column, how many it has, and the months, the last of which counts."""

    place: int
    room: int
    month: dt.date
    name: str

    def joined(self, after: "_Months") -> "_Months":
        """Return the heading of this and the next month, or months."""
        name = f"{self.name.partition('/')[0]}/{after.name.rpartition('/')[2]}"
        return _Months(self.place, self.room + after.room, after.month, name)

    def holds(self, text: str) -> bool:
        """Return whether the columns have room for a text."""
        return self.room >= next(n for n, letters in COLUMNS_OF if len(text) <= letters)


def _steps() -> Iterator[int]:
    yield from (DAY, WEEK, TWO_WEEKS)
    step = FOUR_WEEKS
    while True:
        yield step
        step += FOUR_WEEKS
