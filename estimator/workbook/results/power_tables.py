"""The power part of the Equipment sheet: loads by machine class, generators by check."""

from collections.abc import Mapping, Sequence

from estimator.models.power import PowerNeed, SetCheck
from estimator.workbook.results.builder import Scalar, SheetBuilder
from estimator.workbook.results.result_columns import ResultColumn, result_columns
from estimator.workbook.sheet.spec import Cell

WIRE_GOVERNS = (
    "Not for ordering: wire size is by voltage drop alone. Ampacity, overcurrent protection and "
    "grounding are not checked. Local code and a licensed electrician govern."
)
SETS_GOVERN = (
    "The smallest generator in stock that passes every check is selected. Reactance, power "
    "factor and motor figures are planning values; replace them with the makers' data."
)


def put_power(sheet: SheetBuilder, width: int) -> None:
    """Append the tables of loads and of generators to the Equipment sheet.

    Parameters
    ----------
    sheet : SheetBuilder
        The sheet so far.
    width : int
        Columns of the sheet; the last column of each table, a text, is merged up to it.
    """
    fleet = sheet.context.estimate.fleet
    sheet.add()
    sheet.section("Power for the machine classes used", width)
    sheet.add(Cell(WIRE_GOVERNS, "subtitle"))
    columns = result_columns("power")
    _head(sheet, columns, width)
    for class_id, need in fleet.power.items():
        _row(sheet, columns, _power_values(class_id, need), width)
    if not fleet.sets:
        return
    sheet.add()
    sheet.section("Generators compared", width)
    sheet.add(Cell(SETS_GOVERN, "subtitle"))
    columns = result_columns("generator_check")
    header = _head(sheet, columns, width)
    sheet.break_head(header, [column.key for column in columns].index("part") + 1)
    for check in fleet.sets:
        _row(sheet, columns, _set_values(check), width)


def _head(sheet: SheetBuilder, columns: Sequence[ResultColumn], width: int) -> int:
    header = sheet.table_head(columns)
    _stretch(sheet, header, len(columns), width, Cell(columns[-1].header, "header"))
    return header


def _row(
    sheet: SheetBuilder,
    columns: Sequence[ResultColumn],
    values: Mapping[str, Scalar],
    width: int,
) -> None:
    row = sheet.table_row(columns, values)
    last = columns[-1]
    _stretch(sheet, row, len(columns), width, Cell(values[last.key], last.style))


def _stretch(sheet: SheetBuilder, row: int, first: int, last: int, cell: Cell) -> None:
    """Let a text run over the columns that its table leaves free."""
    if first < last:
        sheet.put(row, first, cell, *[Cell(None, cell.style)] * (last - first))
        sheet.merge(row, first, last)


def _power_values(class_id: str, need: PowerNeed) -> dict[str, Scalar]:
    return {
        "class_id": class_id,
        "running_kw": need.running_kw,
        "running_kva": need.running_kva,
        "starting_kw": need.starting_kw,
        "motor_start_kva": need.motor_start_kva,
        "start_rule": need.start_rule,
        "rated_kw": need.rated_needed_kw,
        "current": need.current_a,
        "cable": need.cable,
        "drop": need.cable_drop,
        "warm_up": need.warm_up_min,
        "joint_duty": need.joint_duty_kw,
        "heater_duty": need.heater_duty,
        "mean_kw": need.mean_kw,
        "note": need.cable_note,
    }


def _set_values(check: SetCheck) -> dict[str, Scalar]:
    decides = f"governed by {check.decides}"
    return {
        "class_id": check.class_id,
        "crew": check.crew,
        "machines": check.machines,
        "rated_kw": check.rated_kw,
        "derating": check.derating,
        "needed_kw": check.needed_kw,
        "dip": check.dip,
        "mean_kw": check.mean_kw,
        "part": None if check.mean_kw is None else check.mean_kw / check.rated_kw,
        "fuel_day": check.fuel_l_day,
        "verdict": f"{check.verdict}; {decides}" if check.passes else check.verdict,
    }
