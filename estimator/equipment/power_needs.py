"""What machines of each class ask of a generator: by their hardest joint and their dates."""

import datetime as dt
from collections.abc import Mapping, Sequence

from estimator.joint.soak_check import heater_duty_kw, joint_energy_kj
from estimator.models.job import Job
from estimator.models.plan import Plan
from estimator.models.power import PowerNeed
from estimator.models.sized_run import SizedRun
from estimator.power.machine_power import power_need
from estimator.working_time.ambient import MonthlyAmbient


class PowerNeeds:
    """Power needs of the machine classes that a plan uses.

    Parameters
    ----------
    job : Job
        The job.
    sized : sequence of SizedRun
        Every run of it.
    plan : Plan
        The days on which the runs are joined.
    """

    def __init__(self, job: Job, sized: Sequence[SizedRun], plan: Plan) -> None:
        self.job, self.plan = job, plan
        self.sized = {run.run_id: run for run in sized}
        self.machines = {machine.class_id: machine for machine in job.machines}
        self.ambient = MonthlyAmbient.of(job)
        self.worked: dict[str, set[dt.date]] = {}
        """Dates on which each class works."""
        self.hardest = self._hardest()

    def _hardest(self) -> Mapping[str, SizedRun]:
        """Return the run with the largest joint of each class."""
        hardest: dict[str, SizedRun] = {}
        for line in self.plan.lines:
            run = self.sized[line.run_id]
            class_id = run.machine.class_id
            known = hardest.setdefault(class_id, run)
            if run.geometry.joint_area_mm2 > known.geometry.joint_area_mm2:
                hardest[class_id] = run
            self.worked.setdefault(class_id, set()).add(line.date)
        return hardest

    def of(self, class_id: str) -> PowerNeed:
        """Return the need of a class, in the hottest and the coldest month that it works."""
        hardest = self.hardest[class_id]
        heater_c = sum(hardest.fusion.heater_c) / 2
        energy_kj = joint_energy_kj(
            hardest.geometry.joint_area_mm2,
            heater_c,
            hardest.timing.ambient_c,
            hardest.fusion.soak_s,
        )
        joint_kw = heater_duty_kw(energy_kj, hardest.cycle.plain.cycle_min)
        coldest_c, hottest_c = self.ambient.range_over(self.worked[class_id])
        hot = self.job.changed(ambient_c=hottest_c)
        return power_need(self.machines[class_id], hot, heater_c, joint_kw, coldest_c)

    def all(self) -> dict[str, PowerNeed]:
        """Return the need of each class."""
        return {class_id: self.of(class_id) for class_id in self.hardest}
