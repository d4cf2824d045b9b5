"""What a change costs: the bid price of what is left with it, less that without it."""

import datetime as dt
from decimal import Decimal

from estimator.data_class import dataclass
from estimator.joint.shared import Shared
from estimator.models.estimate import PricedJob
from estimator.models.job import Job
from estimator.models.places import Places
from estimator.models.site_records import SiteRecords
from estimator.progress.made import made_up_to
from estimator.progress.rest import rest_of
from estimator.risk.surface import Dates
from estimator.stages import plan_job, price_job


@dataclass(frozen=True)
class ChangePrice:
    """What is left of a job without a change and with it."""

    without: PricedJob
    with_it: PricedJob

    @property
    def price(self) -> Decimal:
        """Bid price with the change less that without: knock-on rental and overhead are in it."""
        return self.with_it.bid.price - self.without.bid.price

    @property
    def days(self) -> int:
        """Working days by which the finish moves, weather days among them."""
        dates = Dates(self.without.job)
        return dates.number(self.with_it.finish) - dates.number(self.without.finish)


def change_price(
    job: Job, changed: Job, records: SiteRecords, date: dt.date | None, places: Places
) -> ChangePrice:
    """Return what a change costs from a status date on.

    Parameters
    ----------
    job, changed : Job
        The job, and the same with the change.
    records : SiteRecords
        What was made; it is taken off both.
    date : date or None
        Status date; None: nothing is made yet.
    places : Places
        Where the inputs of the job stand.
    """
    jobs = (job, changed)
    if date is not None:
        made = made_up_to(records, date)
        jobs = (rest_of(job, made), rest_of(changed, made))
    without, with_it = (price_job(plan_job(one, Shared(places))) for one in jobs)
    return ChangePrice(without, with_it)
