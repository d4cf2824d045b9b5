"""What is known of each run before any planning: measures, joints, times, machine."""

from collections.abc import Iterator
from contextlib import contextmanager

from estimator import counting, cycle, machines
from estimator.display import describe
from estimator.errors import EstimatorError, InputError, OutsideStandardError, Problem
from estimator.fusion import fusion_parameters
from estimator.geometry import pipe_geometry
from estimator.models.job import Job, Run
from estimator.models.joint import FusionParameters, PipeGeometry
from estimator.models.places import Places
from estimator.models.plan import JointCount, MachineChoice, RunCycle, SizedRun

SHEET_OF_RUNS = "Pipe schedule"


def size_runs(job: Job, places: Places) -> list[SizedRun]:
    """Return every run with geometry, joint count, fusion parameters, times and machine.

    Raises
    ------
    InputError
        With one problem for every run that cannot be done; all runs are tried.
    """
    counts = counting.count_job(job.runs, job.facts)
    sized: list[SizedRun] = []
    problems: list[Problem] = []
    for run, count in zip(job.runs, counts, strict=True):
        try:
            sized.append(RunSizer(job, run, places).size(count))
        except InputError as error:
            problems += error.problems
    if not any(count.has_work for count in counts):
        problems.append(Problem(SHEET_OF_RUNS, "got runs without any joint, allowed one or more"))
    if problems:
        raise InputError(tuple(dict.fromkeys(problems)))
    return sized


class RunSizer:
    """Takes one run through the stages that need no other run; names the cell of any fault."""

    def __init__(self, job: Job, run: Run, places: Places) -> None:
        self.job, self.run, self.places = job, run, places

    def size(self, count: JointCount) -> SizedRun:
        """Return the run with everything known about it."""
        job, run = self.job, self.run
        with self._faults_at("size"):
            geometry = pipe_geometry(run.od_system, run.size, run.dr, run.material)
        with self._faults_at("dr"):
            fusion = fusion_parameters(
                job.facts.method, geometry.od_mm, geometry.wall_mm, job.facts.ambient
            )
        with self._faults_at("size"):
            times = cycle.time_run(job, run, geometry.od_mm, fusion)
        self._must_fit_a_shift(count, times)
        return SizedRun(
            run_id=run.run_id,
            geometry=geometry,
            count=count,
            fusion=fusion,
            cycle=times,
            machine=self._machine(geometry, fusion),
            stick_mass_kg=geometry.weight_kg_m * run.stick_length,
        )

    @contextmanager
    def _faults_at(self, key: str) -> Iterator[None]:
        try:
            yield
        except OutsideStandardError as error:
            if not error.name.startswith("ambient"):
                raise self._fault(key, str(error)) from error
            where = self.places.where("job", "", "ambient")
            raise InputError([Problem(where, str(error))]) from error
        except EstimatorError as error:
            raise self._fault(key, str(error)) from error

    def _fault(self, key: str, message: str) -> InputError:
        where = self.places.where("schedule", self.run.run_id, key)
        return InputError([Problem(where, f"run {self.run.run_id}: {message}")])

    def _must_fit_a_shift(self, count: JointCount, times: RunCycle) -> None:
        facts = self.job.facts
        test = times.plain.cycle_min + facts.test_joint_extra_min
        longest = {
            "a joint": times.plain.cycle_min,
            "a fitting joint": times.fitting.cycle_min if count.fitting_joints else 0.0,
            "a tie-in joint": times.tie_in.cycle_min if count.tie_in_joints else 0.0,
            "an electrofusion closure": times.ef_closure_min if count.ef_closures else 0.0,
            "a bolt-up": times.bolt_up_min if count.bolt_ups else 0.0,
            "a branch saddle": times.saddle_min if count.saddles else 0.0,
            "a test joint": 0.0 if facts.test_joint_rule == "none" else test,
        }
        before = test if facts.test_joint_rule == "each day" else 0.0
        for what, minutes in longest.items():
            room = facts.working_min - (0.0 if what == "a test joint" else before)
            if minutes > room:
                message = (
                    f"got {what} of {minutes:.0f} min, allowed {room:.0f} min or less: "
                    "what is left of the shift on the Job sheet"
                )
                raise self._fault("size", message)

    def _machine(self, geometry: PipeGeometry, fusion: FusionParameters) -> MachineChoice:
        choice = machines.choose_machine(
            self.job.machines, self.run, geometry, fusion, self.job.facts
        )
        if choice is not None:
            return choice
        reasons = [
            machines.obstacle(m, self.run, geometry, fusion, self.job.facts)
            for m in self.job.machines
        ]
        told = "; ".join(
            f"{why.class_id}: {describe(why, self.job.facts.unit_system)}" for why in reasons if why
        )
        raise self._fault("size", f"got no machine class that can make the joint ({told})")
