"""Explained: the schedule row, the pipe, its pieces and joints, and the fusion parameters."""

import math
from collections.abc import Iterator, Mapping

from estimator.display import FIGURE_LABELS, METHOD_NAMES
from estimator.explain.chain import Chain
from estimator.explain.page import record, si_value
from estimator.joint.fusion import ask_method, fusion_force_n, fusion_options, piston_mpa
from estimator.joint.geometry import measure
from estimator.joint.methods.f2620 import minutes_by_inch, wall_in_inches
from estimator.joint.sizing import stick_kg
from estimator.joint.takeoff import connections, count_joints, rework
from estimator.models.explanation import Step
from estimator.standards.pipe_names import pipe_label
from estimator.steps.recorder import Recorded

WALL_RULES = ("wall_by_inch_rule", "wall_by_metric_rule", "wall_by_ratio")
"""Steps of which one gives the minimum wall, in the unit of its own tables."""
RANGES = {"heater_c": "temperature", "interfacial_mpa": "pressure"}
FIGURES = {
    "bead_min_mm": "small_length",
    "soak_s": "time",
    "open_close_max_s": "s",
    "ramp_max_s": "s",
    "cool_s": "time",
    "rest_s": "time",
}
"""Figures of a fusion method in the order of the page, with kind or unit."""


def row_steps(chain: Chain) -> Iterator[Step]:
    """Yield what the pipe schedule says of the run."""
    run, page = chain.run, chain.page
    pipe = pipe_label(run.od_system, run.size, run.dr)
    yield Step("Pipe", run.material, how=pipe, where=chain.run_cell("size"))
    how = f"{len(run.segments_m)} segments" if len(run.segments_m) > 1 else ""
    yield page.given("Length", run.length_m, "length", how, chain.run_cell("segments_m"))
    yield page.given(
        "Stick or coil", run.stick_length_m, "length", where=chain.run_cell("stick_length_m")
    )
    if run.string_length_m is not None:
        where = chain.run_cell("string_length_m")
        yield page.given("String length", run.string_length_m, "length", where=where)
    yield Step("Placement", run.placement, where=chain.run_cell("placement"))
    yield page.given("Access factor", run.access_factor, "", where=chain.run_cell("access_factor"))


def pipe_steps(chain: Chain) -> Iterator[Step]:
    """Yield the measures of the pipe, in the unit of its own tables first."""
    run, page, geometry = chain.run, chain.page, chain.sized.geometry
    made = record(lambda: measure(run.od_system, run.size, run.dr, run.material))
    steps = {found.key: found for found in made}
    rule = next(steps[key] for key in WALL_RULES if key in steps)
    native, small = rule.kind, chain.unit("small_length")
    yield page.given("Outside diameter", geometry.od_mm, native, sources=chain.sources("od_mm"))
    if "series_ratio" in steps:
        yield page.show(steps["series_ratio"])
    if math.isclose(si_value(rule), geometry.wall_mm):
        yield page.show(rule, sources=chain.sources("wall_mm"))
    else:
        how, sources = "as listed in the source", chain.sources("wall_mm")
        yield page.given("Minimum wall", geometry.wall_mm, native, how, sources=sources)
    if small != native:
        yield page.given("Outside diameter, converted", geometry.od_mm, small)
        yield page.given("Minimum wall, converted", geometry.wall_mm, small)
    mean = steps.get("mean_by_factor") or steps["mean_by_tolerance"]
    yield page.show(mean, sources=chain.sources("mean_wall_mm"))
    yield page.show(steps["inside_mm"])
    yield page.show(steps["pipe_kg_m"], sources=chain.sources("weight_kg_m"))
    yield page.show(steps["face_mm2"])
    for found in record(lambda: stick_kg(geometry, run)):
        yield page.show(found, sources=())


def joint_steps(chain: Chain) -> Iterator[Step]:
    """Yield pieces and joints: sticks, fittings one kind after the other, strings, tie-ins."""
    counting, before = chain.job.counting, chain.context.joints_before[chain.run.run_id]
    counts = chain.sized.counts
    made = record(lambda: count_joints(chain.run, counting.fitting_rule))
    others = [found for found in made if found.key == connections.key]
    again = record(lambda: rework(before, counts.butt_joints, counting))
    for found in (*(found for found in made if found not in others), *again):
        yield chain.page.show(found)
    for found in others:
        if found.value:
            yield chain.page.show(found)


def fusion_steps(chain: Chain) -> Iterator[Step]:
    """Yield what the fusion method asks of the joint, each figure with its source."""
    fusion, page, timing = chain.sized.fusion, chain.page, chain.sized.timing
    method, _, variant = METHOD_NAMES[fusion.method].partition(", ")
    yield Step("Method", method, how=variant, where=chain.fact_cell("method"))
    how = "in the month the run starts"
    yield page.given("Ambient", timing.ambient_c, "temperature", how)
    for figure, kind in RANGES.items():
        low, *nominal, high = getattr(fusion, figure)
        shown = (page.text(page.given("", value, kind).value) for value in nominal)
        how = ", ".join(f"nominal {value}" for value in shown)
        text, name = page.range_text(low, high, chain.unit(kind)), FIGURE_LABELS[figure]
        yield Step(name, text, chain.unit(kind), how=how, sources=chain.sources(figure))
    steps = _by_figure(chain)
    by_inch = any(found.key == minutes_by_inch.key for found in steps.values())
    if by_inch and chain.unit("small_length") == "mm":
        yield from map(page.show, record(lambda: wall_in_inches(chain.sized.geometry.wall_mm)))
    for figure, kind in FIGURES.items():
        yield from _figure_steps(chain, figure, kind, steps.get(figure))
    yield from _force_steps(chain)


def _by_figure(chain: Chain) -> Mapping[str, Recorded]:
    """Return the steps by the figure that each gave; a figure of the user's own comes last."""
    geometry, fusion = chain.sized.geometry, chain.sized.fusion
    pipe = geometry.od_mm, geometry.wall_mm, chain.sized.timing.ambient_c
    options = fusion_options(chain.job.fusion)
    made = record(lambda: ask_method(fusion.method, *pipe, options))
    return {found.given["figure"]: found for found in made}


def _figure_steps(
    chain: Chain, figure: str, kind: str, recorded: Recorded | None
) -> Iterator[Step]:
    """Yield a figure with the rule that gave it, or as listed; in the user's unit at last."""
    value: float | None = getattr(chain.sized.fusion, figure)
    if value is None:
        return
    page, name, sources = chain.page, FIGURE_LABELS[figure], chain.sources(figure)
    by_rule = recorded is not None and math.isclose(si_value(recorded), value)
    if recorded is not None and by_rule:
        yield page.show(recorded, name, sources=sources)
    listed = page.given(name, value, kind, sources=() if by_rule else sources)
    if recorded is None or not by_rule:
        yield listed
    elif kind == "small_length" and listed.unit != recorded.kind:
        yield page.given(f"{name}, converted", value, kind)


def _force_steps(chain: Chain) -> Iterator[Step]:
    """Yield force and gauge pressure at the nominal pressure of the method."""
    nominal, area = chain.sized.fusion.interfacial_mpa[1], chain.sized.geometry.joint_area_mm2
    how = "area x nominal interfacial pressure"
    for found in record(lambda: fusion_force_n(area, nominal)):
        yield chain.page.show(found, how=how)
    machine = next(m for m in chain.job.machines if m.class_id == chain.sized.machine.class_id)
    piston, drag = machine.piston_area_mm2, chain.job.fusion.drag_mpa
    if piston is not None:
        how = f"area x nominal pressure / piston area of {machine.class_id} + drag"
        for found in record(lambda: piston_mpa(area, nominal, piston, drag)):
            yield chain.page.show(found, how=how)
