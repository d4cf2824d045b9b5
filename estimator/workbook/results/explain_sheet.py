"""The Explain sheet: how each run comes to its price, step by step, with links to the inputs."""

import datetime as dt
from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import replace
from itertools import takewhile
from types import MappingProxyType

from estimator.display import UnitSystem, counted, figure, show_date
from estimator.explain import explain
from estimator.explain.one_run import JOB_PARTS, JOB_PRICE, explain_first
from estimator.explain.times import is_day
from estimator.input_errors.entries import header as header_of
from estimator.inputs.trade_units import written
from estimator.models.explanation import Explanation, Part, Step
from estimator.workbook.results.builder import INTERNAL, Context, Scalar, SheetBuilder
from estimator.workbook.results.result_columns import ResultColumn, result_columns
from estimator.workbook.sheet.look import LIGHT_HEIGHT
from estimator.workbook.sheet.names import link_to
from estimator.workbook.sheet.source import column_letters
from estimator.workbook.sheet.spec import Cell, ConditionalRule, SheetSpec

EXPLAIN = "Explain"
MOST_RUNS, MOST_DAYS = 200, 6
STATE_ROW, PRICE_COLUMN, STATE_COLUMN = 3, 2, 3
SAME, MOVED = "matches the Bid sheet", "Prices have changed: run Estimate again"
COMMAND = "estimator explain FILE RUN"
RUN, ALL = "Run", "All runs"
LABOR_HOURS = "Labor-hours"
OF_ALL_DAYS, PLUS = "sum of all days", " + "
CENTS, MOST_PLACES, SHORT_RESULT = 2, 6, 16
"""Decimals of money and of numbers, and letters of a result that stays on one line."""
FIGURES = "Calculations use the numbers shown, to about five figures."


Line = tuple[str, str, Step]


def explain_runs(context: Context) -> Sequence[Line]:
    """Return the lines of the sheet: run by run, then what is the same for all runs.

    Each run on it gets the anchor ``explain.<run>``, its first row on the sheet to be.
    """
    if context.estimate.job.pages.leaves_out(EXPLAIN):
        return ()
    explained = _asked_for(context)
    sheet, lines = _begin(context), list[Line]()
    for explanation in explained:
        sheet.anchor(f"explain.{explanation.run_id}", 1, sheet.next_row + len(lines))
        lines += _run_lines(explanation)
    return [*lines, *_job_lines(explained)]


def _asked_for(context: Context) -> Sequence[Explanation]:
    """Return the run that the Job sheet names, all runs, or else the one of the highest price."""
    estimate, places = context.estimate, context.places
    asked = estimate.job.pages
    if asked.explains_all:
        return explain_first(estimate, MOST_RUNS, places)
    dearest = max(estimate.by_run.runs, key=lambda run: run.price)
    return (explain(estimate, asked.explain_run or dearest.run_id, places),)


def explain_sheet(context: Context, lines: Sequence[Line]) -> SheetSpec:
    """Return the Explain sheet: a row for each step of each run, to be filtered by run.

    Printed are the runs, each from a new page on; what holds for all of them and the sources, which
    Cost, Price build-up and Checks print, stand beside and below.
    """
    sheet, columns = _begin(context), result_columns("explain")
    header = sheet.last_row
    _state(sheet)
    for line in lines:
        _add_step(sheet, *line)
    first, last = f"A{header + 1}", f"{column_letters(len(columns))}{sheet.last_row}"
    begins = [row for row in range(header + 1, sheet.last_row + 1) if sheet.value_at(row, 2) == RUN]
    return replace(
        sheet.spec(),
        widths=tuple(column.width for column in columns),
        freeze=(header, 1),
        header_row=header,
        landscape=True,
        closes_up=True,
        autofilter=f"A{header}:{last}",
        print_area=f"A1:{column_letters(len(columns) - 1)}{begins[-1] - 1}",
        breaks=tuple(row - 1 for row in begins[1:-1]),
        parts=_part_starts(sheet, header + 2),
        conditional=(
            ConditionalRule(f"{first}:{last}", "formula", f'$B{header + 1}="{RUN}"', "group"),
            ConditionalRule(f"C{STATE_ROW}", "text equals", MOVED, "warn"),
            ConditionalRule(f"C{STATE_ROW}", "text equals", SAME, "ok"),
        ),
    )


def _part_starts(sheet: SheetBuilder, second: int) -> Sequence[int]:
    """Return the rows with which the parts of the runs begin, the heading of a run before them."""
    rows = range(second, sheet.last_row + 1)
    parts = {row: sheet.value_at(row, 2) for row in (second - 1, *rows)}
    return tuple(row for row in rows if parts[row] != parts[row - 1] != RUN)


def _begin(context: Context) -> SheetBuilder:
    """Return the sheet down to its header row."""
    sheet = SheetBuilder(context, "Explain", "Explain")
    sheet.result = INTERNAL
    sheet.add()
    sheet.add()
    sheet.table_head(result_columns("explain"))
    return sheet


def _state(sheet: SheetBuilder) -> None:
    """Say which price is explained, whether it still stands, and which runs are here."""
    estimate, bid = sheet.context.estimate, sheet.context.anchors["bid.price"]
    price = Cell(float(estimate.bid.price), "key_num2")
    formula = f'IF(ROUND({sheet.address(PRICE_COLUMN, STATE_ROW)}-{bid},2)=0,"{SAME}","{MOVED}")'
    sheet.put(
        STATE_ROW,
        1,
        Cell(f"Price, {sheet.context.currency}", "key"),
        price,
        Cell(SAME, "ok", formula),
    )
    sheet.merge(STATE_ROW, STATE_COLUMN, STATE_COLUMN + 1)
    sheet.heights[STATE_ROW] = LIGHT_HEIGHT
    sheet.put(STATE_ROW + 1, 1, Cell(_which(sheet.context), "subtitle"))


def _which(context: Context) -> str:
    """Return which runs are on the sheet, and how to see others."""
    every, asked = len(context.estimate.runs), context.estimate.job.pages
    if every == 1:
        return f"The only run. {FIGURES}"
    if asked.explains_all:
        first = f"First {MOST_RUNS} of {every} runs" if every > MOST_RUNS else f"All {every} runs"
        other = f"For any other run: {COMMAND}. " if every > MOST_RUNS else ""
        return f"{first}. {other}Filter column A by run. {FIGURES}"
    named = asked.explain_run
    which = f"Run {named}" if named else "The run with the highest price"
    cell = header_of("job", "explain_run")
    return f'{which}. Another run, or all: set "{cell}" on Job, or run "{COMMAND}". {FIGURES}'


def _job_lines(explained: Sequence[Explanation]) -> Iterator[Line]:
    yield ALL, RUN, Step(JOB_PRICE, "")
    for part in explained[0].parts:
        if part.title in JOB_PARTS:
            yield from ((ALL, part.title, step) for step in part.steps)


def _run_lines(explanation: Explanation) -> Iterator[Line]:
    yield explanation.run_id, RUN, Step(explanation.title, "")
    for part in explanation.parts:
        if part.title not in JOB_PARTS:
            shown = SHORTER.get(part.title, _whole)(part)
            yield from ((explanation.run_id, part.title, step) for step in shown)


def _whole(part: Part) -> Sequence[Step]:
    return part.steps


def _few_days(part: Part) -> Sequence[Step]:
    """Return the steps of a part with a step for each day, the days after the first few as one."""
    before = [*takewhile(lambda step: not is_day(step), part.steps)]
    days = [*takewhile(is_day, part.steps[len(before) :])]
    if len(days) <= MOST_DAYS + 1:
        return part.steps
    after = part.steps[len(before) + len(days) :]
    more = days[MOST_DAYS:]
    rest = sum(step.value for step in more if isinstance(step.value, float))
    others = Step(
        f"{counted(len(more), 'more day')}", rest, more[0].unit, how=f"for each: {COMMAND}"
    )
    return (*before, *days[:MOST_DAYS], others, *map(_summed_up, after))


def _summed_up(step: Step) -> Step:
    """Return a step; one that adds up all days adds up the first few and what is left."""
    if step.how != OF_ALL_DAYS or not isinstance(step.value, float):
        return step
    first = step.sum.split(PLUS)[:MOST_DAYS]
    rest = step.value - sum(float(term.replace(",", "")) for term in first)
    return replace(step, sum=PLUS.join([*first, figure(rest)]))


SHORTER: Mapping[str, Callable[[Part], Sequence[Step]]] = MappingProxyType(
    {"Plan": _few_days, LABOR_HOURS: _few_days}
)
"""Parts that the sheet gives in fewer lines than the command."""


def _add_step(sheet: SheetBuilder, run_id: str, part: str, step: Step) -> None:
    sources = "; ".join(f"{source.text} ({source.confidence})" for source in step.sources)
    values: dict[str, Scalar] = {
        "run": run_id,
        "part": part,
        "step": step.name,
        "result": _shown(step.value, sheet.context.system),
        "unit": written(step.unit, sheet.context.system) or None,
        "sum": step.sum or None,
        "meaning": step.how or None,
        "input": step.where or None,
        "source": sources or None,
    }
    link = link_to(step.where, step.where) if step.where else None
    columns = result_columns("explain")
    row = sheet.table_row(columns, values, {"input": link})
    style = _style(values["result"], money=step.unit == sheet.context.currency)
    sheet.put(row, _place_of("result", columns), Cell(values["result"], style))


def _place_of(key: str, columns: Sequence[ResultColumn]) -> int:
    return [column.key for column in columns].index(key) + 1


def _style(value: Scalar, *, money: bool) -> str:
    """Return the style that shows a number with the places that its sum shows it with."""
    if not isinstance(value, float):
        return "unbroken" if len(str(value)) <= SHORT_RESULT else "figure"
    if money:
        return f"figure_{CENTS}"
    places = len(figure(value).partition(".")[2])
    return f"figure_{places}" if places <= MOST_PLACES else "figure"


def _shown(value: str | float | dt.date, system: UnitSystem) -> str | float | None:
    """Return a number to the figures that sums show, anything else as text."""
    if isinstance(value, float | int):
        return float(figure(value).replace(",", ""))
    return show_date(value, system) if isinstance(value, dt.date) else value or None
