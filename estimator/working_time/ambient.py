"""Air temperature at the joints by month."""

import datetime as dt
from collections.abc import Iterable, Mapping

from estimator.models.job import Job
from estimator.working_time.working_days import MONTH_NAMES


class MonthlyAmbient:
    """The ambient temperature of each month: its own, or that of the Job sheet."""

    def __init__(self, usual_c: float, by_month: Mapping[str, float | None]) -> None:
        self._usual_c, self._by_month = usual_c, by_month

    @staticmethod
    def of(job: Job) -> "MonthlyAmbient":
        """Return the ambient temperatures of a job."""
        return MonthlyAmbient(job.site.ambient_c, {row.month: row.ambient_c for row in job.weather})

    def on(self, date: dt.date) -> float:
        """Return the ambient temperature of a date's month in C."""
        return self._in_month(date.month)

    def _in_month(self, number: int) -> float:
        own = self._by_month.get(MONTH_NAMES[number - 1])
        return self._usual_c if own is None else own

    def is_given(self, month: str) -> bool:
        """Return whether a month has an ambient temperature of its own."""
        return self._by_month.get(month) is not None

    def range_over(self, dates: Iterable[dt.date]) -> tuple[float, float]:
        """Return the ambient of the coldest and of the hottest month of some dates, one or more."""
        found = [self._in_month(number) for number in {date.month for date in dates}]
        return min(found), max(found)
