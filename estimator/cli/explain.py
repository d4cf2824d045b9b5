"""``estimator explain``: one run from its schedule row to its price."""

import argparse
import sys
import textwrap
from collections.abc import Iterator

from estimator.cli.json_option import add_json_instead, deliver_json, refuse_json_over
from estimator.models.explanation import Explanation, Step

NAME, INDENT, WIDTH = 34, "      ", 100


def add_options(parser: argparse.ArgumentParser) -> None:
    """Add the options of ``estimator explain``."""
    parser.add_argument("file", metavar="FILE", help="input workbook")
    parser.add_argument("run_id", metavar="RUN_ID", help="run on the Pipe schedule")
    add_json_instead(parser)
    parser.set_defaults(run=run_explain)


def run_explain(options: argparse.Namespace) -> int:
    """Print how one run comes to its price; nothing is written."""
    from estimator import api
    from estimator.explain import explain
    from estimator.export.as_json import explanation_json
    from estimator.pipeline import estimate

    refuse_json_over(options.json, options.file)
    workbook = api.read_workbook(options.file)
    found = explain(estimate(workbook.job, workbook.places), options.run_id, workbook.places)
    if options.json is not None:
        deliver_json(options.json, explanation_json(found))
    else:
        sys.stdout.write("".join(f"{line}\n" for line in lines(found)))
    return 0


def lines(explanation: Explanation) -> Iterator[str]:
    """Yield an explanation line by line."""
    yield f"Run {explanation.run_id}: {explanation.title}"
    for part in explanation.parts:
        yield ""
        yield part.title
        for step in part.steps:
            yield from step_lines(step)
    yield ""
    yield "Planning figures only. Calculations show six figures."


def step_lines(step: Step) -> Iterator[str]:
    """Yield one step: its sum and value, what it means, where it stands, whence it is."""
    where = f"   [{step.where}]" if step.where else ""
    result = f"{shown(step.value)} {step.unit}".rstrip()
    head = f"  {step.name:{NAME}}"
    if len(step.name) > NAME:
        yield head
        head = " " * (NAME + 2)
    text = f"{step.sum} = {result}{where}" if step.sum else f"{result}{where}"
    yield from textwrap.wrap(
        text, WIDTH, initial_indent=head + " ", subsequent_indent=" " * (NAME + 5),
        break_long_words=False, break_on_hyphens=False,
    )  # fmt: skip
    notes = [step.how, *(f"[{s.confidence}] {s.text}" for s in step.sources)]
    for note in filter(None, notes):
        yield from textwrap.wrap(
            note, WIDTH, initial_indent=INDENT, subsequent_indent=INDENT + "  "
        )


def shown(value: object) -> str:
    """Return a value as a sum shows it."""
    from estimator.display import figure

    return figure(value) if isinstance(value, float | int) else str(value)
