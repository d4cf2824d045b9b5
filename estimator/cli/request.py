"""``estimator request``: what is asked of rental suppliers, one page for each kind of equipment."""

import argparse
import sys
from collections.abc import Iterator

from estimator.cli.output import write_text
from estimator.display import UnitSystem
from estimator.models.rental_request import RequestLine


def add_options(parser: argparse.ArgumentParser) -> None:
    """Add the options of ``estimator request``."""
    parser.add_argument("file", metavar="FILE", help="workbook of the job")
    parser.add_argument("-o", "--output", metavar="OUT", default="", help="write to another file")
    parser.set_defaults(run=run_request, json=None)


def run_request(options: argparse.Namespace) -> int:
    """Write the request sheets, and print their lines."""
    from estimator import api

    workbook = api.read_workbook(options.file)
    lines, sheets, data = api.request_of_workbook(workbook)
    path = api.save_workbook(data, options.file, options.output)
    system = workbook.job.cover.unit_system
    write_text(options, "".join(f"{text}\n" for text in summary(lines, system)))
    sys.stdout.write(f"Workbook: {path}, sheets {', '.join(sheets)}\n")
    return 0


def summary(lines: tuple[RequestLine, ...], system: UnitSystem) -> Iterator[str]:
    """Yield each line with what it must do and its dates."""
    from estimator.workbook.results.request_sheet import wanted

    for line in lines:
        first, *others = wanted(line, system)
        dates = f"{line.deliver_by:%a %d %b %Y} to {line.off_rent:%a %d %b %Y}"
        yield f"{line.number}  {line.quantity} x {first}"
        yield f"     {dates}, {line.work_days} days in use"
        for text in others:
            yield f"     {text}"
