"""The Equipment sheet: for each pipe the machine classes side by side, with the reasons."""

from dataclasses import replace

from estimator.display import counted, describe, name_runs, show, show_apart, show_date
from estimator.joint.machines import SMALL
from estimator.whatif.machine_options import Option, PipeOptions, pipe_options
from estimator.workbook.results.builder import Context, Scalar, SheetBuilder
from estimator.workbook.results.columns import result_columns
from estimator.workbook.results.fleet_choice_rows import add_fleet_choice
from estimator.workbook.results.power_tables import put_power
from estimator.workbook.sheet.spec import Cell, SheetSpec

CHART_GOVERNS = (
    "Gauge pressure includes the drag allowance, for planning. On site, measure drag for every "
    "joint. The machine's own chart governs."
)
TAKEN, FITS, NOT_POSSIBLE = "Selected", "Fits", "Does not fit"


REASON_WIDTHS = (6.2, 5.8, 7.0, 14.8)
"""Columns over which the reasons run; the tables of power use them one by one."""


def choice_sheet(context: Context) -> SheetSpec:
    """Return the Equipment choice sheet: every class by pipe, power and generators, with reasons.

    Every printed page repeats the head of the classes.
    """
    sheet = SheetBuilder(context, "Equipment choice", "Why these machines, and why not others")
    *columns, _ = result_columns("choice")
    widths = (*(column.width for column in columns), *REASON_WIDTHS)
    put_power(sheet, len(widths))
    add_fleet_choice(sheet, len(widths))
    sheet.add()
    header = choice_section(sheet, len(widths))
    return replace(
        sheet.spec(),
        widths=widths,
        freeze=(2, 2),
        header_row=header,
        exact_widths=True,
        landscape=True,
    )


def choice_section(sheet: SheetBuilder, last: int) -> int:
    """Append the classes side by side for each pipe; the last column runs to the sheet's edge.

    Returns the row of the heads.
    """
    *columns, why = result_columns("choice")
    reasons = len(columns) + 1
    sheet.section("Machine classes compared, by pipe", last)
    sheet.add(Cell(CHART_GOVERNS, "subtitle"))
    header = sheet.table_head(columns)
    sheet.put(header, reasons, *[Cell(why.header, "header")] * (last - reasons + 1))
    sheet.merge(header, reasons, last)
    for pipe in pipe_options(sheet.context.estimate):
        sheet.add(Cell(_heading(sheet.context, pipe), "group"), *[Cell(None, "group")] * (last - 1))
        for option in _in_order(pipe):
            row = sheet.table_row(columns, *_cells(sheet.context, option))
            _reason(sheet, row, (reasons, last), *_why(sheet.context, pipe, option))
        _out_of_range(sheet, pipe, len(columns), last)
    return header


def _heading(context: Context, pipe: PipeOptions) -> str:
    days = counted(len(pipe.dates), "day")
    first, last = (show_date(day, context.system) for day in (pipe.dates[0], pipe.dates[-1]))
    force = show(pipe.force_n, "force", context.system)
    return (
        f"{pipe.label}, {pipe.placement}, {days} from {first} to "
        f"{last}, fusion force {force}: {name_runs(pipe.run_ids)}"
    )


def _in_order(pipe: PipeOptions) -> list[Option]:
    """Return the class taken, the others that fit by their rent, then those that cannot."""
    shown = [option for option in pipe.options if not _is_out_of_range(option)]
    return sorted(shown, key=lambda o: (not o.taken, o.obstacle is not None, o.rent or 0.0))


def _is_out_of_range(option: Option) -> bool:
    return option.obstacle is not None and option.obstacle.kind == SMALL


def _cells(context: Context, option: Option) -> tuple[dict[str, Scalar], dict[str, str | None]]:
    """Return the values and formulas of a row."""
    machine = option.machine
    low, nominal, high = option.gauge_mpa or (None, None, None)
    verdict = TAKEN if option.taken else NOT_POSSIBLE if option.obstacle else FITS
    values: dict[str, Scalar] = {
        "verdict": verdict,
        "class_id": machine.class_id,
        "od_min_mm": machine.od_min_mm,
        "od_max_mm": machine.od_max_mm,
        "four_week_rate": machine.four_week_rate.amount,
        "rent": option.rent,
        "gauge_low": low,
        "gauge_nominal": nominal,
        "gauge_high": high,
        "limit": machine.max_gauge_mpa if option.gauge_mpa else None,
        "stock": machine.stock,
    }
    return values, {
        key: context.input("machines", machine.class_id, key) for key in ("four_week_rate", "stock")
    }


def _why(context: Context, pipe: PipeOptions, option: Option) -> tuple[str, str]:
    """Return why a class is taken or not, and the style that says whether it is near a limit."""
    if option.obstacle is not None:
        return describe(option.obstacle, context.system), "wrap_after"
    text = [_verdict(pipe, option)]
    text += [describe(reason, context.system) for _, reason in option.near]
    if any(limit != "diameter" for limit, _ in option.near):
        return "NEAR LIMIT: " + "; ".join(reversed(text)), "warn_text"
    if option.gauge_mpa is None:
        text.append("hand lever")
    return "; ".join(text), "wrap_after"


def _verdict(pipe: PipeOptions, option: Option) -> str:
    taken, others = pipe.taken, [o for o in pipe.options if o.obstacle is None and not o.taken]
    if option.taken:
        return "lowest 4-week rate that fits" if others else "the only class that fits"
    if option.machine.four_week_rate.amount == taken.machine.four_week_rate.amount:
        return "same 4-week rate as the selected class, which is listed first"
    more = (option.rent or 0.0) - (taken.rent or 0.0)
    if more < 0:
        return f"{-more:,.0f} less for these days; selection is by the 4-week rate"
    return f"{more:,.0f} more for these days"


def _reason(sheet: SheetBuilder, row: int, columns: tuple[int, int], text: str, style: str) -> None:
    """Set a text that runs across the last columns of a row."""
    first, last = columns
    sheet.put(row, first, Cell(text, style), *[Cell(None, style)] * (last - first))
    sheet.merge(row, first, last)


def _out_of_range(sheet: SheetBuilder, pipe: PipeOptions, columns: int, last: int) -> None:
    """Append one row for all classes that are too small for the pipe, one for all too large."""
    system = sheet.context.system
    for word, end, field in (
        ("Too small", "largest", "od_max_mm"),
        ("Too large", "smallest", "od_min_mm"),
    ):
        out = [
            (option.machine.class_id, option.obstacle)
            for option in pipe.options
            if option.obstacle is not None
            and _is_out_of_range(option)
            and option.obstacle.limit == getattr(option.machine, field)
        ]
        if not out:
            continue
        names = ", ".join(class_id for class_id, _ in out)
        apart = [show_apart(why.need, why.limit, SMALL, system) for _, why in out]
        limits, need = ", ".join(limit for _, limit in apart), max((n for n, _ in apart), key=len)
        message = f"{names}: {end} pipe {limits}; this pipe is {need}"
        row = sheet.add(Cell(word, "text"), *[Cell(None, "text")] * (columns - 1))
        _reason(sheet, row, (columns + 1, last), message, "wrap_after")
