"""Generated pages on pipe: diameters, walls and weights by system, and figures left unused."""

from collections.abc import Callable, Iterator
from dataclasses import dataclass

from estimator.errors import OutsideStandardError
from estimator.joint.geometry import list_sizes, pipe_geometry, pipe_od_mm
from estimator.models.joint import PipeGeometry
from estimator.standards import tables
from estimator.units import from_si
from workbook_template.markdown import GENERATED, table_lines

MATERIAL = "PE100"
TITLES = {
    "IPS": "IPS, iron pipe sizes",
    "DIPS": "DIPS, ductile iron pipe sizes",
    "CTS": "CTS, copper tube sizes",
    "ISO": "ISO metric",
}


@dataclass(frozen=True)
class Quantity:
    """One table of a system: what it shows of a pipe, and in which unit and decimals."""

    title: str
    unit: str
    decimals: int
    value: Callable[[PipeGeometry], float]

    def cell(self, pipe: PipeGeometry | None) -> str:
        """Return the text of a cell, a dash where the system lists no such pipe."""
        if pipe is None:
            return "-"
        return f"{from_si(self.value(pipe), self.unit):.{self.decimals}f}"


QUANTITIES = {
    "in": (
        Quantity("Minimum wall", "in", 3, lambda pipe: pipe.wall_mm),
        Quantity("Weight", "lb/ft", 3, lambda pipe: pipe.weight_kg_m),
    ),
    "mm": (
        Quantity("Minimum wall", "mm", 1, lambda pipe: pipe.wall_mm),
        Quantity("Weight", "kg/m", 3, lambda pipe: pipe.weight_kg_m),
    ),
}


def pipes_page() -> str:
    """Return diameters, walls and weights of every size at the ratios in common use."""
    lines = ["# Pipe tables", "", GENERATED, ""]
    lines += [
        "For anyone who looks up a pipe by system and size.",
        "",
        "Outside diameters, minimum walls and weights as this estimator works them out, at the",
        "ratios in common use. Not every size is made in every ratio; a dash means that the wall",
        "would be thinner than its standard lists. Any ratio from 5 to 50 can be estimated.",
        "Sources and confidence of every figure are in [standards.md](standards.md).",
        "",
        "A diameter in no table is given as a number: OD system `OD` (in the command also",
        "`custom`), size with its unit, such as 13.2 in or 335 mm. Its wall is the plain ratio, to",
        "0.001 in or up to 0.1 mm; all its figures are labeled assumption.",
        "",
    ]
    for system in TITLES:
        lines += _system_lines(system)
    return "\n".join(lines)


def _system_lines(system: str) -> Iterator[str]:
    unit = str(tables.find_row("od_systems", "od_system", system)["unit"])
    ratios = [
        tables.number(row, "ratio")
        for row in tables.find_rows("customary_ratios", od_system=system)
    ]
    name = "SDR" if unit == "mm" else "DR"
    for quantity in QUANTITIES[unit]:
        yield from (f"## {TITLES[system]}: {quantity.title.lower()}, {quantity.unit}", "")
        head = ("size", "OD in", "OD mm", *(f"{name} {ratio:g}" for ratio in ratios))
        rows = (_row(system, size, ratios, quantity) for size in list_sizes(system))
        yield from table_lines(head, rows)
        yield ""


def _row(system: str, size: str, ratios: list[float], quantity: Quantity) -> list[str]:
    od_mm = pipe_od_mm(system, size)
    cells = [quantity.cell(_pipe(system, size, ratio)) for ratio in ratios]
    return [size, f"{from_si(od_mm, 'in'):.3f}", f"{od_mm:.3f}", *cells]


def _pipe(system: str, size: str, ratio: float) -> PipeGeometry | None:
    try:
        return pipe_geometry(system, size, ratio, MATERIAL)
    except OutsideStandardError:
        return None


def not_used_page() -> str:
    """Return the published figures that nothing rests on, each with the reason."""
    lines = ["# Published figures that are not used", "", GENERATED, ""]
    lines += ["For anyone who knows another figure and misses it here.", ""]
    lines += [
        "Every other figure gathered from public pages is in a table of",
        "[standards.md](standards.md) and replayed by a test. These are not, for the reason given;",
        "where sources disagree on a wall or a cooling time, the thicker or longer is used.",
        "",
    ]
    names = ("subject", "figure", "reason", "confidence")
    rows = (
        (*(str(row[name]) for name in names), f"{tables.source_name(row)}: {row['clause']}")
        for row in tables.load("not_used")
    )
    lines += [*table_lines((*names, "source"), rows), ""]
    return "\n".join(lines)
