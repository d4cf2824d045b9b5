"""The Equipment sheet: for each pipe the machine classes side by side, with the reasons."""

from collections.abc import Iterator, Sequence
from dataclasses import replace

from estimator.display import (
    counted,
    describe,
    limits_apart,
    name_runs,
    sentence,
    show,
    show_date,
    unbroken,
)
from estimator.joint.machines import SMALL
from estimator.whatif.machine_options import Option, PipeOptions, pipe_options
from estimator.workbook.results.builder import Context, Scalar, SheetBuilder
from estimator.workbook.results.equipment_serves import NEAR
from estimator.workbook.results.fleet_choice_rows import add_fleet_choice
from estimator.workbook.results.power_tables import put_power
from estimator.workbook.results.result_columns import result_columns
from estimator.workbook.sheet.source import column_letters
from estimator.workbook.sheet.spec import Cell, SheetSpec

CHART_GOVERNS = (
    "Gauge pressure includes the drag allowance, for planning. On site, measure drag for every "
    "joint. The machine's own chart governs."
)
TAKEN, FITS, NOT_POSSIBLE = "Selected", "Fits", "Does not fit"
ON_PAGE = 2
"""Classes of each pipe that have a row on the page: the one selected and the next best."""
PIPE_HEADS, PIPE_WIDTHS, GAP_WIDTH = ("Pipe", "Placement"), (18.0, 11.0), 4.0
"""What comes before the columns of the classes beside the page."""
REASON_WIDTHS = (6.2, 5.8, 7.0, 10.0)
"""Columns over which the reasons run; the tables of power use them one by one."""


def choice_sheet(context: Context) -> SheetSpec:
    """Return the Equipment choice sheet: power, generators, and the classes for each pipe.

    The page has of each pipe the class selected, the next best, and a line on all others; beside
    it, outside the print area, every class of every pipe has a row of its own, for filters.
    """
    sheet = SheetBuilder(context, "Equipment choice", "Why these machines, and why not others")
    *columns, _ = result_columns("choice")
    widths = (*(column.width for column in columns), *REASON_WIDTHS)
    last = len(widths)
    put_power(sheet, last)
    add_fleet_choice(sheet, last)
    sheet.add()
    pipes = pipe_options(context.estimate)
    header = choice_section(sheet, last, pipes)
    bottom = sheet.last_row
    beside = _every_class(sheet, header, last + 2, pipes)
    return replace(
        sheet.spec(),
        widths=(*widths, GAP_WIDTH, *beside),
        freeze=(2, 2),
        header_row=header,
        exact_widths=True,
        closes_up=True,
        landscape=True,
        print_area=f"$A$1:${column_letters(last)}${bottom}",
    )


def choice_section(sheet: SheetBuilder, last: int, pipes: Sequence[PipeOptions]) -> int:
    """Append the best classes for each pipe; the last column runs to the sheet's edge.

    Returns the row of the heads.
    """
    *columns, why = result_columns("choice")
    reasons = len(columns) + 1
    sheet.section("Machine classes compared, by pipe", last)
    sheet.add(Cell(CHART_GOVERNS, "subtitle"))
    header = sheet.table_head(columns)
    sheet.break_head(header, [column.key for column in columns].index("gauge_high") + 1)
    sheet.put(header, reasons, *[Cell(why.header, "header")] * (last - reasons + 1))
    sheet.merge(header, reasons, last)
    for pipe in pipes:
        sheet.add(Cell(_heading(sheet.context, pipe), "group"), *[Cell(None, "group")] * (last - 1))
        shown = _in_order(pipe)
        others = "; ".join(_others(sheet.context, pipe, shown[ON_PAGE:]))
        first = sheet.next_row
        for option in shown[:ON_PAGE]:
            row = sheet.table_row(columns, *_cells(sheet.context, option))
            _across(sheet, row, (reasons, last), *_why(sheet.context, pipe, option))
        for row in range(first, sheet.last_row + bool(others)):
            sheet.put(row, 1, Cell(sheet.value_at(row, 1), "text_kept"))
        if others:
            row = sheet.add(Cell("Others", "text"))
            _across(sheet, row, (2, last), others, "text_wrap")
    return header


def _every_class(
    sheet: SheetBuilder, header: int, column: int, pipes: Sequence[PipeOptions]
) -> tuple[float, ...]:
    """Set every class of every pipe beside the page, from a header row on; return the widths."""
    *columns, why = result_columns("choice")
    heads = [Cell(head, "header") for head in PIPE_HEADS]
    sheet.put(header, column, *heads)
    sheet.put_head(header, column + len(heads), [*columns, why])
    row = header
    for pipe in pipes:
        for option in sorted(pipe.options, key=_rank):
            row += 1
            lead = Cell(pipe.label, "text"), Cell(pipe.placement, "text")
            cells = sheet.table_cells(columns, *_cells(sheet.context, option))
            reason = Cell(_why(sheet.context, pipe, option)[0], "text_after")
            sheet.put(row, column, *lead, *cells, reason)
    sheet.last_row = max(sheet.last_row, row)
    return (*PIPE_WIDTHS, *(one.width for one in [*columns, why]))


def _heading(context: Context, pipe: PipeOptions) -> str:
    days = counted(len(pipe.dates), "day")
    first, last = (show_date(day, context.system) for day in (pipe.dates[0], pipe.dates[-1]))
    when = f"{days} from {first} to {last}" if first != last else f"{days}, {first}"
    if pipe.pieces > 1:
        when += f", {counted(pipe.pieces, 'machine')}"
    force = show(pipe.force_n, "force", context.system)
    return (
        f"{pipe.label}, {pipe.placement}, {when}, fusion force {force}: {name_runs(pipe.run_ids)}"
    )


def _in_order(pipe: PipeOptions) -> list[Option]:
    """Return the class taken, the others that fit by their rent, then those that cannot."""
    shown = [option for option in pipe.options if not _is_out_of_range(option)]
    return sorted(shown, key=_rank)


def _rank(option: Option) -> tuple[bool, bool, float]:
    return not option.taken, option.obstacle is not None, option.rent or 0.0


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
        return NEAR + sentence("; ".join(reversed(text))), "warn_text"
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


def _across(sheet: SheetBuilder, row: int, columns: tuple[int, int], text: str, style: str) -> None:
    """Set a text that runs across columns of a row."""
    first, last = columns
    sheet.put(row, first, Cell(text, style), *[Cell(None, style)] * (last - first))
    sheet.merge(row, first, last)


def _others(context: Context, pipe: PipeOptions, options: Sequence[Option]) -> Iterator[str]:
    """Yield why each other class is not taken; those out of range share a text."""
    for option in options:
        yield f"{option.machine.class_id}: {_why(context, pipe, option)[0]}"
    yield from _out_of_range(context, pipe)


def _out_of_range(context: Context, pipe: PipeOptions) -> Iterator[str]:
    """Yield one text for all classes that are too small for the pipe, one for all too large."""
    system = context.system
    for word, end, field in (
        ("too small", "largest", "od_max_mm"),
        ("too large", "smallest", "od_min_mm"),
    ):
        out = [
            (option.machine.class_id, option.obstacle)
            for option in pipe.options
            if option.obstacle is not None
            and _is_out_of_range(option)
            and option.obstacle.limit == getattr(option.machine, field)
        ]
        if out:
            names = ", ".join(class_id for class_id, _ in out)
            need, limits = limits_apart([(why.need, why.limit) for _, why in out], SMALL, system)
            yield f"{names}: {word} for {unbroken(need)}, {end} {unbroken(limits)}"
