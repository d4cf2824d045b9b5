"""What height and heat leave of a generator's rated output, by one of two rules."""

from estimator.errors import OutsideStandardError
from estimator.models.power import DeratingRule, EngineKind
from estimator.standards import tables
from estimator.steps.kinds import Share
from estimator.steps.marks import greatest
from estimator.steps.recorder import step
from estimator.units import INHG_PA, STANDARD_GRAVITY_M_S2, from_si


def air_pressure_pa(elevation_m: float) -> float:
    """Return the air pressure at a height by the standard atmosphere.

    ``p = p0 (1 - L h / T0) ^ (g / (R L))``

    Parameters
    ----------
    elevation_m : float
        Height above the sea [m], -1000 to 11000.

    Returns
    -------
    float
        Pressure [Pa].

    Raises
    ------
    OutsideStandardError
        If the height lies outside the formula's layer.

    References
    ----------
    ISO 2533: ``standard_atmosphere.csv``.

    Examples
    --------
    >>> round(air_pressure_pa(1000.0))
    89875
    """
    (row,) = tables.load("standard_atmosphere")
    low, high = tables.number(row, "from_m"), tables.number(row, "to_m")
    tables.require("elevation [m]", elevation_m, low, high, tables.source_name(row))
    lapse = tables.number(row, "lapse_k_m")
    exponent = STANDARD_GRAVITY_M_S2 / (tables.number(row, "gas_j_kg_k") * lapse)
    ratio = 1 - lapse * elevation_m / tables.number(row, "sea_k")
    return float(tables.number(row, "sea_pa") * ratio**exponent)


@step("Output left by {quantity}", "1 - loss for each step above the limit, in SI")
def left_above(quantity: str, value: float, above: float, step_size: float, loss: Share) -> Share:
    """Return the share of rated output that one rule leaves."""
    return 1 - loss * (greatest(0.0, value - above) / step_size)


def derating(elevation_m: float, ambient_c: float) -> float:
    """Return the share of rated output that is left at this elevation and air temperature.

    Each rule of ``generator_derating.csv`` takes a share for every step above its limit,
    steps counted in part; the shares multiply.

    Raises
    ------
    OutsideStandardError
        If nothing would be left.
    """
    share = 1.0
    for row in tables.load("generator_derating"):
        value = elevation_m if row["quantity"] == "elevation_m" else ambient_c
        limits = (tables.number(row, key) for key in ("above", "step", "loss_per_step"))
        left = left_above(str(row["quantity"]), value, *limits)
        if left <= 0:
            raise OutsideStandardError("generator output left", left, 0, 1, "generator_derating")
        share *= left
    return share


def corrected_output(engine: EngineKind, elevation_m: float, ambient_c: float) -> float:
    """Return the share of rated output that is left by the correction in the form of ISO 3046.

    ``1 / (a r - b)`` with ``r = (p0 / p)^m (T / T0)^q``; never above 1, since no set is credited
    with more than its rating. The pressure is that of the standard atmosphere; moisture in the
    air is left out.

    Parameters
    ----------
    engine : str
        Kind of engine: a row of ``generator_correction.csv``.
    elevation_m : float
        Height above the sea [m].
    ambient_c : float
        Air temperature [C].

    Returns
    -------
    float
        Share, above 0 and up to 1.

    Raises
    ------
    UnknownNameError
        If there is no such kind of engine.
    OutsideStandardError
        If the height lies outside the standard atmosphere.

    References
    ----------
    ISO 3046-1 as quoted on one public page: ``generator_correction.csv``.
    """
    row = tables.find_row("generator_correction", "engine", engine)
    pressure = air_pressure_pa(elevation_m) / INHG_PA
    absolute = tables.number(row, "absolute_f")
    warm = (from_si(ambient_c, "F") + absolute) / (tables.number(row, "reference_f") + absolute)
    thin = tables.number(row, "reference_inhg") / pressure
    ratio = thin ** tables.number(row, "pressure_exponent")
    ratio *= warm ** tables.number(row, "temperature_exponent")
    correction = tables.number(row, "slope") * ratio - tables.number(row, "offset")
    return float(1 / max(1.0, correction))


def output_left(
    rule: DeratingRule, engine: EngineKind, elevation_m: float, ambient_c: float
) -> float:
    """Return the share of rated output that is left, by the rule of the Job sheet."""
    if rule == "step rule":
        return derating(elevation_m, ambient_c)
    return corrected_output(engine, elevation_m, ambient_c)
