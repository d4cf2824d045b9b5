"""What the joints made so far say about the pace of the crew, size by size.

Only crew-paced time learns; heat soak and cooling under pressure never do. An observation is one
shift of one crew on one size: its crew-paced time as a multiple of the planned one. Its logarithm
is a Student t value with four degrees of freedom around the pace of the size, so that one wild
day moves little; the pace of a size is normal around the pace of the job, and that around the
middle of the productivity range. All of it has a closed form, printed as
``weight x observed + (1 - weight) x job``.
"""

import math
from collections.abc import Mapping, Sequence

from estimator.data_class import dataclass
from estimator.steps.marks import exp, ln
from estimator.steps.recorder import step

T_FREEDOM = 4.0
ROUNDS = 12


def weighed(weight: float, own: float, job: float) -> float:
    """Return what lies between the figures of a size and of the job, by the weight of the size."""
    return weight * own + (1 - weight) * job


@step("Pace learned", "own pace to the power of its weight x that of the job to the rest")
def pace_learned(weight: float, own: float, job: float) -> float:
    """Return the pace of a size from paces of its own and of the job, as multiples of the plan."""
    return exp(weighed(weight, ln(own), ln(job)))


@dataclass(frozen=True)
class Prior:
    """What is believed of the pace before the first joint; all of it our assumption.

    ``pace`` is the middle of the productivity range (1 as planned); ``job_sd`` and ``size_sd``
    are standard deviations of logarithms, of the job around it and of a size around the job;
    ``shift_sd`` that of one shift around its size, worth ``shift_weight`` shifts.
    """

    pace: float = 1.0
    job_sd: float = 0.30
    size_sd: float = 0.08
    shift_sd: float = 0.12
    shift_weight: float = 8.0


@dataclass(frozen=True)
class Observation:
    """Crew-paced time of one shift on one size over the planned one; 1 is as planned."""

    size: str
    factor: float


@dataclass(frozen=True)
class SizePace:
    """Learned pace of one size: logarithms, and the weight that its own shifts have.

    ``observed`` is the robust mean of its shifts; without any, the pace of the job stands.
    """

    shifts: int
    observed: float
    weight: float
    mean: float
    sd: float

    @property
    def factor(self) -> float:
        """Median multiple of the planned crew-paced time."""
        return math.exp(self.mean)


@dataclass(frozen=True)
class Learned:
    """Pace of the job and of every size, and the spread of a shift, as logarithms."""

    job_mean: float
    job_sd: float
    size_sd: float
    shift_sd: float
    freedom: float
    sizes: Mapping[str, SizePace]

    def size(self, name: str) -> SizePace:
        """Return the pace of a size; one not yet begun borrows that of the job."""
        if name in self.sizes:
            return self.sizes[name]
        sd = math.hypot(self.job_sd, self.size_sd)
        return SizePace(0, self.job_mean, 0.0, self.job_mean, sd)


def factor_from_times(worked_min: float, machine_min: float, planned_crew_min: float) -> float:
    """Return the pace of a shift whose joints were timed.

    Parameters
    ----------
    worked_min : float
        Minutes at joints, from the joint log.
    machine_min : float
        Heat soak and cooling of the joints made, as planned.
    planned_crew_min : float
        Crew-paced minutes of the joints made, as planned.

    Raises
    ------
    ValueError
        Where nothing crew-paced was planned, or no time is left for it.
    """
    crew_min = worked_min - machine_min
    if planned_crew_min <= 0 or crew_min <= 0:
        raise ValueError("a shift without crew-paced time says nothing about the pace")
    return crew_min / planned_crew_min


def factor_from_count(
    available_min: float, joints: int, machine_min: float, planned_crew_min: float
) -> float | None:
    """Return the pace of a shift of which only the number of joints is known.

    A shift that ends inside a joint has made ``n`` of ``n + 1/2`` joints on average: the count
    alone would make every crew look slow.

    Parameters
    ----------
    available_min : float
        Minutes for joints in the shift.
    joints : int
        Joints made.
    machine_min, planned_crew_min : float
        Planned minutes of one joint.

    Returns
    -------
    float or None
        None where the count leaves no crew-paced time: it says only that the crew was fast.
    """
    crew_min = available_min / (joints + 0.5) - machine_min
    return crew_min / planned_crew_min if crew_min > 0 and planned_crew_min > 0 else None


def learn(observations: Sequence[Observation], prior: Prior) -> Learned:
    """Return the pace of the job and of each size after some shifts.

    Every round weighs each shift by ``5 / (4 + r^2)``, r its distance from its size in standard
    deviations (the expectation step of a t distribution with four degrees of freedom), and then
    takes the normal model in closed form.

    Raises
    ------
    ValueError
        Where a factor is not positive.
    """
    if any(not seen.factor > 0 for seen in observations):
        raise ValueError("a pace must be above 0")
    groups: dict[str, list[float]] = {}
    for seen in observations:
        groups.setdefault(seen.size, []).append(math.log(seen.factor))
    weights = {size: [1.0] * len(logs) for size, logs in groups.items()}
    variance = prior.shift_sd**2
    learned = _normal(groups, weights, variance, prior)
    for _ in range(ROUNDS):
        squares = {
            size: [(value - learned.sizes[size].mean) ** 2 for value in logs]
            for size, logs in groups.items()
        }
        weights = {
            size: [(T_FREEDOM + 1) / (T_FREEDOM + square / variance) for square in values]
            for size, values in squares.items()
        }
        variance = _variance(squares, weights, prior)
        learned = _normal(groups, weights, variance, prior)
    return learned


def _variance(
    squares: Mapping[str, Sequence[float]], weights: Mapping[str, Sequence[float]], prior: Prior
) -> float:
    """Return the variance of a shift: of those seen, and of some as believed beforehand."""
    spread = sum(
        weight * square
        for size, values in squares.items()
        for weight, square in zip(weights[size], values, strict=True)
    )
    shifts = sum(len(values) for values in squares.values())
    return (prior.shift_weight * prior.shift_sd**2 + spread) / (prior.shift_weight + shifts)


def _normal(
    groups: Mapping[str, Sequence[float]],
    weights: Mapping[str, Sequence[float]],
    variance: float,
    prior: Prior,
) -> Learned:
    """Return the posterior of job and sizes at a known variance of a shift."""
    between = prior.size_sd**2
    shifts = {size: sum(values) for size, values in weights.items()}
    observed = {
        size: sum(w * x for w, x in zip(weights[size], logs, strict=True)) / shifts[size]
        for size, logs in groups.items()
    }
    precision = 1 / prior.job_sd**2
    pull = math.log(prior.pace) * precision
    for size, mean in observed.items():
        precision += 1 / (between + variance / shifts[size])
        pull += mean / (between + variance / shifts[size])
    job, job_variance = pull / precision, 1 / precision
    sizes = {}
    for size, mean in observed.items():
        weight = shifts[size] / (shifts[size] + variance / between) if between else 0.0
        own = between * (1 - weight)
        sizes[size] = SizePace(
            shifts=len(groups[size]),
            observed=mean,
            weight=weight,
            mean=weighed(weight, mean, job),
            sd=math.sqrt(own + (1 - weight) ** 2 * job_variance),
        )
    count = sum(len(logs) for logs in groups.values())
    return Learned(
        job_mean=job,
        job_sd=math.sqrt(job_variance),
        size_sd=prior.size_sd,
        shift_sd=math.sqrt(variance),
        freedom=prior.shift_weight + count,
        sizes=sizes,
    )
