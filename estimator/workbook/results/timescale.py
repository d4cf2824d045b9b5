"""The time scale of a bar chart in cells: one column for a day, a week, or some weeks."""

import datetime as dt
from collections.abc import Iterator

from estimator.data_class import dataclass

MOST_COLUMNS = 24
"""More do not fit beside the names on one page, with the joints in them."""
DAY, WEEK, TWO_WEEKS, FOUR_WEEKS = 1, 7, 14, 28
MONTH_WIDTH = 3.2
"""Characters of column width that the short name of a month takes, bold and in small type."""


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

        A heading is left out where there is no room for it before the next one; the year stands
        once, with the first month that has room for it.
        """
        long = self.shows_months
        keys = [(date.year, 0 if long else date.month) for date in self.dates]
        texts = [""] * self.count
        said = 0
        for place, (key, date) in enumerate(zip(keys, self.dates, strict=True)):
            if place and keys[place - 1] == key:
                continue
            room = keys.count(key)
            if long:
                texts[place] = f"{date:%Y}" if room > 1 else ""
            elif room > 2 and date.year != said:
                texts[place], said = f"{date:%b %Y}", date.year
            else:
                texts[place] = f"{date:%b}" if room > 1 else ""
        return texts


def _steps() -> Iterator[int]:
    yield from (DAY, WEEK, TWO_WEEKS)
    step = FOUR_WEEKS
    while True:
        yield step
        step += FOUR_WEEKS
