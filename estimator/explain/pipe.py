"""Explained: the schedule row, the pipe, its pieces and joints, and the fusion parameters."""

from collections.abc import Iterator, Sequence
from dataclasses import replace

from estimator.display import FIGURE_LABELS
from estimator.explain.chain import Chain, worked
from estimator.explain.page import record
from estimator.explain.sums import PI, Sum, ceil, nearest, num, total
from estimator.joint.takeoff import connections, count_joints, rework
from estimator.models.explanation import Step
from estimator.standards import tables
from estimator.units import IN_MM, MIN_S, from_si

SAME = 1e-6


def row_steps(chain: Chain) -> Iterator[Step]:
    """Yield what the pipe schedule says of the run."""
    run, length = chain.run, chain.unit("length")
    pipe = f"{run.od_system} {run.size} DR {run.dr:g}, {run.material}"
    yield Step("Pipe", pipe, where=chain.run_cell("size"))
    segments = [chain.num(segment, "length") for segment in run.length]
    yield worked("Length", total(segments), length, where=chain.run_cell("length"))
    stick = chain.num(run.stick_length, "length")
    yield worked("Stick or coil", stick, length, where=chain.run_cell("stick_length"))
    if run.string_length is not None:
        string = chain.num(run.string_length, "length")
        yield worked("Longest string", string, length, where=chain.run_cell("string_length"))
    yield Step("Placement", run.placement, where=chain.run_cell("placement"))
    yield worked("Access factor", num(run.access_factor), where=chain.run_cell("access_factor"))


def pipe_steps(chain: Chain) -> Iterator[Step]:
    """Yield the measures of the pipe, in the unit of its own tables first."""
    geometry = chain.sized.geometry
    system = tables.find_row("od_systems", "od_system", geometry.od_system)
    native = "in" if system["unit"] == "in" or geometry.size.endswith("in") else "mm"
    od, wall = (num(from_si(mm, native)) for mm in (geometry.od_mm, geometry.wall_mm))
    yield replace(worked("Outside diameter", od, native), sources=chain.sources("od_mm"))
    rule = _wall_sum(od, wall, chain.run.dr)
    how = "OD / DR, rounded by its rule" if rule else "as listed; see the source"
    step = worked("Minimum wall", rule or wall, native, how)
    yield replace(step, sources=chain.sources("wall_mm"))
    small = chain.unit("small_length")
    if small != native:
        inch = num(IN_MM)
        od, wall = (x / inch if small == "in" else x * inch for x in (od, wall))
        yield worked("Outside diameter, converted", od, small)
        yield worked("Minimum wall, converted", wall, small)
    od, wall = (chain.num(mm, "small_length") for mm in (geometry.od_mm, geometry.wall_mm))
    area = PI * (od - wall) * wall
    yield worked("Joint area", area, chain.unit("area"), "pi (OD - wall) x wall")
    weight = chain.num(geometry.weight_kg_m, "weight_per_length")
    unit = chain.unit("weight_per_length")
    how = "of the mean wall"
    yield replace(worked("Weight", weight, unit, how), sources=chain.sources("weight_kg_m"))
    stick = weight * chain.num(chain.run.stick_length, "length")
    yield worked("Weight of a stick", stick, chain.unit("mass"), "weight x stick length")


def _wall_sum(od: Sum, wall: Sum, dr: float) -> Sum | None:
    """Return the rounding rule that gives this wall, None where the wall is listed otherwise."""
    steps = {
        item: num(float(str(tables.find_row("wall_rules", "item", item)["value"])))
        for item in ("inch_wall_step", "metric_wall_step")
    }
    series = tables.find_rows("metric_series", sdr=dr)
    ratio = num(dr)
    inch, metric = steps["inch_wall_step"], steps["metric_wall_step"]
    candidates = [nearest(od / ratio / inch) * inch, ceil(od / ratio / metric) * metric]
    if series:
        exact = num(2) * num(tables.number(series[0], "s_exact")) + num(1)
        candidates.insert(1, ceil(od / exact / metric) * metric)
    return next((sum_ for sum_ in candidates if abs(sum_.value - wall.value) < SAME), None)


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
    fusion = chain.sized.fusion
    yield Step("Method", fusion.method, where=chain.fact_cell("method"))
    ambient = chain.num(chain.sized.timing.ambient_c, "temperature")
    how = "in the month in which the run begins"
    yield worked("Ambient", ambient, chain.unit("temperature"), how)
    for figure, values, unit in _figures(chain):
        step = worked(FIGURE_LABELS[figure], values[0], unit)
        if len(values) > 1:
            shown = " to ".join(value.text for value in values)
            step = replace(step, value=shown)
        yield replace(step, sources=chain.sources(figure))
    nominal = chain.num(fusion.interfacial_mpa[1], "pressure")
    area = chain.num(chain.sized.geometry.joint_area_mm2, "area")
    force = chain.num(chain.sized.machine.force_n, "force")
    scale = num(force.value / (area.value * nominal.value))
    pressed = area * nominal if abs(scale.value - 1) < SAME else area * nominal * scale
    yield worked("Force on the ends", pressed, chain.unit("force"), "area x nominal pressure")
    machine = next(m for m in chain.job.machines if m.class_id == chain.sized.machine.class_id)
    if machine.piston_area is not None:
        piston = chain.num(machine.piston_area, "area")
        drag = chain.num(chain.job.fusion.drag, "pressure")
        gauge = area * nominal / piston + drag
        how = f"area x nominal pressure / piston area of {machine.class_id} + drag"
        yield worked("Gauge pressure", gauge, chain.unit("pressure"), how)


def _figures(chain: Chain) -> Iterator[tuple[str, Sequence[Sum], str]]:
    fusion = chain.sized.fusion
    heater = [chain.num(c, "temperature") for c in fusion.heater_c]
    yield "heater_c", heater, chain.unit("temperature")
    pressures = (fusion.interfacial_mpa[0], fusion.interfacial_mpa[2])
    yield "interfacial_mpa", [chain.num(p, "pressure") for p in pressures], chain.unit("pressure")
    bead = chain.num(fusion.bead_min_mm, "small_length")
    yield "bead_min_mm", [bead], chain.unit("small_length")
    yield "soak_s", [num(fusion.soak_s / MIN_S)], "min"
    if fusion.open_close_max_s is not None:
        yield "open_close_max_s", [num(fusion.open_close_max_s)], "s"
    if fusion.ramp_max_s is not None:
        yield "ramp_max_s", [num(fusion.ramp_max_s)], "s"
    yield "cool_s", [num(fusion.cool_s / MIN_S)], "min"
    if fusion.rest_s is not None:
        yield "rest_s", [num(fusion.rest_s / MIN_S)], "min"
