"""The chain of one run on one line: joints from pieces, minutes from what they are made of."""

from estimator.display import UnitSystem, convert, counted, figure, unit_of
from estimator.models.job import Run
from estimator.models.sized_run import SizedRun
from estimator.units import MIN_S
from estimator.workbook.results.builder import Context
from estimator.workbook.sheet.names import quoted


def how_found(run: Run, sized: SizedRun, system: UnitSystem) -> str:
    """Return how the butt joints of a run and the minutes of a plain one come about.

    Parameters
    ----------
    run, sized
        The run as described and as sized.
    system : str
        Units to show it in.
    """
    return f"{_joints(run, sized, system)}; {_minutes(sized)}"


def explained_at(context: Context, run_id: str) -> str:
    """Return the reference of a run on the Explain sheet, of the sheet's top if it has none."""
    top = f"{quoted(context.sheet_names['Explain'])}!$A$1"
    return context.anchors.get(f"explain.{run_id}", top)


def _joints(run: Run, sized: SizedRun, system: UnitSystem) -> str:
    count = sized.counts
    stick = f"{figure(convert(run.stick_length_m, 'length', system))} {unit_of('length', system)}"
    added = (
        (count.fitting_joints, "at fittings"),
        (count.outside_tie_ins, "to other pipe"),
    )
    more = "".join(f" + {number} {text}" for number, text in added if number)
    joints = counted(count.butt_joints, "butt joint")
    sticks, segments = counted(count.sticks, "stick"), counted(len(run.segments_m), "segment")
    return f"{sticks} ({stick}) - {segments}{more} = {joints}"


def _minutes(sized: SizedRun) -> str:
    times, hidden = sized.cycle, sized.cycle.hidden_min
    cooling = sized.fusion.cool_s / MIN_S
    behind = (cooling, "cooling") if cooling >= hidden else (hidden, "work done while it cools")
    parts = (
        (times.shown_min("crew"), "crew"),
        (times.shown_min("machine"), "machine"),
        (sized.fusion.soak_s / MIN_S, "soak"),
        behind,
    )
    message = " + ".join(f"{minutes:.1f} {text}" for minutes, text in parts if minutes)
    return f"{times.plain.cycle_min:.1f} min: {message}"
