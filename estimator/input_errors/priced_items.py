"""Rules of fitting prices and other costs: rows of fittings and runs that there are, each once."""

from collections.abc import Iterator

from estimator.input_errors.entries import Broken, Entry, Sheets, broken
from estimator.input_errors.runs import size_problem, wall_problem
from estimator.models.base import joined
from estimator.models.kinds import TO_SMALLER, WITH_ANGLE
from estimator.models.priced_items import FittingPrice, OtherCost, angles_in
from estimator.standards.pipe_sizes import pipe_od_mm

FITTINGS, OTHERS = FittingPrice.TABLE, OtherCost.TABLE
MOST_DEGREES = 180
ALL_PRICED = ((FITTINGS, FittingPrice.KEYS), (OTHERS, OtherCost.KEYS))


def rows_once(sheets: Sheets) -> Iterator[Broken]:
    """Refuse a fitting with two prices, and an item that a run has twice."""
    for table, keys in ALL_PRICED:
        first: dict[tuple[object, ...], Entry] = {}
        for entry in sheets.rows(table):
            if any(entry.get(key) is None and not entry.blank(key) for key in keys):
                continue
            before = first.setdefault(tuple(entry.get(key) for key in keys), entry)
            if before is not entry:
                shown = joined(entry.get(key) for key in keys)
                where = before.where(keys[0])
                message = f"{shown} is already in {where}. Keep one row for each"
                yield broken(table, entry, keys[0], message)


def listed_fittings(sheets: Sheets) -> Iterator[Broken]:
    """Refuse sizes that their system does not list, and a ratio whose wall no table lists."""
    for entry in sheets.rows(FITTINGS):
        od_system, dr = entry.get("od_system"), entry.get("dr")
        for key in ("size", "to_size"):
            size = entry.get(key)
            if not (od_system and size):
                continue
            if why := size_problem(od_system, size):
                yield broken(FITTINGS, entry, key, why)
            elif key == "size" and dr and (why := wall_problem(od_system, size, dr)):
                yield broken(FITTINGS, entry, "dr", why)


def smaller_sizes(sheets: Sheets) -> Iterator[Broken]:
    """Refuse a reducer without a smaller size, and any other fitting with one."""
    for entry in sheets.rows(FITTINGS):
        kind = entry.get("kind")
        if kind is None:
            continue
        if kind in TO_SMALLER and entry.blank("to_size"):
            message = f"The cell is blank. Enter the smaller size of the {kind}"
            yield broken(FITTINGS, entry, "to_size", message)
        elif kind not in TO_SMALLER and entry.get("to_size"):
            message = f"{entry.show('to_size')}: only {' and '.join(TO_SMALLER)} rows have one"
            yield broken(FITTINGS, entry, "to_size", f"{message}. Clear the cell")
        elif _not_smaller(entry):
            message = f"{entry.show('to_size')} is not smaller than {entry.show('size')}"
            yield broken(FITTINGS, entry, "to_size", message)


def prices_by_angle(sheets: Sheets) -> Iterator[Broken]:
    """Refuse an angle for other fittings than elbows."""
    for entry in sheets.rows(FITTINGS):
        if entry.get("kind") not in (None, WITH_ANGLE) and entry.get("angle"):
            message = f"{entry.show('angle')}: only {WITH_ANGLE} rows have one. Clear the cell"
            yield broken(FITTINGS, entry, "angle", message)


def elbow_angles(sheets: Sheets) -> Iterator[Broken]:
    """Refuse angles of a run that do not fit its elbows."""
    for entry in sheets.rows("schedule"):
        text, elbows = entry.get("elbow_angles"), entry.get("elbows")
        faulty = elbows is None and not entry.blank("elbows")
        if text and not faulty and (why := _angle_problem(text, elbows or 0)):
            yield broken("schedule", entry, "elbow_angles", why)


def _angle_problem(text: str, elbows: int) -> str:
    """Return what is wrong with the angles of some elbows, empty if nothing is."""
    try:
        found = angles_in(text, elbows)
    except ValueError as error:
        return (
            f"{str(error)!r} is not a number of elbows times an angle. Enter such as 4 x 90; 2 x 45"
        )
    wrong = [angle for angle, _ in found if not 1 <= angle <= MOST_DEGREES]
    if wrong:
        return f"{wrong[0]:g} degrees is outside the allowed range (1 to {MOST_DEGREES})"
    if (number := sum(number for _, number in found)) > elbows or not elbows:
        return f"{text!r} names {number} elbows, and Elbows says {elbows}. Change one of them"
    return ""


def _not_smaller(entry: Entry) -> bool:
    od_system, size, to_size = (entry.get(key) for key in ("od_system", "size", "to_size"))
    if not (od_system and size and to_size):
        return False
    if size_problem(od_system, size) or size_problem(od_system, to_size):
        return False
    return pipe_od_mm(od_system, to_size) >= pipe_od_mm(od_system, size)


def runs_of_costs(sheets: Sheets) -> Iterator[Broken]:
    """Refuse other costs of runs that are not in the schedule."""
    known = {entry.get("run_id") for entry in sheets.rows("schedule")}
    for entry in [] if None in known or not known else sheets.rows(OTHERS):
        run = entry.get("run")
        if run is not None and run not in known:
            message = f"{run}: no such run in the Pipe schedule. Leave it blank for all runs"
            yield broken(OTHERS, entry, "run", message)


RULES = (rows_once, listed_fittings, smaller_sizes, prices_by_angle, elbow_angles, runs_of_costs)
