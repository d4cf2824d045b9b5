"""An estimate as flat tables with typed columns, for programs: SI units, the unit in each name."""

import datetime as dt
from collections.abc import Mapping
from importlib import import_module
from typing import Any, NamedTuple

from estimator.display import describe
from estimator.errors import EstimatorError
from estimator.export import rows
from estimator.models.estimate import Estimate
from estimator.plan import weeks

NEEDS_PANDAS = (
    "to_pandas needs pandas, which is not installed here. Install it, for example: "
    "pip install --require-hashes -r constraints/import.txt"
)


class Tables(NamedTuple):
    """Every result table of an estimate, row by row."""

    runs: tuple[rows.RunRow, ...]
    rejected: tuple[rows.RejectedRow, ...]
    plan: tuple[rows.PlanRow, ...]
    shifts: tuple[rows.ShiftRow, ...]
    weeks: tuple[rows.WeekRow, ...]
    rental: tuple[rows.RentalRow, ...]
    cost_lines: tuple[rows.CostRow, ...]
    cost_by_run: tuple[rows.RunCostRow, ...]
    bid_items: tuple[rows.BidRow, ...]
    hydrotests: tuple[rows.HydrotestRow, ...]
    warnings: tuple[rows.WarningRow, ...]


ROWS: Mapping[str, Any] = {name: kind.__args__[0] for name, kind in Tables.__annotations__.items()}
"""The kind of row of each table; its fields are the columns."""


def tables(estimate: Estimate) -> Tables:
    """Return every result table of an estimate.

    Parameters
    ----------
    estimate : Estimate
        As ``estimate`` returns it.

    Returns
    -------
    Tables
        SI units, named at the end of a column (``cool_s``, ``force_n``); a quantity and its rate
        are in the unit beside them; money is in the job's currency.
    """
    return Tables(
        runs=tuple(rows.run_row(estimate, run, sized) for run, sized in estimate.pairs),
        rejected=tuple(
            rows.RejectedRow(sized.run_id, one.class_id, describe(one, "SI"))
            for sized in estimate.runs
            for one in sized.machine.rejected
        ),
        plan=tuple(map(rows.plan_row, estimate.plan.lines)),
        shifts=tuple(map(rows.shift_row, estimate.plan.crew_days)),
        weeks=tuple(map(rows.week_row, weeks(estimate))),
        rental=tuple(map(rows.rental_row, estimate.fleet.spans)),
        cost_lines=tuple(map(rows.cost_row, estimate.cost_lines)),
        cost_by_run=tuple(map(rows.run_cost_row, estimate.by_run.runs)),
        bid_items=tuple(map(rows.bid_row, estimate.items)),
        hydrotests=tuple(map(rows.hydrotest_row, estimate.tests)),
        warnings=tuple(rows.WarningRow(one.where, one.message) for one in estimate.warnings),
    )


def to_pandas(estimate: Estimate) -> dict[str, Any]:
    """Return every result table as a DataFrame, by its name; dates are of kind datetime64.

    Raises
    ------
    EstimatorError
        If pandas is not installed.
    """
    try:
        pandas = import_module("pandas")
    except ImportError as error:
        raise EstimatorError(NEEDS_PANDAS) from error
    return {
        name: _frame(pandas, ROWS[name], table)
        for name, table in tables(estimate)._asdict().items()
    }


def _frame(pandas: Any, kind: Any, table: tuple[Any, ...]) -> Any:  # noqa: ANN401 - a DataFrame
    frame = pandas.DataFrame(table, columns=kind._fields)
    dates = [name for name, of in kind.__annotations__.items() if of is dt.date]
    return frame.astype(dict.fromkeys(dates, "datetime64[s]"))
