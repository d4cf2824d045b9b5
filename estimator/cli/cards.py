"""``estimator cards``: field cards by pipe and machine class, on a sheet to print and cut."""

import argparse

from estimator.cli import output


def add_options(parser: argparse.ArgumentParser) -> None:
    """Add the options of ``estimator cards``."""
    output.add_options(parser)
    parser.set_defaults(run=run_cards)


def run_cards(options: argparse.Namespace) -> int:
    """Write the Field cards sheet and name its cards."""
    from estimator.after_award import card_pages
    from estimator.export.site_as_json import cards_json

    workbook = output.read(options)
    cards, pages = card_pages(workbook)
    output.deliver_pages(options, workbook, pages, lambda: cards_json(cards))
    return 0
