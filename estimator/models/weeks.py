"""The plan as a superintendent asks for it: by week, and by day for the weeks ahead."""

import datetime as dt
from typing import NamedTuple

from estimator.models.hydrotest import HydroDay
from estimator.models.plan import PlanLine
from estimator.models.rental import RentalKind


class GearMove(NamedTuple):
    """A delivery or a collection of rented gear for a crew."""

    date: dt.date
    kind: RentalKind
    class_id: str
    quantity: int
    crew: int


class CrewWork(NamedTuple):
    """What one crew does in a week or on a day.

    ``people`` are the most in one shift; ``joints`` are butt joints, tie-ins among them;
    ``labor_hours`` are paid hours of all people, lost days among them; ``fuel_l`` is the fuel of
    all its gear.
    """

    crew: int
    people: float
    labor_hours: float
    joints: int
    tie_ins: int
    fuel_l: float


class Week(NamedTuple):
    """One week, Monday to Sunday.

    ``runs`` are those worked on, in the order in which they come up; ``lost_days`` dates that are
    paid without work, by weather or by a hold.
    ``people`` are the most on site on one date: all shifts of all crews, and who attends tests.
    ``labor_hours`` are those of the joining crews, ``test_hours`` those of the hydrotests.
    """

    first: dt.date
    last: dt.date
    work_days: int
    lost_days: int
    people: float
    labor_hours: float
    test_hours: float
    runs: tuple[str, ...]
    crews: tuple[CrewWork, ...]
    deliveries: tuple[GearMove, ...]
    collections: tuple[GearMove, ...]
    tests: tuple[HydroDay, ...]
    begun: tuple[str, ...]
    ended: tuple[str, ...]

    @property
    def joints(self) -> int:
        """Butt joints of all crews, tie-ins among them."""
        return sum(crew.joints for crew in self.crews)

    @property
    def tie_ins(self) -> int:
        """Tie-ins of all crews."""
        return sum(crew.tie_ins for crew in self.crews)

    @property
    def fuel_l(self) -> float:
        """Fuel of all crews."""
        return sum(crew.fuel_l for crew in self.crews)


class ReadyItem(NamedTuple):
    """Something that must be there, and how many or how much of it; ``unit`` is ``m``, ``L`` or "".

    ``what`` is a plain word such as ``stick``, ``elbow`` or ``open trench``; of work that must be
    done before, such as ``run finished``, ``name`` says which run.
    """

    what: str
    quantity: float
    unit: str = ""
    name: str = ""


class Readiness(NamedTuple):
    """What must be ready at the end of a date, before a crew or a test begins a run or section."""

    by: dt.date
    before: dt.date
    crew: int
    name: str
    items: tuple[ReadyItem, ...]
    is_test: bool = False


class DayAhead(NamedTuple):
    """One date of the weeks ahead: what is done, what comes and goes, what must be ready then.

    ``kind`` is that of the date: "work", "weather", "off", "hold" where every crew that is paid
    on it stands by a hold, "open" for a weekday of the job before its start. ``labor_hours`` are
    those of crews and hydrotests. What is in ``ready`` must be so at the end of the date.
    """

    date: dt.date
    kind: str
    people: float
    labor_hours: float
    lines: tuple[PlanLine, ...]
    crews: tuple[CrewWork, ...]
    deliveries: tuple[GearMove, ...]
    collections: tuple[GearMove, ...]
    tests: tuple[HydroDay, ...]
    ready: tuple[Readiness, ...]


class LookAhead(NamedTuple):
    """Some weeks, date by date, and what must be ready or come in them or for what begins in them.

    ``deliveries`` are those of gear that is on rent in these weeks and comes in them or for them.
    """

    days: tuple[DayAhead, ...]
    ready: tuple[Readiness, ...]
    deliveries: tuple[GearMove, ...]
    collections: tuple[GearMove, ...]
