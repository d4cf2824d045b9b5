"""``estimator cards``: field cards by pipe and machine class, on a sheet to print and cut."""

import argparse
import sys

from estimator.display import counted
from estimator.errors import InputError, Problem

NO_JOINTS = "has no butt joints, so there is no card to print"


def add_options(parser: argparse.ArgumentParser) -> None:
    """Add the options of ``estimator cards``."""
    parser.add_argument("file", metavar="FILE", help="input workbook")
    parser.add_argument("-o", "--output", metavar="OUT", default="", help="write to another file")
    parser.set_defaults(run=run_cards)


def run_cards(options: argparse.Namespace) -> int:
    """Write the Field cards sheet and name its cards."""
    from estimator import api
    from estimator.cli.screen import notify
    from estimator.progress.field_cards import field_cards
    from estimator.workbook.book import with_cards
    from estimator.workbook.results.cards_sheet import card_title

    workbook = api.read_workbook(options.file)
    estimate = api.estimate_workbook(workbook, ranges=False)
    cards = field_cards(estimate)
    if not cards:
        raise InputError([Problem(options.file, NO_JOINTS)])
    data = with_cards(workbook, estimate, cards)
    path = api.save_workbook(data, options.file, options.output, read=workbook.data, notify=notify)
    for card in cards:
        sys.stdout.write(f"{card_title(card)}, {card.material}, machine {card.machine}\n")
    sys.stdout.write(f"{counted(len(cards), 'card')}, four to a page: {path}, sheet Field cards\n")
    return 0
