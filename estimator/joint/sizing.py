"""What is known of each run before any planning: measures, joints, times, machine."""

import datetime as dt
from collections.abc import Iterator, Sequence
from contextlib import contextmanager

from estimator.display import describe, name_runs
from estimator.errors import EstimatorError, InputError, OutsideStandardError, Problem
from estimator.joint import cycle, machines
from estimator.joint.butt_kinds import TEST_JOINT, WITHOUT_TEST_JOINT, longest_items
from estimator.joint.fusion import fusion_options, fusion_parameters
from estimator.joint.geometry import pipe_geometry
from estimator.joint.known_joints import KnownJoints, MachineKey
from estimator.models.bands import BandShare
from estimator.models.choice import Rejection
from estimator.models.job import Job, Run
from estimator.models.job_inputs import ShiftInputs
from estimator.models.joint import PipeGeometry
from estimator.models.kinds import CONNECTIONS
from estimator.models.places import Places
from estimator.models.plan import Plan, ShiftName
from estimator.models.sized_run import (
    JointCount,
    JointTiming,
    MachineChoice,
    RunCycle,
    SizedRun,
)
from estimator.steps.recorder import step
from estimator.working_time.ambient import MonthlyAmbient
from estimator.working_time.on_site import job_on, machines_on
from estimator.working_time.shifts import Shifts
from estimator.working_time.working_days import MONTH_NAMES

SHEET_OF_RUNS = "Pipe schedule"
NO_MACHINE = "No machine class can make this joint"
ADD_A_CLASS = "Add a class on Machines, or change the fusion method or placement"

ONE_OF_EACH = JointCount(
    sticks=2, strings=1, stick_joints=2, fitting_joints=2, small_ends=1, outside_tie_ins=1,
    tie_in_joints=1, butt_joints=4, rework_joints=1,
    others={kind.key: 1 for kind in CONNECTIONS},
)  # fmt: skip
"""The counts of a run that has every kind of work."""


@step("Stick weight", "weight x length of a stick")
def stick_kg(geometry: PipeGeometry, run: Run) -> float:
    """Return the weight of a stick or coil."""
    return geometry.weight_kg_m * run.stick_length_m


class NoMachineError(EstimatorError):
    """No class of the Machines sheet can make the joints of a run; the text says why."""


class Sizer:
    """Takes each run through the stages that need no other run; names the cell of any fault.

    Times depend on the ambient of the month, so they are worked out for the dates that are
    asked for, once for each pipe, access and temperature.

    Parameters
    ----------
    job, places
        The job, and where its inputs stand.
    known : KnownJoints, optional
        Fusion parameters and machine choices that other jobs may have left.
    """

    def __init__(self, job: Job, places: Places, known: KnownJoints | None = None) -> None:
        self.job, self.places = job, places
        self.runs = {run.run_id: run for run in job.runs}
        self.ambient = MonthlyAmbient.of(job)
        self.shifts = Shifts.of(job)
        self.options = fusion_options(job.fusion)
        self.demand = machines.Demand.of(job)
        self._sized: list[SizedRun] | None = None
        self._failed: tuple[Problem, ...] = ()
        self._by_shift: dict[tuple[dt.date, ShiftName], dict[str, JointTiming]] = {}
        self._timings: dict[tuple[float, float, float], dict[str, JointTiming]] = {}
        self._cold: dict[float, float] = {}
        self._no_machine: dict[MachineKey, str] = {}
        self._roomy: set[int] = set()
        self._manned: set[BandShare] = set()
        self._in_shifts: dict[tuple[float, float], Job] = {}
        self._of_crew: dict[tuple[int, int], Sizer] = {}
        self._known = known or KnownJoints()
        self._times, self._hand_work = self._known.times(job)
        self.counts = dict(zip(self.runs, self._known.counts(job), strict=True))
        self._fusions, self._machines = self._known.fusions(job.fusion), self._known.choices(job)
        self._geometries = self._known.geometries

    def size_all(self) -> list[SizedRun]:
        """Return every run; raises InputError with one problem for each that cannot be done."""
        if self._failed:
            raise InputError(self._failed)
        if self._sized is not None:
            return self._sized
        sized: list[SizedRun] = []
        problems: list[Problem] = []
        without_machine: dict[str, list[str]] = {}
        for run_id in self.runs:
            try:
                sized.append(self.size(run_id))
            except NoMachineError as error:
                without_machine.setdefault(str(error), []).append(run_id)
            except InputError as error:
                problems += error.problems
        for text, run_ids in without_machine.items():
            where = self.places.where("schedule", run_ids[0], "size")
            problems.append(Problem(where, f"{name_runs(run_ids)}: {text}"))
        if not any(count.has_work for count in self.counts.values()):
            text = "No run has a joint. At least one run needs one"
            problems.append(Problem(SHEET_OF_RUNS, text))
        if problems:
            self._failed = tuple(dict.fromkeys(problems))
            raise InputError(self._failed)
        self._sized = sized
        return sized

    def size(self, run_id: str) -> SizedRun:
        """Return one run with everything known about it, timed at its first possible day."""
        run = self.runs[run_id]
        geometry = self.geometry(run)
        timing = self.timing_on(run_id, run.earliest_start or self.job.dates.start)
        return SizedRun(
            run_id=run_id,
            geometry=geometry,
            counts=self.counts[run_id],
            timing=timing,
            machine=self._machine(run, geometry, timing),
            stick_mass_kg=stick_kg(geometry, run),
        )

    def geometry(self, run: Run) -> PipeGeometry:
        """Return the measures of a run's pipe."""
        return self._geometry(run, run.size, "size")

    def _geometry(self, run: Run, size: str, key: str) -> PipeGeometry:
        pipe = run.od_system, size, run.dr, run.material
        found = self._geometries.get(pipe)
        if found is None:
            with self._faults_at(run, key):
                found = self._geometries[pipe] = pipe_geometry(*pipe)
        return found

    def timing_on(self, run_id: str, date: dt.date, shift: ShiftName = "day") -> JointTiming:
        """Return what a joint of a run takes in a shift, by the ambient of its month."""
        known = self._by_shift.get((date, shift))
        if known is None:
            known = self._by_shift[date, shift] = self._known_on(date, shift)
        timing = known.get(run_id)
        if timing is None:
            month = MONTH_NAMES[date.month - 1]
            hours, ambient_c = self.shifts.inputs_on(date, shift), self.ambient.on(date)
            timing = known[run_id] = self._timing(self.runs[run_id], ambient_c, month, hours)
        return timing

    def _known_on(self, date: dt.date, shift: ShiftName) -> dict[str, JointTiming]:
        """Return the timings by run of all shifts of the same ambient, efficiency and hours."""
        hours = self.shifts.inputs_on(date, shift)
        ambient_c = self.ambient.on(date)
        key = ambient_c, hours.efficiency, hours.shift_hours
        return self._timings.setdefault(key, {})

    def of_crew(self, crew: int, date: dt.date) -> "Sizer":
        """Return the sizer of the job as a crew finds it on a date: itself where it is like all."""
        if not self.job.crew_dates:
            return self
        key = crew, machines_on(self.job, crew, date)
        if key not in self._of_crew:
            job = job_on(self.job, crew, date)
            same = job is self.job
            self._of_crew[key] = self if same else Sizer(job, self.places, self._known)
        return self._of_crew[key]

    def cycle_on(
        self, run_id: str, date: dt.date, shift: ShiftName = "day", crew: int = 1
    ) -> RunCycle:
        """Return the times of a run's joints in a crew's shift of a date."""
        sizer = self.of_crew(crew, date) if self.job.crew_dates else self
        return sizer.timing_on(run_id, date, shift).cycle

    def retime_at_start(self, sized: Sequence[SizedRun], plan: Plan) -> list[SizedRun]:
        """Return the runs timed at the day shift of the date on which the plan begins them."""
        first: dict[str, JointTiming] = {}
        for line in plan.lines:
            if line.run_id not in first:
                sizer = self.of_crew(line.crew, line.date)
                first[line.run_id] = sizer.timing_on(line.run_id, line.date)
        timed = [(run, first.get(run.run_id, run.timing)) for run in sized]
        return [
            run if timing is run.timing else run._replace(timing=timing) for run, timing in timed
        ]

    def notes(self, plan: Plan) -> dict[str, tuple[str, ...]]:
        """Return what the fusion method says of the runs on their days: note and run ids."""
        found: dict[str, dict[str, None]] = {}
        for line in plan.lines:
            sizer = self.of_crew(line.crew, line.date)
            for note in sizer.timing_on(line.run_id, line.date, line.shift).fusion.notes:
                found.setdefault(note, {})[line.run_id] = None
        return {note: tuple(run_ids) for note, run_ids in found.items()}

    def _timing(self, run: Run, ambient_c: float, month: str, shift: ShiftInputs) -> JointTiming:
        job = self._in_shift(shift)
        timing = self._timed(job, run, self.geometry(run), ambient_c, month)
        if run.small_ends:
            small = self._timed(job, run, self.small_end(run), ambient_c, month)
            times = timing.cycle._replace(small_end=small.cycle.fitting)
            timing = timing._replace(cycle=times)
        times = timing.cycle
        if run.small_ends or not self._has_room(times, shift):
            self._must_fit_a_shift(run, times, shift)
        if times.at not in self._manned:
            self._must_have_people(times)
            self._manned.add(times.at)
        return timing

    def _in_shift(self, shift: ShiftInputs) -> Job:
        """Return the job with the hours and the pace of a shift, one for all alike."""
        key = shift.efficiency, shift.shift_hours
        if key not in self._in_shifts:
            self._in_shifts[key] = self.job.model_copy(update={"shift": shift})
        return self._in_shifts[key]

    def small_end(self, run: Run) -> PipeGeometry:
        """Return the measures of the pipe at the small ends of a run, of the same ratio."""
        return self._geometry(run, run.reduce_to or "", "reduce_to")

    def _timed(
        self, job: Job, run: Run, geometry: PipeGeometry, ambient_c: float, month: str
    ) -> JointTiming:
        pipe = geometry.od_mm, geometry.wall_mm, ambient_c
        fusion = self._fusions.get(pipe)
        if fusion is None:
            with self._faults_at(run, "dr", month):
                method = self.job.fusion.method
                fusion = self._fusions[pipe] = fusion_parameters(method, *pipe, self.options)
        cold = self._cold.get(ambient_c)
        if cold is None:
            with self._faults_at(run, "size", month):
                cold = self._cold[ambient_c] = cycle.cold_factor(ambient_c, job.cold_factors)
        key = (
            geometry.od_mm, fusion.soak_s, fusion.cool_s, cold, run.access_factor,
            job.shift.efficiency, job.shift.shift_hours,
        )  # fmt: skip
        times = self._times.get(key)
        if times is None:
            with self._faults_at(run, "size", month):
                times = self._times[key] = cycle.time_run(
                    job, run, geometry.od_mm, fusion, ambient_c, self._hand_work
                )
        return JointTiming(ambient_c, fusion, times)

    @contextmanager
    def _faults_at(self, run: Run, key: str, month: str = "") -> Iterator[None]:
        try:
            yield
        except OutsideStandardError as error:
            if not error.name.startswith("ambient"):
                raise self._fault(run, key, str(error)) from error
            own = self.ambient.is_given(month)
            place = ("weather", month, "ambient_c") if own else ("job", "", "ambient_c")
            raise InputError([Problem(self.places.where(*place), str(error))]) from error
        except EstimatorError as error:
            raise self._fault(run, key, str(error)) from error

    def _fault(self, run: Run, key: str, message: str) -> InputError:
        where = self.places.where("schedule", run.run_id, key)
        return InputError([Problem(where, f"run {run.run_id}: {message}")])

    def _has_room(self, times: RunCycle, shift: ShiftInputs) -> bool:
        """Return whether every kind of work fits a shift at some times, which are kept here."""
        if id(times) not in self._roomy:
            if next(self._misfits(ONE_OF_EACH, times, shift), None) is not None:
                return False
            self._roomy.add(id(times))
        return True

    def _misfits(
        self, count: JointCount, times: RunCycle, shift: ShiftInputs
    ) -> Iterator[tuple[str, float, float, str]]:
        """Yield the work of which one piece does not fit a shift: its minutes, and the room."""
        daily = self.job.counting.test_joint_rule == "each day"
        longest = longest_items(count, times, self.job.counting)
        for what, minutes in longest.items():
            tested = daily and what not in WITHOUT_TEST_JOINT
            room = shift.working_min - (longest[TEST_JOINT] if tested else 0.0)
            if minutes > room:
                yield what, minutes, room, " after the trial fusion" if tested else ""

    def _must_fit_a_shift(self, run: Run, times: RunCycle, shift: ShiftInputs) -> None:
        for what, minutes, room, after in self._misfits(self.counts[run.run_id], times, shift):
            message = (
                f"{what} takes {minutes:.0f} min, but a shift of {shift.shift_hours:g} h "
                f"leaves only {room:.0f} min{after}. Lengthen the shift, shorten startup, or "
                "ease access"
            )
            raise self._fault(run, "size", message)

    def _must_have_people(self, times: RunCycle) -> None:
        crew = self.job.crew
        if sum(role.heads_between(*times.at) for role in crew) <= 0:
            first = crew[0].role if crew else ""
            where = self.places.where("crew", first, f"heads_{times.band.lower()}")
            message = (
                f"Head count, band {times.band}: no one is on the crew. Enter at least one person"
            )
            raise InputError([Problem(where, message)])

    def _machine(self, run: Run, geometry: PipeGeometry, timing: JointTiming) -> MachineChoice:
        fusion, demand = timing.fusion, self.demand
        pipe = geometry.od_mm, geometry.wall_mm, timing.ambient_c
        key = *pipe, run.placement, run.machine, run.fleet_class
        choice = self._machines.get(key) or machines.choose_machine(
            self.job.machines, run, geometry, fusion, demand
        )
        if choice is not None:
            self._machines[key] = choice
            return choice
        if key in self._no_machine:
            raise NoMachineError(self._no_machine[key])
        reasons = [machines.obstacle(m, run, geometry, fusion, demand) for m in self.job.machines]
        if run.machine is not None and None in reasons:
            raise self._unfit(run, reasons)
        text = "; ".join(
            f"{why.class_id}: {describe(why, self.job.cover.unit_system)}" for why in reasons if why
        )
        self._no_machine[key] = f"{NO_MACHINE} ({text}). {ADD_A_CLASS}"
        raise NoMachineError(self._no_machine[key])

    def _unfit(self, run: Run, reasons: Sequence[Rejection | None]) -> InputError:
        """Return the fault of a run whose own class cannot make its joints."""
        pairs = list(zip(self.job.machines, reasons, strict=True))
        fit = ", ".join(machine.class_id for machine, why in pairs if why is None)
        system = self.job.cover.unit_system
        known = {why.class_id: describe(why, system) for why in reasons if why is not None}
        text = known.get(run.machine or "", "no such class")
        message = (
            f"Machine: {run.machine} cannot make these joints ({text}). Use {fit}, or "
            "leave the cell blank"
        )
        return self._fault(run, "machine", message)
