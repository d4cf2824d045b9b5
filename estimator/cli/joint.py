"""``estimator joint``: the parameters of one joint, with the source of each figure."""

import argparse
import math
import re
import sys
from collections.abc import Callable, Mapping, Sequence
from dataclasses import asdict
from functools import partial
from typing import Any, get_args

from estimator.cli.json_option import add_json_instead, deliver_json, refuse_json_over
from estimator.data_class import dataclass
from estimator.display import FIGURE_LABELS
from estimator.errors import EstimatorError, InputError, Problem
from estimator.export.joint_as_json import gauge_range, joint_json
from estimator.inputs.dictionary import fields
from estimator.joint.fusion import Method, fusion_parameters
from estimator.joint.geometry import parse_dr, pipe_geometry
from estimator.joint.soak_check import check_joint
from estimator.models.joint import FusionOptions, RemovalPlace
from estimator.standards.pipe_names import pipe_label
from estimator.units import UNITS, from_si, parse_temperature, to_si

QUANTITY = re.compile(r"\s*(\d+(?:\.\d*)?|\.\d+)\s*([A-Za-z][A-Za-z0-9/]*)\s*")
SYSTEMS = ("IPS", "DIPS", "CTS", "ISO", "OD", "CUSTOM")
METHODS = tuple(method.value for method in Method)


@dataclass(frozen=True)
class OwnFigure:
    """One own figure: option, field of ``FusionOptions``, and its like on the Job sheet."""

    option: str
    field: str
    like: str
    held_unit: str
    example: str

    def parse(self, text: str | None) -> float | None:
        """Return the figure in SI; its limits are those of its like on the Job sheet."""
        value = _quantity(text, UNITS[self.held_unit].kind)
        if value is None:
            return None
        like = next(field for field in fields("job") if field.key == self.like)
        low, high = like.minimum or 0.0, like.maximum or math.inf
        if not low <= from_si(value, self.held_unit) <= high:
            message = (
                f"{text!r} is outside the allowed range ({low:g} to {high:g} {self.held_unit})"
            )
            raise EstimatorError(message)
        return value


OWN_FIGURES = (
    OwnFigure("--own-soak", "soak_s_per_mm", "own_soak_s_mm", "s/mm", "4.5min/in or 10s/mm"),
    OwnFigure("--own-cooling", "cool_s_per_mm", "own_cooling_s_mm", "s/mm", "11min/in or 26s/mm"),
    OwnFigure("--own-rest", "rest_s", "own_rest_min", "min", "20min"),
    OwnFigure(
        "--own-pressure", "interfacial_mpa", "own_interfacial_mpa", "MPa", "75psi or 0.52MPa"
    ),
)


def add_options(parser: argparse.ArgumentParser) -> None:
    """Add the options of ``estimator joint``."""
    parser.add_argument(
        "--od-system", required=True, type=str.upper, choices=SYSTEMS, metavar="SYSTEM",
        help=f"{', '.join(SYSTEMS)}",
    )  # fmt: skip
    parser.add_argument(
        "--size",
        required=True,
        help="nominal size as listed: 8, 1-1/4, 110; for OD: 335mm, 13.2in",
    )
    parser.add_argument("--dr", required=True, help="outside diameter / wall: 11, SDR 17")
    parser.add_argument(
        "--method", default="f2620", type=str.lower, choices=METHODS, metavar="METHOD",
        help=f"{', '.join(METHODS)} (default: f2620)",
    )  # fmt: skip
    parser.add_argument("--ambient", default="20C", help="70F or 20C (default: 20C)")
    parser.add_argument("--material", help="PE4710, PE3608, PE2708, PE100 or PE80")
    parser.add_argument(
        "--piston-area", help="machine piston area for gauge pressure: 8in2 or 5000mm2"
    )
    parser.add_argument("--drag", default="0psi", help="drag pressure: 30psi or 2bar")
    _add_own_figures(parser)
    add_json_instead(parser)
    parser.set_defaults(run=run_joint)


def _add_own_figures(parser: argparse.ArgumentParser) -> None:
    parser.add_argument(
        "--removal-place", choices=get_args(RemovalPlace), default="field",
        help="F2620 heater removal time (default: field)",
    )  # fmt: skip
    parser.add_argument(
        "--beyond-wall-limit", action="store_true", help="ISO 21307: walls over 70 mm, too"
    )
    for own in OWN_FIGURES:
        help_text = f"override for the method's figure, {own.example}"
        parser.add_argument(own.option, dest=own.field, metavar="VALUE", help=help_text)


def run_joint(options: argparse.Namespace) -> int:
    """Print one joint's parameters."""
    refuse_json_over(options.json)
    asked = _parse(
        {
            "--dr": lambda: parse_dr(options.dr),
            "--ambient": lambda: parse_temperature(options.ambient),
            "--piston-area": lambda: _quantity(options.piston_area, "area"),
            "--drag": lambda: _quantity(options.drag, "pressure"),
            **{own.option: partial(own.parse, getattr(options, own.field)) for own in OWN_FIGURES},
        }
    )
    geometry = pipe_geometry(options.od_system, options.size, asked["--dr"], _material(options))
    choices = FusionOptions(
        removal_place=options.removal_place,
        beyond_wall_limit=options.beyond_wall_limit,
        given_in="the command",
        **{own.field: asked[own.option] for own in OWN_FIGURES},
    )
    fusion = fusion_parameters(
        options.method, geometry.od_mm, geometry.wall_mm, asked["--ambient"], choices
    )
    gauge = gauge_range(geometry, fusion, asked["--piston-area"], asked["--drag"])
    found = joint_json(geometry, fusion, gauge)
    found["thermal"] = asdict(check_joint(geometry, fusion, asked["--ambient"]))
    if options.json is not None:
        deliver_json(options.json, found)
    else:
        sys.stdout.write(as_text(found, metric_first=_is_metric(options)))
    return 0


def _is_metric(options: argparse.Namespace) -> bool:
    """Say whether the pipe is of a system, or a size, in millimeters."""
    return options.od_system == "ISO" or str(options.size).lower().endswith("mm")


def _material(options: argparse.Namespace) -> str:
    return str(options.material or ("PE100" if _is_metric(options) else "PE4710")).upper()


def _parse(asked: Mapping[str, Callable[[], Any]]) -> dict[str, Any]:
    """Work out every option; all that are wrong are reported at once."""
    values: dict[str, Any] = {}
    problems = []
    for option, work_out in asked.items():
        try:
            values[option] = work_out()
        except EstimatorError as error:
            problems.append(Problem(option, str(error)))
    if problems:
        raise InputError(problems)
    return values


def _quantity(text: str | None, kind: str) -> float | None:
    if text is None:
        return None
    match = QUANTITY.fullmatch(text)
    allowed = [label for label, unit in UNITS.items() if unit.kind == kind]
    if match is None or match[2] not in allowed:
        message = f"{text!r} needs a number and a unit. Use one of: {', '.join(allowed)}"
        raise EstimatorError(message)
    return to_si(float(match[1]), match[2])


@dataclass(frozen=True)
class Shown:
    """One line of the answer: figure, its unit and decimals in metric and in inches."""

    key: str
    metric: tuple[str, int]
    inch: tuple[str, int] | None = None

    def text(self, value: float | Sequence[float], *, metric_first: bool) -> str:
        """Return a figure, or the ends of a range, in both unit systems."""
        first, second = (self.metric, self.inch) if metric_first else (self.inch, self.metric)
        both = [_in_unit(value, *unit) for unit in (first, second) if unit is not None]
        return both[0] if len(both) == 1 else f"{both[0]}  ({both[1]})"


LINES = (
    Shown("od_mm", ("mm", 2), ("in", 3)),
    Shown("wall_mm", ("mm", 2), ("in", 3)),
    Shown("id_mm", ("mm", 1), ("in", 3)),
    Shown("weight_kg_m", ("kg/m", 3), ("lb/ft", 3)),
    Shown("joint_area_mm2", ("mm2", 0), ("in2", 3)),
    Shown("heater_c", ("C", 0), ("F", 0)),
    Shown("interfacial_mpa", ("MPa", 2), ("psi", 0)),
    Shown("bead_min_mm", ("mm", 1), ("in", 3)),
    Shown("soak_s", ("s", 0), ("min", 2)),
    Shown("open_close_max_s", ("s", 0)),
    Shown("ramp_max_s", ("s", 0)),
    Shown("cool_s", ("s", 0), ("min", 2)),
    Shown("rest_s", ("min", 0)),
    Shown("force_n", ("kN", 2), ("lbf", 0)),
    Shown("force_range_n", ("kN", 2), ("lbf", 0)),
    Shown("gauge_mpa", ("MPa", 3), ("psi", 1)),
    Shown("gauge_range_mpa", ("MPa", 2), ("psi", 0)),
)


LABEL = max(len(FIGURE_LABELS[line.key]) for line in LINES) + 2


def _in_unit(value: float | Sequence[float], unit: str, decimals: int) -> str:
    ends = (value[0], value[-1]) if isinstance(value, Sequence) else (value,)
    return f"{' to '.join(f'{from_si(end, unit):.{decimals}f}' for end in ends)} {unit}"


def as_text(joint: dict[str, Any], *, metric_first: bool) -> str:
    """Return a joint as lines: figure, value in both unit systems, how sure, and source."""
    sources = {source["figure"]: source for source in joint["sources"]}
    pipe = pipe_label(joint["od_system"], joint["size"], joint["dr"])
    head = f"{pipe}, method {joint['method']}"
    rows = []
    for line in LINES:
        key, value = line.key, joint[line.key]
        source = sources.get(key)
        message = f"[{source['confidence']}] {source['text']}" if source else "[computed]"
        if value is None:
            message = "needs --piston-area" if "gauge" in key else "none given by the method"
        shown = "-" if value is None else line.text(value, metric_first=metric_first)
        rows.append((FIGURE_LABELS[key], shown, message))
    broad = max(len(shown) for _, shown, _ in rows) + 2
    lines = [
        head,
        "",
        *(f"{label:{LABEL}}{shown:{broad}}{message}" for label, shown, message in rows),
    ]
    lines += ["", *(f"Note: {note}" for note in joint["notes"])]
    lines += [f"Thermal check: {joint['thermal']['text']}.", joint["caution"]]
    lines.append("Planning figures only. The machine's own chart and the procedure govern.")
    return "\n".join(lines) + "\n"
