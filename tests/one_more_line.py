"""What an estimator with one more cost line makes of a job: printed as JSON for the test beside it.

It runs in a process of its own, over a copy of the package to which the line was added.
"""

import contextlib
import io
import json
import sys
from pathlib import Path

import openpyxl
import pytest

import estimator
from estimator import api
from estimator.cli import main
from estimator.errors import InputError
from estimator.optimize.day_prices import DayPrices
from estimator.workbook.book import parse_workbook
from tests.small_book import small_book
from workbook_template import content

MARKUPS = {"office_overhead": "0.1", "contingency": "0.05", "profit": "0.12", "bond": "0",
           "profit_basis": "markup on cost", "tax": "0"}  # fmt: skip
WORD = "Street permit"


def book(**rates):
    """Return the bytes of a job of six runs with these rates."""
    values_of = content.named_overrides
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(
            content,
            "named_overrides",
            lambda table, example: (
                values_of(table, example)
                | ({**MARKUPS, **rates} if table == "rates" else {})
                | ({"option_crews": "2"} if table == "job" else {})
            ),
        )
        small_book.cache_clear()
        return small_book(runs=6)


def study_of(**rates):
    """Return the whole study of the job with these rates."""
    return api.estimate_workbook(parse_workbook(book(**rates)))


def costs(study):
    """Return the job cost of every scenario and every option by their names."""
    tried = (*study.comparison.scenarios, *study.options.options)
    return {one.name: one.figures.job_cost for one in tried if one.figures}


def costs_by_run(study):
    """Return the cost of every run."""
    return {run.run_id: run.cost for run in study.by_run.runs}


def rises(more, less):
    """Return by how much each cost is higher."""
    assert more.keys() == less.keys()
    return {name: str(more[name] - less[name]) for name in more}


def said(*arguments):
    """Return what the command prints."""
    with contextlib.redirect_stdout(io.StringIO()) as out:
        assert main(list(arguments)) == 0
    return out.getvalue()


def rows_of(workbook, sheet):
    """Return the rows of a sheet that speak of the line, without blanks."""
    rows = workbook[sheet].iter_rows(values_only=True)
    filled = ([value for value in row if value is not None] for row in rows)
    return [row for row in filled if any(WORD in str(value) for value in row)]


def refused(**rates):
    """Return the messages on a job with these rates."""
    with pytest.raises(InputError) as caught:
        study_of(**rates)
    return [str(problem) for problem in caught.value.problems]


def seen(folder):
    """Return where the line is seen, by the name of the place."""
    path = folder / "bid.xlsx"
    path.write_bytes(book(street_permit="125"))
    said("estimate", str(path), "--json", str(folder / "bid.json"))
    formulas, values = openpyxl.load_workbook(path), openpyxl.load_workbook(path, data_only=True)
    study, without = study_of(street_permit="125"), study_of()
    run = study.runs[0].run_id
    return {
        "package": str(Path(estimator.__file__).parent.parent),
        "cell": formulas.defined_names["rate_street_permit"].attr_text,
        "cost": rows_of(values, "Cost"),
        "formula": rows_of(formulas, "Cost"),
        "bid items": rows_of(values, "Bid schedule"),
        "by run": rises(costs_by_run(study), costs_by_run(without)),
        "price": str(study.bid.price - without.bid.price),
        "json": [line for line in json.loads((folder / "bid.json").read_text("utf-8"))["cost_lines"]
                 if line["item"].startswith(WORD)],
        "explain": [line.strip() for line in said("explain", str(path), run).splitlines()
                    if WORD in line],
        "refused": refused(street_permit="-5"),
        "what if": rises(costs(study), costs(without)),
        "crew": DayPrices(study).crew_mobilization - DayPrices(without).crew_mobilization,
    }  # fmt: skip


if __name__ == "__main__":
    print(json.dumps(seen(Path(sys.argv[1]))))
