"""Field cards: what a crew reads at the machine, one card for each pipe and machine class."""

from collections.abc import Mapping, Sequence
from dataclasses import replace
from itertools import pairwise

from estimator.data_class import dataclass
from estimator.joint.cooling_by_air import least_cooling_s
from estimator.models.estimate import PricedJob
from estimator.models.job_inputs import FusionInputs
from estimator.models.joint import FusionParameters, PipeGeometry
from estimator.models.site_records import CoolingByAir
from estimator.progress.site_plan import PipeLimits, cooling_of, limits_by_size
from estimator.standards import tables

LADDER_STEPS = 4
NICE = (1.0, 2.0, 2.5, 5.0, 10.0)
DRAG_REACH = 2.0
"""The ladder of drag goes to this multiple of the job's drag allowance, rounded up."""
AIR_STEP_C, MOST_AIRS = 10.0, 4
MEMORY, PRACTICE = "*", "\N{DAGGER}"
MARKS = {"from memory": MEMORY, "assumption": MEMORY, "common practice": PRACTICE}
"""Mark of a figure by how sure it is."""


@dataclass(frozen=True)
class AirCooling:
    """Least cooling in air up to a temperature, or at it where cooling grows inside the band."""

    air_c: float
    cool_s: float
    at: bool = False


@dataclass(frozen=True)
class FieldCard:
    """One card: the pipe, what the method asks, and the gauge at each drag; all in SI.

    ``drags_mpa`` is the ladder, ``base_gauge_mpa`` what stands on the gauge without drag, None
    for a lever; ``most_gauge_mpa`` is the machine's limit.
    """

    label: str
    machine: str
    runs: tuple[str, ...]
    material: str
    geometry: PipeGeometry
    fusion: FusionParameters
    misalignment_max_mm: float
    base_gauge_mpa: float | None
    most_gauge_mpa: float | None
    cooling: tuple[CoolingByAir, ...]
    ambient_c: float
    marks: Mapping[str, str]

    @property
    def airs(self) -> tuple[AirCooling, ...]:
        """What to cool in which air; empty where air changes nothing."""
        if len(self.cooling) < 2:
            return ()
        found = [
            AirCooling(band.to_c, band.high_s) for band in self.cooling if band.low_s == band.high_s
        ]
        for band in self.cooling:
            if band.low_s != band.high_s:
                at = AIR_STEP_C * (band.from_c // AIR_STEP_C + 1)
                while at < band.to_c and len(found) < MOST_AIRS:
                    cool_s = least_cooling_s((band,), at) or band.high_s
                    found.append(AirCooling(at, cool_s, at=True))
                    at += AIR_STEP_C
        return tuple(found)

    @property
    def notes(self) -> tuple[str, ...]:
        """What the method says of this pipe, whatever the air."""
        return lasting_notes(self.fusion)


def lasting_notes(fusion: FusionParameters) -> tuple[str, ...]:
    """Return what a method says of a pipe, whatever the air."""
    asked = tables.find_rows("fusion_notes", method=fusion.method)
    of_air = {str(row["text"]) for row in asked if str(row["quantity"]).startswith("ambient")}
    return tuple(note for note in fusion.notes if note not in of_air)


def field_cards(priced: PricedJob) -> tuple[FieldCard, ...]:
    """Return a card for each pipe (size, ratio, material) and machine class of a job.

    Runs that have no butt joint need none.
    """
    cards: dict[tuple[str, str], FieldCard] = {}
    runs: dict[tuple[str, str], list[str]] = {}
    for run, sized in priced.pairs:
        if not sized.counts.butt_joints:
            continue
        machine = next(m for m in priced.job.machines if m.class_id == sized.machine.class_id)
        for limits in limits_by_size(priced.job, run, sized).values():
            key = limits.name, machine.class_id
            runs.setdefault(key, []).append(run.run_id)
            if key not in cards:
                cards[key] = _card(
                    priced.job.fusion, limits, machine.class_id, machine.max_gauge_mpa, run.material
                )
    return tuple(replace(card, runs=tuple(dict.fromkeys(runs[key]))) for key, card in cards.items())


def _card(
    fusion: FusionInputs, limits: PipeLimits, machine: str, most: float | None, material: str
) -> FieldCard:
    marks = {source.figure: MARKS.get(source.confidence, "") for source in limits.fusion.sources}
    marks["misalignment"] = PRACTICE
    return FieldCard(
        label=limits.label,
        machine=machine,
        runs=(),
        material=material,
        geometry=limits.geometry,
        fusion=limits.fusion,
        misalignment_max_mm=limits.misalignment_max_mm,
        base_gauge_mpa=limits.base_gauge_mpa,
        most_gauge_mpa=most,
        cooling=cooling_of(fusion, limits),
        ambient_c=limits.ambient_c,
        marks=marks,
    )


def drag_ladder(allowance: float) -> tuple[float, ...]:
    """Return the drags of a ladder in the unit of the allowance: from 0 in equal round steps.

    Examples
    --------
    >>> drag_ladder(100.0), drag_ladder(7.0)
    ((0.0, 50.0, 100.0, 150.0, 200.0), (0.0, 5.0, 10.0, 15.0, 20.0))
    """
    least = max(DRAG_REACH * allowance, 1.0) / LADDER_STEPS
    power = 1.0
    while NICE[-1] * power < least:
        power *= 10
    step = next(power * one for one in NICE if power * one >= least)
    return tuple(step * number for number in range(LADDER_STEPS + 1))


def runs_text(runs: Sequence[str], order: Sequence[str]) -> str:
    """Return names of runs, neighbors of the schedule joined: ``R02 to R05, R07``.

    Examples
    --------
    >>> runs_text(["R1", "R2", "R3", "R5"], ["R1", "R2", "R3", "R4", "R5"])
    'R1 to R3, R5'
    """
    places = [order.index(run) for run in runs]
    spans: list[list[int]] = [[places[0]]] if places else []
    for before, place in pairwise(places):
        if place == before + 1:
            spans[-1].append(place)
        else:
            spans.append([place])
    return ", ".join(
        f"{order[span[0]]} to {order[span[-1]]}"
        if len(span) > 2
        else ", ".join(order[place] for place in span)
        for span in spans
    )
