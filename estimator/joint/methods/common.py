"""What all fusion methods share: the conditions of a joint, its notes and the result."""

from collections.abc import Mapping

from estimator.data_class import dataclass
from estimator.models.joint import FusionParameters, RemovalPlace
from estimator.standards import tables
from estimator.standards.citing import Figure, cite
from estimator.units import from_si, to_si

Figures = Mapping[str, Figure]
Range = tuple[float, float, float]


@dataclass(frozen=True)
class Conditions:
    """The joint that is to be made: outside diameter, minimum wall, air temperature, place."""

    od_mm: float
    wall_mm: float
    ambient_c: float
    removal_place: RemovalPlace = "field"
    beyond_wall_limit: bool = False

    @property
    def od_in(self) -> float:
        """Outside diameter [in]."""
        return from_si(self.od_mm, "in")

    @property
    def wall_in(self) -> float:
        """Minimum wall [in]."""
        return from_si(self.wall_mm, "in")

    def quantity(self, name: str) -> float:
        """Return the value that a note depends on, to nine decimals."""
        values = {
            "od_in": self.od_in,
            "wall_mm": self.wall_mm,
            "ambient_c": self.ambient_c,
            "ambient_f": from_si(self.ambient_c, "F"),
        }
        return round(values[name], tables.PLACES)


def notes(method: str, at: Conditions) -> tuple[str, ...]:
    """Return what the user must know of this method under these conditions.

    Parameters
    ----------
    method : str
        Key of the method.
    at : Conditions
        The joint.

    Returns
    -------
    tuple of str
        Texts of ``fusion_notes.csv`` whose range holds the value.
    """
    found = []
    for row in tables.find_rows("fusion_notes", method=method):
        value, low, high = at.quantity(str(row["quantity"])), row["low"], row["high"]
        above = not isinstance(low, float) or value >= low
        below = not isinstance(high, float) or value < high
        if above and below:
            found.append(str(row["text"]))
    return tuple(found)


def _method_row(method: str, item: str) -> tables.Row:
    return tables.find_rows("method_values", method=method, item=item)[0]


def _method_range(row: tables.Row) -> Range:
    low, high = tables.number(row, "low"), tables.number(row, "high")
    middle = row["nominal"]
    nominal = middle if isinstance(middle, float) else (low + high) / 2
    unit = str(row["unit"])
    return to_si(low, unit), to_si(nominal, unit), to_si(high, unit)


def heater_range(method: str) -> Range:
    """Return the coolest, nominal and hottest heater surface [C] of a method."""
    return _method_range(_method_row(method, "heater"))


def assemble(method: str, at: Conditions, figures: Figures) -> FusionParameters:
    """Return the parameters of a joint from the figures that a method gave.

    Parameters
    ----------
    method : str
        Key of the method.
    at : Conditions
        The joint.
    figures : mapping of str to Figure
        By field of ``FusionParameters``; bead, soak and cooling always, others where stated.

    Returns
    -------
    FusionParameters
    """
    heater, pressure = (_method_row(method, item) for item in ("heater", "interfacial"))
    coolest, _, hottest = _method_range(heater)

    def stated(field: str) -> float | None:
        return figures[field].value if field in figures else None

    return FusionParameters(
        method=method,
        heater_c=(coolest, hottest),
        interfacial_mpa=_method_range(pressure),
        bead_min_mm=figures["bead_min_mm"].value,
        soak_s=figures["soak_s"].value,
        open_close_max_s=stated("open_close_max_s"),
        ramp_max_s=stated("ramp_max_s"),
        cool_s=figures["cool_s"].value,
        rest_s=stated("rest_s"),
        notes=notes(method, at),
        sources=(
            cite("heater_c", heater),
            cite("interfacial_mpa", pressure),
            *(figure.source for figure in figures.values()),
        ),
    )
