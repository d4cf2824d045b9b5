"""Hydrotests of the finished pipe: hours and water of each section, and the days they take."""

import datetime as dt
import math
from collections.abc import Mapping, Sequence
from functools import lru_cache

from estimator.data_class import dataclass
from estimator.errors import InputError, Problem
from estimator.models.hydrotest import HydroDay, HydroHours, HydroTest
from estimator.models.job import Job, Run
from estimator.models.job_inputs import HydrotestInputs
from estimator.models.places import Places
from estimator.models.plan import Plan, PlanLine
from estimator.models.sized_run import SizedRun
from estimator.money import round_quantity
from estimator.standards import tables
from estimator.steps.kinds import Time
from estimator.steps.marks import PI
from estimator.steps.recorder import step
from estimator.units import DAY_MIN, HOUR_MIN, HOUR_S, MIN_S, MM2_M_L
from estimator.working_time.shifts import Timetable
from estimator.working_time.working_days import WorkingCalendar

ONE_DAY = dt.timedelta(days=1)
TINY = 1e-9
HOURS_DIGITS = 2


def rule(name: str, column: str = "nominal") -> float:
    """Return a number of the test standard by the name of its rule in ``hydrotest.csv``."""
    return tables.number(tables.find_row("hydrotest", "rule", name), column)


def pipe_volume_l(id_mm: float, length_m: float) -> float:
    """Return the water that fills a pipe: ``pi / 4 x ID^2 x length``.

    Parameters
    ----------
    id_mm : float
        Inside diameter [mm], above 0.
    length_m : float
        Length [m], 0 or more.

    Returns
    -------
    float
        Volume [L].

    Raises
    ------
    OutsideStandardError
        If a value lies outside its range.

    Examples
    --------
    >>> round(pipe_volume_l(1000.0, 1.0), 3)
    785.398
    """
    tables.require("inside diameter [mm]", id_mm, TINY, None, "a bore")
    tables.require("length [m]", length_m, 0.0, None, "a length")
    return bore_l(id_mm, length_m)


@step("Water", "pi / 4 x average inside diameter squared x length")
def bore_l(inside_diameter_mm: float, length_m: float) -> float:
    """Return the water in a bore [L]."""
    return PI * inside_diameter_mm * inside_diameter_mm / 4 * length_m * MM2_M_L


@step("Water of the test section", "all its runs")
def section_l(volumes_l: Sequence[float]) -> float:
    """Return the water that fills a test section [L]."""
    return sum(volumes_l)


@step("Filling", "water / fill rate")
def fill_s(volume_l: float, hydrotest: HydrotestInputs) -> Time:
    """Return the time to fill a section [s]."""
    return volume_l / hydrotest.hydro_fill_rate_l_s


def volume_of_section(runs: Sequence[Run], known: Mapping[str, SizedRun]) -> float:
    """Return the water that fills the runs of a test section [L]."""
    return section_l(
        [pipe_volume_l(known[run.run_id].geometry.id_mm, run.length_m) for run in runs]
    )


def hydro_hours(volume_l: float, hydrotest: HydrotestInputs) -> HydroHours:
    """Return the hours of one test, each phase to 0.01 h.

    Filling takes ``volume / filling rate``. Expansion and hold are those of ASTM F2164 unless
    the Job sheet has its own; all other phases are inputs of the Job sheet.

    Parameters
    ----------
    volume_l : float
        Water that fills the section [L].
    hydrotest : HydrotestInputs
        Filling rate [L/s] and hours of the phases.

    References
    ----------
    ``hydrotest.csv``.
    """
    expansion, hold = hydrotest.hydro_expansion_hours, hydrotest.hydro_hold_hours
    hours = {
        "setup": hydrotest.hydro_setup_hours,
        "fill": fill_s(volume_l, hydrotest) / HOUR_S,
        "bleed": hydrotest.hydro_bleed_hours,
        "raising": hydrotest.hydro_raise_hours,
        "expansion": rule("expansion") if expansion is None else expansion,
        "hold": rule("hold") if hold is None else hold,
        "drain": hydrotest.hydro_drain_hours,
    }
    return HydroHours(**{key: round_quantity(value, HOURS_DIGITS) for key, value in hours.items()})


@lru_cache(maxsize=1024)
def _planned_hours(volume_l: float, hydrotest: HydrotestInputs) -> HydroHours:
    """Return the hours of a test for plans, which nobody records, so that each is asked once."""
    return hydro_hours(volume_l, hydrotest)


def sections(runs: Sequence[Run]) -> dict[str, list[Run]]:
    """Return the runs of each test section in schedule order; names are alike in any case."""
    names: dict[str, str] = {}
    found: dict[str, list[Run]] = {}
    for run in runs:
        if run.test_section:
            name = names.setdefault(run.test_section.casefold(), run.test_section)
            found.setdefault(name, []).append(run)
    return found


def plan_tests(
    job: Job, sized: Sequence[SizedRun], plan: Plan, places: Places
) -> tuple[HydroTest, ...]:
    """Return the hydrotests of a job in the order in which they begin.

    A section is ready on the first working day on which all of its runs are finished and their
    last joints have had the method's rest. Sections are taken in order of readiness by the test
    crew that is free first. Set-up, filling, bleeding and draining may go on the next working
    day; raising, expansion and hold lie within one shift. A crew works the paid shift.

    Parameters
    ----------
    job : Job
        The job; runs without a test section are not tested.
    sized : sequence of SizedRun
        Every run with its pipe and timing.
    plan : Plan
        The days on which the runs are joined.
    places : Places
        Where the inputs stand, for the message.

    Raises
    ------
    InputError
        If the phases at pressure do not fit in a shift.
    """
    known = {run.run_id: run for run in sized}
    calendar = WorkingCalendar.of(job)
    ready_on = _ready_dates(job, known, plan)
    waiting = []
    for name, runs in sections(job.runs).items():
        ready = calendar.next_work(max(ready_on[run.run_id] for run in runs))
        waiting.append((ready, name, runs))
    if not waiting:
        return ()
    _must_fit_a_shift(job, places)
    crews = [
        CrewClock(n, job.shift.shift_hours, calendar, job.dates.start)
        for n in range(1, job.hydrotest.hydro_crews + 1)
    ]
    done = []
    for ready, name, runs in sorted(waiting, key=lambda item: item[0]):
        crew = min(crews, key=lambda c: (*c.free_from(ready), c.number))
        done.append(_test(job.hydrotest, name, runs, known, crew, ready))
    return tuple(sorted(done, key=lambda test: test.start))


def _ready_dates(job: Job, known: Mapping[str, SizedRun], plan: Plan) -> dict[str, dt.date]:
    """Return the first day on which each run may be tested; the start for one without joints.

    Joints rest from the end of the shift in which they were made.
    """
    ready = {run.run_id: job.dates.start for run in job.runs}
    shifts = Timetable.of(job)
    last: dict[str, PlanLine] = {}
    for line in plan.lines:
        before = last.get(line.run_id)
        if before is None or (line.date, line.shift) >= (before.date, before.shift):
            last[line.run_id] = line
    for line in last.values():
        shift = next(shift for shift in shifts.on(line.date) if shift.name == line.shift)
        rest_min = (known[line.run_id].fusion.rest_s or 0.0) / MIN_S
        rested_min = shift.start + shift.hours * HOUR_MIN + rest_min
        rested = dt.date.fromordinal(math.ceil(rested_min / DAY_MIN))
        ready[line.run_id] = max(ready[line.run_id], rested)
    return ready


def _must_fit_a_shift(job: Job, places: Places) -> None:
    needed = hydro_hours(0.0, job.hydrotest).at_pressure
    if needed > job.shift.shift_hours + TINY:
        message = (
            f"Shift length: {job.shift.shift_hours:g} h is too short for a hydrotest. "
            f"Pressurizing, expansion and hold need {needed:g} h within one shift"
        )
        raise InputError([Problem(places.where("job", "", "shift_hours"), message)])


@dataclass()
class CrewClock:
    """Where a test crew stands: its day and the hours used of it."""

    number: int
    shift_hours: float
    calendar: WorkingCalendar
    date: dt.date
    used_hours: float = 0.0

    def free_from(self, ready: dt.date) -> tuple[dt.date, float]:
        """Return the day and the hours used of it at which it can begin a section."""
        return max((self.date, self.used_hours), (ready, 0.0))

    def begin(self, ready: dt.date) -> None:
        """Go to the first moment at which a section that is ready can be begun."""
        self.date, self.used_hours = self.free_from(ready)

    def work(self, hours: float, *, in_one_go: bool) -> list[tuple[dt.date, float]]:
        """Do a phase; return its hours by day."""
        if in_one_go and hours > self._left + TINY:
            self._next_day()
        parts = []
        while hours > TINY:
            if self._left <= TINY:
                self._next_day()
            part = min(hours, self._left)
            parts.append((self.date, part))
            self.used_hours += part
            hours -= part
        return parts

    @property
    def _left(self) -> float:
        return self.shift_hours - self.used_hours

    def _next_day(self) -> None:
        self.date, self.used_hours = self.calendar.next_work(self.date + ONE_DAY), 0.0


def _test(
    hydrotest: HydrotestInputs,
    name: str,
    runs: Sequence[Run],
    known: Mapping[str, SizedRun],
    crew: CrewClock,
    ready: dt.date,
) -> HydroTest:
    """Return one section tested by a crew, which then stands where the test ends."""
    volume_l = volume_of_section(runs, known)
    hours = _planned_hours(volume_l, hydrotest)
    crew.begin(ready)
    days, pressure_date = _work_days(crew, name, hours)
    return HydroTest(
        section=name,
        run_ids=tuple(run.run_id for run in runs),
        length_m=sum(run.length_m for run in runs),
        highest_dr=max(run.dr for run in runs),
        volume_l=volume_l,
        people=hydrotest.hydro_people,
        hours=hours,
        ready=ready,
        pressure_date=pressure_date,
        days=days,
    )


def _work_days(
    crew: CrewClock, section: str, hours: HydroHours
) -> tuple[tuple[HydroDay, ...], dt.date]:
    phases = (
        ("setup", hours.setup, False),
        ("filling", hours.fill, False),
        ("bleeding", hours.bleed, False),
        ("at pressure", hours.at_pressure, True),
        ("drain and restore", hours.drain, False),
    )
    work: dict[dt.date, dict[str, float]] = {}
    pressure_date = crew.date
    for phase, length, in_one_go in phases:
        for date, part in crew.work(length, in_one_go=in_one_go):
            work.setdefault(date, {})[phase] = part
            pressure_date = date if in_one_go else pressure_date
    days = tuple(
        HydroDay(
            date=date,
            crew=crew.number,
            section=section,
            work=tuple(parts),
            hours=sum(parts.values()),
        )
        for date, parts in work.items()
    )
    return days, pressure_date
